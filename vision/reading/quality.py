"""Whether a photo is light and sharp enough to be read at all.

Blur is judged on the card in millimetres, against the smallest mark: a pencil dot of 2 mm.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from vision.arrays import RgbImage
from vision.reading.edges.profiles import EdgePoints
from vision.reading.ratio import over
from vision.reading.small_picture import SmallPicture

LEAST_LIGHT = 18.0  # L* of the lightest hundredth below which nothing can be made out; chosen
LEAST_PX_PER_MM = 2.6  # chosen: a dot of 2 mm then covers 5 px and a pencil line 1 px
MOST_BLUR_MM = 0.50  # chosen: a dot of 2 mm keeps half its depth; two dots 5 mm apart stay two
MOST_BLUR_SHARE = 0.0016  # of the long side, where no scale is known: about the same on a usual photo
LEAST_BLUR_PX = 2.8  # a photo made small is never sharper than a pixel or two
LIGHTEST = 0.99  # the quantile that stands for the lightest hundredth
FINE_PX, COARSE_PX = 0.7, 2.5  # the scales at which slopes are compared when a photo may be shaken
# See `blurred_at_large`: left of the best direction in the worst one, alone and where the detail is weak, too.
SHAKEN_EVEN, WEAK_EVEN, WEAK_DETAIL = 0.5, 0.78, 2.0
# What a blur of 0.6 % of the long side leaves of an edge: ((5^2 + 2.5^2) / (5^2 + 0.7^2))^2.
LEAST_DETAIL = 1.5
_ANGLES = np.arange(8) * np.pi / 8
_COSINES, _SINES = np.cos(_ANGLES), np.sin(_ANGLES)


def too_dark(small: SmallPicture) -> bool:
    """True for a photo taken in the dark or with the lens covered."""
    return bool(np.quantile(small.lab[::2, ::2, 0], LIGHTEST) < LEAST_LIGHT)


def most_blur_px(pixels: RgbImage) -> float:
    """The blur that a photo may have where its scale is not known."""
    return max(MOST_BLUR_SHARE * float(max(pixels.shape[:2])), LEAST_BLUR_PX)


def blur_across(sides: Sequence[EdgePoints | None]) -> float:
    """Standard deviation of the blur across up to four edges, in order round a shape. [px]

    A shaken photo is blurred one way only, so opposite edges speak for one direction, and the worse
    direction counts; of two opposite edges the sharper, since a shadow beside an edge widens it.
    """
    pairs = [[side.blur_px for side in sides[k::2] if side is not None] for k in (0, 1)]
    return max((min(pair) for pair in pairs if pair), default=0.0)


def blurred_at_large(small: SmallPicture) -> bool:
    """True where fine detail is missing in one direction, since the phone moved, or in all: for a photo that shows
    neither square nor card.

    The energy of the slopes at a fine and at a coarse scale is compared in eight directions. Measured on
    packaged and practice photos: 0.72 or more of the best direction is left in the worst one, in shaken
    ones 0.4 to 0.75; wood grain comes nearest, but with its detail still there (2.6 times the coarse energy).
    """
    light = small.lab[:, :, 0]
    energies = []
    for sigma in (FINE_PX, COARSE_PX):
        smooth = cv2.GaussianBlur(light, (0, 0), sigma)
        down, right = np.gradient(smooth)
        energies.append(
            np.array([float(np.mean(np.square(right * c + down * s))) for c, s in zip(_COSINES, _SINES)])
        )
    left = over(energies[0], energies[1])
    even = float(over(left.min(), left.max()))
    detail = float(left.min())
    return even < SHAKEN_EVEN or (even < WEAK_EVEN and detail < WEAK_DETAIL) or detail < LEAST_DETAIL
