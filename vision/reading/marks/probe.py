"""Where dark compact spots may lie: the mean ink under a small disc, larger than a stroke is wide.

In:    `Ink`.
Out:   places in card millimetres, the darkest first.
Fails: never; a card without dark spots gives none.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import FloatImage, Floats
from vision.reading.marks.ink import Ink
from vision.reading.marks.places import rings

PROBE_DIAMETER_MM = 1.5  # chosen: under the smallest light, over the widest stroke
SPACING_MM = 0.9  # chosen: candidates nearer than this are one
LEAST_INK = 0.08  # chosen: fainter than any pencil dot after a rubber
NOISE_TIMES = 8.0  # chosen: bare paper's own mean under the probe stays far below
# A fainter spot is looked at where it lies alone, as dots in glare or shadow do. Chosen: looking costs time and says
# nothing yet, so the share that the probe may see of it at a dot's distance round about is wide.
LEAST_FAINT_INK, FAINT_NOISE_TIMES = 0.05, 4.0
ALONE_MM, ALONE_SHARE = np.array([2.4, 3.0]), 0.5
ALONE_TURNS = 24  # chosen: on either circle places lie nearer than a stroke is wide twice over
MOST_BLOBS = 240  # chosen: a card full of words; more is not a layout


def probed_places(ink: Ink) -> Floats:
    """(N, 2) places where the probe sees the most ink, most of it first. [mm]"""
    size = max(3, round(PROBE_DIAMETER_MM * ink.work_px_per_mm) | 1)
    probe = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)).astype(np.float32)
    mean = cv2.filter2D(ink.work, cv2.CV_32F, probe / probe.sum())
    gap = max(3, round(SPACING_MM * 2 * ink.work_px_per_mm) | 1)
    near = cv2.getStructuringElement(cv2.MORPH_RECT, (gap, gap))
    least = max(LEAST_INK, NOISE_TIMES * ink.noise)
    least_faint = max(LEAST_FAINT_INK, FAINT_NOISE_TIMES * ink.noise)
    peaks = (mean >= cv2.dilate(mean, near)) & (mean > least_faint) & ink.work_face
    rows, columns = np.nonzero(peaks)
    seen = mean[rows, columns]
    keep = seen > least
    keep[~keep] = _alone(ink, mean, rows[~keep], columns[~keep])
    rows, columns, seen = rows[keep], columns[keep], seen[keep]
    order = np.argsort(-seen, kind="stable")[:MOST_BLOBS]
    return ink.work_to_mm(np.column_stack([columns[order], rows[order]]))


def _alone(
    ink: Ink, mean: FloatImage, rows: NDArray[np.intp], columns: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Which of (N,) places under the probe have hardly any ink about them."""
    middles = np.column_stack([columns, rows]).astype(np.float64)
    places = np.round(rings(middles, ALONE_MM * ink.work_px_per_mm, ALONE_TURNS)).astype(int)
    across, down = places[..., 0], places[..., 1]
    inside = (across >= 0) & (across < mean.shape[1]) & (down >= 0) & (down < mean.shape[0])
    around = np.where(inside, mean[down * inside, across * inside], 0.0)
    return np.asarray(around.max(axis=(1, 2)) < ALONE_SHARE * mean[rows, columns], dtype=np.bool_)
