"""Passages: how the lane may pass each light, as points on the lane's midline with a heading.

Headings come from two sources: an even fan, so that something always fits, and the straight lines through
two or more lights (or the cell and a light), which are what lets a lane pass several lights without
a fold. A hand-drawn row is never quite straight; a line that passes each of its lights within the
allowed offset serves it. At the cell a passage is where the tapes begin, heading to the hinge and out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.plane import Points, cross, meets_convex, narrowest_strip
from circuit.route.site import Site, edge_distance

FAN = 24  # chosen: every 15 degrees; lines through neighbours and the closer look fill the rest in
_LEAST_ROOM_MM = 0.05  # chosen: keeps a mark without any room from pulling without end
_SPARE_MM = 0.02  # chosen: what rounding may take off a lane past the zone
# A heading of the fan is at most 7.5 degrees off the way past the cell, which brings its lane 0.2 mm nearer. [mm]
_FAN_COMES_NEARER_MM = 0.2
NEIGHBOURS = 7  # chosen: straight runs to farther lights are found through the line of a row

Ints = NDArray[np.int64]
Row = tuple[complex, complex, int]  # point, heading, number of the common line (-1: none)
Line = tuple[tuple[int, ...], complex, complex]  # the places on it, a point, a heading


@dataclass(frozen=True, slots=True)
class Passages:
    """All passages of a card, sorted by place (0 is the cell, k is light k-1).

    `at`, `ahead` : (N,) midline points, unit headings. `line` : which common line each lies on (-1: none);
    two passages of one line and heading can be joined without a fold. `first` : (places + 1,) passages
    of place p are first[p] to first[p + 1].
    """

    at: Points
    ahead: Points
    line: Ints
    place: Ints
    first: Ints

    def __len__(self) -> int:
        return len(self.at)

    @classmethod
    def of(cls, rows: list[list[Row]]) -> Passages:
        """From the rows of each place."""
        flat = [row for of_place in rows for row in of_place]
        sizes = [len(of_place) for of_place in rows]
        return cls(
            np.array([row[0] for row in flat], dtype=np.complex128),
            np.array([row[1] for row in flat], dtype=np.complex128),
            np.array([row[2] for row in flat], dtype=np.int64),
            np.repeat(np.arange(len(rows)), sizes),
            np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64),
        )

    def turned_about(self) -> Ints:
        """For each passage the one at the same point and line with the opposite heading."""
        found = np.zeros(len(self), dtype=np.int64)
        for low, high in zip(self.first[:-1], self.first[1:], strict=True):
            here = slice(int(low), int(high))
            away = (
                np.abs(self.at[here][:, None] - self.at[here][None, :])
                + np.abs(self.ahead[here][:, None] + self.ahead[here][None, :])
                + (self.line[here][:, None] != self.line[here][None, :])
            )
            if away.size:
                found[here] = low + np.argmin(away, axis=1)
        return found


def light_rows(site: Site, lines: Sequence[Line]) -> list[list[Row]]:
    """The first passages of each light: the fan, and the common lines."""
    fan = np.exp(2j * np.pi * np.arange(FAN) / FAN)
    rows = [[(complex(light), complex(h), -1) for h in fan] for light in site.lights]
    for number, (members, foot, ahead) in enumerate(lines):
        for member in members:
            if member:
                on_line = foot_on(foot, ahead, complex(site.lights[member - 1]))
                rows[member - 1].extend((on_line, h, number) for h in (ahead, -ahead))
    for light, of_light in zip(site.lights, rows, strict=True):
        of_light.extend(_past_the_zone(complex(light), site))
    return rows


def _past_the_zone(light: complex, site: Site) -> list[Row]:
    """Ways past the battery zone through a light so near to it that no heading of the fan is clear of it: straight past
    the cell, off the light's middle where that has to be."""
    out = light - site.battery
    lacks = site.sizes.zone + site.sizes.outer + _SPARE_MM - abs(out)
    if not -_FAN_COMES_NEARER_MM < lacks <= site.sizes.off_midline:
        return []
    away = out / abs(out)
    return [(light + max(lacks, 0.0) * away, turn * away, -1) for turn in (1j, -1j)]


def cell_rows(site: Site, lines: Sequence[Line]) -> list[Row]:
    """The first passages of the cell: a finer fan, and the common lines, where the switch fits."""
    usual = usual_beside(site)
    fan = np.exp(1j * np.pi * np.arange(2 * FAN) / FAN)
    rows = [(begin_at(usual, complex(h), site), complex(h), -1) for h in fan]
    for number, (members, foot, ahead) in enumerate(lines):
        if members[0] == 0:
            besides = [(h, float(cross(h, foot - site.battery))) for h in (ahead, -ahead)]
            rows.extend((begin_at(beside, h, site), h, number) for h, beside in besides)
    return switch_fits(rows, site)


def foot_on(foot: complex, ahead: complex, place: complex) -> complex:
    """The point nearest to `place` of the line through `foot` with that heading."""
    return foot + ahead * float(np.real(np.conj(ahead) * (place - foot)))


def switch_fits(rows: list[Row], site: Site) -> list[Row]:
    """The cell's passages whose switch lies on the card, off the window and off every light."""
    switch, sizes = site.switch, site.sizes
    if not rows:
        return rows
    ahead = np.array([row[1] for row in rows])
    beside = cross(ahead, np.array([row[0] for row in rows]) - site.battery)
    low, high = switch.beside
    good = (beside >= low - 1e-9) & (beside <= high + 1e-9)
    corners = site.battery + switch.corners[None, :] * ahead[:, None]
    good &= (edge_distance(corners, sizes) >= sizes.switch_edge).all(axis=1)
    least = min(sizes.half_along, sizes.half_across)
    for part in switch.parts:
        for light in site.lights:
            here = (light - site.battery) * np.conj(ahead)
            good &= ~meets_convex(here, here, part, least)
        for corner, after in zip(site.window, np.roll(site.window, -1), strict=True):
            from_, to = ((z - site.battery) * np.conj(ahead) for z in (corner, after))
            good &= ~meets_convex(from_, to, part, 0.0)
    if len(site.window):
        good &= not _within(site.window, site.battery)
    return [row for row, fits in zip(rows, good, strict=True) if fits]


def _within(window: Points, point: complex) -> bool:
    """Whether a point lies inside a closed line, by the sides that a ray from it crosses."""
    a, b = window - point, np.roll(window, -1) - point
    spans = (a.imag > 0) != (b.imag > 0)
    rise = np.where(spans, b.imag - a.imag, 1.0)
    return bool((spans & (a.real - a.imag / rise * (b.real - a.real) > 0)).sum() % 2)


def begin_at(beside: float, ahead: complex, site: Site) -> complex:
    """Where a lane begins that passes the cell's middle `beside` mm to its right, heading out."""
    return site.battery + (beside * 1j - site.switch.begin) * ahead


def usual_beside(site: Site) -> float:
    """Through the cell's middle, or as near to it as may be."""
    low, high = site.switch.beside
    return min(max(0.0, low), high)


def common_lines(site: Site) -> list[Line]:
    """Lines through two or more of the cell (0) and the lights (1..): members, a point, a heading.

    For each pair of near neighbours: the line through both, then widened to all lights that a line
    close by passes within the allowed offset.
    """
    places = site.places
    room = np.full(len(places), site.sizes.off_midline)
    low, high = site.switch.beside
    room[0] = max(min(-low, high), 0.0)
    seen: set[tuple[int, ...]] = set()
    found: list[Line] = []
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


def _rows_along(places: Points, room: Floats, i: int, j: int, ahead: complex) -> list[Line]:
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
    weight = 1.0 / (room + _LEAST_ROOM_MM) ** 2
    middle = complex((points * weight).sum() / weight.sum())
    spread = points - middle
    square = (weight * spread**2).sum()
    direction = np.sqrt(square / abs(square)) if abs(square) > 0 else 1.0 + 0j
    return middle, complex(direction)
