"""What any lane must cost at least, and through each single link.

In:    a catalogue.
Out:   a `LowerBound` and the catalogue without the links that are too dear.
Fails: never; a catalogue without any chain of links gives a bound without `possible`.

A lane visits every light once. That is loosened: a chain of as many links as there are lights, that may come
back to a light, though not while it remembers it. At each light it remembers which of the few
nearest lights it passed lately (the "ng-route" relaxation). The cheapest such chain is found by dynamic
programming over (how many lights passed, passage, what is remembered). A price on every light, raised
where the chain comes not at all and lowered where it comes twice, drives the bound up (a
Lagrangian multiplier, found by subgradient steps). What holds for the loosened problem holds
for every lane: none is cheaper than the bound, and none with link e cheaper than `through[e]`.

References
----------
.. [1] Baldacci, Mingozzi, Roberti: New route relaxation and pricing strategies for the vehicle routing
       problem, Operations Research 59 (2011): ng-routes. From memory.
.. [2] Held, Wolfe, Crowder: Validation of subgradient optimization, Mathematical Programming 6 (1974).
       From memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.lots import Lots
from circuit.route.memory import Memory, memory_of
from circuit.route.passages import Ints

Costs = NDArray[np.float32]

NEVER = 1e9  # a cost that stands for "can't be": far above any lane


@dataclass(frozen=True, slots=True)
class Phase:
    """`steps` of the prices with `remembered` lights each, or as many as there is room for; links dearer than the
    bound + `keep_mm` go."""

    steps: int
    remembered: int
    keep_mm: float


@dataclass(frozen=True)
class LowerBound:
    """`value` : no lane of the catalogue costs less [mm]. `through` : (links,) nor one with that link. `within` : links
    that cost a lane more than this were dropped: what is proven of the catalogue holds up to it.
    `to_go` : [lights passed][passage, mask] the least that is left to pay, at prices; `prices` : (places,)."""

    possible: bool
    value: float
    within: float
    through: Floats
    prices: Floats
    to_go: list[Costs]
    memory: Memory

    def of(self, links: Ints) -> LowerBound:
        """The same for the catalogue with these links alone."""
        return replace(self, through=self.through[links])


class _Chains:
    """The dynamic programme over one catalogue with one memory.

    Its tables are float32: half the memory to walk through. What that rounds off is taken off the bound again.

    What a mask becomes along a link depends on the two places and not on how the first is passed: the links from one
    place to one passage are an `entry`, and tables are looked up once for each entry, of which there are several
    times fewer than links.
    """

    def __init__(self, catalogue: Catalogue, memory: Memory) -> None:
        links, place = catalogue.links, catalogue.passages.place
        self.count = len(catalogue.site.lights)
        self.memory = memory
        self.passages = len(place)
        self.goal = place[links.dst]
        self.cost = links.cost
        self.src = links.src
        entries, self.entry = np.unique(place[links.src] * self.passages + links.dst, return_inverse=True)
        before, passage = np.divmod(entries, self.passages)
        # From (entry, mask) to the flat number of (passage, mask) that it leads to; one more stands for "not allowed".
        after = memory.after[before, place[passage]]
        self.nowhere = self.passages * memory.masks
        self.leads_to = np.where(after >= 0, passage[:, None] * memory.masks + after, self.nowhere)
        # Links from the cell, which stand first, may be the first step alone, all others any later one.
        self.from_cell = int(np.searchsorted(links.src, catalogue.passages.first[1]))
        every = np.arange(len(links))
        runs = every[: self.from_cell], every[self.from_cell :]
        self.by_source = [Lots.of(self.src[run], run, memory.masks) for run in runs]
        self.by_entry = [Lots.of(self.entry[run], run, memory.masks) for run in runs]
        ends = np.repeat(catalogue.ends, memory.masks)
        self.final = np.append(np.where(ends, 0.0, NEVER), NEVER).astype(np.float32)

    def to_go(self, prices: Floats) -> list[Costs]:
        """For every number of lights passed: the least cost from each (passage, mask) to a lane's end, flat."""
        priced = [self._priced(lots, prices) for lots in self.by_source]
        entry = [self.entry[lots.links] for lots in self.by_source]
        table = [self.final]
        for step in range(self.count - 1, -1, -1):
            part = min(step, 1)
            lots = self.by_source[part]
            from_entry = np.take(table[-1], self.leads_to)
            least = np.empty((len(lots.kinds), self.memory.masks), dtype=np.float32)
            for piece in lots.pieces:
                values = np.take(from_entry, entry[part][piece.rows], axis=0)
                values += priced[part][piece.rows]
                for lot in piece.lots:
                    each = values[lot.rows].reshape(lot.size, -1, self.memory.masks)
                    np.minimum.reduce(each, axis=0, out=least[lot.kinds])
            now = np.full(self.nowhere + 1, NEVER, dtype=np.float32)
            now[:-1].reshape(self.passages, -1)[lots.kinds] = least
            table.append(now)
        return table[::-1]

    def _priced(self, lots: Lots, prices: Floats) -> Costs:
        """(links of these lots, masks): their costs, less the price on where they lead to."""
        links = lots.links
        priced = (self.cost[links] - prices[self.goal[links]]).astype(np.float32)
        return np.repeat(priced, self.memory.masks).reshape(-1, self.memory.masks)

    def visits(self, to_go: list[Costs], prices: Floats) -> Ints:
        """How often the cheapest chain comes to each place."""
        count = np.zeros(len(prices), dtype=np.int64)
        masks = self.memory.masks
        state = int(np.argmin(to_go[0][:-1]))
        for step in range(self.count):
            passage, mask = divmod(state, masks)
            low, high = np.searchsorted(self.src, [passage, passage + 1])
            leads_to = self.leads_to[self.entry[low:high], mask]
            values = to_go[step + 1][leads_to] + (self.cost[low:high] - prices[self.goal[low:high]])
            best = int(np.argmin(values))
            count[self.goal[low + best]] += 1
            state = int(leads_to[best])
        return count

    def through(self, to_go: list[Costs], prices: Floats) -> Floats:
        """The least cost of any chain with each link, at prices."""
        priced = [self._priced(lots, prices) for lots in self.by_entry]
        leads_to = [self.leads_to[lots.kinds] for lots in self.by_entry]
        best = [np.full(len(lots.links), np.inf, dtype=np.float32) for lots in self.by_entry]
        reach = np.full(self.nowhere + 1, NEVER, dtype=np.float32)
        reach[: self.nowhere].reshape(self.passages, -1)[self.src[: self.from_cell], 0] = 0.0
        for step in range(self.count):
            part = min(step, 1)
            lots = self.by_entry[part]
            here = reach[:-1].reshape(self.passages, -1)
            onward = np.take(to_go[step + 1], leads_to[part])
            least = np.empty(onward.shape, dtype=np.float32)
            for piece in lots.pieces:
                values = np.take(here, self.src[lots.links[piece.rows]], axis=0)
                values += priced[part][piece.rows]
                for lot in piece.lots:
                    each = values[lot.rows].reshape(lot.size, -1, self.memory.masks)
                    np.minimum.reduce(each, axis=0, out=least[lot.kinds])
                    each += onward[lot.kinds]
                best[part][piece.rows] = np.minimum(best[part][piece.rows], _least_of_rows(values))
            reach = np.full(self.nowhere + 1, NEVER, dtype=np.float32)
            np.minimum.at(reach, leads_to[part].ravel(), least.ravel())
            reach[-1] = NEVER
        by_link = np.empty(len(self.cost))
        for lots, of_lots in zip(self.by_entry, best, strict=True):
            by_link[lots.links] = of_lots
        return by_link


def _least_of_rows(values: Costs) -> Costs:
    """The least of each row of (N, a power of two): by halves, since numpy is slow along a short axis."""
    while values.shape[1] > 1:
        half = values.shape[1] // 2
        values = np.minimum(values[:, :half], values[:, half:])
    return values[:, 0]


# What float32 may round off in all: fifty sums of up to 4,096 mm, each to half of 2**-12 mm. [mm]
_ROUNDING_MM = 0.01


def bound_links(
    catalogue: Catalogue,
    phases: Sequence[Phase],
    prices: Floats | None = None,
    below: float = np.inf,
    up_to: float = -np.inf,
) -> tuple[LowerBound, Catalogue]:
    """The bound after these phases, from (N,) prices, and the catalogue without the links that each of them dropped.

    Lanes that cost `below` or more are of no interest: where there are no others, the bound is not `possible`.
    `up_to` : what costs less than this stays, however far above the bound; an early bound can be far too low.
    """
    count = len(catalogue.site.lights)
    scale = 1.0 if prices is None else 0.5
    now = np.zeros(count + 1) if prices is None else prices
    within = np.inf
    memory = memory_of(catalogue, 1)
    for phase in phases:
        memory = memory_of(catalogue, min(phase.remembered, _most_remembered(len(catalogue.links))))
        chains = _Chains(catalogue, memory)
        many = len(catalogue.links) * memory.masks > _MANY_STATES
        now, scale = _raise_prices(chains, now, scale, phase.steps // 2 if many else phase.steps)
        to_go = chains.to_go(now)
        if to_go[0].min() + now[1:].sum() >= min(below, NEVER / 2):
            none = np.full(len(catalogue.links), np.inf)
            return LowerBound(False, np.inf, within, none, now, to_go, memory), catalogue
        through = chains.through(to_go, now) + (now[1:].sum() - _ROUNDING_MM)
        value = float(through.min())
        limit = min(max(value + phase.keep_mm, up_to), below)
        keep = through <= limit
        if (~keep & (through < NEVER / 2)).any():
            within = min(within, limit)
        keep &= through < NEVER / 2  # links that no chain goes through at all are no loss
        catalogue = catalogue.some(keep)
        through = through[keep]
    shaped = [table[:-1].reshape(-1, memory.masks) - np.float32(_ROUNDING_MM) for table in to_go]
    return LowerBound(True, value, within, through, now, shaped, memory), catalogue


_MOST_STATES = 700_000  # links times masks: chosen, more take seconds
_MANY_STATES = 150_000  # above this a step costs so much that half of them have to do: chosen


def _most_remembered(links: int) -> int:
    """How many lights can be remembered with so many links."""
    return max(1, int(np.log2(_MOST_STATES / max(links, 1))))


def _raise_prices(chains: _Chains, start: Floats, scale: float, steps: int) -> tuple[Floats, float]:
    """Subgradient steps; the prices with the highest bound, and how large a step has become."""
    best, highest, stale, prices = start, -np.inf, 0, start.copy()
    for _ in range(steps):
        to_go = chains.to_go(prices)
        least = float(to_go[0].min())
        if least >= NEVER / 2:
            return best, scale
        value = least + float(prices[1:].sum())
        if value > highest + 1e-6:
            highest, stale, best = value, 0, prices.copy()
        else:
            stale += 1
            if stale >= _PATIENCE:
                scale, stale, prices = scale * _SMALLER, 0, best.copy()
                continue
        too_few = 1.0 - chains.visits(to_go, prices)[1:]
        if not too_few.any():
            break  # the chain is a lane, but for clashes
        hoped = value * _HOPED_SHARE + _HOPED_MM
        prices[1:] += scale * max(hoped - value, _LEAST_STEP) / float(too_few @ too_few) * too_few
    return best, scale


# How far above the present bound the true one is guessed to lie, and how steps shrink: chosen, as is usual.
_HOPED_SHARE, _HOPED_MM, _LEAST_STEP = 1.02, 2.0, 0.5
_PATIENCE, _SMALLER = 3, 0.6
