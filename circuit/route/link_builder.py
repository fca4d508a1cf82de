"""Works out links between many pairs of passages at once.

In:    the passages, pairs of them, the `Site`, and whether to look for roundabout links.
Out:   `Links`: for every pair the cheapest link found; pairs without one are left out.
Fails: never.

One fold has one place it can be. Two folds leave two lengths free, and only a few choices are
looked at, in this order:

    plain    both outer runs as short as the folds allow
    hooks    one outer run as short as allowed, and the middle run at a set angle to it, which puts
             the other fold anywhere along its line: round the end of a row, back beside itself
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np

from circuit.arrays import Floats
from circuit.route.links import Links, all_of
from circuit.route.passages import Ints, Passages
from circuit.route.plane import Bools, Points, cross, dot, point_nearer, segments_nearer, unit
from circuit.route.site import (
    BODY_GAP_MM,
    EDGE_COMFORT_MM,
    Site,
    edge_distance,
    end_run_needed,
    half_tan,
    run_needed,
    under_switch,
)

LACKS_AT_MOST_MM = 1.2  # chosen: what turning a heading by a few degrees can still mend
LONGEST_EXTRA_MM = 60.0  # chosen: a link this much longer than straight is never part of a good lane
HOOK_DEG = (65.0, 90.0, 120.0)  # chosen: turns of the fold next to the light
HOOK_WORTH_MM = 25.0  # chosen: a link that is this near to straight has nothing to gain
_ROUNDS = 4  # chosen: the two-fold link settles to a tenth of a mm in three
_SETTLE_MM = 0.12  # added while settling, so that the last check holds
_PARALLEL_SINE = 1e-3  # chosen: 0.06 degrees; lines nearer to parallel meet beyond any card
_SHARPEST_SINE = 0.70711  # of 45 degrees: a fold past square by so much costs all of the sharp price
_GENTLE_COS = 0.7  # chosen: two folds of less than 45 degrees each spread the tapes apart by themselves
_AT_ONCE = 24_000  # pairs worked on together: few enough to stay in a processor's fast memory


def links_between(passages: Passages, src: Ints, dst: Ints, site: Site, *, hooks: bool) -> Links:
    """The cheapest link of each pair src[i] -> dst[i], with `hooks` among roundabout ones too."""

    def work(builder: _Builder) -> None:
        builder.straight()
        builder.one_fold()
        builder.two_folds()
        if hooks:
            builder.hooks()

    return _in_parts(passages, src, dst, site, np.full(len(src), np.inf), work)


def hooks_between(passages: Passages, src: Ints, dst: Ints, site: Site, known: Floats) -> Links:
    """Roundabout links of pairs, where they are cheaper than what is `known` (inf: none)."""
    return _in_parts(passages, src, dst, site, known, lambda builder: builder.hooks())


def _in_parts(
    passages: Passages, src: Ints, dst: Ints, site: Site, known: Floats, work: Callable[[_Builder], None]
) -> Links:
    parts = []
    from_cell = passages.place[src] == 0
    for cell in (True, False):
        rows = np.flatnonzero(from_cell == cell)
        for low in range(0, max(len(rows), 1), _AT_ONCE):
            some = rows[low : low + _AT_ONCE]
            builder = _Builder(passages, src[some], dst[some], site, known[some], from_cell=cell)
            work(builder)
            parts.append(builder.links())
    return all_of(parts)


class _Builder:
    """Links of many pairs, one entry each; every step improves on the last."""

    def __init__(
        self, passages: Passages, src: Ints, dst: Ints, site: Site, known: Floats, *, from_cell: bool
    ) -> None:
        self.site, self.sizes, self.from_cell = site, site.sizes, from_cell
        self.src, self.dst = src, dst
        self.p, self.h = passages.at[src], passages.ahead[src]
        self.q, self.k = passages.at[dst], passages.ahead[dst]
        self.same_line = (passages.line[src] == passages.line[dst]) & (passages.line[src] >= 0)
        self.from_, self.to = passages.place[src], passages.place[dst]
        places = site.places
        self.start, self.goal = places[self.from_], places[self.to]
        self.longest = np.abs(self.goal - self.start) + LONGEST_EXTRA_MM
        self.known, self.cost = known, known.copy()
        self.folds = np.zeros(len(src), dtype=np.int8)
        self.first, self.second = self.p.copy(), self.q.copy()
        self.lacks = np.zeros(len(src))

    def links(self) -> Links:
        found = np.flatnonzero(self.cost < self.known)
        return Links(
            self.src[found],
            self.dst[found],
            self.cost[found],
            self.folds[found],
            self.first[found],
            self.second[found],
            self.lacks[found],
        )

    def straight(self) -> None:
        where = np.flatnonzero(self.same_line & (dot(self.h, self.k) > 0.5))
        p, h, q = self.p[where], self.h[where], self.q[where]
        run = dot(h, q - p)
        least = 0.0
        if not self.from_cell:
            least = 2 * self.sizes.half_along + BODY_GAP_MM
        else:
            # The first light's body lies outside the outline: past the tab.
            least = self.site.switch.reach + self.site.switch.begin + self.sizes.half_along + BODY_GAP_MM
        good = np.flatnonzero(run > least)
        where, p, q = where[good], p[good], q[good]
        clear = self._clear_of_others(where, p, q, first=True, last=True)
        self.cost[where[clear]] = run[good][clear]

    def one_fold(self) -> None:
        """The fold is where the two passages' lines meet."""
        cos, sine = dot(self.h, self.k), cross(self.h, self.k)
        todo = np.flatnonzero((np.abs(sine) > _PARALLEL_SINE) & (cos > self.sizes.turn_cos))
        p, h, q, k = self.p[todo], self.h[todo], self.q[todo], self.k[todo]
        cos, sine = cos[todo], sine[todo]
        t = cross(q - p, k) / sine
        u = cross(h, q - p) / sine
        fair = np.flatnonzero((t > 0) & (u > 0) & (t + u < self.longest[todo]))
        todo, p, h, q, k, cos, t, u = _taken(fair, todo, p, h, q, k, cos, t, u)
        tan_half = half_tan(cos)
        prices = self.site.prices
        lack_t = np.maximum(self._run(cos, tan_half, p, h) - t, 0.0)
        lack_u = np.maximum(run_needed(cos, tan_half, self.sizes) - u, 0.0)
        lack = lack_t + lack_u
        total = t + u + prices.fold + self._sharp(cos)
        total = total + prices.lacking_per_mm * lack + prices.lacking * (lack > 0)
        good = (lack_u <= LACKS_AT_MOST_MM) & (lack_t <= (0.0 if self.from_cell else LACKS_AT_MOST_MM))
        good &= (total < self.cost[todo]) & (total < self.longest[todo])
        keep = np.flatnonzero(good)
        todo, p, h, q, k, total, lack = _taken(keep, todo, p, h, q, k, total, lack)
        v = p + t[keep] * h
        good, extra = self._corner(v, h, k)
        todo, p, h, q, v, total, lack, extra = _taken(good, todo, p, h, q, v, total, lack, extra)
        good = self._clear(todo, h, (p, v, q))
        chosen = todo[good]
        self.cost[chosen] = (total + extra)[good]
        self.folds[chosen] = 1
        self.first[chosen] = self.second[chosen] = v[good]
        self.lacks[chosen] = lack[good]

    def two_folds(self) -> None:
        """Both outer runs as short as the folds allow."""
        # Cheap first: no link can beat one whose cost is already below straight plus two folds.
        todo = np.flatnonzero(np.abs(self.q - self.p) + 2 * self.site.prices.fold < self.cost)
        p, h, q, k = self.p[todo], self.h[todo], self.q[todo], self.k[todo]
        sizes = self.sizes
        way = unit(q - p)
        for _ in range(_ROUNDS):
            c1, c2 = np.maximum(dot(h, way), sizes.turn_cos), np.maximum(dot(way, k), sizes.turn_cos)
            t = self._run(c1, half_tan(c1), p, h) + _SETTLE_MM
            u = run_needed(c2, half_tan(c2), sizes) + _SETTLE_MM
            way = unit(q - u * k - p - t * h)
        self._fold_twice(todo, t, u)

    def hooks(self) -> None:
        """The fold next to one light turned by a set angle, the other wherever that leads."""
        todo = np.flatnonzero(np.abs(self.q - self.p) + 2 * self.site.prices.fold + HOOK_WORTH_MM < self.cost)
        p, h, q, k = self.p[todo], self.h[todo], self.q[todo], self.k[todo]
        for turn in np.radians(HOOK_DEG):
            cos = np.full(len(todo), np.cos(turn))
            tan_half = half_tan(cos)
            near = self._run(cos, tan_half, p, h) + _SETTLE_MM
            u = run_needed(cos, tan_half, self.sizes) + _SETTLE_MM
            for side in (1, -1):
                # At the far end: back from q by u, then against the middle run's direction.
                way = k * np.exp(-1j * side * turn)
                self._fold_twice(todo, _along(q - u * k - p, h, way), u)
                # At the near end.
                way = h * np.exp(1j * side * turn)
                self._fold_twice(todo, near, _along(q - p - near * h, k, way))

    def _fold_twice(self, todo: Ints, t: Floats, u: Floats) -> None:
        """Folds `t` past p and `u` before q; kept where that obeys the rules and is cheaper."""
        sizes = self.sizes
        fair = np.flatnonzero((t > 0) & (u > 0) & (t + u < self.longest[todo]))
        todo, t, u = todo[fair], t[fair], u[fair]
        p, h, q, k = self.p[todo], self.h[todo], self.q[todo], self.k[todo]
        v1, v2 = p + t * h, q - u * k
        middle = v2 - v1
        run = np.sqrt(dot(middle, middle))
        way = middle / np.maximum(run, 1e-9)
        c1, c2 = dot(h, way), dot(way, k)
        total = t + run + u + 2 * self.site.prices.fold + self._sharp(c1) + self._sharp(c2)
        good = (
            (c1 > sizes.turn_cos)
            & (c2 > sizes.turn_cos)
            & (total < np.minimum(self.cost, self.longest)[todo])
        )
        keep = np.flatnonzero(good)
        todo, t, u, p, h, q, k, v1, v2, way, c1, c2, run, total = _taken(
            keep, todo, t, u, p, h, q, k, v1, v2, way, c1, c2, run, total
        )
        tan1, tan2 = half_tan(c1), half_tan(c2)
        good = (t >= self._run(c1, tan1, p, h)) & (u >= run_needed(c2, tan2, sizes))
        turns = np.sign(cross(h, way)) * tan1 + np.sign(cross(way, k)) * tan2
        good &= run - sizes.offset * np.abs(turns) >= sizes.fold_apart
        keep = np.flatnonzero(good)
        todo, p, h, q, k, v1, v2, way, total = _taken(keep, todo, p, h, q, k, v1, v2, way, total)
        good, extra = self._corner(v1, h, way)
        more, extra2 = self._corner(v2, way, k)
        total = total + extra + extra2
        good &= more & (total < self.cost[todo])
        reach = sizes.outer + self.site.body_reach
        good &= ~point_nearer(self.goal[todo], p, v1, reach)
        if not self.from_cell:
            good &= ~point_nearer(self.start[todo], v2, q, reach)
        keep = np.flatnonzero(good)
        todo, p, h, q, k, v1, v2, way, total = _taken(keep, todo, p, h, q, k, v1, v2, way, total)
        good = arms_apart(p, v1, v2, q, h, way, k, self.site)
        good[good] = self._clear(todo[good], h[good], (p[good], v1[good], v2[good], q[good]))
        chosen = todo[good]
        self.cost[chosen] = total[good]
        self.folds[chosen] = 2
        self.first[chosen], self.second[chosen] = v1[good], v2[good]
        self.lacks[chosen] = 0.0

    def _run(self, cos: Floats, tan_half: Floats, p: Points, h: Points) -> Floats:
        if self.from_cell:
            return end_run_needed(cos, tan_half, p, h, self.site)
        return run_needed(cos, tan_half, self.sizes)

    def _sharp(self, cos: Floats) -> Floats:
        return np.asarray(self.site.prices.sharp * np.maximum(-cos, 0) / _SHARPEST_SINE)

    def _corner(self, v: Points, before: Points, after: Points) -> tuple[Bools, Floats]:
        """Whether a fold's outer corner keeps to the card and out of the zone, and what it costs."""
        sizes, site = self.sizes, self.site
        outward = before - after
        cos_half = np.sqrt(np.maximum((1 + dot(before, after)) / 2, 1e-6))
        size = np.abs(outward)
        towards = np.where(size > 1e-9, outward / np.maximum(size, 1e-9), before * 1j)
        tip = v + towards * (sizes.outer / cos_half)
        spare = edge_distance(tip, sizes) - sizes.edge
        good = (spare >= 0) & (np.abs(tip - site.battery) >= sizes.zone)
        price = site.prices.near_edge * np.minimum(np.maximum(1 - spare / EDGE_COMFORT_MM, 0), 1)
        return good, np.asarray(price)

    def _clear(self, entries: Ints, hinge: Points, corners: tuple[Points, ...]) -> Bools:
        """Whether the lane along these corners keeps off all but its own two places."""
        good = np.ones(len(entries), dtype=bool)
        for number, (a, b) in enumerate(pairwise(corners)):
            first, last = number == 0, number == len(corners) - 2
            rows = np.flatnonzero(good)
            good[rows] = self._clear_of_others(entries[rows], a[rows], b[rows], first=first, last=last)
            if not first:
                rows = np.flatnonzero(good)
                good[rows] = self._clear_of_switch(hinge[rows], a[rows], b[rows])
        return good

    def _clear_of_others(
        self, entries: Ints, a: Points, b: Points, *, first: bool = False, last: bool = False
    ) -> Bools:
        """Whether the lane along runs a-b of these entries keeps off other lights' bodies and, but for the end
        run, out of the battery zone. `first`, `last`: runs that start, that end at a passage."""
        good = np.ones(len(a), dtype=bool)
        if not len(a):
            return good
        reach = self.site.body_reach
        ahead = unit(b - a)
        if not (first and self.from_cell):
            # Measured on the outer edges, not round the ends: a lane leaving the zone straight
            # out may begin nearer than one that passes by.
            beside = ahead * (1j * self.sizes.outer)
            for side in (beside, -beside):
                good &= ~point_nearer(self.site.battery, a + side, b + side, self.sizes.zone)
        rows, light = np.nonzero(self._lights_about(entries, a, b) & good[:, None])
        here, ahead, a, b = self.site.lights[light], ahead[rows], a[rows], b[rows]
        meets = point_nearer(here, a, b, self.sizes.outer + reach)
        # The lane goes straight on over a light it serves, so a neighbour ahead of a run that ends
        # there, or behind one that starts there, need only keep its own body off the run.
        if first and not self.from_cell:
            meets &= dot(ahead, here - a) > -reach
        if last:
            meets &= dot(ahead, here - b) < reach
        good[rows[meets]] = False
        return good

    def _lights_about(self, entries: Ints, a: Points, b: Points) -> Bools:
        """(N, lights): other lights than these entries' own two that lie near enough to runs a-b to be measured."""
        middle, lights = (a + b) / 2, self.site.lights
        reach = np.abs(b - a) / 2 + (self.sizes.outer + self.site.body_reach)
        x, y = middle.real[:, None] - lights.real, middle.imag[:, None] - lights.imag
        near = x * x + y * y < (reach * reach)[:, None]
        row = np.arange(len(entries))
        near[row, self.to[entries] - 1] = False
        if not self.from_cell:
            near[row, self.from_[entries] - 1] = False
        return np.asarray(near)

    def _clear_of_switch(self, hinge: Points, a: Points, b: Points) -> Bools:
        """Whether runs a-b of links from the cell, the end run aside, keep off their own switch's outline."""
        good = np.ones(len(a), dtype=bool)
        if self.from_cell:
            beside = unit(b - a) * (1j * self.sizes.outer)
            for side in (beside, -beside):
                good &= ~under_switch(self.site, hinge, a + side, b + side)
        return good


def _taken(which: Ints | Bools, *arrays: Any) -> Any:
    """These entries of every array."""
    return tuple(array[which] for array in arrays)


def _along(way_left: Points, on: Points, across: Points) -> Floats:
    """How far along `on` one has to go so that `across` leads to the rest of the way; nan for parallels."""
    sine = cross(on, across)
    safe = np.where(np.abs(sine) > _PARALLEL_SINE, sine, np.nan)
    return np.asarray(cross(way_left, across) / safe)


def arms_apart(
    p: Points, v1: Points, v2: Points, q: Points, h: Points, way: Points, k: Points, site: Site
) -> Bools:
    """Whether the first and last run of a two-fold link keep their tapes apart, edge to edge."""
    sizes = site.sizes
    good = np.ones(len(p), dtype=bool)
    # Gentle links spread out by themselves; only where both folds together turn far is there doubt.
    sharp = np.flatnonzero((dot(h, way) < _GENTLE_COS) | (dot(way, k) < _GENTLE_COS))
    if not len(sharp):
        return good
    p, v1, v2, q, h, way, k = _taken(sharp, p, v1, v2, q, h, way, k)
    m1 = (h + way) * 1j / (1 + dot(h, way))
    m2 = (way + k) * 1j / (1 + dot(way, k))
    fine = np.ones(len(p), dtype=bool)
    for side1 in (-1, 1):
        for side2 in (-1, 1):
            fine &= ~segments_nearer(
                p - h * sizes.half_along + side1 * sizes.outer * h * 1j,
                v1 + side1 * sizes.outer * m1,
                v2 + side2 * sizes.outer * m2,
                q + k * sizes.half_along + side2 * sizes.outer * k * 1j,
                sizes.itself if side1 == side2 else sizes.apart,
            )
    good[sharp] = fine
    return good
