"""Strokes thinned to lines one pixel wide.

In:    (H, W) bool, true on the strokes.
Out:   (H, W) bool, true on their middle lines, joined as the strokes are.
Fails: never; an empty picture stays empty.

By hand, since the libraries that do it take longer to load than most photos take to be read. Only the pixels that
are left are looked at, so that it is quick on pictures that are mostly paper.

References
----------
.. [1] T. Y. Zhang, C. Y. Suen, "A Fast Parallel Algorithm for Thinning Digital Patterns", Communications of the ACM
   27 (1984) 236-239.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from vision.arrays import BoolImage

# A pixel's eight neighbours, from the one above on, clockwise: rows down, columns to the right.
_ROUND = ((-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1))
_CODES = 1 << len(_ROUND)  # which of them are inked, one bit each


def thinned(strokes: BoolImage) -> BoolImage:
    """The strokes' middle lines."""
    height, width = strokes.shape
    framed = np.zeros((height + 2, width + 2), dtype=np.uint8)
    framed[1:-1, 1:-1] = strokes
    inked = framed.ravel()
    steps = [down * (width + 2) + right for down, right in _ROUND]
    left, before = np.flatnonzero(inked), -1
    while len(left) != before:
        before = len(left)
        for goes in _GOES:
            code = np.zeros(len(left), dtype=np.uint8)
            for bit, step in enumerate(steps):
                code |= inked[left + step] << np.uint8(bit)
            gone = goes[code]
            inked[left[gone]] = 0
            left = left[~gone]
    return np.asarray(framed[1:-1, 1:-1] > 0, dtype=np.bool_)


def _goes() -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(256,) each: may a pixel with such neighbours go, on the south-east rim and on the north-west rim? [1]_"""
    inked = (np.arange(_CODES)[:, None] >> np.arange(len(_ROUND))) & 1 > 0
    beginnings = (~inked & np.roll(inked, -1, axis=1)).sum(axis=1)  # of inked arcs round the pixel
    count = inked.sum(axis=1)
    # An end of a line stays, and so does what joins two parts.
    rim = (count >= 2) & (count <= len(_ROUND) - 2) & (beginnings == 1)  # one with more is inside
    north, east, south, west = inked[:, ::2].T
    south_east = ~(north & east & south) & ~(east & south & west)
    north_west = ~(north & east & west) & ~(north & south & west)
    return rim & south_east, rim & north_west


_GOES = _goes()
