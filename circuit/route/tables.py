"""All legs of one layout, worked out when first asked for, and the best lane along a given order.

`Tables.solve` is a shortest path through stations, light by light: exact for one order as long as
only neighbouring legs matter. What distant legs do to each other comes in as `extra` costs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.lane import Lane, tail_fits
from circuit.route.leg_builder import PLAIN, legs_between
from circuit.route.legs import Ground, Legs
from circuit.route.stations import Stations

# Stands in for a leg that can't be laid, so that of two orders without a lane the one with fewer
# missing legs is the better. Far above any lane: 300 mm cards hold 20 lights within a few metres.
MISSING_MM = 1e5

Extra = dict[int, Floats]  # leg number -> what to add to each of its (A, B) costs


@dataclass(frozen=True, slots=True)
class Solved:
    """One order's cheapest lane: station picked at every place (the battery first), and its cost."""

    order: tuple[int, ...]
    picks: tuple[int, ...]
    cost: float


@dataclass(slots=True)
class Tables:
    """Stations and legs of one layout."""

    ground: Ground
    stations: list[Stations]
    both_ways: bool = True  # every station has its opposite, so legs serve both ways
    look: int = PLAIN
    cache: dict[tuple[int, int], Legs] = field(default_factory=dict)
    ends: list[Floats] = field(default_factory=list)
    back: list[NDArray[np.int64]] = field(default_factory=list)
    direct: Floats = field(default_factory=lambda: np.zeros((0, 0)))

    def __post_init__(self) -> None:
        places = np.concatenate([[self.ground.battery], self.ground.lights])
        # The battery's stations stand out from its centre, and a lane may cut each light's corner.
        spare = 2 * self.ground.sizes.off_midline + np.where(np.arange(len(places)) == 0, 6.0, 0.0)
        self.direct = np.maximum(np.abs(places[:, None] - places[None, :]) - spare[:, None], 0.0)
        for stations in self.stations:
            tail = stations.at + self.ground.sizes.tail * stations.ahead
            self.ends.append(np.where(tail_fits(tail, stations.ahead, self.ground), 0.0, MISSING_MM))
            if self.both_ways:
                self.back.append(_turned_about(stations))

    def legs(self, a: int, b: int) -> Legs:
        """Legs from place a (0 is the battery) to light b."""
        found = self.cache.get((a, b))
        if found is None:
            found = legs_between(a, b, self.stations[a], self.stations[b], self.ground, self.look)
            found.cost[np.isinf(found.cost)] = MISSING_MM
            self.cache[(a, b)] = found
            if a != 0 and self.both_ways:  # the same legs walked the other way
                ra, rb = self.back[a], self.back[b]
                pick = np.ix_(ra, rb)
                self.cache[(b, a)] = Legs(
                    np.ascontiguousarray(found.cost[pick].T),
                    np.ascontiguousarray(found.folds[pick].T),
                    np.ascontiguousarray(found.second[pick].T),
                    np.ascontiguousarray(found.first[pick].T),
                    np.ascontiguousarray(found.short[pick].T),
                    found.least,
                )
        return found

    def floor(self, order: Sequence[int]) -> float:
        """No lane along `order` costs less: each leg at its own cheapest, or straight where it
        has not been worked out yet."""
        total, at = 0.0, 0
        for place in order:
            known = self.cache.get((at, place))
            total += float(self.direct[at, place]) if known is None else known.least
            at = place
        return total

    def forward(self, order: Sequence[int], extra: Extra | None = None) -> list[Floats]:
        """Cheapest cost of reaching every station along the order, the battery's stations first."""
        reach = [np.zeros(len(self.stations[0]))]
        at = 0
        for number, place in enumerate(order):
            cost = self.legs(at, place).cost
            if extra and number in extra:
                cost = cost + extra[number]
            reach.append((reach[-1][:, None] + cost).min(axis=0))
            at = place
        return reach

    def backward(self, order: Sequence[int], extra: Extra | None = None) -> list[Floats]:
        """Cheapest cost from every station along the order to the lane's end."""
        left = [self.ends[order[-1]]]
        for number in range(len(order) - 1, -1, -1):
            a = order[number - 1] if number else 0
            cost = self.legs(a, order[number]).cost
            if extra and number in extra:
                cost = cost + extra[number]
            left.append((cost + left[-1][None, :]).min(axis=1))
        return left[::-1]

    def cost(self, order: Sequence[int]) -> float:
        """Cheapest lane along the order, without saying which."""
        reach = np.zeros(len(self.stations[0]))
        at = 0
        for place in order:
            reach = (reach[:, None] + self.legs(at, place).cost).min(axis=0)
            at = place
        return float((reach + self.ends[order[-1]]).min())

    def solve(self, order: Sequence[int], extra: Extra | None = None) -> Solved | None:
        """The cheapest lane along the order, or None when some leg can't be laid at all."""
        reach = self.forward(order, extra)
        final = reach[-1] + self.ends[order[-1]]
        pick = int(np.argmin(final))
        if final[pick] >= MISSING_MM:
            return None
        picks = [pick]
        for number in range(len(order) - 1, -1, -1):
            a = order[number - 1] if number else 0
            cost = self.legs(a, order[number]).cost[:, pick]
            if extra and number in extra:
                cost = cost + extra[number][:, pick]
            pick = int(np.argmin(reach[number] + cost))
            picks.append(pick)
        return Solved(tuple(order), tuple(reversed(picks)), float(final.min()))

    def lane(self, solved: Solved) -> Lane:
        """The solved order's midline, its blunt end as close to the last light as allowed."""
        points = [complex(self.stations[0].at[solved.picks[0]])]
        run_of_light: list[int] = []
        at, short = 0, 0.0
        for number, place in enumerate(solved.order):
            a, b = solved.picks[number], solved.picks[number + 1]
            legs = self.legs(at, place)
            count = int(legs.folds[a, b])
            if count >= 1:
                points.append(complex(legs.first[a, b]))
            if count == 2:
                points.append(complex(legs.second[a, b]))
            run_of_light.append(len(points) - 1)
            short += float(legs.short[a, b])
            at = place
        last = self.stations[solved.order[-1]]
        pick = solved.picks[-1]
        points.append(complex(last.at[pick] + self.ground.sizes.tail * last.ahead[pick]))
        return Lane(np.array(points), tuple(run_of_light), solved.order, short)


def _turned_about(stations: Stations) -> NDArray[np.int64]:
    """For each station the one with the same place and line and the opposite heading."""
    away = (
        np.abs(stations.at[:, None] - stations.at[None, :])
        + np.abs(stations.ahead[:, None] + stations.ahead[None, :])
        + (stations.line[:, None] != stations.line[None, :])
    )
    return np.asarray(np.argmin(away, axis=1))
