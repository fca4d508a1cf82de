"""Coded squares: markers of OpenCV's DICT_4X4_50 whose number is their side in millimetres.

In:    the photo.
Out:   `SquareSeen`s, the largest first; [] when there is none.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np

from vision.arrays import Floats, GreyImage, RgbImage
from vision.reading.square.square_edges import SquareSeen, refine_square

SMALLEST_CODE, LARGEST_CODE = 10, 49  # ids of DICT_4X4_50 that are a side in millimetres
# Long side [px] and threshold constant of the searches for markers, each only if the one before found
# none: a dim or faint print needs a lower constant, a blurred one fewer pixels.
CODE_SEARCHES = ((1200, 7.0), (1200, 3.0), (800, 7.0), (2000, 3.0))
LEAST_ROUND_IT = 0.05  # chosen: of the long side, the way round a code; OpenCV's own 0.03 finds specks
HARDLY_LESS = 0.9  # chosen: a picture is not made smaller by less than a tenth, which would only blur it


def codes_in(grey: GreyImage, threshold_constant: float) -> list[tuple[Floats, int]]:
    """(4, 2) corners and number of each marker whose number can be a side."""
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.minMarkerPerimeterRate = LEAST_ROUND_IT
    # The white paper round the code may end close to the picture's border without harm.
    settings.minDistanceToBorder = 0
    settings.adaptiveThreshConstant = threshold_constant
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), settings)
    corners, ids, _ = detector.detectMarkers(grey)
    if ids is None:
        return []
    return [
        (quad.reshape(4, 2).astype(np.float64), int(number))
        for quad, number in zip(corners, ids.ravel(), strict=True)
        if SMALLEST_CODE <= number <= LARGEST_CODE
    ]


def find_coded_squares(pixels: RgbImage, searches: int | None = None) -> list[SquareSeen]:
    """Every coded square wholly in sight whose number can be a side, the largest first. searches : how many of
    `CODE_SEARCHES` are made at the most."""
    height, width = pixels.shape[:2]
    whole = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)

    @cache
    def smaller(scale: float) -> GreyImage:
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        return np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)

    for long_side, threshold_constant in CODE_SEARCHES[:searches]:
        scale = long_side / max(height, width)
        scale = 1.0 if scale > HARDLY_LESS else scale
        grey = whole if scale == 1.0 else smaller(scale)
        found: list[SquareSeen] = []
        for quad, number in codes_in(grey, threshold_constant):
            rough = (quad + 0.5) / scale - 0.5
            seen = refine_square(pixels, rough, 3.0 / scale, "coded", float(number))
            if seen is not None:
                found.append(seen)
        if found:
            return sorted(found, key=lambda square: -square.side_px)
    return []
