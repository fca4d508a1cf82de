"""All links of one card that are worth having, and the geometry that tells which of them get on.

In:    passages, the site, which pairs of places to join.
Out:   a `Catalogue`: passages, links, and the outer edges of each link's tapes.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.lane import Lane, body_corners, tail_fits
from circuit.route.link_builder import hooks_between, links_between
from circuit.route.links import Links, all_of
from circuit.route.passages import Ints, Passages, cell_rows, common_lines, light_rows
from circuit.route.plane import Bools, Points, mitre
from circuit.route.site import Site

NEAR_LIGHTS = 8  # chosen: a lane that goes on to a farther light than the 8 nearest is not short
WAYS_OUT = 4  # chosen: the cheapest links from the cell that each passage of a light keeps
SIDES = (-1, 1)  # the lane's left and right outer edge


@dataclass(frozen=True)
class Catalogue:
    """Links sorted by source passage, and from there by cost."""

    site: Site
    passages: Passages
    links: Links
    ends: Bools  # (passages,) where the lane may end

    def some(self, which: Ints | Bools) -> Catalogue:
        """The catalogue with these links alone; `which` must keep their order."""
        return replace(self, links=self.links.some(which))

    @cached_property
    def edges(self) -> Points:
        """(N, 2, 4): each link's left and right outer edge, corner by corner; runs that a link lacks have no length."""
        passages, links, outer = self.passages, self.links, self.site.sizes.outer
        p, q = passages.at[links.src], passages.at[links.dst]
        h, k = passages.ahead[links.src], passages.ahead[links.dst]
        twice = links.folds == 2
        way = links.second - links.first
        way = np.where(twice, way / np.maximum(np.abs(way), 1e-9), h)
        m1 = np.where(twice, mitre(h, way), mitre(h, k))
        m2 = mitre(way, k)
        edges = np.zeros((len(links), 2, 4), dtype=np.complex128)
        for column, side in enumerate(SIDES):
            beside = side * outer
            begin, end = p + beside * h * 1j, q + beside * k * 1j
            edges[:, column, 0] = begin
            edges[:, column, 1] = np.where(links.folds == 0, end, links.first + beside * m1)
            edges[:, column, 2] = np.where(twice, links.second + beside * m2, end)
            edges[:, column, 3] = end
        return edges

    @cached_property
    def run_boxes(self) -> tuple[NDArray[np.float64], ...]:
        """(N, 3) least x, most x, least y, most y of each run's edges."""
        x, y = self.edges.real, self.edges.imag
        low_x, high_x = x.min(axis=1), x.max(axis=1)
        low_y, high_y = y.min(axis=1), y.max(axis=1)
        return (
            np.minimum(low_x[:, :3], low_x[:, 1:]),
            np.maximum(high_x[:, :3], high_x[:, 1:]),
            np.minimum(low_y[:, :3], low_y[:, 1:]),
            np.maximum(high_y[:, :3], high_y[:, 1:]),
        )

    @cached_property
    def boxes(self) -> NDArray[np.float64]:
        """(N, 4) least x, most x, least y, most y of each link, column by column in memory."""
        x, y = self.edges.real, self.edges.imag
        corners = (1, 2)
        return np.stack(
            [x.min(axis=corners), x.max(axis=corners), y.min(axis=corners), y.max(axis=corners)]
        ).T

    @cached_property
    def bodies(self) -> Points:
        """(passages, 4): the corners of the light's body at each passage; the cell's are of no use."""
        passages = self.passages
        return body_corners(self.site.places[passages.place], passages.ahead, self.site.sizes)

    @cached_property
    def tails(self) -> Points:
        """(passages, 4): the tapes past the last light, open at the light: left begin and end, right end and begin."""
        sizes, at, ahead = self.site.sizes, self.passages.at, self.passages.ahead
        left, right = at - sizes.outer * ahead * 1j, at + sizes.outer * ahead * 1j
        past = sizes.tail * ahead
        return np.stack([left, left + past, right + past, right], axis=1)

    @cached_property
    def tail_boxes(self) -> tuple[NDArray[np.float64], ...]:
        """Each (P,) of the passages: least x, most x, least y, most y of the tapes past the last light."""
        x, y = self.tails.real, self.tails.imag
        return x.min(axis=1), x.max(axis=1), y.min(axis=1), y.max(axis=1)

    def lane(self, chain: Sequence[int]) -> Lane:
        """The midline through these links in a row, its blunt end as near to the last light as allowed."""
        links, passages = self.links, self.passages
        points = [complex(passages.at[links.src[chain[0]]])]
        run_of_light = []
        for link in chain:
            if links.folds[link] >= 1:
                points.append(complex(links.first[link]))
            if links.folds[link] == 2:
                points.append(complex(links.second[link]))
            run_of_light.append(len(points) - 1)
        last = links.dst[chain[-1]]
        points.append(complex(passages.at[last] + self.site.sizes.tail * passages.ahead[last]))
        order = tuple(int(passages.place[links.dst[link]]) for link in chain)
        lacks = float(sum(links.lacks[link] for link in chain))
        return Lane(np.array(points), tuple(run_of_light), order, lacks)


class Network:
    """The links of one card, made when they are asked for. Those between lights serve any switch."""

    def __init__(self, site: Site, *, every_pair: bool = False) -> None:
        """`every_pair` : with links between all lights, not only from each to its nearest ones."""
        self.site, self.every_pair = site, every_pair
        self.lines = common_lines(site)
        self.light_rows = light_rows(site, self.lines)
        self.lights = Passages.of([[], *self.light_rows])
        self._from_cell: dict[Site, tuple[Passages, Links]] = {}  # of each switch that was asked for
        self._made: dict[tuple[Site, bool], Catalogue] = {}
        # For who searches: what need not be looked at twice.
        self.looked_closer: dict[tuple[object, ...], Any] = {}
        self.short_looks: dict[Site, Any] = {}

    def catalogue(self, site: Site, *, hooks: bool) -> Catalogue:
        """Links from the cell to every light, roundabout ones too, and between lights, with `hooks` roundabout ones
        too. `site`: this network's, any switch."""
        if (site, hooks) not in self._made:
            passages, from_cell = self._ways_out(site)
            before = int(passages.first[1])
            parts = (part.renumbered(before) for part in (self._hooked if hooks else self._plain))
            self._made[site, hooks] = made_of(site, passages, [from_cell, *parts])
        return self._made[site, hooks]

    def _ways_out(self, site: Site) -> tuple[Passages, Links]:
        """All passages with those of this site's cell, and the links from there."""
        if site not in self._from_cell:
            passages = Passages.of([cell_rows(site, self.lines), *self.light_rows])
            src, dst = _passage_pairs(passages, [(0, light) for light in range(1, len(site.lights) + 1)])
            self._from_cell[site] = passages, links_between(passages, src, dst, site, hooks=True)
        return self._from_cell[site]

    @cached_property
    def _plain(self) -> tuple[Links, ...]:
        src, dst = self._pairs
        plain = links_between(self.lights, src, dst, self.site, hooks=False)
        return plain, plain.walked_back(self.lights)

    @cached_property
    def _hooked(self) -> tuple[Links, ...]:
        """The plain ones with roundabout links where they are cheaper, or the only ones."""
        plain = self._plain
        src, dst = self._pairs
        known = np.full((len(self.lights), len(self.lights)), np.inf)
        known[plain[0].src, plain[0].dst] = plain[0].cost
        hooks = hooks_between(self.lights, src, dst, self.site, known[src, dst])
        return *plain, hooks, hooks.walked_back(self.lights)

    @cached_property
    def _pairs(self) -> tuple[Ints, Ints]:
        """Passages of pairs of lights of which one is among the other's nearest."""
        near = len(self.site.lights) if self.every_pair else NEAR_LIGHTS
        apart = np.abs(self.site.lights[:, None] - self.site.lights[None, :])
        pairs = set()
        for a, row in enumerate(np.argsort(apart, axis=1, kind="stable"), start=1):
            others = [int(light) + 1 for light in row if light != a - 1]
            pairs |= {(min(a, b), max(a, b)) for b in others[:near]}
        return _passage_pairs(self.lights, sorted(pairs))


_WORTH_HOOKS_MM = 0.5  # chosen: what a plain link may cost more than the one that is known


def catalogues_along(
    site: Site, passages: Passages, order: Sequence[int], costs: Floats
) -> Iterator[Catalogue]:
    """Links from each place of one order to the next: first plain ones; then with roundabout links, where they are
    cheaper or the only ones, to the places that no plain link leads to for what a link there is known to cost, (N,)
    `costs`; then with roundabout links to every place."""
    src, dst = _passage_pairs(passages, list(zip((0, *order[:-1]), order, strict=True)))
    links = links_between(passages, src, dst, site, hooks=False)
    yield made_of(site, passages, [links])
    pairs, joined = src * len(passages) + dst, links.src * len(passages) + links.dst
    by_pair = np.argsort(pairs)
    known = np.full(len(pairs), np.inf)
    known[by_pair[np.searchsorted(pairs, joined, sorter=by_pair)]] = links.cost
    cheapest = np.full(len(site.lights) + 1, np.inf)
    np.minimum.at(cheapest, passages.place[links.dst], links.cost)
    dearer = np.zeros(len(cheapest), dtype=bool)
    dearer[list(order)] = cheapest[list(order)] > costs + _WORTH_HOOKS_MM
    for goals in (dearer, ~dearer):
        where = np.flatnonzero(goals[passages.place[dst]])
        hooks = hooks_between(passages, src[where], dst[where], site, known[where])
        if len(hooks):
            joined = links.src * len(passages) + links.dst
            kept = ~np.isin(joined, hooks.src * len(passages) + hooks.dst)
            links = all_of([links.some(kept), hooks])
            yield made_of(site, passages, [links])


def _passage_pairs(passages: Passages, pairs: Sequence[tuple[int, int]]) -> tuple[Ints, Ints]:
    """Every passage of the one place with every passage of the other, for each pair of places."""
    first = passages.first
    src = [np.repeat(np.arange(first[a], first[a + 1]), first[b + 1] - first[b]) for a, b in pairs]
    dst = [np.tile(np.arange(first[b], first[b + 1]), first[a + 1] - first[a]) for a, b in pairs]
    none = [np.zeros(0, dtype=np.int64)]
    return np.concatenate(src + none), np.concatenate(dst + none)


def made_of(site: Site, passages: Passages, parts: Sequence[Links]) -> Catalogue:
    """A catalogue of these links, with few ways out of the cell for each passage."""
    links = all_of(parts)
    links = links.some(_cheapest_ways_out(passages, links))
    links = links.some(np.lexsort((links.dst, links.cost, links.src)))
    tail = passages.at + site.sizes.tail * passages.ahead
    ends = (passages.place > 0) & tail_fits(tail, passages.ahead, site)
    return Catalogue(site, passages, links, ends)


def _cheapest_ways_out(passages: Passages, links: Links) -> Bools:
    keep = passages.place[links.src] > 0
    from_cell = np.flatnonzero(~keep)
    by_goal = from_cell[np.lexsort((links.src[from_cell], links.cost[from_cell], links.dst[from_cell]))]
    goals = links.dst[by_goal]
    rank = np.arange(len(by_goal)) - np.searchsorted(goals, goals)
    keep[by_goal[rank < WAYS_OUT]] = True
    return np.asarray(keep)
