"""Chains of links that become lanes, level by level, one light more at a time: what both searches share.

In:    a catalogue and its lower bound.
Out:   levels of chains, the ways on from them, at last `Found`.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.lower_bound import LowerBound
from circuit.route.passages import Ints
from circuit.route.plane import Bools

_BEST_CHAINS = 64  # handed back: chosen, a dozen orders are among them


@dataclass(frozen=True)
class Found:
    """`chains` : (M, lights) links of the catalogue, cheapest first; `costs` : (M,). `complete`: nothing was cut.
    `passed` : how many lights the longest chain came through, whole lanes or not."""

    chains: Ints
    costs: Floats
    complete: bool
    passed: int

    def __bool__(self) -> bool:
        return len(self.costs) > 0


@dataclass(frozen=True)
class Level:
    """Chains of one length: lights passed (bit k: light k), present passage, cost, cost at prices, the chain itself."""

    visited: Ints
    passage: Ints
    cost: Floats
    priced: Floats
    chain: Ints

    def some(self, which: Ints | Bools) -> Level:
        return Level(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class Steps:
    """Chains made longer by one link: the chain's number, the link, the new state, the least whole cost."""

    parent: Ints
    link: Ints
    visited: Ints
    priced: Floats
    bound: Floats

    def some(self, which: Ints | Bools | slice) -> Steps:
        return Steps(*(getattr(self, name)[which] for name in self.__dataclass_fields__))

    def and_more(self, more: Steps) -> Steps:
        return Steps(
            *(
                np.concatenate([getattr(self, name), getattr(more, name)])
                for name in self.__dataclass_fields__
            )
        )


def no_steps() -> Steps:
    none, nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
    return Steps(none, none, none, nothing, nothing)


class Search:
    """What both searches share."""

    def __init__(self, catalogue: Catalogue, bound: LowerBound, limit: float) -> None:
        self.catalogue, self.bound, self.limit = catalogue, bound, limit
        self.links, self.place = catalogue.links, catalogue.passages.place
        self.count = len(catalogue.site.lights)
        self.first = np.searchsorted(self.links.src, np.arange(len(self.place) + 1))
        self.prices_paid = float(bound.prices[1:].sum())

    def begin(self) -> Level:
        """At the cell, nothing passed yet."""
        passage = np.flatnonzero((self.place == 0) & (np.diff(self.first) > 0))
        none = np.zeros(len(passage), dtype=np.int64)
        return Level(
            none, passage, none.astype(float), none.astype(float), np.zeros((len(passage), 0), dtype=np.int64)
        )

    def steps(self, level: Level, number: int) -> Steps:
        """Every way on that visits no light twice and may still stay within the limit."""
        low, high = self.first[level.passage], self.first[level.passage + 1]
        parent = np.repeat(np.arange(len(low)), high - low)
        link = np.arange(len(parent)) - np.repeat(np.cumsum(high - low) - high, high - low)
        light = self.place[self.links.dst[link]]
        fresh = (level.visited[parent] >> light & 1) == 0
        if number == self.count - 1:
            fresh &= self.catalogue.ends[self.links.dst[link]]
        parent, link, light = parent[fresh], link[fresh], light[fresh]
        visited = level.visited[parent] | np.left_shift(1, light)
        priced = level.priced[parent] + self.links.cost[link] - self.bound.prices[light]
        mask = self.bound.memory.of_visited(light, visited)
        least = priced + self.bound.to_go[number + 1][self.links.dst[link], mask] + self.prices_paid
        good = least <= self.limit + 1e-9
        return Steps(parent[good], link[good], visited[good], priced[good], least[good])

    def level(self, level: Level, steps: Steps) -> Level:
        return Level(
            steps.visited,
            self.links.dst[steps.link],
            level.cost[steps.parent] + self.links.cost[steps.link],
            steps.priced,
            np.concatenate([level.chain[steps.parent], steps.link[:, None]], axis=1),
        )

    def found(self, level: Level, complete: bool) -> Found:
        best = np.lexsort((*level.chain.T, level.cost))[:_BEST_CHAINS] if len(level.cost) else slice(0, 0)
        return Found(level.chain[best], level.cost[best], complete, self.count)

    def nothing(self, complete: bool, passed: int) -> Found:
        """No lane; `passed` : lights that chains came through before none could go on."""
        return Found(np.zeros((0, self.count), dtype=np.int64), np.zeros(0), complete, passed)


def cheapest(bound: Floats, most: int) -> Ints:
    """The numbers of the `most` cheapest of (N,), cheapest first; ties in their order."""
    few = np.arange(len(bound))
    if len(bound) > most:
        few = np.flatnonzero(bound <= np.partition(bound, most - 1)[most - 1])
    return few[np.argsort(bound[few], kind="stable")][:most]


def ranked_below(steps: Steps, here: Ints, most: int) -> Bools:
    """Which steps are among the `most` cheapest of their state: lights passed, and where they are."""
    return rank_among_alike(steps.visited, here, steps.bound) < most


def rank_among_alike(visited: Ints, here: Ints, bound: Floats) -> Ints:
    """(N,) for each step, how many of its state come before it: cheaper ones, and as cheap ones that stand first."""
    order, new = by_state(visited, here, bound)
    start = np.maximum.accumulate(np.where(new, np.arange(len(order)), 0))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order)) - start
    return rank


def by_state(visited: Ints, here: Ints, bound: Floats) -> tuple[Ints, Bools]:
    """(N,) the numbers of steps, those of one state (lights passed, and where they are) side by side, cheapest first;
    and which of them begin a state."""
    order = np.lexsort((bound, here, visited))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(here[order]) != 0) | (np.diff(visited[order]) != 0)
    return order, new
