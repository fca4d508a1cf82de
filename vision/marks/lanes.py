"""Strokes that run side by side: the two circuit lines of a pencilled lane.

In:    `Ink` and `Strokes`.
Out:   `Lane`: how far the lines lie apart and which stroke points belong to them, or None.
Fails: never.

Circuit lines keep one distance from each other all along, wherever they turn. Outlines, letters and
measuring lines have the odd neighbour at some distance, but not one distance again and again.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.marks.ink import BoolImage, Ink
from vision.marks.strokes import Strokes

Floats = NDArray[np.float64]

APART_MM = (2.6, 7.6)  # chosen: tape of 2 to 5 mm with a gap of 1 to 3 mm, centre to centre
APART_STEP_MM = 0.2
TOLERANCE_MM = 0.5  # the hand's
PARALLEL_DEG = 14.0
LEAST_EXTENT_MM = 5.0  # a letter's strokes are shorter
LEAST_LENGTH_MM = 18.0  # chosen: of line that has a neighbour; a lane from battery to light has more
LEAST_PEAK = 2.0  # chosen: how far the lane's distance stands out from the usual
LEAST_RUN_MM = 3.0
NEAR_BATTERY_MM = 8.0
NEAR_BATTERY_POINTS = 12


@dataclass(frozen=True, slots=True)
class Lane:
    """apart_mm : distance of the two lines' middles. on_lane : (N,) True for stroke points with a
    neighbour at that distance. partner : (N, 2) where that neighbour is (nan elsewhere). [mm]"""

    apart_mm: float
    on_lane: NDArray[np.bool_]
    partner_mm: Floats


def find_lane(ink: Ink, strokes: Strokes, usable: BoolImage) -> Lane | None:
    """The pencilled lane, if there is one; `usable` (h, w) are the thinned strokes to look at."""
    points = strokes.points_mm
    if len(points) < 40:
        return None
    at = np.round(ink.mm_to_work(points)).astype(int)
    wanted = usable[at[:, 1], at[:, 0]] & (_extents(ink, usable, at) > LEAST_EXTENT_MM)
    if int(wanted.sum()) < 40:
        return None
    angle = np.full(usable.shape, np.nan, dtype=np.float32)
    turn = np.arctan2(strokes.along[:, 1], strokes.along[:, 0])
    angle[at[wanted, 1], at[wanted, 0]] = turn[wanted]
    across = np.column_stack([-strokes.along[:, 1], strokes.along[:, 0]])
    distances = np.arange(APART_MM[0], APART_MM[1] + 1e-9, APART_STEP_MM)
    hits = np.zeros((len(distances), 2, len(points)), dtype=np.bool_)
    for index, distance in enumerate(distances):
        for side, sign in enumerate((1.0, -1.0)):
            hits[index, side] = wanted & _parallel_at(ink, angle, points + sign * distance * across, turn)
    per_mm = hits.sum(axis=(1, 2)) / ink.work_px_per_mm
    smooth = np.convolve(per_mm, [0.25, 0.5, 1.0, 0.5, 0.25], mode="same") / 2.5
    top = int(smooth.argmax())
    usual = float(np.median(smooth))
    if smooth[top] * 2.5 / 2 < LEAST_LENGTH_MM or smooth[top] < LEAST_PEAK * max(usual, 1.0):
        return None
    near = np.abs(distances - distances[top]) <= TOLERANCE_MM
    on_lane = hits[near].any(axis=(0, 1))
    on_lane &= _in_runs(ink, usable.shape, at, on_lane)
    partner = np.full((len(points), 2), np.nan)
    for index in np.argsort(-np.abs(distances - distances[top])):
        if not near[index]:
            continue
        for side, sign in enumerate((1.0, -1.0)):
            here = hits[index, side] & on_lane
            partner[here] = points[here] + sign * distances[index] * across[here]
    return Lane(float(distances[top]), on_lane, partner)


def starts_at(strokes: Strokes, lane: Lane, x_mm: float, y_mm: float, radius_mm: float) -> bool:
    """Whether the lane comes up to the battery circle: side by side in sight of it, one line either way."""
    middle = (strokes.points_mm[lane.on_lane] + lane.partner_mm[lane.on_lane]) / 2
    away = np.hypot(middle[:, 0] - x_mm, middle[:, 1] - y_mm)
    return int((away < radius_mm + NEAR_BATTERY_MM).sum()) >= NEAR_BATTERY_POINTS


def _parallel_at(ink: Ink, angle: NDArray[np.float32], spots: Floats, turn: Floats) -> NDArray[np.bool_]:
    """Whether at each spot, or one pixel beside it, runs a stroke the same way."""
    at = np.round(ink.mm_to_work(spots)).astype(int)
    found = np.zeros(len(spots), dtype=np.bool_)
    height, width = angle.shape
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            x, y = at[:, 0] + dx, at[:, 1] + dy
            inside = (x >= 0) & (y >= 0) & (x < width) & (y < height)
            seen = angle[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)]
            with np.errstate(invalid="ignore"):
                apart = np.abs((seen - turn + np.pi / 2) % np.pi - np.pi / 2)
                found |= inside & (apart < np.radians(PARALLEL_DEG))
    return found


def _extents(ink: Ink, usable: BoolImage, at: NDArray[np.intp]) -> Floats:
    _, labels, stats, _ = cv2.connectedComponentsWithStats(usable.astype(np.uint8), connectivity=8)
    across = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) / ink.work_px_per_mm
    across[0] = 0.0
    return np.asarray(across[labels[at[:, 1], at[:, 0]]], dtype=np.float64)


def _in_runs(
    ink: Ink, shape: tuple[int, ...], at: NDArray[np.intp], on_lane: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Only points in runs of some length: a crossing has a neighbour by chance for a pixel or two."""
    picture = np.zeros(shape, dtype=np.uint8)
    picture[at[on_lane, 1], at[on_lane, 0]] = 1
    joined = cv2.morphologyEx(picture, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    across = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]) / ink.work_px_per_mm
    across[0] = 0.0
    return np.asarray(across[labels[at[:, 1], at[:, 0]]] >= LEAST_RUN_MM, dtype=np.bool_)
