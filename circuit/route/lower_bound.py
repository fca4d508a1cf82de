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
from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.passages import Ints

NEVER = 1e9  # a cost that stands for "can't be": far above any lane


@dataclass(frozen=True, slots=True)
class Phase:
    """`steps` of the prices with `remembered` lights each, or as many as there is room for; links dearer than the
    bound + `keep_mm` go."""

    steps: int
    remembered: int
    keep_mm: float


@dataclass(frozen=True)
class Memory:
    """Which lights are remembered where, as bit masks.

    `near` : (places, G) the lights that each place remembers (0: none). `after` : (places, places, 2**G) the mask
    at the second place, having come from the first with a mask; -1 where the first remembers the second.
    """

    near: Ints
    after: Ints

    @property
    def masks(self) -> int:
        return int(self.after.shape[2])

    def of_visited(self, place: Ints, visited: Ints) -> Ints:
        """The mask at each place when these lights (bit k: light k) have all been passed."""
        masks = np.zeros(len(place), dtype=np.int64)
        for bit in range(self.near.shape[1]):
            light = self.near[place, bit]
            masks |= ((visited >> light) & (light > 0)) << bit
        return masks


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
    to_go: list[Floats]
    memory: Memory


def memory_of(catalogue: Catalogue, remembered: int) -> Memory:
    """Each place remembers the nearest lights, as many as said."""
    lights = catalogue.site.lights
    count = len(lights)
    size = max(1, min(remembered, count - 1))
    near = np.zeros((count + 1, size), dtype=np.int64)
    if count > 1:
        apart = np.abs(lights[:, None] - lights[None, :])
        near[1:] = np.argsort(apart, axis=1, kind="stable")[:, 1 : size + 1] + 1
    bit_of = np.full((count + 1, count + 1), -1, dtype=np.int64)  # [place, light]
    for bit in range(size):
        rows = np.flatnonzero(near[:, bit])
        bit_of[rows, near[rows, bit]] = bit
    masks = np.arange(1 << size)
    after = np.zeros((count + 1, count + 1, len(masks)), dtype=np.int64)
    for a in range(count + 1):
        for light, marked in [(a, np.ones(len(masks), dtype=bool))] * (a > 0) + [
            (int(near[a, bit]), (masks >> bit & 1) == 1) for bit in range(size) if near[a, bit]
        ]:
            bits = bit_of[:, light]
            told = np.where(bits >= 0, np.left_shift(1, np.maximum(bits, 0)), 0)
            after[a] |= told[:, None] * marked[None, :]
        for bit in range(size):
            if near[a, bit]:
                after[a, near[a, bit], (masks >> bit & 1) == 1] = -1
    return Memory(near, after)


class _Chains:
    """The dynamic programme over one catalogue with one memory."""

    def __init__(self, catalogue: Catalogue, memory: Memory) -> None:
        links, place = catalogue.links, catalogue.passages.place
        self.count = len(catalogue.site.lights)
        self.memory = memory
        self.passages = len(place)
        self.goal = place[links.dst]
        self.cost = links.cost
        self.src = links.src
        # From (link, mask) to the flat number of (passage, mask) that it leads to; one more stands for "not allowed".
        after = memory.after[place[links.src], self.goal]
        self.nowhere = self.passages * memory.masks
        self.leads_to = np.where(after >= 0, links.dst[:, None] * memory.masks + after, self.nowhere)
        self.from_cell = int(np.searchsorted(links.src, catalogue.passages.first[1]))
        self.final = np.append(np.where(np.repeat(catalogue.ends, memory.masks), 0.0, NEVER), NEVER)

    def _rows(self, step: int) -> slice:
        """Links that may be the step-th: those from the cell come first, and only first."""
        return slice(0, self.from_cell) if step == 0 else slice(self.from_cell, len(self.cost))

    def to_go(self, prices: Floats) -> list[Floats]:
        """For every number of lights passed: the least cost from each (passage, mask) to a lane's end, flat."""
        priced = (self.cost - prices[self.goal])[:, None]
        table = [self.final]
        heads = {step: self._heads(step) for step in (0, 1)}
        for step in range(self.count - 1, -1, -1):
            rows = self._rows(step)
            now = np.full(self.nowhere + 1, NEVER)
            head, source = heads[min(step, 1)]
            if len(head):
                values = table[-1][self.leads_to[rows]] + priced[rows]
                now[:-1].reshape(self.passages, -1)[source] = np.minimum.reduceat(values, head, axis=0)
            table.append(now)
        return table[::-1]

    def _heads(self, step: int) -> tuple[Ints, Ints]:
        """Where links of a new source begin among those of a step, and the sources."""
        src = self.src[self._rows(step)]
        head = np.flatnonzero(np.diff(src, prepend=-1))
        return head, src[head]

    def visits(self, to_go: list[Floats], prices: Floats) -> Ints:
        """How often the cheapest chain comes to each place."""
        count = np.zeros(len(prices), dtype=np.int64)
        masks = self.memory.masks
        state = int(np.argmin(to_go[0][:-1]))
        for step in range(self.count):
            passage, mask = divmod(state, masks)
            low, high = np.searchsorted(self.src, [passage, passage + 1])
            values = (
                to_go[step + 1][self.leads_to[low:high, mask]] + (self.cost - prices[self.goal])[low:high]
            )
            best = low + int(np.argmin(values))
            count[self.goal[best]] += 1
            state = int(self.leads_to[best, mask])
        return count

    def through(self, to_go: list[Floats], prices: Floats) -> Floats:
        """The least cost of any chain with each link, at prices."""
        priced = (self.cost - prices[self.goal])[:, None]
        best = np.full(len(self.cost), np.inf)
        reach = np.full(self.nowhere + 1, NEVER)
        reach[: self.nowhere].reshape(self.passages, -1)[np.unique(self.src[: self.from_cell]), 0] = 0.0
        orders = {step: self._by_goal(step) for step in (0, 1)}
        for step in range(self.count):
            rows = self._rows(step)
            values = reach[:-1].reshape(self.passages, -1)[self.src[rows]] + priced[rows]
            ahead = values + to_go[step + 1][self.leads_to[rows]]
            best[rows] = np.minimum(best[rows], ahead.min(axis=1))
            order, head, goals = orders[min(step, 1)]
            reach = np.full(self.nowhere + 1, NEVER)
            if len(head):
                reach[goals] = np.minimum.reduceat(values.ravel()[order], head)
            reach[-1] = NEVER
        return best

    def _by_goal(self, step: int) -> tuple[Ints, Ints, Ints]:
        goals = self.leads_to[self._rows(step)].ravel()
        order = np.argsort(goals, kind="stable")
        head = np.flatnonzero(np.diff(goals[order], prepend=-1))
        return order, head, goals[order][head]


def bound_links(
    catalogue: Catalogue, phases: Sequence[Phase], prices: Floats | None = None, below: float = np.inf
) -> tuple[LowerBound, Catalogue]:
    """The bound after these phases, and the catalogue without the links that each of them dropped.

    Lanes that cost `below` or more are of no interest: where there are no others, the bound is not `possible`.
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
        through = chains.through(to_go, now) + now[1:].sum()
        value = float(through.min())
        keep = through <= min(value + phase.keep_mm, below)
        if (~keep & (through < NEVER / 2)).any():
            within = min(within, value + phase.keep_mm, below)
        keep &= through < NEVER / 2  # links that no chain goes through at all are no loss
        catalogue = catalogue.some(keep)
        through = through[keep]
    shaped = [table[:-1].reshape(-1, memory.masks) for table in to_go]
    return LowerBound(True, value, within, through, now, shaped, memory), catalogue


_MOST_STATES = 1_500_000  # links times masks: chosen, more take seconds
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
