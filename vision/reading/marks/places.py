"""Places on circles, and what an image holds at places.

In:    middles and radii; an image and positions in it.
Out:   positions; values.
Fails: never; outside of the image there is nothing.
"""

from __future__ import annotations

import cv2
import numpy as np

from vision.arrays import AnyFloats, FloatImage, Floats

ROW = 4096  # places read in one row; OpenCV takes at most 32,767


def rings(middles: Floats, radii: Floats, turns: int) -> Floats:
    """(N, radii, turns, 2) places on circles of (N, radii) or (radii,) round (N, 2) middles."""
    angles = np.arange(turns) * (2 * np.pi / turns)
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    places: Floats = middles[:, None, None] + radii[..., None, None] * ways
    return places


def values_at(image: FloatImage, places_px: AnyFloats) -> FloatImage:
    """(...) an image's values at (..., 2) positions, linear between pixels; 0 outside."""
    at = np.asarray(places_px, dtype=np.float32).reshape(-1, 2)
    count, shape = len(at), np.shape(places_px)[:-1]
    if count == 0:
        return np.zeros(shape, dtype=np.float32)
    rows = at[None]
    if count > ROW:
        rows = np.zeros((-(-count // ROW), ROW, 2), dtype=np.float32)
        rows.reshape(-1, 2)[:count] = at
    got = cv2.remap(image, rows, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    return np.asarray(got, dtype=np.float32).reshape(-1)[:count].reshape(shape)
