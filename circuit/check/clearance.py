"""How near copper comes to copper, and to the card's edge.

In:    a `Scene` with traces.
Out:   findings, one for each place that is near enough to matter.
Fails: never.

Interpretations
- Tape is measured with the outer corner of every fold (see `circuit.check.tape`), edge to edge.
- Positive to negative counts outside the cell's circle: inside it the cell lies between the two.
  The circle is the chosen cell's, round the drawn circle's centre.
- "A trace to a far part of itself": the nearest pair of tape slices, one before the other along
  the trace, whose cuts are more than 3 tape widths of centre line apart. The two runs that meet
  in a fold, and that fold's corner, are exempt against each other whatever their length.
- A stretch of neighbouring pieces that are all too near is one problem, told of at its worst.
- A branch's tapes count like the lane's. Where one of them crosses a trace of the lane, the copper of that trace under
  the joint's clear tape is exempt against it, and nothing else is: what lies beside the clear tape is measured.
- Along a branch "far" goes on past its joint, along the lane's tape in both directions.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.check.finding import EXACT, Finding, in_quadrature
from circuit.check.marks import INWARDS, edge_distances
from circuit.check.near import Near, far_parts, middle_between, worst_of_each_stretch
from circuit.check.scene import Scene
from circuit.check.tape import Tape, tape_along
from circuit.joint import line_of
from circuit.layout import POLARITIES, Branch, Point, Polarity, Polyline
from circuit.polyline import middle_of
from circuit.rules import limit_of

# A polygon of this many sides a quarter keeps within 0.2 micrometres of a 24.5 mm cell's circle.
_ROUND = 256


def measure_trace_to_trace(scene: Scene) -> Iterator[Finding]:
    """Positive to negative: the worst of each stretch where they are near."""
    if not scene.tapes:
        return
    bound = in_quadrature(*(scene.line_uncertainty_mm(name) for name in POLARITIES))
    near = limit_of(scene.settings, "traces-too-close") + bound
    for positive, negative in _facing(scene):
        gaps = shapely.distance(positive[:, None], negative[None, :])  # nan where nothing is left of a piece
        pairs = [Near(float(gaps[i, j]), int(i), int(j)) for i, j in np.argwhere(gaps < near)]
        for worst in worst_of_each_stretch(pairs):
            place = middle_between(positive[worst.first], negative[worst.second])
            case = "close" if worst.gap > 0 else "touch"
            yield Finding("traces-too-close", case, POLARITIES, place, worst.gap, bound)


def measure_trace_to_itself(scene: Scene) -> Iterator[Finding]:
    """Each tape to its own far parts: the worst of each stretch where they are near."""
    limit = limit_of(scene.settings, "trace-overlaps-itself")
    widths = limit_of(scene.settings, "trace-overlaps-itself.along-widths")
    for polarity, tape in scene.every_tape:
        line = scene.line_uncertainty_mm(polarity)
        bound = in_quadrature(line, line)
        yield from _overlaps(polarity, far_parts(tape, widths * tape.width_mm, limit + bound), bound)
    for polarity, tape, joined in _past_joints(scene):
        far = far_parts(tape, widths * tape.width_mm, limit)
        # What lies on one side of the joint is measured with its own tape.
        yield from _overlaps(polarity, [near for near in far if near.first < joined <= near.second], 0.0)


def _overlaps(polarity: Polarity, near: list[Near], bound: float) -> Iterator[Finding]:
    for worst in worst_of_each_stretch(near):
        case = "close" if worst.gap > 0 else "touch"
        yield Finding("trace-overlaps-itself", case, (polarity,), worst.place, worst.gap, bound)


def measure_trace_to_edge(scene: Scene) -> Iterator[Finding]:
    """Each tape to each of the card's edges: the worst of each stretch that is near one."""
    limit = limit_of(scene.settings, "trace-near-edge")
    for polarity, tape in scene.every_tape:
        line = scene.line_uncertainty_mm(polarity)
        by_side: dict[str, list[Near]] = {}
        pieces = tape.in_order
        widest = max(_edge_bound(scene, side, line) for side in INWARDS)
        for index in _near_edges(pieces, scene, limit + widest):
            corners = np.unique(shapely.get_coordinates(pieces[index]), axis=0)
            for side, (gap, place) in _piece_to_edges(corners, scene).items():
                if gap < limit + _edge_bound(scene, side, line):
                    by_side.setdefault(side, []).append(Near(gap, index, index, place))
        for side, near in by_side.items():
            for worst in worst_of_each_stretch(near):
                yield Finding(
                    "trace-near-edge",
                    "close" if worst.gap >= 0 else "over",
                    (polarity, "card"),
                    worst.place,
                    worst.gap,
                    _edge_bound(scene, side, line),
                    lengths={"depth": -worst.gap},
                    words={"side": side},
                )


def nearest_of_traces(scene: Scene) -> tuple[float, Point, Point] | None:
    """Gap between the two tapes where they come nearest outside the cell, and its two ends. [mm]

    None without traces, or when a whole tape lies under the cell.
    """
    if not scene.tapes:
        return None
    best: tuple[float, Point, Point] | None = None
    # Piece by piece: a union of pieces that only share an edge can lose one of them to rounding.
    for positive, negative in _facing(scene):
        gaps = shapely.distance(positive[:, None], negative[None, :])  # nan where nothing is left of a piece
        if np.isnan(gaps).all() or (best is not None and np.nanmin(gaps) >= best[0]):
            continue
        i, j = np.unravel_index(np.nanargmin(gaps), gaps.shape)
        (ax, ay), (bx, by) = shapely.shortest_line(positive[i], negative[j]).coords
        best = float(gaps[i, j]), (float(ax), float(ay)), (float(bx), float(by))
    return best


def _facing(scene: Scene) -> Iterator[tuple[NDArray[Any], NDArray[Any]]]:
    """Pieces of a positive and of a negative tape, each lane's with each lane's, without what lies under the cell or
    under the clear tape that parts these two."""
    lanes = [
        {name: _outside_cell(scene, tape.in_order) for name, tape in lane.items()} for lane in scene.lanes
    ]
    for (i, one), (j, other) in product(enumerate(lanes), repeat=2):
        positive, negative = one["positive"], other["negative"]
        for branch, joint in enumerate(scene.joints, 1):
            cover = shapely.Polygon(joint.cover_mm)
            if joint.crossing == "positive" and (i, j) == (branch, 0):
                negative = np.asarray(shapely.difference(negative, cover))
            if joint.crossing == "negative" and (i, j) == (0, branch):
                positive = np.asarray(shapely.difference(positive, cover))
        yield positive, negative


def _past_joints(scene: Scene) -> Iterator[tuple[Polarity, Tape, int]]:
    """Each branch's tape as the end of one tape that comes along the lane, from either end, and the number in
    `Tape.in_order` of its first piece past the joint."""
    if scene.traces is None:
        return
    for branch, joint in zip(scene.traces.branches, scene.joints, strict=True):
        for polarity in POLARITIES:
            run, line = joint.run_of(polarity), line_of(scene.traces, polarity)
            for before in (line[: run + 1], line[:run:-1]):
                tape = _joined(before, middle_of(joint.contact_mm(polarity)), branch, polarity, scene)
                at = np.asarray(middle_of(joint.contact_mm(polarity)))
                joined = int(np.argmin(np.hypot(*(tape.points - at).T)))
                yield polarity, tape, 2 * joined


def _joined(before: Polyline, at: Point, branch: Branch, polarity: Polarity, scene: Scene) -> Tape:
    """The lane's tape up to a contact, then the branch's."""
    return tape_along((*before, at, *line_of(branch, polarity)[1:]), scene.lanes[0][polarity].width_mm)


def _edge_bound(scene: Scene, side: str, line_mm: float) -> float:
    """The bound on a tape's way to an edge. A routed tape keeps to the sheet, and its limit leaves room for what a
    hand cuts off a card: only a pencilled line is held against the edge as it was seen."""
    return in_quadrature(line_mm, scene.edge_uncertainty_mm(side)) if scene.drawn else 0.0


def nearest_of_trace_to_edge(scene: Scene, polarity: Polarity) -> tuple[float, Point, Point, str]:
    """Gap from one tape to the card's nearest edge, its two ends, and the edge's name. [mm]

    Raises ValueError for a trace without length.
    """
    best: tuple[float, Point, Point, str] | None = None
    for x, y in shapely.get_coordinates(np.concatenate([lane[polarity].pieces for lane in scene.lanes])):
        here = (float(x), float(y))
        for side, (gap, edge) in edge_distances(here, scene.layout.card).items():
            if best is None or gap < best[0]:
                best = (gap, here, edge, side)
    if best is None:
        raise ValueError(f"the {polarity} trace has no length")
    return best


def _near_edges(pieces: NDArray[Any], scene: Scene, near_mm: float) -> list[int]:
    """Numbers of the pieces that come nearer than `near_mm` to any edge of the card, in their order."""
    corners, piece = shapely.get_coordinates(pieces, return_index=True)
    x, y = corners.T
    card = scene.layout.card
    gap = np.minimum(np.minimum(x, card.width_mm - x), np.minimum(y, card.height_mm - y))
    return [int(index) for index in np.unique(piece[gap < near_mm])]


def _piece_to_edges(corners: Floats, scene: Scene) -> dict[str, tuple[float, Point]]:
    """Side of the card -> the piece's smallest distance to it and the middle of its corners there."""
    result: dict[str, tuple[float, Point]] = {}
    distances = [edge_distances((float(x), float(y)), scene.layout.card) for x, y in corners]
    for side in distances[0]:
        gaps = np.array([each[side][0] for each in distances])
        x, y = corners[gaps <= gaps.min() + EXACT].mean(axis=0)
        result[side] = (float(gaps.min()), (float(x), float(y)))
    return result


def _outside_cell(scene: Scene, pieces: NDArray[Any]) -> NDArray[Any]:
    if scene.battery is None:
        return pieces
    cell = shapely.Point(scene.battery.centre).buffer(scene.cell_radius_mm, quad_segs=_ROUND)
    return np.asarray(shapely.difference(pieces, cell))
