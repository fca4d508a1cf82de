"""A closer look along one order: many more ways through each light, near those already found.

The first search knows a heading to 15 degrees and lines through two marks. Once the order is
settled only neighbouring legs matter, so there is room for headings a degree or two apart, for
passing a light beside its centre, and for lines that trade both off over a whole row.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from circuit.route.legs import Ground
from circuit.route.plane import Points, cross, narrowest_strip
from circuit.route.stations import Stations, as_stations, battery_beside, battery_start, switch_fits
from circuit.route.tables import Solved, Tables

# chosen: near the end only a lane that lacks nothing counts, at any price within reason
SHORT_PRICE_MM = 60.0
Row = tuple[complex, complex, int]
LONGEST_KNOTTED = 4  # chosen: between two folds; a longer row is found as a plain line
KNOT_GAP_MM = 13.0  # chosen: neighbours farther apart leave a fold room enough without
KNOT_ASIDE_MM = 0.9  # chosen: a 9 mm gap in an arc with 20 degrees a light needs 0.4
KNOT_STEPS = 7
KNOT_LINES = 8  # chosen: of the lines between two knots, an even choice when there are more
SHORT_ROW = 3  # chosen: rows longer than this have one line each, the best one
_SHARES = (-1.0, 0.0, 1.0)  # of the allowed offset


def refined(tables: Tables, solved: Solved, spread_deg: float, steps: int, look: int) -> Tables:
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
    number = _rows_along(order, rows, ground)
    _knots_along(order, rows, ground, number)
    return Tables(ground, [as_stations(row) if row else _nothing() for row in rows], False, look)


def _nothing() -> Stations:
    return as_stations([(0j, 1 + 0j, -1)])


def _through(place: int, ahead: complex, near: complex, ground: Ground) -> list[Row]:
    """Stations of one heading: on the centre, to both sides of it, and as far beside it as now."""
    if place == 0:
        sizes = ground.sizes
        now = float(cross(ahead, near - ground.battery))
        room = battery_beside(sizes)
        middle = (sizes.lane_least + sizes.lane_most) / 2
        besides = {
            round(x, 4) for x in (middle, room, -room, room / 2, -room / 2, max(-room, min(room, now)))
        }
        return [
            (battery_start(ground.battery, ahead, b, sizes), ahead, -1)
            for b in sorted(besides)
            if sizes.lane_least <= b <= sizes.lane_most
            and switch_fits(ahead, ground.lights, ground.battery, sizes)
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


def _rows_along(order: tuple[int, ...], rows: list[list[Row]], ground: Ground) -> int:
    """Lines that pass two or more lights in a row (or the battery and the first) without a fold.

    Gives the next free line number.
    """
    sizes = ground.sizes
    sequence = (0, *order)
    places: Points = np.array([ground.battery, *(ground.lights[place - 1] for place in order)])
    room = np.full(len(places), sizes.off_midline)
    room[0] = battery_beside(sizes)
    number = 0
    for i in range(len(places) - 1):
        for j in range(i + 1, len(places)):
            lines = _lines_between(places[i : j + 1], room[i : j + 1])
            if not lines and j > i + 1:
                break
            for foot, ahead in lines:
                for position in range(i, j + 1):
                    place = sequence[position]
                    on_line = foot + ahead * float(np.real(np.conj(ahead) * (places[position] - foot)))
                    if position == 0:
                        beside = float(cross(ahead, on_line - places[0]))
                        fits = switch_fits(ahead, ground.lights, ground.battery, sizes)
                        if not fits or not sizes.lane_least <= beside <= sizes.lane_most:
                            continue
                        on_line = battery_start(ground.battery, ahead, beside, sizes)
                    rows[place].append((complex(on_line), ahead, number))
                number += 1
    return number


def _knots_along(order: tuple[int, ...], rows: list[list[Row]], ground: Ground, number: int) -> None:
    """Lines between knots: places midway between two close neighbours where a fold just fits.

    Between lights 8 to 10 mm apart a fold has to sit almost exactly midway, which two lines picked
    by themselves hardly ever do. Lines drawn from one such place to another do it by design:

        light   knot   light   knot   light
          [ ]  ---x---  [ ]  ---x---  [ ]
    """
    sizes = ground.sizes
    places: Points = np.array([ground.lights[place - 1] for place in order])
    if len(places) < 2:
        return
    ways = np.diff(places)
    sizes_of = np.abs(ways)
    close = sizes_of < KNOT_GAP_MM
    middle = (places[:-1] + places[1:]) / 2
    right = 1j * ways / np.maximum(sizes_of, 1e-9)
    asides = np.linspace(-KNOT_ASIDE_MM, KNOT_ASIDE_MM, KNOT_STEPS)
    for first in range(len(ways)):
        for last in range(first + 1, min(first + LONGEST_KNOTTED, len(ways))):
            if not (close[first] and close[last]):
                continue
            inside = places[first + 1 : last + 1]
            a = (middle[first] + asides * right[first])[:, None]
            b = (middle[last] + asides * right[last])[None, :]
            ahead = (b - a) / np.abs(b - a)
            off = np.abs(cross(ahead[..., None], inside - a[..., None])).max(axis=-1)
            good = np.argwhere(off <= sizes.off_midline)
            if not len(good):
                if last > first + 1:
                    break
                continue
            # An even choice by how far off the lights they pass, which a mirrored card leaves alone.
            good = good[np.argsort(off[good[:, 0], good[:, 1]], kind="stable")]
            for i, j in good[:: -(-len(good) // KNOT_LINES)]:
                h, foot = complex(ahead[i, j]), complex(a[i, 0])
                for position in range(first + 1, last + 1):
                    on_line = foot + h * float(np.real(np.conj(h) * (places[position] - foot)))
                    rows[order[position]].append((on_line, h, number))
                number += 1


def _lines_between(points: Points, room: np.ndarray) -> list[tuple[complex, complex]]:
    """Directed lines from the first point to the last that pass every point within its room."""
    found = []
    way = points[-1] - points[0]
    if abs(way) < 1e-6:
        return []
    right = 1j * way / abs(way)
    for first in _SHARES if len(points) <= SHORT_ROW else ():
        for last in _SHARES:
            a = points[0] + first * room[0] * right
            b = points[-1] + last * room[-1] * right
            ahead = complex((b - a) / abs(b - a))
            inside = np.abs(cross(ahead, points[1:-1] - a)) <= room[1:-1] + 1e-9
            ends = abs(cross(ahead, points[0] - a)) <= room[0] + 1e-9
            ends &= abs(cross(ahead, points[-1] - a)) <= room[-1] + 1e-9
            if ends and inside.all():
                found.append((complex(a), ahead))
    if len(points) > 2:
        foot, ahead = narrowest_strip(points)
        if (np.conj(ahead) * way).real < 0:
            ahead = -ahead
        if (np.abs(cross(ahead, points - foot)) <= room + 1e-9).all():
            found.append((foot, ahead))
    return found
