"""A closer look along one order: many more ways through each light, near those already found.

The first search knows a heading to 15 degrees and lines through two marks. Once the order is
settled, there is room for headings a degree or two apart, for
passing a light beside its centre, and for lines that trade both off over a whole row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.passages import Passages, Row, begin_at, foot_on, switch_fits
from circuit.route.plane import Points, cross, narrowest_strip
from circuit.route.site import Site

# chosen: near the end only a lane that lacks nothing counts, at any price within reason
LACKING_PER_MM = 60.0
# Lines that head elsewhere than the lane found by more than this many times the spread are left out: chosen.
NEAR_SPREADS, LEAST_NEAR_DEG = 2.5, 4.0
LONGEST_KNOTTED = 4  # chosen: between two folds; a longer row is found as a plain line
KNOT_GAP_MM = 13.0  # chosen: neighbours farther apart leave a fold room enough without
KNOT_ASIDE_MM = 0.9  # chosen: a 9 mm gap in an arc with 20 degrees a light needs 0.4
KNOT_STEPS = 7
KNOT_LINES = 8  # chosen: of the lines between two knots, an even choice when there are more
SHORT_ROW = 3  # chosen: rows longer than this have one line each, the best one
_SHARES = (-1.0, 0.0, 1.0)  # of the allowed offset
_BEGINNINGS = 5  # chosen: places beside the cell's middle where tapes may begin, over all the switch allows


def closer_passages(
    catalogue: Catalogue, chain: Sequence[int], spread_deg: float, steps: int
) -> tuple[Site, Passages]:
    """New passages round those of a chain of links, and the site with dearer lacks."""
    links, passages = catalogue.links, catalogue.passages
    site = replace(catalogue.site, prices=replace(catalogue.site.prices, lacking_per_mm=LACKING_PER_MM))
    order = order_of(catalogue, chain)
    picked = [int(links.src[chain[0]]), *(int(links.dst[link]) for link in chain)]
    rows: list[list[Row]] = [[] for _ in range(len(site.lights) + 1)]
    turns = np.radians(np.linspace(-spread_deg, spread_deg, 2 * steps + 1))
    for place, pick in zip((0, *order), picked, strict=True):
        at, ahead = complex(passages.at[pick]), complex(passages.ahead[pick])
        rows[place].append((at, ahead, -1))
        for turn in turns:
            rows[place].extend(_through(place, ahead * complex(np.exp(1j * turn)), at, site))
    _towards_neighbours(order, rows, site, spread_deg)
    number = _rows_along(order, rows, site)
    _knots_along(order, rows, site, number)
    rows[0] = switch_fits(rows[0], site)
    most = np.radians(max(NEAR_SPREADS * spread_deg, LEAST_NEAR_DEG))
    for place, pick in zip((0, *order), picked, strict=True):
        rows[place] = _near_in_heading(rows[place], complex(passages.ahead[pick]), float(np.cos(most)))
    return site, Passages.of(rows)


def _near_in_heading(rows: list[Row], ahead: complex, least_cos: float) -> list[Row]:
    """Rows that head not too far from `ahead`, each once."""
    kept: dict[tuple[complex, complex, int], Row] = {}
    for at, h, line in rows:
        if (h * ahead.conjugate()).real >= least_cos:
            kept.setdefault(
                (
                    complex(round(at.real, 3), round(at.imag, 3)),
                    complex(round(h.real, 4), round(h.imag, 4)),
                    line,
                ),
                (at, h, line),
            )
    return list(kept.values())


def order_of(catalogue: Catalogue, chain: Sequence[int]) -> tuple[int, ...]:
    """The places that a chain of links comes to, in turn."""
    return tuple(int(place) for place in catalogue.passages.place[catalogue.links.dst[list(chain)]])


def _through(place: int, ahead: complex, near: complex, site: Site) -> list[Row]:
    """Stations of one heading: on the centre, to both sides of it, and as far beside it as now."""
    if place == 0:
        now = float(cross(ahead, near - site.battery))
        low, high = site.switch.beside
        besides = {
            round(float(x), 4) for x in (*np.linspace(low, high, _BEGINNINGS), max(low, min(high, now)))
        }
        return [(begin_at(b, ahead, site), ahead, -1) for b in sorted(besides)]
    light = complex(site.lights[place - 1])
    room = site.sizes.off_midline
    now = float(cross(ahead, near - light))
    besides = {0.0, room, -room, max(-room, min(room, now))}
    return [(light + b * 1j * ahead, ahead, -1) for b in sorted(besides)]


def _towards_neighbours(order: tuple[int, ...], rows: list[list[Row]], site: Site, spread_deg: float) -> None:
    """Headings near those from the light before and to the light after."""
    places = [site.battery, *(complex(site.lights[place - 1]) for place in order)]
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


def _rows_along(order: tuple[int, ...], rows: list[list[Row]], site: Site) -> int:
    """Lines that pass two or more lights in a row (or the battery and the first) without a fold.

    Gives the next free line number.
    """
    sequence = (0, *order)
    places: Points = np.array([site.battery, *(site.lights[place - 1] for place in order)])
    low, high = site.switch.beside
    room = np.full(len(places), site.sizes.off_midline)
    room[0] = max(min(-low, high), 0.0)
    number = 0
    last_end = 0  # of the longest row found so far
    for i in range(len(places) - 1):
        rows_from_here = []
        for j in range(i + 1, len(places)):
            lines = _lines_between(places[i : j + 1], room[i : j + 1])
            if not lines and j > i + 1:
                break
            rows_from_here.append((j, lines))
        longest = rows_from_here[-1][0]
        for j, lines in rows_from_here:
            # Parts of a longer row are left out, but for the shortest, which have room to turn.
            if j - i >= SHORT_ROW and (j < longest or j <= last_end):
                continue
            for foot, ahead in lines:
                for position in range(i, j + 1):
                    place = sequence[position]
                    on_line = foot_on(foot, ahead, complex(places[position]))
                    if position == 0:
                        on_line = begin_at(float(cross(ahead, foot - site.battery)), ahead, site)
                    rows[place].append((complex(on_line), ahead, number))
                number += 1
        last_end = max(last_end, longest)
    return number


def _knots_along(order: tuple[int, ...], rows: list[list[Row]], site: Site, number: int) -> None:
    """Lines between knots: places midway between two close neighbours where a fold just fits.

    Between lights 8 to 10 mm apart a fold has to sit almost exactly midway, which two lines picked
    by themselves hardly ever do. Lines drawn from one such place to another do it by design:

        light   knot   light   knot   light
          [ ]  ---x---  [ ]  ---x---  [ ]
    """
    sizes = site.sizes
    places: Points = np.array([site.lights[place - 1] for place in order])
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
                    on_line = foot_on(foot, h, complex(places[position]))
                    rows[order[position]].append((on_line, h, number))
                number += 1


def _lines_between(points: Points, room: Floats) -> list[tuple[complex, complex]]:
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
