"""The coded reference square's pattern."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

CELLS = 6  # across the black: four bits and the border


def white_cells(side_mm: float) -> NDArray[np.bool_]:
    """(6, 6) cells of the DICT_4X4_50 marker for that side, with its black border; True is white."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return np.asarray(cv2.aruco.generateImageMarker(dictionary, round(side_mm), CELLS)) > 127
