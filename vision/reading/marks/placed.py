"""Where the network sees a light: the middle and size of its map about a spot.

In:    `Likeness` and a `Blob`.
Out:   the blob as the map has it.
Fails: never.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from vision.reading.marks.blobs import LEAST_RADIUS_MM, Blob
from vision.reading.marks.likeness import Likeness
from vision.reading.ratio import over

# Measured on simulated photos: where map and rays differ by more than this, the map lies nearer in 11 of 13.
ASTRAY_MM = 0.25
ASTRAY_SIGMA_MM = 0.15  # measured there: what the map itself is off by
# Chosen: beyond a spot's rim; a dot that fell into pieces reaches so far, its neighbour does not.
REACH_MM = 1.2
WIDER = 1.2  # measured: how much wider a dot looks in the map, which knows half millimetres


def as_seen(likeness: Likeness, blob: Blob) -> Blob:
    """Middle and size that the network's map alone gives of a light."""
    shade = likeness.of("light")
    reach = blob.radius_mm + REACH_MM
    low = np.floor(likeness.to_px(np.array([[blob.x_mm - reach, blob.y_mm - reach]]))[0]).astype(int)
    high = np.ceil(likeness.to_px(np.array([[blob.x_mm + reach, blob.y_mm + reach]]))[0]).astype(int) + 1
    (left, top), (right, bottom) = np.maximum(low, 0), np.maximum(high, 0)
    part = shade[top:bottom, left:right]
    rows, columns = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    places = likeness.to_mm(np.column_stack([columns.ravel(), rows.ravel()]))
    away = np.hypot(places[:, 0] - blob.x_mm, places[:, 1] - blob.y_mm)
    weights = np.where(away < reach, part.ravel().astype(np.float64), 0.0)
    x, y = over((weights[:, None] * places).sum(axis=0), weights.sum())
    radius = max(float(np.sqrt(weights.sum() / np.pi)) / likeness.px_per_mm / WIDER, LEAST_RADIUS_MM)
    return replace(blob, x_mm=float(x), y_mm=float(y), radius_mm=radius, sigma_mm=ASTRAY_SIGMA_MM)


def far_from(blob: Blob, seen: Blob) -> bool:
    """Whether the rays were led astray."""
    return math.hypot(seen.x_mm - blob.x_mm, seen.y_mm - blob.y_mm) >= ASTRAY_MM
