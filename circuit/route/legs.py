"""Legs: every way of joining the stations of one place to those of another.

A leg is a straight run, or one fold where the two headings' lines meet, or two folds with a
straight run between. All pairs of stations are worked out at once. A leg obeys every rule that
can be judged by looking at it alone: turns, the runs before and after each fold, the card's
edges, the battery zone, the other lights' bodies, its own two arms.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from circuit.route.plane import Bools, Floats, Points, cross, dot, point_to_segment, segment_to_segment, unit
from circuit.route.sizes import Sizes
from circuit.route.stations import Stations

BODY_GAP_MM = 0.1  # chosen: two bodies in one straight lane must not touch
TAPE_TO_BODY_MM = 0.15  # chosen: tape that passes a body stays visibly clear of it
SHORT_AT_MOST_MM = 1.2  # chosen: what turning a heading by a few degrees can still mend
SHORT_PRICE = 12.0  # chosen: a mm that is lacking outweighs a mm of lane by far
LONGEST_EXTRA_MM = 60.0  # chosen: a leg this much longer than straight is never part of a good lane
_ROUNDS = 4  # chosen: the two-fold leg settles to a tenth of a mm in three
_SETTLE_MM = 0.12  # added while settling, so that the last check holds
DETOURS_MM = ((6.0, 0.0), (0.0, 6.0), (6.0, 6.0), (15.0, 0.0), (0.0, 15.0), (15.0, 15.0))  # chosen


@dataclass(frozen=True, slots=True)
class Prices:
    """What the search weighs, in mm of lane."""

    fold: float = 7.0  # chosen: half a minute's work and one more place to crack
    sharp: float = 3.0  # more for a full 135 degree turn, growing from 90
    short: float = 4.0  # for any lack of straight tape, beside SHORT_PRICE for each mm of it
    near_edge: float = 4.0  # for a fold's outer corner at the limit, fading over EDGE_COMFORT_MM


EDGE_COMFORT_MM = 1.0


@dataclass(frozen=True, slots=True)
class Legs:
    """Legs from `(A,)` stations to `(B,)` stations; `cost` is inf where there is none.

    `folds` says how many of `first`, `second` (midline points) count. `short` is how much straight
    tape a leg lacks before or after a fold: a leg with any is a hint for a closer search, never
    part of a finished lane.
    """

    cost: Floats
    folds: NDArray[np.int8]
    first: Points
    second: Points
    short: Floats
    least: float


@dataclass(frozen=True, slots=True)
class Ground:
    """What legs have to keep clear of. `lights` are centres; place 0 is the battery, k is light k-1."""

    lights: Points
    battery: complex
    sizes: Sizes
    prices: Prices = field(default_factory=Prices)

    @property
    def body_reach(self) -> float:
        return float(np.hypot(self.sizes.half_along, self.sizes.half_across))


def run_needed(cos: Floats, tan_half: Floats, sizes: Sizes) -> Floats:
    """Straight midline from a light's centre to a fold of that turn, at least.

    The inner trace folds first, by offset·tan(turn/2); past 90 degrees the returning tape must
    clear the body it just left.
    """
    clear = np.full(cos.shape, sizes.fold_clear)
    sine = np.sqrt(np.maximum(1 - cos**2, 0))
    back = cos < 0
    wide = max(sizes.half_across - sizes.offset, 0.0)
    returning = (sizes.tape / 2 + TAPE_TO_BODY_MM - wide * cos) / np.where(sine > 0.01, sine, 0.01)
    clear = np.where(back, np.maximum(clear, returning), clear)
    return np.asarray(sizes.half_along + clear + sizes.offset * tan_half)


def zone_run_needed(cos: Floats, tan_half: Floats, start: Points, ahead: Points, ground: Ground) -> Floats:
    """Straight midline from a battery station to the first fold: out of the zone with all its tape."""
    sizes = ground.sizes
    out = start - ground.battery
    along, beside = dot(out, ahead), np.abs(cross(ahead, out))
    sine = np.sqrt(np.maximum(1 - cos**2, 0.0025))
    turned = sizes.zone + sizes.outer * tan_half
    returning = (sizes.zone + sizes.outer + beside) / sine
    return np.asarray(np.where(cos < 0, np.maximum(turned, returning), turned) - along)


def _half_tan(cos: Floats) -> Floats:
    return np.asarray(np.sqrt(np.maximum(1 - cos, 0) / np.maximum(1 + cos, 1e-9)))


def legs_between(a: int, b: int, from_: Stations, to: Stations, ground: Ground, detours: bool = True) -> Legs:
    """All legs from place `a` (0 is the battery) to light `b`; infinite cost where there is none."""
    rows, columns = len(from_), len(to)
    p = np.repeat(from_.at, columns)
    h = np.repeat(from_.ahead, columns)
    q = np.tile(to.at, rows)
    k = np.tile(to.ahead, rows)
    cost = np.full(rows * columns, np.inf)
    folds = np.zeros(rows * columns, dtype=np.int8)
    first = p.copy()
    second = q.copy()
    short = np.zeros(rows * columns)
    builder = _Builder(a, b, ground)

    same = np.repeat(from_.line, columns) == np.tile(to.line, rows)
    straight = np.flatnonzero(same & (np.repeat(from_.line, columns) >= 0) & (dot(h, k) > 0.5))
    if len(straight):
        builder.straight(straight, p, h, q, cost)
    builder.one_fold(p, h, q, k, cost, folds, first, second, short)
    builder.two_folds(p, h, q, k, cost, folds, first, second, short, 0.0, 0.0)
    if detours and not np.isfinite(cost).mean() > 0.5:
        for before, after in DETOURS_MM:
            builder.two_folds(p, h, q, k, cost, folds, first, second, short, before, after, only_missing=True)
    shape = (rows, columns)
    return Legs(
        cost.reshape(shape),
        folds.reshape(shape),
        first.reshape(shape),
        second.reshape(shape),
        short.reshape(shape),
        float(cost.min()),
    )


class _Builder:
    """Works out legs of one pair of places; the arrays are one entry per pair of stations."""

    def __init__(self, a: int, b: int, ground: Ground) -> None:
        self.a, self.b, self.ground = a, b, ground
        self.sizes = ground.sizes
        others = [i for i in range(len(ground.lights)) if i + 1 not in (a, b)]
        ends = (ground.battery if a == 0 else ground.lights[a - 1], ground.lights[b - 1])
        self.direct = abs(ends[1] - ends[0])
        self.start, self.goal = complex(ends[0]), complex(ends[1])
        # A body farther from both ends than the longest leg reaches can't be in the way.
        reach = self.direct + LONGEST_EXTRA_MM
        self.others = np.array(
            [
                light
                for light in (complex(ground.lights[i]) for i in others)
                if abs(light - self.start) + abs(light - self.goal) < reach
            ],
            dtype=np.complex128,
        )

    def _run(self, cos: Floats, tan_half: Floats, p: Points, h: Points) -> Floats:
        if self.a == 0:
            return zone_run_needed(cos, tan_half, p, h, self.ground)
        return run_needed(cos, tan_half, self.sizes)

    def straight(self, where: NDArray[np.int64], p: Points, h: Points, q: Points, cost: Floats) -> None:
        p, h, q = p[where], h[where], q[where]
        run = dot(h, q - p)
        least = 0.0 if self.a == 0 else 2 * self.sizes.half_along + BODY_GAP_MM
        good = run > least
        good &= self._clear_of_others(p, q, skip_zone=self.a == 0)
        cost[where[good]] = run[good]

    def one_fold(
        self,
        p: Points,
        h: Points,
        q: Points,
        k: Points,
        cost: Floats,
        folds: NDArray[np.int8],
        first: Points,
        second: Points,
        short: Floats,
    ) -> None:
        cos = dot(h, k)
        sine = cross(h, k)
        usable = np.flatnonzero((np.abs(sine) > 1e-3) & (cos > self.sizes.turn_cos))
        p, h, q, k, cos, sine = p[usable], h[usable], q[usable], k[usable], cos[usable], sine[usable]
        t = cross(q - p, k) / sine
        u = cross(h, q - p) / sine
        tan_half = _half_tan(cos)
        price = self.ground.prices.fold + self._sharp(cos)
        lack_t = np.maximum(self._run(cos, tan_half, p, h) - t, 0.0)
        lack_u = np.maximum(run_needed(cos, tan_half, self.sizes) - u, 0.0)
        lack = lack_t + lack_u
        total = t + u + price + SHORT_PRICE * lack + self.ground.prices.short * (lack > 0)
        good = (lack_u <= SHORT_AT_MOST_MM) & (lack_t <= (0.0 if self.a == 0 else SHORT_AT_MOST_MM))
        good &= (total < cost[usable]) & (total < self.direct + LONGEST_EXTRA_MM)
        keep = np.flatnonzero(good)
        p, q, h, k = p[keep], q[keep], h[keep], k[keep]
        t, total = t[keep], total[keep]
        v = p + t * h
        good, extra = self._corner(v, h, k)
        good &= self._clear_of_others(p, v, skip_zone=self.a == 0)
        good &= self._clear_of_others(v, q, skip_zone=self.a == 0)
        chosen = usable[keep[good]]
        cost[chosen] = (total + extra)[good]
        folds[chosen] = 1
        first[chosen] = second[chosen] = v[good]
        short[chosen] = lack[keep[good]]

    def two_folds(
        self,
        p: Points,
        h: Points,
        q: Points,
        k: Points,
        cost: Floats,
        folds: NDArray[np.int8],
        first: Points,
        second: Points,
        short: Floats,
        before: float,
        after: float,
        only_missing: bool = False,
    ) -> None:
        sizes = self.sizes
        limit = self.direct + LONGEST_EXTRA_MM
        # Cheap first: no leg can beat one whose cost is already below straight plus two folds.
        floor = np.abs(q - p) + 2 * self.ground.prices.fold + before + after
        wanted = ~np.isfinite(cost) if only_missing else floor < cost
        todo = np.flatnonzero(wanted)
        p, h, q, k = p[todo], h[todo], q[todo], k[todo]
        way = unit(q - p)
        for _ in range(_ROUNDS):
            c1, c2 = np.maximum(dot(h, way), sizes.turn_cos), np.maximum(dot(way, k), sizes.turn_cos)
            t = self._run(c1, _half_tan(c1), p, h) + _SETTLE_MM + before
            u = run_needed(c2, _half_tan(c2), sizes) + _SETTLE_MM + after
            way = unit(q - u * k - p - t * h)
        v1, v2 = p + t * h, q - u * k
        middle = np.abs(v2 - v1)
        c1, c2 = dot(h, way), dot(way, k)
        total = t + middle + u + 2 * self.ground.prices.fold + self._sharp(c1) + self._sharp(c2)
        good = (c1 > sizes.turn_cos) & (c2 > sizes.turn_cos) & (total < cost[todo]) & (total < limit)
        good &= t >= self._run(c1, _half_tan(c1), p, h)
        good &= u >= run_needed(c2, _half_tan(c2), sizes)
        turn1 = np.sign(cross(h, way)) * _half_tan(c1)
        turn2 = np.sign(cross(way, k)) * _half_tan(c2)
        good &= middle - sizes.offset * np.abs(turn1 + turn2) >= sizes.fold_apart
        keep = np.flatnonzero(good)
        p, h, q, k, v1, v2, way = (x[keep] for x in (p, h, q, k, v1, v2, way))
        total = total[keep]
        good, extra1 = self._corner(v1, h, way)
        more, extra2 = self._corner(v2, way, k)
        good &= more
        good &= arms_apart(p, v1, v2, q, h, way, k, sizes)
        for a, b in ((p, v1), (v1, v2), (v2, q)):
            good &= self._clear_of_others(a, b, skip_zone=self.a == 0 and a is not v2)
        good &= point_to_segment(self.goal, p, v1) >= sizes.outer + self.ground.body_reach
        if self.a != 0:
            good &= point_to_segment(self.start, v2, q) >= sizes.outer + self.ground.body_reach
        chosen = todo[keep[good]]
        cost[chosen] = (total + extra1 + extra2)[good]
        folds[chosen] = 2
        first[chosen], second[chosen] = v1[good], v2[good]
        short[chosen] = 0.0

    def _sharp(self, cos: Floats) -> Floats:
        return np.asarray(self.ground.prices.sharp * np.maximum(-cos, 0) / 0.70711)

    def _corner(self, v: Points, before: Points, after: Points) -> tuple[Bools, Floats]:
        """Whether a fold's outer corner keeps to the card and out of the zone, and what it costs."""
        sizes, ground = self.sizes, self.ground
        outward = before - after
        cos_half = np.sqrt(np.maximum((1 + dot(before, after)) / 2, 1e-6))
        size = np.abs(outward)
        tip = v + np.where(size > 1e-9, outward / np.where(size > 1e-9, size, 1.0), before * 1j) * (
            sizes.outer / cos_half
        )
        spare = edge_distance(tip, sizes) - sizes.edge
        good = spare >= 0
        if self.a != 0:
            good &= np.abs(tip - ground.battery) >= sizes.zone
        price = ground.prices.near_edge * np.minimum(np.maximum(1 - spare / EDGE_COMFORT_MM, 0), 1)
        return good, np.asarray(price)

    def _clear_of_others(self, a: Points, b: Points, skip_zone: bool) -> Bools:
        """Whether the lane along runs a-b keeps off other lights' bodies and the battery zone."""
        good = np.ones(len(a), dtype=bool)
        if len(self.others) and len(a):
            near = self.sizes.outer + self.ground.body_reach
            apart = point_to_segment(self.others[:, None], a[None, :], b[None, :])
            good &= (apart >= near).all(axis=0)
        if not skip_zone and len(a):
            # Measured on the outer edges, not round the ends: a lane leaving the zone straight
            # out may begin nearer than one that passes by.
            beside = unit(b - a) * (1j * self.sizes.outer)
            for side in (beside, -beside):
                good &= point_to_segment(self.ground.battery, a + side, b + side) >= self.sizes.zone
        return good


def edge_distance(points: Points, sizes: Sizes) -> Floats:
    """To the nearest card edge; negative outside."""
    x, y = points.real, points.imag
    return np.asarray(np.minimum(np.minimum(x, sizes.width - x), np.minimum(y, sizes.height - y)))


def arms_apart(
    p: Points, v1: Points, v2: Points, q: Points, h: Points, way: Points, k: Points, sizes: Sizes
) -> Bools:
    """Whether the first and last run of a two-fold leg keep their tapes apart, edge to edge."""
    good = np.ones(len(p), dtype=bool)
    # Gentle legs spread out by themselves; only where both folds together turn far is there doubt.
    sharp = np.flatnonzero((dot(h, way) < 0.7) | (dot(way, k) < 0.7))
    if not len(sharp):
        return good
    p, v1, v2, q, h, way, k = (x[sharp] for x in (p, v1, v2, q, h, way, k))
    m1 = (h + way) * 1j / (1 + dot(h, way))
    m2 = (way + k) * 1j / (1 + dot(way, k))
    fine = np.ones(len(p), dtype=bool)
    for side1 in (-1, 1):
        for side2 in (-1, 1):
            away = segment_to_segment(
                p - h * sizes.half_along + side1 * sizes.outer * h * 1j,
                v1 + side1 * sizes.outer * m1,
                v2 + side2 * sizes.outer * m2,
                q + k * sizes.half_along + side2 * sizes.outer * k * 1j,
            )
            fine &= away >= (sizes.itself if side1 == side2 else sizes.apart)
    good[sharp] = fine
    return good
