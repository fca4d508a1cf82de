"""Where and how the lane may pass each light: points on the lane's midline with a heading.

A station is one way through one light. Headings come from two sources: an even fan, so that
something always fits, and the straight lines through two or more lights (or the battery and a
light), which are what lets a lane pass several lights without a fold. A hand-drawn row is never
quite straight; a line that passes each of its lights within the allowed offset serves it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.plane import Points, cross, narrowest_strip, point_to_segment
from circuit.route.sizes import Sizes

FAN = 24  # chosen: every 15 degrees; lines through neighbours and the polish fill the rest in
NEIGHBOURS = 7  # chosen: straight runs to farther lights are found through the line of a row


@dataclass(frozen=True, slots=True)
class Stations:
    """Ways through one place: midline points, unit headings, and which common line each lies on
    (-1: none). Two stations with the same line and heading can be joined without a fold."""

    at: Points
    ahead: Points
    line: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.at)


def light_stations(lights: Points, battery: complex, sizes: Sizes) -> list[Stations]:
    """Stations of the battery (index 0) and then of every light.

    The battery's stations stand where the traces begin, beyond the cell's middle, heading out.
    """
    nodes: list[list[tuple[complex, complex, int]]] = [[] for _ in range(len(lights) + 1)]
    fan = np.exp(2j * np.pi * np.arange(FAN) / FAN)
    for index, light in enumerate(lights):
        nodes[index + 1].extend((complex(light), complex(h), -1) for h in fan)
    for h in np.exp(2j * np.pi * np.arange(2 * FAN) / (2 * FAN)):
        beside = (sizes.lane_least + sizes.lane_most) / 2
        nodes[0].append((battery_start(battery, complex(h), beside, sizes), complex(h), -1))
    for number, (members, foot, ahead) in enumerate(common_lines(lights, battery, sizes)):
        for member in members:
            place = battery if member == 0 else complex(lights[member - 1])
            along = complex(ahead)
            on_line = foot + along * (np.conj(along) * (place - foot)).real
            if member == 0:
                for h in (along, -along):
                    beside = float(cross(h, on_line - place))
                    if sizes.lane_least <= beside <= sizes.lane_most:
                        nodes[0].append((battery_start(battery, h, beside, sizes), h, number))
            else:
                nodes[member].extend((on_line, h, number) for h in (along, -along))
    clear = [row for row in nodes[0] if switch_fits(row[1], lights, battery, sizes)]
    # With no way out at all the search still says where it got stuck; what it lays is then refused.
    nodes[0] = clear or nodes[0]
    return [as_stations(rows) for rows in nodes]


def as_stations(rows: list[tuple[complex, complex, int]]) -> Stations:
    """Rows of (point, heading, line) as arrays."""
    return Stations(
        np.array([row[0] for row in rows], dtype=np.complex128),
        np.array([row[1] for row in rows], dtype=np.complex128),
        np.array([row[2] for row in rows], dtype=np.int64),
    )


def battery_start(battery: complex, ahead: complex, beside: float, sizes: Sizes) -> complex:
    """Where the lane begins: beyond the cell's middle, its midline `beside` mm to the right of it."""
    return battery + (1j * beside - sizes.past_middle) * ahead


def battery_beside(sizes: Sizes) -> float:
    """How far the end runs' midline may pass the battery's centre, to either side."""
    return max(min(-sizes.lane_least, sizes.lane_most), 0.0)


def switch_fits(ahead: complex, lights: Points, battery: complex, sizes: Sizes) -> bool:
    """Whether the switch with its hinge that way lies on the card and over no light, whichever way that lies."""
    outline = battery + np.array(sizes.flap) * ahead
    x, y = outline.real, outline.imag
    inside = np.minimum(np.minimum(x, sizes.width - x), np.minimum(y, sizes.height - y)).min()
    if inside < sizes.flap_edge:
        return False
    if not len(lights):
        return True
    # Lights seen from the cell, the hinge towards +1; a body reaches half its longer side at least.
    seen = (lights - battery) * np.conj(ahead)
    reach = max(sizes.half_along, sizes.half_across)
    away = point_to_segment(seen[:, None], np.array(sizes.flap), np.roll(sizes.flap, -1)).min(axis=1)
    half, tongue = np.abs(np.array(sizes.flap).imag).max(), abs(sizes.flap[4].imag)
    lid = (np.abs(seen.real) < half) & (np.abs(seen.imag) < half)
    under = (seen.real > 0) & (seen.real < sizes.straight) & (np.abs(seen.imag) < tongue)
    return not bool(((away < reach) | lid | under).any())


def common_lines(
    lights: Points, battery: complex, sizes: Sizes
) -> list[tuple[tuple[int, ...], complex, complex]]:
    """Lines through two or more of the battery (0) and the lights (1..): members, a point, a heading.

    For each pair of near neighbours: the line through both, then widened to all lights that a line
    close by passes within the allowed offset.
    """
    places = np.concatenate([[battery], lights])
    room = np.full(len(places), sizes.off_midline)
    room[0] = battery_beside(sizes)
    seen: set[tuple[int, ...]] = set()
    found: list[tuple[tuple[int, ...], complex, complex]] = []
    for i, j in neighbour_pairs(places):
        ahead = places[j] - places[i]
        if abs(ahead) < 1e-6:
            continue
        ahead = ahead / abs(ahead)
        for members, foot, direction in _rows_along(places, room, i, j, ahead):
            if members not in seen:
                seen.add(members)
                found.append((members, foot, direction))
    return found


def neighbour_pairs(places: Points, count: int = NEIGHBOURS) -> list[tuple[int, int]]:
    """Pairs (i < j) where one is among the other's nearest; the battery (0) pairs with everyone."""
    apart = np.abs(places[:, None] - places[None, :])
    nearest = np.argsort(apart, axis=1, kind="stable")[:, 1 : count + 1]
    pairs = {(min(i, int(j)), max(i, int(j))) for i in range(len(places)) for j in nearest[i]}
    pairs |= {(0, j) for j in range(1, len(places))}
    return sorted(pairs)


def _rows_along(
    places: Points, room: Floats, i: int, j: int, ahead: complex
) -> list[tuple[tuple[int, ...], complex, complex]]:
    """The plain line through a pair, and the widest row of lights beside it that one line serves."""
    pair = ((i, j), complex(places[i]), complex(ahead))
    off = np.abs(cross(ahead, places - places[i]))
    near = np.flatnonzero(off <= 2 * room + 1e-9)
    row = [int(k) for k in near]
    while len(row) > 2:
        foot, direction = narrowest_strip(places[row]) if 0 not in row else _fit(places[row], room[row])
        strain = np.abs(cross(direction, places[row] - foot)) - room[row]
        worst = int(np.argmax(strain))
        if strain[worst] <= 1e-9:
            members = tuple(sorted(row))
            return [(members, foot, direction)] if {i, j} <= set(row) else [pair]
        row.pop(worst)
    return [pair]


def _fit(points: Points, room: Floats) -> tuple[complex, complex]:
    """Least-squares line, for rows with the battery: a mark with little room pulls harder."""
    weight = 1.0 / (room + 0.05) ** 2
    middle = complex((points * weight).sum() / weight.sum())
    spread = points - middle
    square = (weight * spread**2).sum()
    direction = np.sqrt(square / abs(square)) if abs(square) > 0 else 1.0 + 0j
    return middle, complex(direction)
