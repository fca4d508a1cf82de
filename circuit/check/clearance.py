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
- Several places on one pair of runs, or close together, are told of once, at the worst.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.check.finding import Finding, in_quadrature
from circuit.check.marks import edge_distances
from circuit.check.scene import Polarity, Scene
from circuit.check.tape import Tape, strip_parts
from circuit.layout import Point
from circuit.rules import limit_of

# Places nearer than this are one problem to a maker's eye: chosen. [mm]
_ONE_PLACE_MM = 10.0
# A polygon of this many sides a quarter keeps within 0.2 micrometres of a 24.5 mm cell's circle.
_ROUND = 256
# Slices of tape against its own far part are tried at this step where the 3 widths bind. [mm]
_SLICE_MM = 0.1


def measure_trace_to_trace(scene: Scene) -> Iterator[Finding]:
    """Positive to negative: the worst place, and others away from it."""
    positive, negative = (_outside_cell(scene, scene.tapes[name].pieces) for name in ("positive", "negative"))
    if len(positive) == 0 or len(negative) == 0:
        return
    bound = in_quadrature(scene.line_uncertainty_mm("positive"), scene.line_uncertainty_mm("negative"))
    near = limit_of(scene.settings, "traces-too-close") + bound
    gaps = shapely.distance(positive[:, None], negative[None, :])
    found = [(float(gaps[i, j]), _between(positive[i], negative[j])) for i, j in np.argwhere(gaps < near)]
    for gap, place in _worst_places(found):
        yield Finding(
            "traces-too-close", "close" if gap > 0 else "touch", ("positive", "negative"), place, gap, bound
        )


def measure_trace_to_itself(scene: Scene) -> Iterator[Finding]:
    """Each tape to its own far parts: the worst place, and others away from it."""
    limit = limit_of(scene.settings, "trace-overlaps-itself")
    widths = limit_of(scene.settings, "trace-overlaps-itself.along-widths")
    for polarity, tape in scene.tapes.items():
        bound = in_quadrature(scene.line_uncertainty_mm(polarity), scene.line_uncertainty_mm(polarity))
        found = _far_part_gaps(tape, widths * tape.width_mm, limit + bound)
        for gap, place in _worst_places(found):
            yield Finding(
                "trace-overlaps-itself", "close" if gap > 0 else "touch", (polarity,), place, gap, bound
            )


def measure_trace_to_edge(scene: Scene) -> Iterator[Finding]:
    """Each tape to each of the card's edges, at the nearest corners of its copper."""
    limit = limit_of(scene.settings, "trace-near-edge")
    for polarity, tape in scene.tapes.items():
        bound = in_quadrature(scene.line_uncertainty_mm(polarity), scene.edge_uncertainty_mm)
        by_side: dict[str, list[tuple[float, Point]]] = {}
        for x, y in np.unique(shapely.get_coordinates(tape.pieces), axis=0):
            for side, (gap, _) in edge_distances((float(x), float(y)), scene.layout.card).items():
                if gap < limit + bound:
                    by_side.setdefault(side, []).append((gap, (float(x), float(y))))
        for side, found in by_side.items():
            for gap, place in _worst_places(found):
                yield _edge_finding(polarity, side, gap, place, bound)


def nearest_of_traces(scene: Scene) -> tuple[float, Point, Point] | None:
    """Gap between the two tapes where they come nearest outside the cell, and its two ends. [mm]

    None without traces, or when a whole tape lies under the cell.
    """
    if not scene.tapes:
        return None
    positive, negative = (_outside_cell(scene, scene.tapes[name].pieces) for name in ("positive", "negative"))
    if len(positive) == 0 or len(negative) == 0:
        return None
    one, other = shapely.union_all(positive), shapely.union_all(negative)
    (ax, ay), (bx, by) = shapely.shortest_line(one, other).coords
    return float(shapely.distance(one, other)), (float(ax), float(ay)), (float(bx), float(by))


def nearest_of_trace_to_edge(scene: Scene, polarity: Polarity) -> tuple[float, Point, Point, str]:
    """Gap from one tape to the card's nearest edge, its two ends, and the edge's name. [mm]"""
    best: tuple[float, Point, Point, str] | None = None
    for x, y in shapely.get_coordinates(scene.tapes[polarity].pieces):
        here = (float(x), float(y))
        for side, (gap, edge) in edge_distances(here, scene.layout.card).items():
            if best is None or gap < best[0]:
                best = (gap, here, edge, side)
    if best is None:
        raise ValueError(f"the {polarity} trace has no length")
    return best


def _edge_finding(polarity: Polarity, side: str, gap: float, place: Point, bound: float) -> Finding:
    return Finding(
        "trace-near-edge",
        "close" if gap >= 0 else "over",
        (polarity, "card"),
        place,
        gap,
        bound,
        lengths={"depth": -gap},
        words={"side": side},
    )


def _outside_cell(scene: Scene, pieces: NDArray[Any]) -> NDArray[Any]:
    if scene.battery is None:
        return pieces
    cell = shapely.Point(scene.battery.centre).buffer(scene.cell_radius_mm, quad_segs=_ROUND)
    left = shapely.difference(pieces, cell)
    return np.asarray(left[~shapely.is_empty(left)])


def _far_part_gaps(tape: Tape, apart_mm: float, near_mm: float) -> list[tuple[float, Point]]:
    """Gaps below `near_mm` between parts of one tape more than `apart_mm` of centre line apart."""
    found: list[tuple[float, Point]] = []
    strips, corners, along = tape.strips, tape.corners, tape.starts_along
    count = len(strips)

    def note(first: NDArray[Any], second: NDArray[Any]) -> None:
        gaps = shapely.distance(first, second)
        if len(gaps):
            k = int(np.argmin(gaps))
            if gaps[k] < near_mm:
                found.append((float(gaps[k]), _between(first[k], second[k])))

    whole = shapely.distance(strips[:, None], strips[None, :]) if count else np.empty((0, 0))
    for i in range(count):
        for j in range(i + 2, count):
            if whole[i, j] < near_mm:  # parts of the two can only be further apart
                note(*_slices(tape, i, j, apart_mm))
    if len(corners):
        to_strips = shapely.distance(corners[:, None], strips[None, :])
        for k, j in np.argwhere(to_strips < near_mm):
            if j in (k, k + 1):
                continue  # the fold's own arms
            # Corner k sits at point k + 1 of the centre line.
            here = along[k + 1]
            start, end = 0.0, float(tape.lengths[j])
            if j > k:
                start = max(start, here + apart_mm - along[j])
            else:
                end = min(end, here - apart_mm - along[j])
            if start < end:
                part = strip_parts(tape, np.array([j]), np.array([start]), np.array([end]))
                note(corners[k : k + 1], part)
        to_corners = shapely.distance(corners[:, None], corners[None, :])
        for k, m in np.argwhere(to_corners < near_mm):
            if m > k and along[m + 1] - along[k + 1] > apart_mm:
                note(corners[k : k + 1], corners[m : m + 1])
    return found


def _slices(tape: Tape, i: int, j: int, apart_mm: float) -> tuple[NDArray[Any], NDArray[Any]]:
    """Pairs of strips, the first up to a cut in run i, the second from `apart_mm` after that cut in run j."""
    length_i, length_j = float(tape.lengths[i]), float(tape.lengths[j])
    between = float(tape.starts_along[j] - tape.starts_along[i + 1])
    # A cut at s along run i asks for a start at apart - (length_i - s) - between along run j.
    first_bound = length_i + between - apart_mm
    last = min(length_i, first_bound + length_j)
    if last <= 0:
        return np.empty(0, dtype=object), np.empty(0, dtype=object)
    if first_bound >= length_i:
        cuts = np.array([length_i])
    else:
        cuts = np.arange(max(first_bound, 0.0), last, _SLICE_MM)
        cuts = np.concatenate([cuts[cuts > 0], [last]])
    starts = np.clip(cuts - first_bound, 0.0, length_j)
    ok = starts < length_j
    cuts, starts = cuts[ok], starts[ok]
    full_i, full_j = np.full(len(cuts), i), np.full(len(cuts), j)
    return (
        strip_parts(tape, full_i, np.zeros(len(cuts)), cuts),
        strip_parts(tape, full_j, starts, np.full(len(cuts), length_j)),
    )


def _between(a: Any, b: Any) -> Point:
    """The middle of the shortest way from one shape to the other; where they overlap, a point in both."""
    if shapely.intersects(a, b):
        place = shapely.intersection(a, b).representative_point()
        return (float(place.x), float(place.y))
    (ax, ay), (bx, by) = shapely.shortest_line(a, b).coords
    return ((ax + bx) / 2, (ay + by) / 2)


def _worst_places(found: list[tuple[float, Point]]) -> list[tuple[float, Point]]:
    """The worst of each cluster of places, worst first."""
    kept: list[tuple[float, Point]] = []
    for gap, place in sorted(found):
        if all(math.dist(place, other) > _ONE_PLACE_MM for _, other in kept):
            kept.append((gap, place))
    return kept
