"""Find the traced outline of the window.

In:    the graph of strokes without the battery circle.
Out:   `Outline` or None.
Fails: never; no closed outline of a window's size gives None.

Closed strokes divide the card into faces. The window is what the strokes fence off from the card's rim:
all fenced faces that hang together, so that lines drawn across it do not matter. A face that only
passing lines fence off is peeled away: there the outline would have to leave a stroke that runs straight
on.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.marks.graph import Graph
from vision.marks.ink import Ink

Floats = NDArray[np.float64]

LEAST_EXTENT_MM = 22.0  # chosen: a window is 30 mm or more; less leaves room for a hasty outline
LEAST_AREA_MM2 = 150.0
THIN_PART_MM = 1.2  # chosen: what hangs on by or is narrower than this is a letter or a hook
SIMPLIFY_MM = 0.25  # chosen: the pencil itself wanders 0.2 mm


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed outline: (N, 2) polygon, extent along its longer side, share of it that was bridged."""

    polygon: Floats
    extent_mm: float
    area_mm2: float
    bridged: float


def find_outlines(ink: Ink, graph: Graph) -> list[Outline]:
    """Every closed outline of a window's size, the largest first."""
    fence = _draw(ink, graph)
    fenced = _fenced(fence)
    thin = max(1, round(THIN_PART_MM * ink.work_px_per_mm))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * thin + 1, 2 * thin + 1))
    core = cv2.morphologyEx(fenced, cv2.MORPH_OPEN, disc)
    found = []
    count, labels = cv2.connectedComponents(core, connectivity=4)
    for label in range(1, count):
        seed = (labels == label).astype(np.uint8)
        if int(seed.sum()) < LEAST_AREA_MM2 * ink.work_px_per_mm**2:
            continue
        # give back the corners that the disc could not reach
        grown = cv2.dilate(seed, disc) & fenced
        outline = _outline(ink, grown, graph)
        if outline is not None and outline.extent_mm >= LEAST_EXTENT_MM:
            found.append(outline)
    return sorted(found, key=lambda outline: -outline.area_mm2)


def _draw(ink: Ink, graph: Graph) -> NDArray[np.uint8]:
    picture = np.zeros(ink.work.shape, dtype=np.uint8)
    for edge in graph.edges.values():
        points = np.round(ink.mm_to_work(edge.points)).astype(np.int32)
        cv2.polylines(picture, [points.reshape(-1, 1, 2)], False, 1, 1, cv2.LINE_8)
    return picture


def _fenced(fence: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """1 on everything that can't be reached from the rim without crossing a stroke, strokes with it."""
    framed = cv2.copyMakeBorder(fence, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    _, labels = cv2.connectedComponents((framed == 0).astype(np.uint8), connectivity=4)
    outside = labels == labels[0, 0]
    inside = (~outside)[1:-1, 1:-1].astype(np.uint8)
    # strokes that fence nothing off are one pixel wide
    return np.asarray(cv2.morphologyEx(inside, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)), dtype=np.uint8)


def _outline(ink: Ink, mask: NDArray[np.uint8], graph: Graph) -> Outline | None:
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return None
    contour = max(contours, key=cv2.contourArea)
    points = ink.work_to_mm(contour.reshape(-1, 2).astype(np.float64))
    (_, (width, height), _) = cv2.minAreaRect(points.astype(np.float32))
    area = float(cv2.contourArea(points.astype(np.float32)))
    simple = cv2.approxPolyDP(points.astype(np.float32), SIMPLIFY_MM, True).reshape(-1, 2)
    if len(simple) < 3:
        return None
    return Outline(simple.astype(np.float64), float(max(width, height)), area, 0.0)
