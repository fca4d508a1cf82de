"""Make a clean polyline or polygon of a traced stroke: on the stroke's middle, straight between corners.

In:    points along a stroke, a pixel or so off its middle.
Out:   few points: corners where the stroke has corners, close points where it is round.
Fails: never.
"""

from __future__ import annotations

import cv2
import numpy as np

from vision.arrays import Floats
from vision.reading.edges.profiles import evenly
from vision.reading.marks.ink import Ink
from vision.reading.marks.strokes import spots_along, spots_round
from vision.reading.ratio import over, unit

# How far aside the stroke's middle is looked for; chosen: under half a pixel.
REACH_MM, ASIDE_STEP_MM = 0.6, 0.1
WANDER_MM = 0.25  # chosen: the pencil itself wanders 0.2 mm
# Chosen: the spread within which ink counts, so that a line beside the stroke does not draw it over.
NEAR_MM = 0.4
PALE_SHARE = 0.3  # chosen: of the darkest ink across; paler is a blurred rim's
LEAST_INK = 0.02  # chosen: paper's noise; where no more is seen the point stays


def tidy_polygon(ink: Ink, points: Floats) -> Floats:
    """(N, 2) closed polygon, N >= 3, without the repeated last point."""
    ring = spots_round(points)
    ring = _onto_stroke(ink, ring, closed=True)
    simple = cv2.approxPolyDP(ring.astype(np.float32), WANDER_MM, True).reshape(-1, 2).astype(np.float64)
    return simple if len(simple) >= 3 else ring


def tidy_line(ink: Ink, points: Floats) -> Floats:
    """(N, 2) open polyline, N >= 2."""
    line = _onto_stroke(ink, spots_along(points), closed=False)
    simple = cv2.approxPolyDP(line.astype(np.float32), WANDER_MM, False)
    return np.asarray(simple.reshape(-1, 2), dtype=np.float64)


def _onto_stroke(ink: Ink, line: Floats, closed: bool) -> Floats:
    """Every point moved across the stroke to the middle of its ink."""
    ahead = np.roll(line, -1, axis=0) - np.roll(line, 1, axis=0)
    if not closed:
        ahead[0], ahead[-1] = line[1] - line[0], line[-1] - line[-2]
    across = unit(np.column_stack([-ahead[:, 1], ahead[:, 0]]))
    aside = evenly(REACH_MM, ASIDE_STEP_MM)
    spots = line[:, None, :] + aside[None, :, None] * across[:, None, :]
    seen = ink.sample(spots).astype(np.float64)
    dark = np.maximum(seen - PALE_SHARE * seen.max(axis=1, keepdims=True), 0.0)
    weight = dark * np.exp(-((aside / NEAR_MM) ** 2))
    total = weight.sum(axis=1)
    shift = np.where(total > LEAST_INK, over((weight * aside).sum(axis=1), total), 0.0)
    return line + shift[:, None] * across
