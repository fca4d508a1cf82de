"""How short could any lane be: the shortest way from the battery circle through all lights.

In:    the battery's centre, the circle's radius, the lights' centres. [mm]
Out:   a `PathBound`: a length that no path can beat, and whether it is the shortest path itself.
Fails: ValueError for shapes that don't fit together. Never for size: where the exact search
       would grow too large, the Lagrangian bound alone is handed back.

Two methods work together. Held and Karp's Lagrangian bound (a spanning tree over the lights with
the cheapest way in and the cheapest way out, its node prices moved until the tree is nearly a
path) is proven for any number of lights. Their dynamic programme over sets of lights is exact; a
state is dropped once its length so far plus the same kind of bound on what is left exceeds
a path already known, which keeps twenty lights within a few thousand states.

References
----------
.. [1] M. Held, R. M. Karp, "A Dynamic Programming Approach to Sequencing Problems", J. SIAM 10
   (1962) 196-210.
.. [2] M. Held, R. M. Karp, "The Traveling-Salesman Problem and Minimum Spanning Trees", Operations
   Research 18 (1970) 1138-1162; part II, Mathematical Programming 1 (1971) 6-25.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.layout import Point

EXACT_ALWAYS_UP_TO = 13  # chosen: 13 lights never need more than 13 * 2^12 states
EXACT_TRIED_UP_TO = 30  # chosen: beyond it the states' own bounds take a minute on an even grid
STATES_AT_MOST = 60_000  # chosen: a layer of this size takes about a tenth of a second
_ASCENT_ROUNDS = 60  # chosen: the bound moves less than 0.1 % beyond this on cards
_ROUNDS_WITHOUT_GAIN = 5  # chosen: then the step is too long
_MOVED_AT_MOST = 3  # chosen, as is usual for or-opt
_SLACK = 1e-9  # relative: sums of the same lengths in another order differ by less


@dataclass(frozen=True, slots=True)
class PathBound:
    """`length_mm` is never above the shortest path; `exact` when it is that path, whose lights
    (positions in the input) are then in `order`. Otherwise `order` is the best path known."""

    length_mm: float
    exact: bool
    order: tuple[int, ...]


def shortest_path_bound(battery: Point, radius_mm: float, lights: Sequence[Point]) -> PathBound:
    """Bound on the path that starts anywhere on the battery circle and visits every light's centre.

    A light inside the circle costs nothing to reach. No lights: 0.0, exact.
    """
    if not lights:
        return PathBound(0.0, True, ())
    places = np.asarray(lights, dtype=np.float64)
    apart = np.hypot(*np.moveaxis(places[:, None] - places[None, :], 2, 0))
    start = np.maximum(np.hypot(*(places - np.asarray(battery)).T) - radius_mm, 0.0)
    return path_bound(start, apart, np.zeros(len(places)))


def path_bound(start: Floats, between: Floats, end: Floats, states_at_most: int | None = None) -> PathBound:
    """Bound on start[a] + between[a, b] + ... + end[z] over all orders of all nodes.

    `between` is symmetric, (N, N); `start` and `end` are (N,). With start = end = one city's row
    of a distance table this is the round trip through that city.

    Raises ValueError for shapes that don't fit together.
    """
    count = len(start)
    if between.shape != (count, count) or end.shape != (count,) or count == 0:
        raise ValueError(f"shapes don't fit: {start.shape}, {between.shape}, {end.shape}")
    known, order = _good_path(start, between, end)
    prices, floor = _ascend(start, between, end, known)
    cap = states_at_most
    if cap is None and count > EXACT_TRIED_UP_TO:
        return PathBound(min(floor, known), False, order)
    if cap is None:
        cap = 2**EXACT_ALWAYS_UP_TO * EXACT_ALWAYS_UP_TO if count <= EXACT_ALWAYS_UP_TO else STATES_AT_MOST
    found = _shortest_path(start, between, end, known, prices, cap)
    if found is None:
        return PathBound(min(floor, known), False, order)
    length, better = found
    if length >= known * (1 - _SLACK):  # every path beside the known one was ruled out
        return PathBound(known, True, order)
    return PathBound(length, True, better)


def path_length(start: Floats, between: Floats, end: Floats, order: Sequence[int]) -> float:
    """Length of one order; the tables are (N,), (N, N), (N,)."""
    inner = math.fsum(float(between[a, b]) for a, b in pairwise(order))
    return float(start[order[0]]) + inner + float(end[order[-1]])


def _good_path(start: Floats, between: Floats, end: Floats) -> tuple[float, tuple[int, ...]]:
    """A short path by nearest neighbour, then turning round and moving stretches while it helps."""
    count = len(start)
    best: tuple[float, tuple[int, ...]] | None = None
    for first in np.argsort(start, kind="stable")[: min(count, 4)]:
        order = [int(first)]
        left = set(range(count)) - set(order)
        while left:
            order.append(min(left, key=lambda node: (between[order[-1], node], node)))
            left.remove(order[-1])
        path = _improve(start, between, end, order)
        found = (path_length(start, between, end, path), tuple(path))
        if best is None or found[0] < best[0]:
            best = found
    assert best is not None
    return best


def _improve(start: Floats, between: Floats, end: Floats, order: list[int]) -> list[int]:
    """2-opt and or-opt on the open path until neither shortens it: every change tried, the best one made."""
    changes = _changes(len(order))
    path = np.asarray(order)
    now = path_length(start, between, end, order)
    while len(changes):
        trials = path[changes]
        lengths = (
            start[trials[:, 0]] + between[trials[:, :-1], trials[:, 1:]].sum(axis=1) + end[trials[:, -1]]
        )
        best = int(np.argmin(lengths))
        # Rounding must not pass for a gain, or two equal paths would take turns for ever.
        if lengths[best] >= now * (1 - _SLACK) - _SLACK:
            break
        path, now = trials[best], float(lengths[best])
    return [int(node) for node in path]


@cache
def _changes(count: int) -> NDArray[np.int64]:
    """Every path of so many places that one change makes of 0, 1, 2...: a stretch turned round, a short one moved."""
    order = list(range(count))
    trials = set[tuple[int, ...]]()
    for i in range(count):
        for j in range(i + 1, count + 1):
            trials.add((*order[:i], *order[i:j][::-1], *order[j:]))
            if j - i <= _MOVED_AT_MOST:
                rest = order[:i] + order[j:]
                trials |= {(*rest[:k], *order[i:j], *rest[k:]) for k in range(len(rest) + 1)}
    trials.discard(tuple(order))
    return np.array(sorted(trials), dtype=np.int64).reshape(-1, count)


def spanning_tree(costs: Floats) -> tuple[float, NDArray[np.int64]]:
    """Prim's minimum spanning tree of (N, N) costs, grown from node 0: its length, and the node that
    each of the others, from node 1 on, hangs on towards node 0."""
    count = len(costs)
    nearest = costs[0].copy()
    parent = np.zeros(count, dtype=np.int64)
    nearest[0] = math.inf
    inside = np.zeros(count, dtype=bool)
    inside[0] = True
    total = 0.0
    for _ in range(count - 1):
        node = int(np.argmin(nearest))
        total += float(nearest[node])
        inside[node] = True
        closer = (costs[node] < nearest) & ~inside
        nearest[closer] = costs[node][closer]
        parent[closer] = node
        nearest[node] = math.inf
    return total, parent[1:]


def _ascend(start: Floats, between: Floats, end: Floats, known: float) -> tuple[Floats, float]:
    """Node prices and the best bound they give (subgradient ascent on the Lagrangian)."""
    count = len(start)
    prices = np.zeros(count)
    best_prices, best = prices.copy(), -math.inf
    step = 1.0
    since = 0
    for _ in range(_ASCENT_ROUNDS):
        length, hangs_on = spanning_tree(between + prices[:, None] + prices[None, :])
        degree = np.bincount(hangs_on, minlength=len(prices))
        degree[1:] += 1
        way_in, way_out = int(np.argmin(start + prices)), int(np.argmin(end + prices))
        bound = length + float(start[way_in] + prices[way_in] + end[way_out] + prices[way_out])
        bound -= 2.0 * float(prices.sum())
        if bound > best:
            best, best_prices, since = bound, prices.copy(), 0
        else:
            since += 1
            if since >= _ROUNDS_WITHOUT_GAIN:
                step, since = step / 2, 0
        degree[way_in] += 1
        degree[way_out] += 1
        slope = (degree - 2).astype(np.float64)
        norm = float((slope**2).sum())
        if norm == 0:  # the tree is a path: nothing can be shorter
            break
        prices = prices + step * max(known - bound, 1e-6 * known) / norm * slope
    # The bound is a difference of sums: give away their rounding, never claim it.
    return best_prices, best - _SLACK * max(known, 1.0)


def _left_over(
    between: Floats, end: Floats, prices: Floats, last: NDArray[np.int64], left: NDArray[np.bool_]
) -> Floats:
    """Floor under what is still to be walked, for many states at once.

    `last` (M,) is where each state stands, `left` (M, N) what it has not visited: a spanning tree
    over those, priced, plus the cheapest way out.
    """
    count = len(prices)
    priced = between + prices[:, None] + prices[None, :]
    nearest = np.where(left, priced[last], math.inf)
    rows = np.arange(len(last))
    total = np.zeros(len(last))
    for _ in range(count):
        node = np.argmin(nearest, axis=1)
        value = nearest[rows, node]
        going = np.isfinite(value)
        if not going.any():
            break
        total += np.where(going, value, 0.0)
        closed = np.isinf(nearest)
        nearest = np.where(closed | ~going[:, None], nearest, np.minimum(nearest, priced[node]))
        nearest[rows[going], node[going]] = math.inf
    out = np.min(np.where(left, end + prices, math.inf), axis=1)
    return np.asarray(total - prices[last] - 2.0 * (left @ prices) + out)


def _shortest_path(
    start: Floats, between: Floats, end: Floats, known: float, prices: Floats, states_at_most: int
) -> tuple[float, tuple[int, ...]] | None:
    """Exact dynamic programme, layer by layer; None when a layer would grow too large.

    A length of `known` or above means that nothing beats the known path.
    """
    count = len(start)
    bits = np.int64(1) << np.arange(count, dtype=np.int64)
    mask, last, cost = bits.copy(), np.arange(count), start.astype(np.float64).copy()
    layers: list[tuple[Any, Any, Any]] = []
    limit = known * (1 + _SLACK)
    parent = np.full(count, -1)
    for size in range(1, count + 1):
        if size < count:
            left = (mask[:, None] & bits[None, :]) == 0
            keep = cost + _left_over(between, end, prices, last, left) <= limit
            mask, last, cost, parent = mask[keep], last[keep], cost[keep], parent[keep]
            left = left[keep]
        layers.append((mask, last, parent))
        if size == count or len(mask) == 0:
            break
        if len(mask) > states_at_most:
            return None
        state, node = np.nonzero(left)
        grown = cost[state] + between[last[state], node]
        good = grown <= limit
        state, node, grown = state[good], node[good], grown[good]
        grown_mask = mask[state] | bits[node]
        ranked = np.lexsort((grown, node, grown_mask))
        first = np.ones(len(ranked), dtype=bool)
        first[1:] = (np.diff(grown_mask[ranked]) != 0) | (np.diff(node[ranked]) != 0)
        chosen = ranked[first]
        mask, last, cost, parent = grown_mask[chosen], node[chosen], grown[chosen], state[chosen]
    if len(mask) == 0:
        return known, ()
    at = int(np.argmin(cost + end[last]))
    length = float(cost[at] + end[last[at]])
    order: list[int] = []
    for _, lasts, parents in reversed(layers):
        order.append(int(lasts[at]))
        at = int(parents[at])
    return length, tuple(reversed(order))
