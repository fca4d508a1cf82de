"""Discs that stand alone but are too pale or too speckled to pass as dots.

In:    `Ink`, and the places that are accounted for.
Out:   `Blob`s, measured through a blur that closes the paper's grain.
Fails: never.

On rough paper a lightly filled dot is a cloud of specks: its rays end at the first gap, and it looks like
a smaller ragged thing. A round cloud of a dot's size with bare paper all round is still what a maker
may have meant, so it must not be dropped without a word.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from circuit.layout import Point
from vision.marks.blobs import Blob, measure_blobs
from vision.marks.ink import Ink

CLOUD_MM = 0.25  # smoothing that makes a cloud of specks one spot
LEAST_INK = 0.05
NOISE_TIMES = 4.0
SIZE_MM = (1.9, 6.4)  # of the smoothed spot, which is wider than the dot
MOST_LONG = 1.4
LEAST_FULL = 0.66  # of its box; a disc fills 0.785
BARE_MM = 1.2  # bare paper around it
APART_MM = 1.3  # from what is accounted for
LEAST_MIDDLE = 0.55
MOST_STRAYS = 0.25
LEAST_DIAMETER_MM = 1.6
SOFT_EDGE_MM = 1.1  # a rubbed patch fades over more than this


def find_lonely_discs(ink: Ink, taken: Sequence[Point]) -> list[Blob]:
    """Round clouds of a dot's size that lie alone and at none of the `taken` places."""
    scale = ink.work_px_per_mm
    smooth = cv2.GaussianBlur(ink.work, (0, 0), CLOUD_MM * scale)
    spots = (smooth > max(LEAST_INK, NOISE_TIMES * ink.noise)).astype(np.uint8)
    count, labels, stats, middles = cv2.connectedComponentsWithStats(spots, connectivity=8)
    starts = []
    for label in range(1, count):
        width, height = float(stats[label, cv2.CC_STAT_WIDTH]), float(stats[label, cv2.CC_STAT_HEIGHT])
        small, large = min(width, height) / scale, max(width, height) / scale
        if small < SIZE_MM[0] or large > SIZE_MM[1] or large > MOST_LONG * small:
            continue
        if stats[label, cv2.CC_STAT_AREA] < LEAST_FULL * width * height:
            continue
        middle = ink.work_to_mm(middles[label][None])[0]
        if any(np.hypot(middle[0] - x, middle[1] - y) < APART_MM for x, y in taken):
            continue
        if _alone(labels, stats[label], label, scale):
            starts.append(middle)
    if not starts:
        return []
    return [
        blob
        for blob in measure_blobs(ink, np.array(starts), smoothing_mm=CLOUD_MM)
        if blob.middle >= LEAST_MIDDLE
        and blob.strays <= MOST_STRAYS
        and 2 * blob.radius_mm >= LEAST_DIAMETER_MM
        and blob.edge_mm <= SOFT_EDGE_MM
    ]


def _alone(labels: NDArray[np.int32], stats: NDArray[np.int32], label: int, scale: float) -> bool:
    """No other mark within BARE_MM."""
    reach = round(BARE_MM * scale)
    left, top = max(0, int(stats[cv2.CC_STAT_LEFT]) - reach), max(0, int(stats[cv2.CC_STAT_TOP]) - reach)
    right = int(stats[cv2.CC_STAT_LEFT] + stats[cv2.CC_STAT_WIDTH]) + reach
    bottom = int(stats[cv2.CC_STAT_TOP] + stats[cv2.CC_STAT_HEIGHT]) + reach
    part = labels[top:bottom, left:right]
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    around = cv2.dilate((part == label).astype(np.uint8), disc) > 0
    return not bool((around & (part > 0) & (part != label)).any())
