"""A closer look along one order: many more ways through each light, near those already found.

The first search knows a heading to 15 degrees and lines through two marks. Once the order is
settled only neighbouring legs matter, so there is room for headings a degree or two apart, for
passing a light beside its centre, and for lines that trade both off over a whole row.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from circuit.route.legs import Ground
from circuit.route.plane import Points, cross
from circuit.route.stations import Stations, as_stations, battery_beside, start_along
from circuit.route.tables import Solved, Tables

# chosen: near the end only a lane that lacks nothing counts, at any price within reason
SHORT_PRICE_MM = 60.0
Row = tuple[complex, complex, int]
LONGEST_ROW = 8  # chosen: rows are built pair by pair, a longer one comes out in two pieces
_SHARES = (-1.0, 0.0, 1.0)  # of the allowed offset


def refined(tables: Tables, solved: Solved, spread_deg: float, steps: int, detours: bool) -> Tables:
    """Tables of new stations round the ones that `solved` picked, for its order alone."""
    ground = replace(tables.ground, prices=replace(tables.ground.prices, short=SHORT_PRICE_MM))
    order = solved.order
    rows: list[list[Row]] = [[] for _ in range(len(ground.lights) + 1)]
    picked = [tables.stations[place] for place in (0, *order)]
    for position, place in enumerate((0, *order)):
        pick = solved.picks[position]
        at, ahead = complex(picked[position].at[pick]), complex(picked[position].ahead[pick])
        rows[place].append((at, ahead, -1))
        turns = np.radians(np.linspace(-spread_deg, spread_deg, 2 * steps + 1))
        for turn in turns:
            rows[place].extend(_through(place, ahead * complex(np.exp(1j * turn)), at, ground))
    _towards_neighbours(order, rows, ground, spread_deg)
    _rows_along(order, rows, ground)
    return Tables(ground, [as_stations(row) if row else _nothing() for row in rows], False, detours)


def _nothing() -> Stations:
    return as_stations([(0j, 1 + 0j, -1)])


def _through(place: int, ahead: complex, near: complex, ground: Ground) -> list[Row]:
    """Stations of one heading: on the centre, to both sides of it, and as far beside it as now."""
    if place == 0:
        sizes = ground.sizes
        now = float(cross(ahead, near - ground.battery))
        room = battery_beside(sizes)
        besides = {round(x, 4) for x in (0.0, room, -room, room / 2, -room / 2, max(-room, min(room, now)))}
        return [
            (ground.battery + b * 1j * ahead + start_along(abs(b), sizes) * ahead, ahead, -1)
            for b in sorted(besides)
        ]
    light = complex(ground.lights[place - 1])
    room = ground.sizes.off_midline
    now = float(cross(ahead, near - light))
    besides = {0.0, room, -room, max(-room, min(room, now))}
    return [(light + b * 1j * ahead, ahead, -1) for b in sorted(besides)]


def _towards_neighbours(
    order: tuple[int, ...], rows: list[list[Row]], ground: Ground, spread_deg: float
) -> None:
    """Headings near those from the light before and to the light after."""
    places = [ground.battery, *(complex(ground.lights[place - 1]) for place in order)]
    for position in range(1, len(places)):
        here, place = places[position], order[position - 1]
        ways = [here - places[position - 1]]
        if position + 1 < len(places):
            ways.append(places[position + 1] - here)
            ways.append(ways[0] / abs(ways[0]) + ways[1] / abs(ways[1]))
        for way in ways:
            if abs(way) < 1e-6:
                continue
            for turn in np.radians((-spread_deg / 2, 0.0, spread_deg / 2)):
                rows[place].append((here, way / abs(way) * complex(np.exp(1j * turn)), -1))


def _rows_along(order: tuple[int, ...], rows: list[list[Row]], ground: Ground) -> None:
    """Lines that pass two or more lights in a row (or the battery and the first) without a fold."""
    sizes = ground.sizes
    sequence = (0, *order)
    places: Points = np.array([ground.battery, *(ground.lights[place - 1] for place in order)])
    room = np.full(len(places), sizes.off_midline)
    room[0] = battery_beside(sizes)
    number = 0
    for i in range(len(places) - 1):
        for j in range(i + 1, min(i + LONGEST_ROW, len(places))):
            lines = _lines_between(places[i : j + 1], room[i : j + 1])
            if not lines and j > i + 1:
                break
            for foot, ahead in lines:
                for position in range(i, j + 1):
                    place = sequence[position]
                    on_line = foot + ahead * float(np.real(np.conj(ahead) * (places[position] - foot)))
                    if position == 0:
                        beside = abs(places[0] - on_line)
                        on_line += start_along(beside, sizes) * ahead
                    rows[place].append((complex(on_line), ahead, number))
                number += 1


def _lines_between(points: Points, room: np.ndarray) -> list[tuple[complex, complex]]:
    """Directed lines from the first point to the last that pass every point within its room."""
    found = []
    way = points[-1] - points[0]
    if abs(way) < 1e-6:
        return []
    right = 1j * way / abs(way)
    for first in _SHARES:
        for last in _SHARES:
            a = points[0] + first * room[0] * right
            b = points[-1] + last * room[-1] * right
            ahead = complex((b - a) / abs(b - a))
            inside = np.abs(cross(ahead, points[1:-1] - a)) <= room[1:-1] + 1e-9
            ends = abs(cross(ahead, points[0] - a)) <= room[0] + 1e-9
            ends &= abs(cross(ahead, points[-1] - a)) <= room[-1] + 1e-9
            if ends and inside.all():
                found.append((complex(a), ahead))
    if not found and len(points) > 2:
        middle = points.mean()
        spread = ((points - middle) ** 2).sum()
        ahead = complex(np.sqrt(spread / abs(spread)))
        if (np.conj(ahead) * way).real < 0:
            ahead = -ahead
        if (np.abs(cross(ahead, points - middle)) <= room + 1e-9).all():
            found.append((complex(middle), ahead))
    return found
