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

import numpy as np

from circuit.arrays import Floats
from circuit.route.free_arms import FreeArms
from circuit.route.link_arms import PARALLEL_SINE, along, arms_apart, taken
from circuit.route.link_clearance import Clearance
from circuit.route.links import Links, all_of
from circuit.route.passages import Ints, Passages
from circuit.route.plane import Bools, Points, cross, dot, point_nearer, unit
from circuit.route.site import (
    BODY_GAP_MM,
    EDGE_COMFORT_MM,
    Site,
    edge_distance,
    end_run_needed,
    half_tan,
    run_needed,
)

LACKS_AT_MOST_MM = 1.2  # chosen: what turning a heading by a few degrees can still mend
LONGEST_EXTRA_MM = 60.0  # chosen: a link this much longer than straight is never part of a good lane
HOOK_DEG = (65.0, 90.0, 120.0)  # chosen: turns of the fold next to the light
HOOK_WORTH_MM = 25.0  # chosen: a link that is this near to straight has nothing to gain
_ROUNDS = 4  # chosen: the two-fold link settles to a tenth of a mm in three
_SETTLE_MM = 0.12  # added while settling, so that the last check holds
_SHARPEST_SINE = 0.70711  # of 45 degrees: a fold past square by so much costs all of the sharp price
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
    """Roundabout links of (N,) pairs, where they are cheaper than what is `known` (inf: none)."""
    return _in_parts(passages, src, dst, site, known, lambda builder: builder.hooks())


def _in_parts(
    passages: Passages, src: Ints, dst: Ints, site: Site, known: Floats, work: Callable[[_Builder], None]
) -> Links:
    parts = []
    from_cell = passages.place[src] == 0
    # Tape may come to a cell's passages past its lights: what is in their way is told link by link.
    before = np.where(
        from_cell, np.inf, FreeArms.of(passages, site, ahead=True).towards(src, passages.place[dst])
    )
    behind = FreeArms.of(passages, site, ahead=False).towards(dst, passages.place[src])
    least = site.sizes.half_along + site.sizes.fold_clear - LACKS_AT_MOST_MM
    able = (passages.line[src] == passages.line[dst]) & (passages.line[src] >= 0)
    able |= (before > least) & (behind > least)
    for cell in (True, False):
        rows = np.flatnonzero((from_cell == cell) & able)
        for low in range(0, max(len(rows), 1), _AT_ONCE):
            some = rows[low : low + _AT_ONCE]
            arms = before[some], behind[some]
            builder = _Builder(passages, src[some], dst[some], site, known[some], arms, from_cell=cell)
            work(builder)
            parts.append(builder.links())
    return all_of(parts)


class _Builder:
    """Links of many pairs, one entry each; every step improves on the last."""

    def __init__(
        self,
        passages: Passages,
        src: Ints,
        dst: Ints,
        site: Site,
        known: Floats,
        arms: tuple[Floats, Floats],
        *,
        from_cell: bool,
    ) -> None:
        """`arms` : the longest straight runs that there may be before the first fold and behind the last."""
        self.site, self.sizes, self.from_cell = site, site.sizes, from_cell
        self.src, self.dst = src, dst
        self.p, self.h = passages.at[src], passages.ahead[src]
        self.q, self.k = passages.at[dst], passages.ahead[dst]
        self.same_line = (passages.line[src] == passages.line[dst]) & (passages.line[src] >= 0)
        self.from_, self.to = passages.place[src], passages.place[dst]
        self.around = Clearance(site, self.from_, self.to, from_cell)
        places = site.places
        self.start, self.goal = places[self.from_], places[self.to]
        self.longest = np.abs(self.goal - self.start) + LONGEST_EXTRA_MM
        self.before, self.behind = arms
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
        clear = self.around.of_others(where, p, q, first=True, last=True)
        self.cost[where[clear]] = run[good][clear]

    def one_fold(self) -> None:
        """The fold is where the two passages' lines meet."""
        cos, sine = dot(self.h, self.k), cross(self.h, self.k)
        todo = np.flatnonzero((np.abs(sine) > PARALLEL_SINE) & (cos > self.sizes.turn_cos))
        p, h, q, k = self.p[todo], self.h[todo], self.q[todo], self.k[todo]
        cos, sine = cos[todo], sine[todo]
        t = cross(q - p, k) / sine
        u = cross(h, q - p) / sine
        fair = self._fair(todo, t, u)
        todo, p, h, q, k, cos, t, u = taken(fair, todo, p, h, q, k, cos, t, u)
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
        todo, p, h, q, k, total, lack = taken(keep, todo, p, h, q, k, total, lack)
        v = p + t[keep] * h
        good, extra = self._corner(v, h, k)
        todo, p, h, q, v, total, lack, extra = taken(good, todo, p, h, q, v, total, lack, extra)
        good = self.around.clear(todo, h, (p, v, q))
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
                self._fold_twice(todo, along(q - u * k - p, h, way), u)
                # At the near end.
                way = h * np.exp(1j * side * turn)
                self._fold_twice(todo, near, along(q - p - near * h, k, way))

    def _fold_twice(self, todo: Ints, t: Floats, u: Floats) -> None:
        """Folds `t` past p and `u` before q; kept where that obeys the rules and is cheaper."""
        sizes = self.sizes
        fair = self._fair(todo, t, u)
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
        todo, t, u, p, h, q, k, v1, v2, way, c1, c2, run, total = taken(
            keep, todo, t, u, p, h, q, k, v1, v2, way, c1, c2, run, total
        )
        tan1, tan2 = half_tan(c1), half_tan(c2)
        good = (t >= self._run(c1, tan1, p, h)) & (u >= run_needed(c2, tan2, sizes))
        turns = np.sign(cross(h, way)) * tan1 + np.sign(cross(way, k)) * tan2
        good &= run - sizes.offset * np.abs(turns) >= sizes.fold_apart
        keep = np.flatnonzero(good)
        todo, p, h, q, k, v1, v2, way, total = taken(keep, todo, p, h, q, k, v1, v2, way, total)
        good, extra = self._corner(v1, h, way)
        more, extra2 = self._corner(v2, way, k)
        total = total + extra + extra2
        good &= more & (total < self.cost[todo])
        reach = sizes.outer + self.site.past_body
        good &= ~point_nearer(self.goal[todo], p, v1, reach)
        if not self.from_cell:
            good &= ~point_nearer(self.start[todo], v2, q, reach)
        keep = np.flatnonzero(good)
        todo, p, h, q, k, v1, v2, way, total = taken(keep, todo, p, h, q, k, v1, v2, way, total)
        good = arms_apart(p, v1, v2, q, h, way, k, self.site)
        good[good] = self.around.clear(todo[good], h[good], (p[good], v1[good], v2[good], q[good]))
        chosen = todo[good]
        self.cost[chosen] = total[good]
        self.folds[chosen] = 2
        self.first[chosen], self.second[chosen] = v1[good], v2[good]
        self.lacks[chosen] = 0.0

    def _fair(self, todo: Ints, t: Floats, u: Floats) -> Ints:
        """Which runs before the first fold and behind the last one are neither too long for a link nor shut off."""
        fair = (t > 0) & (u > 0) & (t + u < self.longest[todo])
        return np.flatnonzero(fair & (t < self.before[todo]) & (u < self.behind[todo]))

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
        # Beside a fold the tape's outer edge runs on past the midline's corner, as far as the tip.
        good = spare >= 0
        for run in (before, after):
            side = run * 1j
            begins = v + side * np.where(dot(side, towards) < 0, -sizes.outer, sizes.outer)
            good &= ~point_nearer(site.battery, begins, tip, sizes.zone)
        price = site.prices.near_edge * np.minimum(np.maximum(1 - spare / EDGE_COMFORT_MM, 0), 1)
        return good, np.asarray(price)
