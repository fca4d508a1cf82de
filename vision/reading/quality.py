"""Whether a photo is light and sharp enough to be read at all.

Blur is judged on the card in millimetres, against the smallest mark: a pencil dot of 2 mm.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from vision.arrays import RgbImage
from vision.reading.card.lines import find_segments
from vision.reading.edges.find_edge import find_edge
from vision.reading.edges.profiles import EdgePoints, straight_course
from vision.reading.small_picture import SmallPicture

LEAST_LIGHT = 18.0  # L* of the lightest hundredth below which nothing can be made out; chosen
LEAST_PX_PER_MM = 2.6  # chosen: a dot of 2 mm then covers 5 px and a pencil line 1 px
MOST_BLUR_MM = 0.50  # chosen: a dot of 2 mm keeps half its depth; two dots 5 mm apart stay two
MOST_BLUR_SHARE = 0.0016  # of the long side, where no scale is known: about the same on a usual photo
LEAST_BLUR_PX = 2.8  # a photo made small is never sharper than a pixel or two
LIGHTEST = 0.99  # the quantile that stands for the lightest hundredth
MOST_PIECES = 14  # chosen: longest pieces that are measured
# Chosen: of the search for pieces, see `find_segments`.
PIECES_BLUR_PX, PIECES_GAIN, PIECES_SIZE = 1.0, 2.5, 0.8
PIECE_POINTS, PIECE_ENDS, PIECE_REACH_PX = 24, 0.05, 6.0  # chosen: along a piece, and across it in small px
LEAST_CONTRAST = 0.02  # chosen: linear light
SHARPER = 0.25  # the quantile that speaks for the sharper quarter
FINE_PX, COARSE_PX = 0.7, 2.5  # the scales at which slopes are compared when a photo may be shaken
# See `shaken`: left of the best direction in the worst one, alone and where the detail is weak, too.
SHAKEN_EVEN, WEAK_EVEN, WEAK_DETAIL = 0.5, 0.78, 2.0
_ANGLES = np.arange(8) * np.pi / 8
_COSINES, _SINES = np.cos(_ANGLES), np.sin(_ANGLES)


def too_dark(small: SmallPicture) -> bool:
    """True for a photo taken in the dark or with the lens covered."""
    return bool(np.quantile(small.lab[::2, ::2, 0], LIGHTEST) < LEAST_LIGHT)


def sharpest_blur_px(pixels: RgbImage, small: SmallPicture, most: int = MOST_PIECES) -> float | None:
    """Standard deviation of the blur of the sharper edges in the picture [photo px]; None when it shows
    no edge long enough to tell.

    The longest straight pieces are measured at full size. A photo may have its background out of focus,
    so the sharper quarter of them speaks for it.
    """
    pieces = find_segments(small, PIECES_BLUR_PX, PIECES_GAIN, PIECES_SIZE)
    if len(pieces) == 0:
        return None
    lengths = np.hypot(pieces[:, 2] - pieces[:, 0], pieces[:, 3] - pieces[:, 1])
    spreads = []
    for piece in pieces[np.argsort(-lengths)[:most]]:
        ends = small.to_photo(piece.reshape(2, 2))
        course = straight_course(ends[0], ends[1], PIECE_POINTS, PIECE_ENDS)
        edge = find_edge(pixels, course, PIECE_REACH_PX / small.scale)
        if edge is not None and abs(edge.contrast) > LEAST_CONTRAST:
            spreads.append(edge.blur_px)
    return float(np.quantile(spreads, SHARPER)) if spreads else None


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


def blurred_at_large(pixels: RgbImage, small: SmallPicture) -> bool:
    """True for a photo that is out of focus or shaken, where neither square nor card is to be seen."""
    blur_px = sharpest_blur_px(pixels, small)
    return (blur_px is not None and blur_px > most_blur_px(pixels)) or shaken(small)


def shaken(small: SmallPicture) -> bool:
    """True where fine detail is missing in one direction: the phone moved.

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
    left = energies[0] / np.maximum(energies[1], 1e-9)
    even = float(left.min() / max(left.max(), 1e-9))
    return even < SHAKEN_EVEN or (even < WEAK_EVEN and float(left.min()) < WEAK_DETAIL)
