"""Which light after which: orders worth trying, each laid as a lane, the cheapest clash-free kept."""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from circuit.route.lane import Lane, clashes
from circuit.route.leg_builder import PLAIN
from circuit.route.refine import refined
from circuit.route.repair import lane_without_clash
from circuit.route.tables import MISSING_MM, Solved, Tables

HOPE_MM = 12.0  # chosen: what looking closer may still take off a rough lane's cost
CLASH_GUESS_MM = 10.0  # chosen: repairing one clash of a lane most often costs less
CLOSER = ((12.0, 3), (3.0, 2), (0.8, 2))  # chosen: degrees either way, steps to each side


@dataclass(frozen=True, slots=True)
class Budget:
    """How long to look, in counted steps and never in seconds, so that an answer repeats."""

    evaluations: int
    repairs: int
    rounds: int
    shakes: int
    look: int = PLAIN
    closest: int = 2
    clash_guess: float = CLASH_GUESS_MM

    def times(self, effort: int) -> Budget:
        """The same search with that many times as many orders."""
        return replace(
            self,
            evaluations=self.evaluations * effort,
            repairs=self.repairs * effort,
            shakes=self.shakes * effort,
            closest=self.closest * effort,
        )


@dataclass(slots=True)
class Found:
    """The cheapest lane so far, what every order looked at costs, and the nearest miss."""

    lane: Lane | None = None
    cost: float = np.inf
    fewest_clashes: int = 10**6
    nearest: tuple[Tables, Solved] | None = None
    nearest_miss: float = np.inf
    seen: dict[tuple[int, ...], float] = field(default_factory=dict)


def neighbours(order: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Orders one step away: a stretch turned round, or up to three lights put elsewhere."""
    count = len(order)
    order = tuple(order)
    for i in range(count):
        for j in range(i + 2, count + 1):
            yield order[:i] + order[i:j][::-1] + order[j:]
    for size in (1, 2, 3):
        for i in range(count - size + 1):
            piece, rest = order[i : i + size], order[:i] + order[i + size :]
            for k in range(len(rest) + 1):
                if k != i:
                    yield rest[:k] + piece + rest[k:]
                    if size > 1:
                        yield rest[:k] + piece[::-1] + rest[k:]


class Search:
    """One layout's search; deterministic for a seed."""

    def __init__(self, tables: Tables, budget: Budget, seed: int = 1) -> None:
        self.tables, self.budget = tables, budget
        self.random = np.random.default_rng(seed)
        self.found = Found()
        self.evaluated = 0

    def cost(self, order: tuple[int, ...], limit: float = np.inf) -> float:
        """The cheapest lane along an order, and what its clashes are likely to add.

        At or above `limit` the clashes are not looked at: the order is out already.
        """
        known = self.found.seen.get(order)
        if known is None:
            self.evaluated += 1
            known = self.tables.cost(order)
            if known < min(limit, MISSING_MM):
                solved = self.tables.solve(order)
                assert solved is not None
                known += self.budget.clash_guess * len(clashes(self.tables.lane(solved), self.tables.ground))
            self.found.seen[order] = known
        return known

    def descend(self, order: tuple[int, ...]) -> tuple[int, ...]:
        """Take better orders one step away until there is none or the budget is spent."""
        now = self.cost(order)
        better = True
        while better and self.evaluated < self.budget.evaluations:
            better = False
            for trial in neighbours(order):
                if trial in self.found.seen or self.tables.floor(trial) >= now:
                    continue
                cost = self.cost(trial, now)
                if cost < now - 1e-9:
                    order, now, better = trial, cost, True
                    break
                if self.evaluated >= self.budget.evaluations:
                    break
        return order

    def shaken(self, order: tuple[int, ...]) -> tuple[int, ...]:
        """The order with two stretches swapped, lengths at random."""
        count = len(order)
        if count < 4:
            return tuple(int(x) for x in self.random.permutation(order))
        cuts = sorted(int(x) for x in self.random.choice(np.arange(count + 1), size=3, replace=False))
        i, j, k = cuts
        return order[:i] + order[j:k] + order[i:j] + order[k:]

    def run(self, first: Sequence[tuple[int, ...]]) -> Found:
        """Descend from every first order and from shaken ones, then lay the cheapest in turn."""
        best: tuple[int, ...] | None = None
        for order in first:
            order = self.descend(order)
            if best is None or self.cost(order) < self.cost(best):
                best = order
        assert best is not None
        for _ in range(self.budget.shakes if len(best) > 2 else 0):
            if self.evaluated >= self.budget.evaluations:
                break
            order = self.descend(self.shaken(best))
            if self.cost(order) < self.cost(best):
                best = order
        self.lay()
        return self.found

    def lay(self) -> None:
        """Lay the cheapest orders known, cheapest first, and look closer at the best of them."""
        cheapest = heapq.nsmallest(
            self.budget.repairs,
            (item for item in self.found.seen.items() if item[1] < MISSING_MM),
            key=lambda item: (item[1], item[0]),
        )
        promising: list[tuple[float, int, Tables, Solved]] = []
        for number, (order, cost) in enumerate(cheapest):
            if cost >= self.found.cost + HOPE_MM:
                break
            _, solved = self._attempt(self.tables, order)
            if solved is None:
                continue
            tables = refined(self.tables, solved, *CLOSER[0], self.budget.look)
            closer_cost, closer = self._attempt(tables, order)
            if closer is not None:
                promising.append((closer_cost, number, tables, closer))
        promising.sort(key=lambda item: item[:2])
        for cost, _, tables, solved in promising[: self.budget.closest]:
            if cost >= self.found.cost + HOPE_MM / 2:
                break
            best = solved
            for spread, steps in CLOSER[1:]:
                tables = refined(tables, best, spread, steps, self.budget.look)
                _, again = self._attempt(tables, best.order)
                if again is None:
                    break
                best = again

    def _attempt(self, tables: Tables, order: tuple[int, ...]) -> tuple[float, Solved | None]:
        """Lay one order and keep the lane if it holds and is the cheapest; what to look closer at."""
        lane, solved, fewest = lane_without_clash(
            tables, order, self.budget.rounds, self.found.cost + HOPE_MM
        )
        self.found.fewest_clashes = min(self.found.fewest_clashes, fewest)
        if solved is None:
            return np.inf, None
        if lane is not None:
            self._keep(lane)
        miss = fewest * self.budget.clash_guess + tables.lane(solved).short
        if miss < self.found.nearest_miss:
            self.found.nearest, self.found.nearest_miss = (tables, solved), miss
        return solved.cost + CLASH_GUESS_MM * fewest, solved

    def _keep(self, lane: Lane) -> None:
        if lane.short > 0:
            return
        laid = lane.length + self.tables.ground.prices.fold * lane.folds
        if laid < self.found.cost:
            self.found.cost, self.found.lane = laid, lane
