"""Where and how the lane may pass each light: points on the lane's midline with a heading.

A station is one way through one light. Headings come from two sources: an even fan, so that
something always fits, and the straight lines through two or more lights (or the battery and a
light), which are what lets a lane pass several lights without a fold. A hand-drawn row is never
quite straight; a line that passes each of its lights within the allowed offset serves it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.route.plane import Floats, Points, cross, narrowest_strip
from circuit.route.sizes import Sizes

FAN = 24  # chosen: every 15 degrees; lines through neighbours and the polish fill the rest in
NEIGHBOURS = 7  # chosen: straight runs to farther lights are found through the line of a row
END_REACH_SHARE = 0.9  # chosen: of the limit, 5.4 of 6 mm, so that the tape surely meets the cell


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

    The battery's stations stand where the traces end inside the circle, heading out.
    """
    nodes: list[list[tuple[complex, complex, int]]] = [[] for _ in range(len(lights) + 1)]
    fan = np.exp(2j * np.pi * np.arange(FAN) / FAN)
    for index, light in enumerate(lights):
        nodes[index + 1].extend((complex(light), complex(h), -1) for h in fan)
    for h in np.exp(2j * np.pi * np.arange(2 * FAN) / (2 * FAN)):
        nodes[0].append((battery + start_along(0.0, sizes) * complex(h), complex(h), -1))
    for number, (members, foot, ahead) in enumerate(common_lines(lights, battery, sizes)):
        for member in members:
            place = battery if member == 0 else complex(lights[member - 1])
            along = complex(ahead)
            on_line = foot + along * (np.conj(along) * (place - foot)).real
            if member == 0:
                beside = abs(place - on_line)
                for h in (along, -along):
                    nodes[0].append((on_line + start_along(beside, sizes) * h, h, number))
            else:
                nodes[member].extend((on_line, h, number) for h in (along, -along))
    return [as_stations(rows) for rows in nodes]


def as_stations(rows: list[tuple[complex, complex, int]]) -> Stations:
    """Rows of (point, heading, line) as arrays."""
    return Stations(
        np.array([row[0] for row in rows], dtype=np.complex128),
        np.array([row[1] for row in rows], dtype=np.complex128),
        np.array([row[2] for row in rows], dtype=np.int64),
    )


def start_along(beside: float, sizes: Sizes) -> float:
    """How far out of the battery's centre the ends lie, for a lane passing it `beside` mm off."""
    reach = sizes.end_reach * END_REACH_SHARE
    return math.sqrt(max(reach**2 - (sizes.offset + beside) ** 2, 0.0))


def battery_beside(sizes: Sizes) -> float:
    """How far the end runs' midline may pass the battery's centre."""
    return max(sizes.end_reach * END_REACH_SHARE - sizes.offset, 0.0)


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
