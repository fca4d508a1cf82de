"""Closed ways along the strokes that a pencil could have drawn in one go.

In:    the graph of strokes, and how dark each edge is.
Out:   `Loop`s, each a closed way with its cost; the cheapest first.
Fails: never.

A pencil that draws an outline runs straight on where other lines cross it and turns only at its own
corners. So a way that leaves a stroke which runs straight on is dear, a way straight on is cheap, and
bridged gaps and stretches much fainter than the rest cost by the millimetre.
"""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.marks.graph import Graph

Floats = NDArray[np.float64]
Step = tuple[int, bool]  # edge number, True: from its start to its stop

STRAIGHT_DEG = 30.0  # chosen: a hand-drawn line bends by less where another crosses it
CORNER_COST = 0.2
LEAVING_COST = 2.0  # for each of the two strokes that runs straight on instead
STUB_MM = 4.0  # a stroke that runs on by less is a corner drawn over its end
BRIDGE_COST_PER_MM = 0.12
FAINT_COST_PER_MM = 0.02
DEAREST = 4.5  # chosen: two wrong turns
LEAST_START_MM = 8.0  # an outline has at least one edge as long
MOST_STARTS = 14


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed way: (N, 2) points in mm without the repeated last one, its cost, and how much of it and
    the longest stretch of it that was bridged over a gap."""

    points: Floats
    cost: float
    bridged_mm: float
    longest_bridge_mm: float
    steps: tuple[Step, ...]


def find_loops(graph: Graph, darkness: dict[int, float]) -> list[Loop]:
    """The cheapest closed way through each of the longest edges; equal ones are given once."""
    if not graph.edges:
        return []
    lengths = {number: edge.length_mm for number, edge in graph.edges.items()}
    usual = _usual_darkness(graph, lengths, darkness)
    own = {
        number: _edge_cost(graph.edges[number].bridged, lengths[number], darkness.get(number, usual), usual)
        for number in graph.edges
    }
    onward = _onward(graph, lengths)
    found: dict[frozenset[int], Loop] = {}
    starts = sorted(
        (n for n, edge in graph.edges.items() if not edge.bridged and lengths[n] >= LEAST_START_MM),
        key=lambda n: -lengths[n],
    )
    covered: set[int] = set()
    for number in starts[:MOST_STARTS]:
        if number in covered:
            continue
        loop = _cheapest(graph, number, own, onward, lengths)
        if loop is None:
            continue
        key = frozenset(edge for edge, _ in loop.steps)
        if key not in found or loop.cost < found[key].cost:
            found[key] = loop
        if loop.cost < LEAVING_COST:
            covered |= key
    return sorted(found.values(), key=lambda loop: loop.cost)


def _usual_darkness(graph: Graph, lengths: dict[int, float], darkness: dict[int, float]) -> float:
    drawn = [n for n, edge in graph.edges.items() if not edge.bridged]
    if not drawn:
        return 1.0
    values = np.array([darkness.get(n, 0.0) for n in drawn])
    weights = np.array([lengths[n] for n in drawn])
    order = np.argsort(values)
    share = np.cumsum(weights[order]) / weights.sum()
    return float(values[order][min(int(np.searchsorted(share, 0.75)), len(values) - 1)])


def _edge_cost(bridged: bool, length: float, dark: float, usual: float) -> float:
    if bridged:
        return BRIDGE_COST_PER_MM * max(0.0, length - 1.0)
    return FAINT_COST_PER_MM * length * max(0.0, 0.6 - dark / max(usual, 1e-6))


def _onward(graph: Graph, lengths: dict[int, float]) -> dict[Step, list[tuple[Step, float]]]:
    """For each directed edge where it can go on, and what that turn costs."""
    heading: dict[tuple[int, int, bool], Floats] = {}
    arrivals: dict[int, list[tuple[Step, Floats]]] = {}
    for number, edge in graph.edges.items():
        loop = edge.start == edge.stop
        for node, at_start in ((edge.start, True), (edge.stop, False)):
            points = edge.points if at_start else edge.points[::-1]
            way = _heading(points)
            heading[(number, node, at_start)] = way
            arrivals.setdefault(node, []).append(((number, at_start), way))
            if loop:
                continue
    table: dict[Step, list[tuple[Step, float]]] = {}
    for ends in arrivals.values():
        turns = {(a, b): _turn(way_a, way_b) for a, way_a in ends for b, way_b in ends if a != b}
        runs_on = {
            a: any(turns[(a, b)] < STRAIGHT_DEG and lengths[b[0]] > STUB_MM for b, _ in ends if b != a)
            for a, _ in ends
        }
        for a, _ in ends:
            options = []
            for b, _ in ends:
                if a == b:
                    continue
                turn = turns[(a, b)]
                if turn < STRAIGHT_DEG:
                    cost = 0.01 * turn
                else:
                    cost = CORNER_COST + LEAVING_COST * (runs_on[a] + runs_on[b])
                options.append(((b[0], b[1]), cost))
            # arriving by the end that is `a`: the edge was walked towards it
            table[(a[0], not a[1])] = options
    return table


def _heading(points: Floats, reach_mm: float = 3.0) -> Floats:
    away = np.hypot(*(points - points[0]).T)
    far = points[min(int(np.argmax(away >= reach_mm)) or len(points) - 1, len(points) - 1)]
    near = points[int(np.argmax(away >= min(0.6, 0.3 * math.dist(far, points[0]))))]
    step = far - near
    size = float(np.hypot(*step))
    return step / size if size > 1e-9 else np.array([1.0, 0.0])


def _turn(a: Floats, b: Floats) -> float:
    """Turn in degrees on the way in along -a and out along b; 0: straight on."""
    return math.degrees(math.acos(float(np.clip(-(a * b).sum(), -1.0, 1.0))))


def _cheapest(
    graph: Graph,
    number: int,
    own: dict[int, float],
    onward: dict[Step, list[tuple[Step, float]]],
    lengths: dict[int, float],
) -> Loop | None:
    """Cheapest closed way through one edge (Dijkstra over directed edges), or None."""
    first: Step = (number, True)
    best: dict[Step, float] = {}
    came: dict[Step, Step] = {}
    queue: list[tuple[float, float, Step]] = []
    for step, cost in onward.get(first, []):
        total = cost + own[step[0]]
        heapq.heappush(queue, (total, 0.0, step))
        if total < best.get(step, math.inf):
            best[step] = total
            came[step] = first
    while queue:
        cost, _, step = heapq.heappop(queue)
        if cost > best.get(step, math.inf) or cost > DEAREST:
            continue
        if step == first:
            break
        for following, turn in onward.get(step, []):
            if following[0] == number and following != first:
                continue
            total = cost + turn + own[following[0]]
            if total < best.get(following, math.inf):
                best[following] = total
                came[following] = step
                heapq.heappush(queue, (total, 0.0, following))
    if first not in came or best.get(first, math.inf) > DEAREST:
        return None
    steps = [first]
    at = came[first]
    while at != first:
        steps.append(at)
        at = came[at]
    steps.reverse()
    steps = [steps[-1], *steps[:-1]]
    if len({edge for edge, _ in steps}) < len(steps):
        return None
    parts, bridges = [], []
    for edge_number, forward in steps:
        edge = graph.edges[edge_number]
        parts.append((edge.points if forward else edge.points[::-1])[:-1])
        if edge.bridged:
            bridges.append(lengths[edge_number])
    return Loop(np.vstack(parts), best[first], sum(bridges), max(bridges, default=0.0), tuple(steps))
