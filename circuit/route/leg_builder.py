"""Works out all legs between the stations of two places at once.

In:    two `Stations`, the `Ground`, and how far to look for roundabout legs.
Out:   `Legs`: for every pair of stations the cheapest leg found, infinite cost where none.
Fails: never.

One fold has one place it can be. Two folds leave two lengths free, and only a few choices are
looked at, in this order:

    plain    both outer runs as short as the folds allow
    hooks    one outer run as short as allowed, and the middle run at a set angle to it, which puts
             the other fold anywhere along its line: round the end of a row, back beside itself
    detours  both outer runs longer by set lengths, round an obstacle
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.legs import (
    BODY_GAP_MM,
    EDGE_COMFORT_MM,
    LONGEST_EXTRA_MM,
    SHORT_AT_MOST_MM,
    SHORT_PRICE,
    Ground,
    Legs,
    edge_distance,
    half_tan,
    run_needed,
    zone_run_needed,
)
from circuit.route.plane import Bools, Points, cross, dot, point_to_segment, segment_to_segment, unit
from circuit.route.sizes import Sizes
from circuit.route.stations import Stations

PLAIN, HOOKS, DETOURS = 0, 1, 2  # how far to look
DETOURS_MM = ((6.0, 0.0), (0.0, 6.0), (6.0, 6.0), (15.0, 0.0), (0.0, 15.0), (15.0, 15.0))  # chosen
HOOK_DEG = (65.0, 90.0, 120.0)  # chosen: turns of the fold next to the light
HOOK_WORTH_MM = 25.0  # chosen: a leg that is this near to straight has nothing to gain
_ROUNDS = 4  # chosen: the two-fold leg settles to a tenth of a mm in three
_SETTLE_MM = 0.12  # added while settling, so that the last check holds


def legs_between(a: int, b: int, from_: Stations, to: Stations, ground: Ground, look: int = PLAIN) -> Legs:
    """All legs from place `a` (0 is the battery) to light `b`; infinite cost where there is none."""
    builder = _Builder(a, b, from_, to, ground)
    builder.straight()
    builder.one_fold()
    builder.two_folds(0.0, 0.0)
    if look >= HOOKS or a == 0:
        builder.hooks()
    if look >= DETOURS:
        for before, after in DETOURS_MM:
            builder.two_folds(before, after, only_missing=True)
    return builder.legs()


class _Builder:
    """Legs of one pair of places, one entry per pair of stations; each step improves on the last."""

    def __init__(self, a: int, b: int, from_: Stations, to: Stations, ground: Ground) -> None:
        self.a, self.b, self.ground = a, b, ground
        self.sizes = ground.sizes
        self.shape = (len(from_), len(to))
        rows, columns = self.shape
        self.p = np.repeat(from_.at, columns)
        self.h = np.repeat(from_.ahead, columns)
        self.q = np.tile(to.at, rows)
        self.k = np.tile(to.ahead, rows)
        from_line, to_line = np.repeat(from_.line, columns), np.tile(to.line, rows)
        self.same_line = (from_line == to_line) & (from_line >= 0)
        self.cost = np.full(rows * columns, np.inf)
        self.folds = np.zeros(rows * columns, dtype=np.int8)
        self.first, self.second = self.p.copy(), self.q.copy()
        self.short = np.zeros(rows * columns)
        self.start = ground.battery if a == 0 else complex(ground.lights[a - 1])
        self.goal = complex(ground.lights[b - 1])
        self.longest = abs(self.goal - self.start) + LONGEST_EXTRA_MM
        # A body farther from both ends than the longest leg reaches can't be in the way.
        lights = np.delete(ground.lights, [place - 1 for place in (a, b) if place])
        self.others = lights[np.abs(lights - self.start) + np.abs(lights - self.goal) < self.longest]

    def legs(self) -> Legs:
        return Legs(
            self.cost.reshape(self.shape),
            self.folds.reshape(self.shape),
            self.first.reshape(self.shape),
            self.second.reshape(self.shape),
            self.short.reshape(self.shape),
            float(self.cost.min()),
        )

    def straight(self) -> None:
        where = np.flatnonzero(self.same_line & (dot(self.h, self.k) > 0.5))
        if not len(where):
            return
        p, h, q = self.p[where], self.h[where], self.q[where]
        run = dot(h, q - p)
        good = run > (0.0 if self.a == 0 else 2 * self.sizes.half_along + BODY_GAP_MM)
        good &= self._clear_of_others(p, q, self.a == 0, from_light=self.a != 0, to_light=True)
        self.cost[where[good]] = run[good]

    def one_fold(self) -> None:
        """The fold is where the two stations' lines meet."""
        cos, sine = dot(self.h, self.k), cross(self.h, self.k)
        usable = np.flatnonzero((np.abs(sine) > 1e-3) & (cos > self.sizes.turn_cos))
        p, h, q, k = self.p[usable], self.h[usable], self.q[usable], self.k[usable]
        cos, sine = cos[usable], sine[usable]
        t = cross(q - p, k) / sine
        u = cross(h, q - p) / sine
        tan_half = half_tan(cos)
        prices = self.ground.prices
        lack_t = np.maximum(self._run(cos, tan_half, p, h) - t, 0.0)
        lack_u = np.maximum(run_needed(cos, tan_half, self.sizes) - u, 0.0)
        lack = lack_t + lack_u
        total = t + u + prices.fold + self._sharp(cos) + SHORT_PRICE * lack + prices.short * (lack > 0)
        good = (lack_u <= SHORT_AT_MOST_MM) & (lack_t <= (0.0 if self.a == 0 else SHORT_AT_MOST_MM))
        good &= (total < self.cost[usable]) & (total < self.longest)
        keep = np.flatnonzero(good)
        p, q, h, k = p[keep], q[keep], h[keep], k[keep]
        v = p + t[keep] * h
        good, extra = self._corner(v, h, k)
        good &= self._clear_of_others(p, v, self.a == 0, from_light=self.a != 0)
        good &= self._clear_of_others(v, q, self.a == 0, to_light=True)
        chosen = usable[keep[good]]
        self.cost[chosen] = (total[keep] + extra)[good]
        self.folds[chosen] = 1
        self.first[chosen] = self.second[chosen] = v[good]
        self.short[chosen] = lack[keep[good]]

    def two_folds(self, before: float, after: float, only_missing: bool = False) -> None:
        """Outer runs as short as the folds allow, and longer by `before` and `after`."""
        # Cheap first: no leg can beat one whose cost is already below straight plus two folds.
        floor = np.abs(self.q - self.p) + 2 * self.ground.prices.fold + before + after
        todo = np.flatnonzero(~np.isfinite(self.cost) if only_missing else floor < self.cost)
        p, h, q, k = self.p[todo], self.h[todo], self.q[todo], self.k[todo]
        sizes = self.sizes
        way = unit(q - p)
        for _ in range(_ROUNDS):
            c1, c2 = np.maximum(dot(h, way), sizes.turn_cos), np.maximum(dot(way, k), sizes.turn_cos)
            t = self._run(c1, half_tan(c1), p, h) + _SETTLE_MM + before
            u = run_needed(c2, half_tan(c2), sizes) + _SETTLE_MM + after
            way = unit(q - u * k - p - t * h)
        self._fold_twice(todo, t, u)

    def hooks(self) -> None:
        """The fold next to one light turned by a set angle, the other wherever that leads."""
        floor = np.abs(self.q - self.p) + 2 * self.ground.prices.fold + HOOK_WORTH_MM
        todo = np.flatnonzero(floor < self.cost)
        p, h, q, k = self.p[todo], self.h[todo], self.q[todo], self.k[todo]
        for turn in np.radians(HOOK_DEG):
            cos = np.full(1, np.cos(turn))
            u = float((run_needed(cos, half_tan(cos), self.sizes) + _SETTLE_MM)[0])
            for side in (1, -1):
                if not len(todo):
                    return
                # At the far end: back from q by u, then against the middle run's direction.
                way = k * np.exp(-1j * side * turn)
                sine = cross(h, way)
                safe = np.where(np.abs(sine) > 1e-3, sine, np.nan)
                t = cross(q - u * k - p, way) / safe
                self._fold_twice(todo, t, np.full(len(todo), u))
                # At the near end.
                way = h * np.exp(1j * side * turn)
                near = self._run(np.broadcast_to(cos, p.shape), np.broadcast_to(half_tan(cos), p.shape), p, h)
                near = near + _SETTLE_MM
                sine = cross(way, k)
                safe = np.where(np.abs(sine) > 1e-3, sine, np.nan)
                far = cross(way, q - p - near * h) / safe
                self._fold_twice(todo, near, far)

    def _fold_twice(self, todo: NDArray[np.int64], t: Floats, u: Floats) -> None:
        """Folds `t` past p and `u` before q; kept where that obeys the rules and is cheaper."""
        sizes = self.sizes
        fair = np.flatnonzero((t > 0) & (u > 0) & (t < self.longest) & (u < self.longest))
        todo, t, u = todo[fair], t[fair], u[fair]
        p, h, q, k = self.p[todo], self.h[todo], self.q[todo], self.k[todo]
        v1, v2 = p + t * h, q - u * k
        middle = np.abs(v2 - v1)
        way = unit(v2 - v1)
        c1, c2 = dot(h, way), dot(way, k)
        total = t + middle + u + 2 * self.ground.prices.fold + self._sharp(c1) + self._sharp(c2)
        good = (
            (c1 > sizes.turn_cos) & (c2 > sizes.turn_cos) & (total < self.cost[todo]) & (total < self.longest)
        )
        good &= t >= self._run(c1, half_tan(c1), p, h)
        good &= u >= run_needed(c2, half_tan(c2), sizes)
        turn1 = np.sign(cross(h, way)) * half_tan(c1)
        turn2 = np.sign(cross(way, k)) * half_tan(c2)
        good &= middle - sizes.offset * np.abs(turn1 + turn2) >= sizes.fold_apart
        keep = np.flatnonzero(good)
        p, h, q, k, v1, v2, way = (x[keep] for x in (p, h, q, k, v1, v2, way))
        good, extra1 = self._corner(v1, h, way)
        more, extra2 = self._corner(v2, way, k)
        good &= more
        good &= arms_apart(p, v1, v2, q, h, way, k, sizes)
        good &= self._clear_of_others(p, v1, self.a == 0, from_light=self.a != 0)
        good &= self._clear_of_others(v1, v2, self.a == 0)
        good &= self._clear_of_others(v2, q, False, to_light=True)
        reach = sizes.outer + self.ground.body_reach
        good &= point_to_segment(self.goal, p, v1) >= reach
        if self.a != 0:
            good &= point_to_segment(self.start, v2, q) >= reach
        total = total[keep] + extra1 + extra2
        chosen = todo[keep]
        good &= total < self.cost[chosen]
        chosen = chosen[good]
        self.cost[chosen] = total[good]
        self.folds[chosen] = 2
        self.first[chosen], self.second[chosen] = v1[good], v2[good]
        self.short[chosen] = 0.0

    def _run(self, cos: Floats, tan_half: Floats, p: Points, h: Points) -> Floats:
        if self.a == 0:
            return zone_run_needed(cos, tan_half, p, h, self.ground)
        return run_needed(cos, tan_half, self.sizes)

    def _sharp(self, cos: Floats) -> Floats:
        return np.asarray(self.ground.prices.sharp * np.maximum(-cos, 0) / 0.70711)

    def _corner(self, v: Points, before: Points, after: Points) -> tuple[Bools, Floats]:
        """Whether a fold's outer corner keeps to the card and out of the zone, and what it costs."""
        sizes, ground = self.sizes, self.ground
        outward = before - after
        cos_half = np.sqrt(np.maximum((1 + dot(before, after)) / 2, 1e-6))
        size = np.abs(outward)
        towards = np.where(size > 1e-9, outward / np.where(size > 1e-9, size, 1.0), before * 1j)
        tip = v + towards * (sizes.outer / cos_half)
        spare = edge_distance(tip, sizes) - sizes.edge
        good = (spare >= 0) & (np.abs(tip - ground.battery) >= sizes.zone)
        price = ground.prices.near_edge * np.minimum(np.maximum(1 - spare / EDGE_COMFORT_MM, 0), 1)
        return good, np.asarray(price)

    def _clear_of_others(
        self, a: Points, b: Points, end_run: bool, *, from_light: bool = False, to_light: bool = False
    ) -> Bools:
        """Whether the lane along runs a-b keeps off other lights' bodies and, but for the end run and
        what `zone_run_needed` vouches for, out of the battery zone. Runs may start or end at a light."""
        good = np.ones(len(a), dtype=bool)
        if not len(a):
            return good
        if len(self.others):
            near = self.sizes.outer + self.ground.body_reach
            others, ahead = self.others[:, None], unit(b - a)[None, :]
            clear = point_to_segment(others, a[None, :], b[None, :]) >= near
            # The lane goes straight on over a light it serves, so a neighbour ahead of a run that ends
            # there, or behind one that starts there, need only keep its own body off the run.
            if from_light:
                clear |= dot(ahead, others - a[None, :]) <= -self.ground.body_reach
            if to_light:
                clear |= dot(ahead, others - b[None, :]) >= self.ground.body_reach
            good &= clear.all(axis=0)
        if not end_run:
            # Measured on the outer edges, not round the ends: a lane leaving the zone straight
            # out may begin nearer than one that passes by.
            beside = unit(b - a) * (1j * self.sizes.outer)
            for side in (beside, -beside):
                good &= point_to_segment(self.ground.battery, a + side, b + side) >= self.sizes.zone
        return good


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
