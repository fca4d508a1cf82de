"""Whether what lies just inside the card's edges is the card.

In:    the photo, the edges as laid, photo pixels per millimetre.
Out:   how far in colour a strip along an edge differs from the card farther in.

An edge that was laid along something else, a stripe of a cloth beside the card, say, has a strip of table on
its inner side. Brightness says little there, with shadows and the lamp's fall-off; colour does.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.edge_points import Course, EdgePoints, sample
from vision.middle import median
from vision.photo import RgbImage
from vision.small_picture import Floats

NEAR_MM, FARTHER_MM = np.linspace(0.5, 1.4, 7), np.linspace(3.0, 6.0, 9)  # chosen: inside of the edge
STRETCHES = 8  # of one edge
PASSED_OVER = 2  # the strangest of them: a clip may lie there, or marks
DARKEST = 1e-3  # of linear light; below it a channel is noise
# Logarithm of light, brightness left out. Measured on 19,500 edges: none of the right ones reaches it, edges that
# lie along something else over a third of their length lie at 0.065 to 0.7.
STRANGE = 0.062
STRANGE_IF_FAINT = 0.035  # where an edge is seen over little of its length: 4 of 4,750 right cards reach it


def strangest_strip(pixels: RgbImage, edges: Sequence[EdgePoints | None], px_per_mm: float) -> float:
    """The greatest difference in colour between the strip along an edge and the card farther in."""
    return max((_difference(pixels, edge, px_per_mm) for edge in edges if edge is not None), default=0.0)


def _difference(pixels: RgbImage, edge: EdgePoints, px_per_mm: float) -> float:
    inwards = -np.concatenate([NEAR_MM, FARTHER_MM]) * px_per_mm
    light = sample(pixels, Course(edge.points, edge.outward), inwards)
    parts = [part for part in np.array_split(light, STRETCHES) if len(part)]
    off = [_tint(part[:, : len(NEAR_MM)]) - _tint(part[:, len(NEAR_MM) :]) for part in parts]
    return float(np.sort(np.linalg.norm(off, axis=1))[-1 - PASSED_OVER :][0])


def _tint(light: Floats) -> Floats:
    """(3,) colour of (N, M, 3) linear light whatever its brightness."""
    middle = np.log(np.maximum(median(light.reshape(-1, 3), axis=0), DARKEST))
    tint: Floats = middle - middle.mean()
    return tint
