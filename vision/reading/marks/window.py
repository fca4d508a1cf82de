"""The traced outline of the window, from the network's map of what lies inside it.

In:    `Ink` and `Likeness`.
Out:   a `SeenWindow`, or None.
Fails: never; no window gives None.

The map knows what is inside whatever crosses the outline; where the line runs is then measured on the ink.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.marks.detour import along_strokes
from vision.reading.marks.ink import Ink
from vision.reading.marks.likeness import Likeness
from vision.reading.marks.seen import SeenWindow
from vision.reading.marks.strokes import STEP_MM, Strokes, beside_strokes, spots_round
from vision.reading.marks.tidy import tidy_polygon

LEAST_AREA_MM2 = 150.0  # chosen: a window is 30 mm or more across; less leaves room for a hasty outline
SURELY, PERHAPS = 0.8, 0.2
LEAST_FIRM = 0.9  # of what is perhaps inside surely is
SECOND_SHARE = 0.2  # another patch of this share of the area may be the window as well
LEAST_DRAWN = 0.88  # of the outline runs along a pencil stroke
LONGEST_GAP_MM = 6.0
STROKE_REACH_MM = 0.9
MOST_NOISE = 0.2  # paper has 0.004 to 0.01; beyond this no pencil line can be seen, let alone an outline
OUTLINE_SIGMA_MM = 0.15  # the hand's own wander and half a pixel


def find_outline(ink: Ink, strokes: Strokes, likeness: Likeness) -> SeenWindow | None:
    """The outline round what lies inside the window."""
    if ink.noise > MOST_NOISE:
        return None
    inside = likeness.of("window")
    patches = _patches(inside, likeness)
    if not patches:
        return None
    largest = max(patches, key=lambda patch: float(patch.sum()))
    area = float(largest.sum())
    firm = float((inside[largest] > SURELY).sum()) / max(float(_reach(inside, largest).sum()), 1.0)
    others = sum(float(patch.sum()) for patch in patches if patch is not largest)
    polygon = _simple(tidy_polygon(ink, _contour(largest, likeness)))
    if polygon is None:
        return None
    polygon = _mended(ink, strokes, likeness, polygon)
    share, gap_mm = drawn_share(ink, strokes, polygon)
    sure = (
        firm >= LEAST_FIRM
        and others < SECOND_SHARE * area
        and share >= LEAST_DRAWN
        and gap_mm <= LONGEST_GAP_MM
    )
    corners = tuple((float(x), float(y)) for x, y in polygon)
    return SeenWindow(corners, OUTLINE_SIGMA_MM, sure)


def _mended(ink: Ink, strokes: Strokes, likeness: Likeness, polygon: Floats) -> Floats:
    """The outline with its stretches over bare paper led along strokes, if more of it is drawn then."""
    led = along_strokes(ink, strokes, likeness, polygon)
    again = None if led is polygon else _simple(tidy_polygon(ink, led))
    if again is None or drawn_share(ink, strokes, again)[0] < drawn_share(ink, strokes, polygon)[0]:
        return polygon
    return again


def _simple(polygon: Floats) -> Floats | None:
    """The polygon without loops of its own line; None when nothing of a window's size is left."""
    from shapely.geometry import Polygon
    from shapely.validation import make_valid

    whole = make_valid(Polygon(polygon))
    parts = [part for part in getattr(whole, "geoms", [whole]) if part.geom_type == "Polygon"]
    largest = max(parts, key=lambda part: float(part.area), default=None)
    if largest is None or largest.area < LEAST_AREA_MM2:
        return None
    return np.asarray(largest.exterior.coords, dtype=np.float64)[:-1]


def _patches(inside: NDArray[np.float32], likeness: Likeness) -> list[NDArray[np.bool_]]:
    """Every connected patch large enough for a window."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        (inside > 0.5).astype(np.uint8), connectivity=4
    )
    least = LEAST_AREA_MM2 * likeness.px_per_mm**2
    return [labels == k for k in range(1, count) if stats[k, cv2.CC_STAT_AREA] >= least]


def _reach(inside: NDArray[np.float32], patch: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What is perhaps inside and hangs together with the patch."""
    _, labels = cv2.connectedComponents((inside > PERHAPS).astype(np.uint8), connectivity=4)
    row, column = np.argwhere(patch)[0]
    return np.asarray(labels == labels[row, column], dtype=np.bool_)


def _contour(patch: NDArray[np.bool_], likeness: Likeness) -> Floats:
    """(N, 2) outline of the patch. [mm]"""
    outlines, _ = cv2.findContours(patch.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return likeness.to_mm(max(outlines, key=cv2.contourArea).reshape(-1, 2).astype(np.float64))


def drawn_share(ink: Ink, strokes: Strokes, polygon: Floats) -> tuple[float, float]:
    """Share of the outline, (N, 2), that has a pencil stroke beside it, and the longest stretch without. [mm]"""
    near = beside_strokes(ink, strokes.thin, STROKE_REACH_MM, spots_round(polygon))
    if not near.any():
        return 0.0, len(near) * STEP_MM
    from_drawn = np.roll(near, -int(near.argmax()))
    ends_at = np.flatnonzero(np.append(from_drawn, True))
    return float(near.mean()), float(np.diff(ends_at).max() - 1) * STEP_MM
