"""Pieces of tape that come near each other: which, how near, and where a maker looks.

In:    a tape, or pairs of its pieces, numbered along it.
Out:   `Near`s.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.check.tape import Tape, strip_parts
from circuit.layout import Point
from circuit.polyline import middle_of

# Parts this much further apart than the nearest still belong to the place that is pointed at: chosen. [mm]
_ONE_PLACE_MM = 0.05
# Slices of tape against its own far part are tried at this step where the 3 widths bind. [mm]
_SLICE_MM = 0.1


@dataclass(frozen=True, order=True)
class Near:
    """Two pieces of tape near each other, or one near an edge. Pieces are numbered along their tape."""

    gap: float
    first: int
    second: int
    place: Point = (0.0, 0.0)


def worst_of_each_stretch(pairs: list[Near]) -> list[Near]:
    """The worst of each run of neighbouring pairs, worst first: one long pinch is one problem."""
    left, worst = sorted(pairs), []
    while left:
        stretch, left = [left[0]], left[1:]
        worst.append(stretch[0])
        for member in stretch:  # grows while it is walked
            joined = [
                pair
                for pair in left
                if abs(pair.first - member.first) <= 1 and abs(pair.second - member.second) <= 1
            ]
            stretch += joined
            left = [pair for pair in left if pair not in joined]
    return worst


def far_parts(tape: Tape, apart_mm: float, near_mm: float) -> list[Near]:
    """Pieces of one tape nearer than `near_mm`, with more than `apart_mm` of centre line between them.

    In the numbering of `Tape.in_order` run i is piece 2 i, and the corner that ends it 2 i + 1.
    """
    found: list[Near] = []
    strips, corners, along = tape.strips, tape.corners, tape.starts_along

    def note(first: NDArray[Any], second: NDArray[Any], first_piece: int, second_piece: int) -> None:
        gaps = shapely.distance(first, second)
        if len(gaps) and gaps.min() < near_mm:
            k = int(np.argmin(gaps))
            found.append(Near(float(gaps[k]), first_piece, second_piece, middle_between(first[k], second[k])))

    for i, j in np.argwhere(np.triu(shapely.distance(strips[:, None], strips[None, :]) < near_mm, 2)):
        note(*_slices(tape, int(i), int(j), apart_mm), 2 * int(i), 2 * int(j))
    for k, j in np.argwhere(shapely.distance(corners[:, None], strips[None, :]) < near_mm):
        if j in (k, k + 1):
            continue  # the fold's own arms
        start, end = 0.0, float(tape.lengths[j])
        fold = along[k + 1] - along[j]  # the fold's place, seen from the start of run j
        start, end = (max(start, fold + apart_mm), end) if j > k else (start, min(end, fold - apart_mm))
        if start < end:
            part = strip_parts(tape, np.array([j]), np.array([start]), np.array([end]))
            pieces = sorted((2 * int(k) + 1, 2 * int(j)))
            note(corners[k : k + 1], part, *pieces)
    for k, m in np.argwhere(np.triu(shapely.distance(corners[:, None], corners[None, :]) < near_mm, 1)):
        if along[m + 1] - along[k + 1] > apart_mm:
            note(corners[k : k + 1], corners[m : m + 1], 2 * int(k) + 1, 2 * int(m) + 1)
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


def middle_between(a: Any, b: Any) -> Point:
    """The middle of where two shapes are nearest; where they overlap, the middle of what they share.

    Two strips side by side are equally near all along, and the shortest way between them that a
    library names is then at one end: the middle of that stretch is where a maker looks.
    """
    gap = float(shapely.distance(a, b))
    shared = shapely.intersection(a, b)
    if not shared.is_empty:
        return (float(shared.centroid.x), float(shared.centroid.y))
    near = shapely.intersection(shapely.buffer(a, gap + _ONE_PLACE_MM), b)
    # Shapes that only just touch may share nothing once intersected, by rounding.
    middle = near.centroid if not near.is_empty else shapely.Point(shapely.shortest_line(a, b).coords[1])
    return middle_of(shapely.shortest_line(a, middle).coords)
