"""How much room a lane needs round the marks: a guess that the router then has to confirm.

In:    a layout, the maker's settings, how generous to be.
Out:   `Needs` beyond the mark rules, and the lights that lack room.
Fails: never.

A lane is two tapes and the gap, and folds must keep clear of lights. From that follows what two
marks need between them, unless the lane goes straight from one to the other:

    side by side      2 x half the lane and the gap between two tapes
    fold in between   2 x (half a body and the fold's clearance), and what the inner tape loses
    past the battery  the foam ring and half a lane, but for lights the lane meets on its way out
    in a corner       half a lane one way, a light, a fold and half a lane the other way

The lane has two ends: the light that would cost most to move may be its last one, and needs less.
Figures are rounded up from the geometry of folds between 30 and 120 degrees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from circuit.layout import Layout, Point
from circuit.moves.needs import Needs
from circuit.rules import limit_of
from circuit.settings import Settings

# A fold of 30 to 120 degrees asks for up to 1.4 mm between two lights beyond their clearances, with the usual
# tape: offset x 2 tan(turn / 2) along the legs, less what the chord saves. As a share of the offset (2.5 mm): 0.56.
_FOLD_SHARE = 0.56
_LITTLE_MM = 0.2


@dataclass(frozen=True)
class Room:
    """What a lane asks for. `short_mm`: for each light, how much it lacks in all (0: it has room)."""

    needs: Needs
    short_mm: tuple[float, ...]


def lane_room(layout: Layout, settings: Settings, needs: Needs, generous_mm: float = 0.0) -> Room:
    """`needs` widened by what a lane asks for, with `generous_mm` on top of every guess."""
    sizes = _Sizes.of(settings, generous_mm)
    lights = [light.centre for light in layout.lights]
    count = len(lights)
    short = np.zeros(count)
    straight = _straight_pairs(lights, sizes)
    apart = needs.apart.copy()
    for i, j in combinations(range(count), 2):
        lacking = sizes.beside - math.dist(lights[i], lights[j])
        if lacking > 0 and (i, j) not in straight:
            apart[i, j] = apart[j, i] = max(apart[i, j], sizes.beside)
            short[[i, j]] += lacking
    zone, edge = needs.zone.copy(), needs.edge.copy()
    by_zone = _past_battery(layout, sizes)
    by_corner = _in_corners(layout, sizes)
    # The costliest of either kind may be the lane's last light.
    costs = dict(by_zone)
    for i, (_, lacking) in by_corner.items():
        costs[i] = costs.get(i, 0.0) + lacking
    last = max(costs, key=lambda i: costs[i], default=None)
    for i, lacking in by_zone.items():
        if i != last:
            zone[i] = max(zone[i], sizes.past_battery)
            short[i] += lacking
    for i, (side, lacking) in by_corner.items():
        if i != last:
            edge[i, side] = max(edge[i, side], sizes.corner)
            short[i] += lacking
    return Room(replace(needs, apart=apart, zone=zone, edge=edge), tuple(float(value) for value in short))


@dataclass(frozen=True)
class _Sizes:
    beside: float
    past_battery: float
    corner: float
    off_midline: float

    @classmethod
    def of(cls, settings: Settings, generous_mm: float) -> _Sizes:
        half_lane = settings.gap_mm / 2 + settings.tape_width_mm
        clear = settings.light.width_mm / 2 + limit_of(settings, "fold-near-light")
        edge = limit_of(settings, "trace-near-edge")
        fold = _FOLD_SHARE * settings.trace_offset_mm
        more = _LITTLE_MM + generous_mm
        return cls(
            beside=max(2 * half_lane + limit_of(settings, "traces-too-close"), 2 * clear + fold) + more,
            past_battery=settings.battery_zone_radius_mm + half_lane + more,
            corner=edge + half_lane + clear + more,
            off_midline=limit_of(settings, "light-not-bridged.off-midline"),
        )


def _straight_pairs(lights: list[Point], sizes: _Sizes) -> set[tuple[int, int]]:
    """Pairs that lie too near for a fold, taken as neighbours on a straight stretch of the lane.

    A light has two neighbours at most, three in a row lie on one line within what a light may be off
    the midline, and the lane makes no rings. The nearest pairs come first.
    """
    near = sorted(
        (math.dist(lights[i], lights[j]), i, j)
        for i, j in combinations(range(len(lights)), 2)
        if math.dist(lights[i], lights[j]) < sizes.beside
    )
    chosen: set[tuple[int, int]] = set()
    neighbours: dict[int, list[int]] = {}
    for _, i, j in near:
        if _connected(neighbours, i, j):
            continue
        fits = all(
            len(neighbours.get(here, [])) < 2
            and all(
                _off_chord(lights[here], lights[there], lights[before]) <= 2 * sizes.off_midline
                for before in neighbours.get(here, [])
            )
            for here, there in ((i, j), (j, i))
        )
        if fits:
            chosen.add((i, j))
            neighbours.setdefault(i, []).append(j)
            neighbours.setdefault(j, []).append(i)
    return chosen


def _connected(neighbours: dict[int, list[int]], start: int, goal: int) -> bool:
    seen, waiting = {start}, [start]
    while waiting:
        for k in neighbours.get(waiting.pop(), []):
            if k not in seen:
                seen.add(k)
                waiting.append(k)
    return goal in seen


def _off_chord(middle: Point, one: Point, other: Point) -> float:
    """Distance of a middle light from the line through its neighbours; endless when they lie on one side of it."""
    ax, ay = one[0] - middle[0], one[1] - middle[1]
    bx, by = other[0] - middle[0], other[1] - middle[1]
    chord = math.dist(one, other)
    if ax * bx + ay * by >= 0 or chord == 0:
        return math.inf
    return abs(ax * by - ay * bx) / chord


def _past_battery(layout: Layout, sizes: _Sizes) -> dict[int, float]:
    """Lights too near to be passed beside the foam ring, but for those on one straight way out. [mm]"""
    if layout.battery is None:
        return {}
    centre = layout.battery.centre
    near = sorted(
        (math.dist(light.centre, centre), i)
        for i, light in enumerate(layout.lights)
        if math.dist(light.centre, centre) < sizes.past_battery
    )
    if not near:
        return {}
    first = layout.lights[near[0][1]].centre
    return {
        i: sizes.past_battery - distance
        for distance, i in near[1:]
        if _off_ray(layout.lights[i].centre, centre, first) > 2 * sizes.off_midline
    }


def _off_ray(point: Point, start: Point, through: Point) -> float:
    """Distance from a ray's line; endless behind the ray's start."""
    x, y = through[0] - start[0], through[1] - start[1]
    px, py = point[0] - start[0], point[1] - start[1]
    if x * px + y * py <= 0:
        return math.inf
    return abs(x * py - y * px) / math.hypot(x, y)


def _in_corners(layout: Layout, sizes: _Sizes) -> dict[int, tuple[int, float]]:
    """Lights near two edges: the side they are further from, and how much is lacking there. [mm]"""
    found: dict[int, tuple[int, float]] = {}
    for i, light in enumerate(layout.lights):
        sides = (
            light.x_mm,
            layout.card.width_mm - light.x_mm,
            light.y_mm,
            layout.card.height_mm - light.y_mm,
        )
        across = min((0, 1), key=lambda side: sides[side])
        upright = min((2, 3), key=lambda side: sides[side])
        further = max((across, upright), key=lambda side: sides[side])
        if sides[further] < sizes.corner:
            found[i] = (further, sizes.corner - sides[further])
    return found
