"""Chains of links that are lanes: every light once, nothing clashing. Level by level, one light more at a time.

In:    a catalogue and its lower bound.
Out:   `Found`: the cheapest chains, and whether anything was left out on the way.
Fails: never.

Two searches that share their steps. `search_all` works out beforehand which links clash, and drops a
chain only if a cheaper one of the same state (lights passed, present passage) forbids no more of what
is left: when it had to cut nothing, its answer is proven for the catalogue. `search_some` measures
clashes as it meets them and keeps few chains of each state: quick, never a proof.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.clash import clash_matrix, ends_clash, links_clash
from circuit.route.lower_bound import LowerBound
from circuit.route.passages import Ints
from circuit.route.plane import Bools

_BEST_CHAINS = 64  # handed back: chosen, a dozen orders are among them
_WORD = 64  # bits of a machine word
_ALIKE_IN_ALL = 40  # chosen: chains of one state; with more the full search takes longer than it is worth
_ALIKE_IN_SOME = 4  # chosen: the short search keeps variety rather than near copies of one chain
_SAME_LIGHT = 60  # chosen: chains that end on one light after the same others, over all passages of it
Words = NDArray[np.uint64]


@dataclass(frozen=True)
class Found:
    """`chains` : (M, lights) links of the catalogue, cheapest first; `costs` : (M,). `complete`: nothing was cut."""

    chains: Ints
    costs: Floats
    complete: bool

    def __bool__(self) -> bool:
        return len(self.costs) > 0


@dataclass(frozen=True)
class _Level:
    """Chains of one length: lights passed (bit k: light k), present passage, cost, cost at prices, the chain itself."""

    visited: Ints
    passage: Ints
    cost: Floats
    priced: Floats
    chain: Ints

    def some(self, which: Ints | Bools) -> _Level:
        return _Level(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class _Steps:
    """Chains made longer by one link: the chain's number, the link, the new state, the least whole cost."""

    parent: Ints
    link: Ints
    visited: Ints
    priced: Floats
    bound: Floats

    def some(self, which: Ints | Bools | slice) -> _Steps:
        return _Steps(*(getattr(self, name)[which] for name in self.__dataclass_fields__))

    def and_more(self, more: _Steps) -> _Steps:
        return _Steps(
            *(
                np.concatenate([getattr(self, name), getattr(more, name)])
                for name in self.__dataclass_fields__
            )
        )


def _no_steps() -> _Steps:
    none, nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
    return _Steps(none, none, none, nothing, nothing)


class _Search:
    """What both searches share."""

    def __init__(self, catalogue: Catalogue, bound: LowerBound, limit: float) -> None:
        self.catalogue, self.bound, self.limit = catalogue, bound, limit
        self.links, self.place = catalogue.links, catalogue.passages.place
        self.count = len(catalogue.site.lights)
        self.first = np.searchsorted(self.links.src, np.arange(len(self.place) + 1))
        self.prices_paid = float(bound.prices[1:].sum())

    def begin(self) -> _Level:
        """At the cell, nothing passed yet."""
        passage = np.flatnonzero((self.place == 0) & (np.diff(self.first) > 0))
        none = np.zeros(len(passage), dtype=np.int64)
        return _Level(
            none, passage, none.astype(float), none.astype(float), np.zeros((len(passage), 0), dtype=np.int64)
        )

    def steps(self, level: _Level, number: int) -> _Steps:
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
        return _Steps(parent[good], link[good], visited[good], priced[good], least[good])

    def level(self, level: _Level, steps: _Steps) -> _Level:
        return _Level(
            steps.visited,
            self.links.dst[steps.link],
            level.cost[steps.parent] + self.links.cost[steps.link],
            steps.priced,
            np.concatenate([level.chain[steps.parent], steps.link[:, None]], axis=1),
        )

    def found(self, level: _Level, complete: bool) -> Found:
        best = np.lexsort((*level.chain.T, level.cost))[:_BEST_CHAINS] if len(level.cost) else slice(0, 0)
        return Found(level.chain[best], level.cost[best], complete)

    def nothing(self, complete: bool) -> Found:
        return Found(np.zeros((0, self.count), dtype=np.int64), np.zeros(0), complete)


def search_all(
    catalogue: Catalogue, bound: LowerBound, limit: float, *, most: int, alike: int = _ALIKE_IN_ALL
) -> Found:
    """Every lane up to `limit`, unless a level grows beyond `most` chains or a state beyond `alike`."""
    keep = np.flatnonzero(bound.through <= limit + 1e-9)
    small = catalogue.some(keep)
    search = _Search(small, bound, limit)
    ends = np.unique(small.links.dst[small.ends[small.links.dst]])
    clash = clash_matrix(small, ends)
    end_column = np.full(len(search.place), -1)
    end_column[ends] = len(keep) + np.arange(len(ends))
    forbids = _packed(clash)
    usable = _usable_bits(small, ends, forbids.shape[1])
    level, complete = search.begin(), True
    forbidden = np.zeros((len(level.cost), forbids.shape[1]), dtype=np.uint64)
    for number in range(search.count):
        steps = search.steps(level, number)
        steps = steps.some(~_bit(forbidden, steps.parent, steps.link))
        if number == search.count - 1:
            column = end_column[small.links.dst[steps.link]]
            steps = steps.some(~(_bit(forbidden, steps.parent, column) | _bit(forbids, steps.link, column)))
        if len(steps.link) > 3 * most:
            complete = False
            steps = steps.some(_cheapest(steps.bound, 3 * most))
        if not len(steps.link):
            return search.nothing(complete)
        now = forbidden[steps.parent] | forbids[steps.link]
        here = small.links.dst[steps.link]
        _forget_useless(now, steps.visited, search.place[here], usable)
        kept, crowded = _undominated(steps.visited, here, steps.bound, now, alike)
        complete &= not crowded
        if len(kept) > most:
            complete = False
            kept = kept[_cheapest(steps.bound[kept], most)]
        level, forbidden = search.level(level, steps.some(kept)), now[kept]
    found = search.found(level, complete)
    return Found(keep[found.chains], found.costs, complete)


def search_some(
    catalogue: Catalogue,
    bound: LowerBound,
    limit: float,
    *,
    most: int,
    alike: int = _ALIKE_IN_SOME,
    same_light: int = _SAME_LIGHT,
) -> Found:
    """Lanes up to `limit` among the `most` cheapest chains of each length, of which few share a state: `alike` of
    the same passage, `same_light` of the same light after the same others."""
    search = _Search(catalogue, bound, limit)
    level = search.begin()
    for number in range(search.count):
        steps = search.steps(level, number)
        steps = steps.some(_cheapest(steps.bound, _LOOKED_THROUGH * most))
        steps = steps.some(_ranked_below(steps, catalogue.links.dst[steps.link], _LOOKED_THROUGH * alike))
        kept = _no_steps()
        for low in range(0, len(steps.link), most):
            # Cheapest first, and no more than are needed: measuring clashes is what costs.
            some = steps.some(slice(low, low + most))
            some = some.some(_clear_so_far(search, level, some))
            if number == search.count - 1:
                some = some.some(_clear_at_end(search, level, some))
            kept = kept.and_more(some)
            here = catalogue.links.dst[kept.link]
            kept = kept.some(_ranked_below(kept, here, alike))
            kept = kept.some(_ranked_below(kept, search.place[catalogue.links.dst[kept.link]], same_light))
            if len(kept.link) >= most:
                break
        kept = kept.some(slice(0, most))
        if not len(kept.link):
            return search.nothing(False)
        level = search.level(level, kept)
    return search.found(level, False)


# Of this many times as many steps as may stay, the cheapest, clashes are measured: chosen.
_LOOKED_THROUGH = 6


def _cheapest(bound: Floats, most: int) -> Ints:
    """The numbers of the `most` cheapest, cheapest first; ties in their order."""
    few = np.arange(len(bound))
    if len(bound) > most:
        few = np.flatnonzero(bound <= np.partition(bound, most - 1)[most - 1])
    return few[np.argsort(bound[few], kind="stable")][:most]


def _ranked_below(steps: _Steps, here: Ints, most: int) -> Bools:
    """Which steps are among the `most` cheapest of their state: lights passed, and where they are."""
    order = np.lexsort((steps.bound, here, steps.visited))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(here[order]) != 0) | (np.diff(steps.visited[order]) != 0)
    start = np.maximum.accumulate(np.where(new, np.arange(len(order)), 0))
    below = np.zeros(len(order), dtype=bool)
    below[order] = np.arange(len(order)) - start < most
    return below


def _clear_so_far(search: _Search, level: _Level, steps: _Steps) -> Bools:
    """Which steps' links clash with none of their chain's."""
    length = level.chain.shape[1]
    good = np.ones(len(steps.link), dtype=bool)
    if not length or not len(good):
        return good
    earlier = level.chain[steps.parent].ravel()
    later = np.repeat(steps.link, length)
    first, like = _first_of_each(earlier * len(search.links) + later)
    bad = np.zeros(len(later), dtype=bool)
    bad[first] = links_clash(search.catalogue, earlier[first], later[first])
    return np.asarray(~bad[like].reshape(-1, length).any(axis=1))


def _first_of_each(keys: Ints) -> tuple[Ints, Ints]:
    """Places of `keys` that stand for all others, and for each key a place among them with the same key.

    By a table of hashed keys, several times as fast as sorting. Where two keys share an entry, the one that
    did not get it stands for itself: then a key may stand there more than once.
    """
    bits = max(len(keys).bit_length() + 1, 1)
    entry = ((keys.astype(np.uint64) * _MIXER) >> np.uint64(_WORD - bits)).astype(np.int64)
    table = np.zeros(1 << bits, dtype=np.int64)
    places = np.arange(len(keys))
    table[entry] = places
    like = table[entry]
    like = np.where(keys[like] == keys, like, places)
    return np.flatnonzero(like == places), like


_MIXER = np.uint64(0x9E3779B97F4A7C15)  # 2**64 over the golden ratio (Knuth, Sorting and Searching, 6.4)


def _clear_at_end(search: _Search, level: _Level, steps: _Steps) -> Bools:
    """Which steps end the lane clear of the chain's links."""
    chain = np.concatenate([level.chain[steps.parent], steps.link[:, None]], axis=1)
    end = np.repeat(search.links.dst[steps.link], chain.shape[1])
    return np.asarray(~ends_clash(search.catalogue, end, chain.ravel()).reshape(chain.shape).any(axis=1))


def _packed(matrix: Bools) -> Words:
    """Rows of yes and no as rows of 64-bit words."""
    rows, columns = matrix.shape
    words = -(-columns // _WORD)
    padded = np.zeros((rows, words * _WORD), dtype=bool)
    padded[:, :columns] = matrix
    return np.packbits(padded, axis=1, bitorder="little").view(np.uint64)


def _bit(words: Words, row: Ints, column: Ints) -> Bools:
    word = words[row, column // _WORD]
    return np.asarray((word >> (column % _WORD).astype(np.uint64)) & np.uint64(1), dtype=bool)


def _usable_bits(catalogue: Catalogue, ends: Ints, words: int) -> tuple[Words, Words]:
    """For each place: links that enter it; links that leave it and ends at it."""
    place, links = catalogue.passages.place, catalogue.links
    places = np.arange(len(catalogue.site.lights) + 1)[:, None]
    no_end = np.zeros((len(places), len(ends)), dtype=bool)
    into = np.concatenate([place[links.dst][None, :] == places, no_end], axis=1)
    out_of = np.concatenate([place[links.src][None, :] == places, place[ends][None, :] == places], axis=1)
    return _packed(into), _packed(out_of)


def _forget_useless(forbidden: Words, visited: Ints, here: Ints, usable: tuple[Words, Words]) -> None:
    """Clears what no longer matters: links into lights passed, links out of those but the present one."""
    into, out_of = usable
    for light in range(1, len(into)):
        passed = np.flatnonzero(visited >> light & 1)
        forbidden[passed] &= ~into[light]
        left = passed[here[passed] != light]
        forbidden[left] &= ~out_of[light]


def _undominated(visited: Ints, here: Ints, bound: Floats, forbidden: Words, alike: int) -> tuple[Ints, bool]:
    """Steps that no cheaper one of their state makes needless, and whether more than `alike` had to be cut."""
    order = np.lexsort((bound, here, visited))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(here[order]) != 0) | (np.diff(visited[order]) != 0)
    state = np.cumsum(new) - 1
    kept: list[Ints] = []
    for _ in range(alike):
        if not len(order):
            return np.sort(np.concatenate(kept)), False
        # The cheapest one left of each state stays, and takes with it all that it makes needless.
        head = np.flatnonzero(np.diff(state, prepend=-1))
        kept.append(order[head])
        leader = np.repeat(head, np.diff(np.append(head, len(order))))
        rest = np.ones(len(order), dtype=bool)
        rest[head] = False
        rows = np.flatnonzero(rest)
        more = (forbidden[order[leader[rows]]] & ~forbidden[order[rows]]).any(axis=1)
        rows = rows[more]
        order, state = order[rows], state[rows]
    return np.sort(np.concatenate(kept)), len(order) > 0
