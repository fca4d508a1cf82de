"""The coded reference square as cells, so that pages can draw it sharp at any size.

In:    the side in whole millimetres, which is the marker's id.
Out:   (6, 6) bool, row by row from the top-left, True where a cell is dark; no white margin.
Fails: ValueError for a side that has no marker.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

CELLS = 6  # the dictionary's 4 x 4 bits within a border of one dark cell
LEAST_SIDE_MM = 10
MOST_SIDE_MM = 49  # the dictionary has ids 0 to 49


def marker_cells(side_mm: int) -> NDArray[np.bool_]:
    """(6, 6), True for the dark cells of the reference square with that side. Raises ValueError for a
    side that has no marker."""
    if not LEAST_SIDE_MM <= side_mm <= MOST_SIDE_MM:
        raise ValueError(f"coded squares have sides of {LEAST_SIDE_MM} to {MOST_SIDE_MM} mm, got {side_mm}")
    import cv2  # only here: pages without a coded square need no OpenCV

    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    picture = np.asarray(cv2.aruco.generateImageMarker(dictionary, side_mm, CELLS))  # one pixel a cell
    dark: NDArray[np.bool_] = picture == 0
    return dark
