"""Find the traced outline of the window.

In:    the graph of strokes without the battery circle and the dots.
Out:   `Outline` or None, and whether another outline could be meant.
Fails: never; no closed outline of a window's size gives None.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.marks.graph import Graph
from vision.marks.ink import Ink
from vision.marks.loops import Loop, find_loops
from vision.marks.strokes import Strokes
from vision.marks.tidy import tidy_polygon

Floats = NDArray[np.float64]

LEAST_EXTENT_MM = 22.0  # chosen: a window is 30 mm or more; less leaves room for a hasty outline
LEAST_AREA_MM2 = 150.0
LEAST_WIDTH_MM = 5.5  # chosen: twice area over perimeter; two circuit lines lie 4-5 mm apart
SURE_COST = 1.6  # chosen: less than one wrong turn
SURE_BRIDGE_MM = 9.0
SURE_BRIDGED_SHARE = 0.15
RIVAL_COST = 1.0  # a rival must be this much dearer to be no rival


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed outline: (N, 2) polygon in mm, and whether it is sure."""

    polygon: Floats
    sure: bool


def find_outline(ink: Ink, strokes: Strokes, graph: Graph, ignore: Floats | None = None) -> Outline | None:
    """The outline that a pencil drew most likely in one go; `ignore` is the square's paper, whose own
    edge is no window."""
    darkness = edge_darkness(ink, strokes, graph)
    fit = [
        (loop, area)
        for loop in find_loops(graph, darkness)
        if (area := _window_area(loop)) and not _same_shape(loop.points, ignore)
    ]
    if not fit:
        return None
    # of ways that cost about the same the largest: parts of a window are no windows
    cheapest = min(loop.cost for loop, _ in fit)
    near = [(loop, area) for loop, area in fit if loop.cost < cheapest + RIVAL_COST]
    loop, _ = max(near, key=lambda item: item[1] * (1.0 - 0.25 * (item[0].cost - cheapest)))
    length = float(np.hypot(*np.diff(np.vstack([loop.points, loop.points[:1]]), axis=0).T).sum())
    rival = any(other is not loop and _overlap(other.points, loop.points) < 0.5 for other, _ in near)
    share = loop.bridged_mm / max(length, 1e-9)
    sure = (
        loop.cost <= SURE_COST
        and loop.longest_bridge_mm <= SURE_BRIDGE_MM
        and share <= SURE_BRIDGED_SHARE
        and not rival
    )
    return Outline(tidy_polygon(ink, loop.points), sure)


def edge_darkness(ink: Ink, strokes: Strokes, graph: Graph) -> dict[int, float]:
    """Mean ridge contrast along every edge."""
    darkness = {}
    for number, edge in graph.edges.items():
        darkness[number] = float(ink.sample_work(strokes.ridge, edge.points).mean())
    return darkness


def _window_area(loop: Loop) -> float | None:
    """Area of a loop that is large and wide enough for a window, else None."""
    points = loop.points.astype(np.float32)
    area = float(abs(cv2.contourArea(points)))
    (_, sides, _) = cv2.minAreaRect(points)
    length = float(cv2.arcLength(points, True))
    if area < LEAST_AREA_MM2 or max(sides) < LEAST_EXTENT_MM or 2 * area / length < LEAST_WIDTH_MM:
        return None
    return area


def _same_shape(points: Floats, other: Floats | None) -> bool:
    """The two outlines enclose nearly the same: within the margin a printed square is cut with."""
    if other is None:
        return False
    inside, outside = cv2.contourArea(points.astype(np.float32)), cv2.contourArea(other.astype(np.float32))
    apart = float(np.hypot(*(points.mean(axis=0) - other.mean(axis=0))))
    side = float(np.sqrt(abs(outside)))
    return apart < 0.15 * side and 0.8 < float(np.sqrt(abs(inside))) / max(side, 1e-6) < 1.6


def _overlap(one: Floats, other: Floats) -> float:
    """Intersection over union, on a millimetre raster."""
    low = np.minimum(one.min(axis=0), other.min(axis=0)) - 1
    size = np.ceil(np.maximum(one.max(axis=0), other.max(axis=0)) - low + 2).astype(int)
    masks = []
    for points in (one, other):
        mask = np.zeros((size[1], size[0]), dtype=np.uint8)
        cv2.fillPoly(mask, [np.round(points - low).astype(np.int32)], 1)
        masks.append(mask.astype(bool))
    union = float((masks[0] | masks[1]).sum())
    return float((masks[0] & masks[1]).sum()) / union if union else 0.0
