"""What a photo's coded levels stand for: linear light, and colours as the eye tells them apart.

OpenCV's own way to CIE Lab first makes a table that takes ten times as long as all that is asked of it here.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats, RgbImage
from vision.reading.ratio import unit

# sRGB decoding as in IEC 61966-2-1:1999; phones bend the curve further, so this is near, not exact.
_CODED = np.arange(256) / 255.0
LINEAR = np.where(_CODED <= 0.04045, _CODED / 12.92, ((_CODED + 0.055) / 1.055) ** 2.4).astype(np.float32)

# CIE XYZ of linear sRGB (IEC 61966-2-1:1999), each as a share of its white's.
_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_OF_WHITE = (_XYZ / _XYZ.sum(axis=1, keepdims=True)).astype(np.float32)
# CIE 1976 L*a*b* (ISO/CIE 11664-4): the cube root of each share, near black a line that meets it.
_NEAR_BLACK = (6 / 29) ** 3
_SLOPE, _FOOT = (29 / 6) ** 2 / 3, 4 / 29
_LAB = np.array([[0, 116, 0, -16], [500, -500, 0, 0], [0, 200, -200, 0]], dtype=np.float32)


def as_lab(rgb: RgbImage) -> NDArray[np.float32]:
    """(H, W, 3) float32 CIE Lab of (H, W, 3) uint8 sRGB: L 0 to 100, a and b about -100 to 100, white D65."""
    shares = cv2.transform(cv2.LUT(rgb, LINEAR), _OF_WHITE)
    felt = np.where(
        shares > _NEAR_BLACK, cv2.pow(shares, 1 / 3), np.float32(_SLOPE) * shares + np.float32(_FOOT)
    )
    return np.asarray(cv2.transform(felt, _LAB), dtype=np.float32)


def apart_from(light: Floats, other: Floats) -> Floats:
    """What (3,) linear light has that is none of another's (3,) colour: that one's light and shade do not show in it.
    All of it where the other is black."""
    way = unit(other)
    apart: Floats = light - (light @ way) * way
    return apart
