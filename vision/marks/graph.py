"""Thinned strokes as a graph: nodes where strokes meet or end, edges between them.

In:    a one-pixel-wide picture of strokes.
Out:   `Graph`: nodes and edges in card millimetres, gaps bridged where the pencil only skipped.
Fails: never; no strokes give an empty graph.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.marks.ink import BoolImage, Ink

Floats = NDArray[np.float64]
Disc = tuple[float, float, float]  # x, y, radius in mm

SPUR_MM = 1.3  # chosen: a hook shorter than this is the thinning's or a corner's overshoot
MERGE_MM = 1.7  # chosen: two junctions this near are one crossing of two slanted strokes
HEADING_MM = 2.5  # over what length an edge's heading at its end is taken
SKIP_MM = 4.0  # chosen: how far any straight stroke may skip on rough paper
SKIP_TURN_DEG = 35.0
LONG_SKIP_MM = 12.0  # chosen: where long strokes point at one another, the pencil just ran faint
LONG_SKIP_SHARE = 0.25  # of the shorter stroke's length
LONG_SKIP_TURN_DEG = 22.0
CORNER_GAP_MM = 1.6  # chosen: a corner that was not quite closed
LONG_CORNER_GAP_MM = 3.5  # chosen: where an outline's end misses its start
LONG_CORNER_SHARE = 0.12
TOUCH_MM = 1.4  # chosen: a stroke that stops just short of another
LONG_TOUCH_MM = 3.2  # chosen: the same for a long stroke, as an outline's end is
LONG_TOUCH_SHARE = 0.15
OFFER_MM = 8.0  # chosen: as wide as a dot and a lane that hide an outline
OFFER_FROM_MM = 8.0
OFFERS = 3
DOT_SLACK_MM = 1.6  # what is missing of a stroke beside a dot that hides it


@dataclass(slots=True)
class Edge:
    """A stretch of stroke from node `start` to node `stop`; `points` run that way. [mm]"""

    start: int
    stop: int
    points: Floats
    bridged: bool = False  # not pencil but a gap that was bridged

    @property
    def length_mm(self) -> float:
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())

    def other(self, node: int) -> int:
        return self.stop if node == self.start else self.start


@dataclass(slots=True)
class Graph:
    """Nodes by number and edges by number; a closed loop has a node of its own."""

    nodes: dict[int, Floats] = field(default_factory=dict)
    edges: dict[int, Edge] = field(default_factory=dict)
    at_node: dict[int, set[int]] = field(default_factory=lambda: defaultdict(set))
    _next: int = 0

    def add_node(self, point: Floats) -> int:
        self._next += 1
        self.nodes[self._next] = np.asarray(point, dtype=np.float64)
        return self._next

    def add_edge(self, start: int, stop: int, points: Floats, bridged: bool = False) -> int:
        self._next += 1
        self.edges[self._next] = Edge(start, stop, points, bridged)
        self.at_node[start].add(self._next)
        self.at_node[stop].add(self._next)
        return self._next

    def remove_edge(self, number: int) -> None:
        edge = self.edges.pop(number)
        for node in {edge.start, edge.stop}:
            self.at_node[node].discard(number)
            if not self.at_node[node]:
                del self.at_node[node]
                del self.nodes[node]

    def degree(self, node: int) -> int:
        """How many edge ends meet there; a loop counts twice."""
        return sum(2 if self.edges[e].start == self.edges[e].stop else 1 for e in self.at_node[node])

    def heading(self, number: int, node: int, reach_mm: float = HEADING_MM) -> Floats:
        """Unit vector from `node` into the edge."""
        edge = self.edges[number]
        points = edge.points if edge.start == node else edge.points[::-1]
        travelled = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
        far = points[min(int(np.searchsorted(travelled, reach_mm)), len(points) - 1)]
        # the first pixels of a thinned stroke bend towards the junction
        near = points[min(int(np.searchsorted(travelled, 0.2 * reach_mm)), len(points) - 1)]
        step = far - near if math.dist(far, near) > 0.3 * min(reach_mm, travelled[-1]) else far - points[0]
        size = float(np.hypot(*step))
        return step / size if size > 1e-9 else np.array([1.0, 0.0])

    def ends(self) -> list[int]:
        """Nodes where a stroke stops."""
        return [node for node in list(self.nodes) if self.degree(node) == 1]


def build_graph(ink: Ink, thin: BoolImage, dots: Iterable[Disc] = ()) -> Graph:
    """Graph of the strokes in `thin`, cleaned of hooks and bridged over gaps and over `dots`."""
    graph = _trace(ink, thin)
    _merge_close(graph)
    _prune(graph)
    hidden = list(dots)
    # a stroke that a dot hides runs straight on; its ends must not be given away to what lies nearer
    _bridge(graph, hidden, over_dots_only=True)
    # what is joined first is longer then, and may be joined further
    for _ in range(2):
        _bridge(graph, hidden)
        _touch(graph)
        _join_straights(graph)
    _merge_close(graph)
    _offer(graph)
    return graph


def _trace(ink: Ink, thin: BoolImage) -> Graph:
    """Follow every chain of pixels from node to node."""
    graph = Graph()
    picture = thin.astype(np.uint8)
    around = cv2.filter2D(picture, cv2.CV_8U, np.ones((3, 3), np.float32), borderType=cv2.BORDER_CONSTANT)
    is_node = thin & (around != 3)  # itself and two neighbours
    # pixels in the elbow of a staircase have three neighbours in a row: they are clumps, too
    count, labels = cv2.connectedComponents(is_node.astype(np.uint8), connectivity=8)
    rows, columns = np.nonzero(is_node)
    which = labels[rows, columns]
    spots = ink.work_to_mm(np.column_stack([columns, rows]))
    size = np.maximum(np.bincount(which, minlength=count), 1)
    middles = np.column_stack(
        [np.bincount(which, weights=spots[:, axis], minlength=count) / size for axis in (0, 1)]
    )
    node_of = {label: graph.add_node(middles[label]) for label in range(1, count)}
    chain_rows, chain_columns = np.nonzero(thin & ~is_node)
    left = set(zip(chain_rows.tolist(), chain_columns.tolist()))
    clump = {(r, c): int(k) for r, c, k in zip(rows.tolist(), columns.tolist(), which.tolist())}
    while left:
        seed = next(iter(left))
        left.discard(seed)
        forward, stop = _walk(seed, left, clump)
        backward, start = _walk(seed, left, clump)
        pixels = [*backward[::-1], seed, *forward]
        points = ink.work_to_mm(np.array(pixels, dtype=np.float64)[:, ::-1])
        if start is None or stop is None:
            loop = graph.add_node(points[0])
            graph.add_edge(loop, loop, np.vstack([points, points[:1]]))
            continue
        a, b = node_of[start], node_of[stop]
        graph.add_edge(a, b, np.vstack([graph.nodes[a], points, graph.nodes[b]]))
    for node in [n for n in graph.nodes if not graph.at_node[n]]:
        del graph.nodes[node]
        del graph.at_node[node]
    return graph


def _walk(
    seed: tuple[int, int], left: set[tuple[int, int]], clump: dict[tuple[int, int], int]
) -> tuple[list[tuple[int, int]], int | None]:
    """Pixels from the seed on, eaten from `left`, and the clump they end at (None: nowhere)."""
    steps = ((-1, 0), (1, 0), (0, -1), (0, 1), (-1, -1), (-1, 1), (1, -1), (1, 1))
    path: list[tuple[int, int]] = []
    here, came_from = seed, None
    while True:
        onward = None
        for dr, dc in steps:
            spot = (here[0] + dr, here[1] + dc)
            if spot in left:
                onward = spot
                break
        if onward is None:
            for dr, dc in steps:
                label = clump.get((here[0] + dr, here[1] + dc))
                if label is not None and label != came_from:
                    return path, label
            return path, None
        left.discard(onward)
        path.append(onward)
        here = onward


def _merge_close(graph: Graph) -> None:
    """Draw together junctions with a very short edge between them."""
    for number in sorted(graph.edges, key=lambda e: graph.edges[e].length_mm):
        edge = graph.edges.get(number)
        if edge is None or edge.start == edge.stop or edge.length_mm > MERGE_MM:
            continue
        if graph.degree(edge.start) < 3 or graph.degree(edge.stop) < 3:
            continue
        _contract(graph, number)


def _contract(graph: Graph, number: int) -> None:
    edge = graph.edges[number]
    keep, gone = edge.start, edge.stop
    middle = (graph.nodes[keep] + graph.nodes[gone]) / 2
    others = [e for e in graph.at_node[gone] if e != number]
    graph.nodes[keep] = middle
    for other in others:
        moved = graph.edges[other]
        graph.at_node[keep].add(other)
        if moved.start == gone:
            moved.start = keep
        if moved.stop == gone:
            moved.stop = keep
    for other in list(graph.at_node[keep]):
        moved = graph.edges[other]
        if moved.start == keep:
            moved.points = np.vstack([middle, moved.points[1:]])
        if moved.stop == keep:
            moved.points = np.vstack([moved.points[:-1], middle])
    del graph.edges[number]
    graph.at_node[keep].discard(number)
    graph.at_node.pop(gone, None)
    graph.nodes.pop(gone, None)


def _prune(graph: Graph) -> None:
    """Cut short hooks off longer strokes."""
    for number in sorted(graph.edges, key=lambda e: graph.edges[e].length_mm):
        edge = graph.edges.get(number)
        if edge is None or edge.length_mm > SPUR_MM or edge.start == edge.stop:
            continue
        degrees = sorted((graph.degree(edge.start), graph.degree(edge.stop)))
        if degrees[0] == 1 and degrees[1] >= 3:
            graph.remove_edge(number)
    _join_straights(graph)


def _join_straights(graph: Graph) -> None:
    """Make one edge of two that meet where no third does."""
    for node in list(graph.nodes):
        if node not in graph.nodes or graph.degree(node) != 2 or len(graph.at_node[node]) != 2:
            continue
        first, second = sorted(graph.at_node[node])
        a, b = graph.edges[first], graph.edges[second]
        before = a.points if a.stop == node else a.points[::-1]
        after = b.points if b.start == node else b.points[::-1]
        start, stop = a.other(node), b.other(node)
        bridged = a.bridged and b.bridged
        points = np.vstack([before, after[1:]])
        graph.add_edge(start, stop, points, bridged)
        graph.remove_edge(first)
        graph.remove_edge(second)


def _bridge(graph: Graph, dots: list[Disc], over_dots_only: bool = False) -> None:
    """Join stroke ends across gaps: straight on over a skip or a dot, any way at an open corner."""
    ends = graph.ends()
    if len(ends) < 2:
        return
    points = np.array([graph.nodes[node] for node in ends])
    headings = np.array([-graph.heading(next(iter(graph.at_node[node])), node) for node in ends])
    lengths = np.array([graph.edges[next(iter(graph.at_node[node]))].length_mm for node in ends])
    offset = points[None] - points[:, None]
    gaps = np.hypot(offset[..., 0], offset[..., 1])
    widest = LONG_SKIP_MM + (max(2 * r for _, _, r in dots) if dots else 0.0)
    tries = []
    for i, j in zip(*np.nonzero(np.triu(gaps < widest, 1))):
        gap = float(gaps[i, j])
        way = offset[i, j] / max(gap, 1e-9)
        turn = max(_angle(headings[i], way), _angle(headings[j], -way)) if gap > 0.5 else 0.0
        # a short dash says little of where it is heading, and may not reach further than itself
        reach = min(SKIP_MM, 1.0 + 1.5 * float(min(lengths[i], lengths[j])))
        over_dot = any(_crosses(points[i], points[j], dot) for dot in dots)
        if over_dot:
            reach = gap + 1.0
        shorter = float(min(lengths[i], lengths[j]))
        corner = gap < min(CORNER_GAP_MM, shorter) or gap < min(
            LONG_CORNER_GAP_MM, LONG_CORNER_SHARE * shorter
        )
        faint = gap < min(LONG_SKIP_MM, LONG_SKIP_SHARE * shorter) and turn < LONG_SKIP_TURN_DEG
        if over_dots_only:
            if over_dot and turn < LONG_SKIP_TURN_DEG and shorter > 1.0:
                tries.append((gap * (1 + turn / 30.0), ends[i], ends[j]))
            continue
        if (gap < reach and turn < SKIP_TURN_DEG) or corner or faint:
            tries.append((gap * (1 + turn / 30.0), ends[i], ends[j]))
    joined: set[int] = set()
    for _, a, b in sorted(tries):
        if a in joined or b in joined:
            continue
        same = next(iter(graph.at_node[a])) == next(iter(graph.at_node[b]))
        if same and graph.edges[next(iter(graph.at_node[a]))].length_mm < 8.0:
            continue  # a letter's open bow, not an outline
        joined |= {a, b}
        graph.add_edge(a, b, np.array([graph.nodes[a], graph.nodes[b]]), bridged=True)
    _join_straights(graph)


def _crosses(a: Floats, b: Floats, dot: Disc) -> bool:
    """Both ends lie at the dot and the straight way between them leads over it."""
    middle, radius = np.array(dot[:2]), dot[2]
    if max(math.dist(a, middle), math.dist(b, middle)) > radius + DOT_SLACK_MM:
        return False
    way = b - a
    part = np.clip(float(((middle - a) * way).sum() / max(float((way**2).sum()), 1e-9)), 0, 1)
    return math.dist(a + part * way, middle) < radius + 0.3


def _angle(one: Floats, other: Floats) -> float:
    return math.degrees(math.acos(float(np.clip((one * other).sum(), -1.0, 1.0))))


def _touch(graph: Graph) -> None:
    """Join stroke ends to the stroke they stop just short of, splitting it there."""
    for node in graph.ends():
        if node not in graph.nodes or graph.degree(node) != 1:
            continue
        own = next(iter(graph.at_node[node]))
        length = graph.edges[own].length_mm
        if length < 2.0:
            continue
        reach = max(TOUCH_MM, min(LONG_TOUCH_MM, LONG_TOUCH_SHARE * length))
        point, heading = graph.nodes[node], -graph.heading(own, node)
        best: tuple[float, int, int] | None = None
        for number, edge in graph.edges.items():
            if number == own:
                continue
            offset = edge.points - point
            distance = np.hypot(offset[:, 0], offset[:, 1])
            ahead = offset @ heading > 0.5 * distance
            distance = np.where(ahead | (distance < 0.5), distance, np.inf)
            index = int(distance.argmin())
            if distance[index] < reach and (best is None or distance[index] < best[0]):
                best = (float(distance[index]), number, index)
        if best is None:
            continue
        _split_and_join(graph, node, best[1], best[2])


def _offer(graph: Graph) -> None:
    """Bridge what is left of the ends of long strokes to the nearest ends around, each to several: which
    of them was meant, a closed way through them tells."""
    ends = [
        node
        for node in graph.ends()
        if graph.edges[next(iter(graph.at_node[node]))].length_mm >= OFFER_FROM_MM
    ]
    points = {node: graph.nodes[node] for node in graph.nodes}
    offered: set[frozenset[int]] = set()
    for node in ends:
        near = sorted(
            (math.dist(points[node], point), other) for other, point in points.items() if other != node
        )
        for gap, other in near[:OFFERS]:
            if gap > OFFER_MM:
                break
            pair = frozenset((node, other))
            known = any(graph.edges[e].other(node) == other for e in graph.at_node[node])
            if pair in offered or (known and gap < OFFER_FROM_MM / 2):
                continue
            offered.add(pair)
            graph.add_edge(node, other, np.array([points[node], points[other]]), bridged=True)


def _split_and_join(graph: Graph, node: int, number: int, index: int) -> None:
    edge = graph.edges[number]
    if index == 0 or index == len(edge.points) - 1:
        target = edge.start if index == 0 else edge.stop
    else:
        target = graph.add_node(edge.points[index])
        graph.add_edge(edge.start, target, edge.points[: index + 1], edge.bridged)
        graph.add_edge(target, edge.stop, edge.points[index:], edge.bridged)
        graph.remove_edge(number)
    if target != node:
        graph.add_edge(node, target, np.array([graph.nodes[node], graph.nodes[target]]), bridged=True)
