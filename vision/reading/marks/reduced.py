"""A straightened card at a coarser scale, and the neighbourhoods that patches on it are joined and parted with.

In:    pixels, a scale; millimetres.
Out:   pixels; a mask for OpenCV's morphology.
Fails: never.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray


def reduced(pixels: NDArray[np.uint8], scale: float) -> NDArray[np.uint8]:
    """(h, w, ...) of (H, W, ...): each pixel the mean of those that it takes the place of."""
    size = (max(1, round(pixels.shape[1] * scale)), max(1, round(pixels.shape[0] * scale)))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def disc(radius_mm: float, px_per_mm: float) -> NDArray[np.uint8]:
    """(n, n) a disc of that radius, one pixel at the least."""
    reach = max(1, round(radius_mm * px_per_mm))
    return np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1)), dtype=np.uint8
    )
