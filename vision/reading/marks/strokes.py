"""The pencil strokes of the card, thinned to their centre lines.

In:    `Ink`, and the dots found in it.
Out:   `Strokes`: a one-pixel-wide picture of all strokes, the points on them and their directions.
Fails: never; a card without strokes gives no points.

A stroke is what is darker than its own millimetre of surroundings, so that shadows, smudges and the
lamp's falloff count for nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import BoolImage, FloatImage, Floats
from vision.reading.marks.ink import Ink, spread_of
from vision.reading.marks.thinning import thinned

NARROW_MM = 0.15  # chosen: half a thin stroke's width
WIDE_MM = 1.0  # chosen: a stroke and as much paper on both sides
LEAST_CONTRAST, NOISE_TIMES = 0.013, 4.5  # chosen: that a stroke may fade to, and over the paper's own
SHORTEST_MM = 1.2  # chosen: shorter ones are grain, specks and full stops
DIRECTION_MM = 0.5  # over what length a stroke's direction is taken
STEP_MM = 0.5  # between places along a line


@dataclass(frozen=True, slots=True)
class Strokes:
    """Thinned strokes at the ink's working scale.

    thin : (h, w) bool, one pixel wide. points_mm : (N, 2) of its pixels. along : (N, 2) unit vectors along the stroke
    there. strength : (N,) contrast to the surrounding millimetre there.
    """

    thin: BoolImage
    points_mm: Floats
    along: Floats
    strength: Floats


def trace_strokes(ink: Ink) -> Strokes:
    """Centre lines of everything that is drawn with a pencil's width."""
    scale = ink.work_px_per_mm
    narrow = cv2.GaussianBlur(ink.work, (0, 0), NARROW_MM * scale)
    ridge = np.asarray(narrow - cv2.GaussianBlur(ink.work, (0, 0), WIDE_MM * scale), dtype=np.float32)
    noise = spread_of(ridge[ink.work_face])
    drawn = (ridge > max(LEAST_CONTRAST, NOISE_TIMES * noise)).astype(np.uint8)
    drawn = cv2.morphologyEx(drawn, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(drawn, connectivity=8)
    keep = stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1) >= SHORTEST_MM * scale
    keep[0] = False
    thin = thinned(keep[labels])
    rows, columns = np.nonzero(thin)
    return Strokes(
        thin=thin,
        points_mm=ink.work_to_mm(np.column_stack([columns, rows])),
        along=_directions(np.asarray(narrow, dtype=np.float32), rows, columns, scale),
        strength=ridge[rows, columns].astype(np.float64),
    )


def spots_along(line: Floats) -> Floats:
    """(N, 2) places along a line, (M, 2), about `STEP_MM` apart, both ends among them, N >= 3. [mm]"""
    travelled = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    count = max(3, round(float(travelled[-1]) / STEP_MM) + 1)
    where = np.linspace(0.0, float(travelled[-1]), count)
    return np.column_stack([np.interp(where, travelled, line[:, axis]) for axis in (0, 1)])


def spots_round(polygon: Floats) -> Floats:
    """(N, 2) such places round a closed outline, (M, 2) without its first point at the end. [mm]"""
    return spots_along(np.vstack([polygon, polygon[:1]]))[:-1]


def beside_strokes(ink: Ink, thin: BoolImage, reach_mm: float, spots: Floats) -> BoolImage:
    """Which of (N, 2) places lie within reach of a thinned stroke."""
    reach = round(reach_mm * ink.work_px_per_mm)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    wide = np.asarray(cv2.dilate(thin.astype(np.float32), disc), dtype=np.float32)
    return np.asarray(ink.sample_work(wide, spots) > 0.5, dtype=np.bool_)


def _directions(
    smooth: FloatImage, rows: NDArray[np.intp], columns: NDArray[np.intp], scale: float
) -> Floats:
    """Unit vectors along the strokes: the structure tensor's weaker axis."""
    across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3)
    down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3)
    reach = DIRECTION_MM * scale
    xx, yy, xy = (
        np.asarray(cv2.GaussianBlur(product, (0, 0), reach))[rows, columns].astype(np.float64)
        for product in (across * across, down * down, across * down)
    )
    angle = 0.5 * np.arctan2(2 * xy, xx - yy) + np.pi / 2  # the gradient's axis, turned a quarter
    return np.column_stack([np.cos(angle), np.sin(angle)])
