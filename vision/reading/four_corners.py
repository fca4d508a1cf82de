"""Four corners about a convex outline, for what may be a card or a square as it is seen, and measures of such four.

In:    points round a shape; corners.
Out:   (4, 2) corners, clockwise as seen, None for what is no four-sided shape; lengths, a distance.
Fails: never.
"""

from __future__ import annotations

import cv2
import numpy as np

from vision.arrays import Floats

TREMBLE = 0.006  # of the way round; chosen, about a tooth of the reduced picture's pixels
# Area of four sides about a shape over its own. Measured on noisy quadrilaterals: up to 1.06; a regular pentagon
# has 1.45, a circle 1.43.
MOST_ADDED = 1.15


def four_corners(points: Floats, most_added: float = MOST_ADDED) -> Floats | None:
    """The four-sided shape about the hull of (N, 2) points that adds least to it; most_added : its area over the
    hull's, from which it is another shape."""
    hull = cv2.convexHull(np.asarray(points, dtype=np.float32).reshape(-1, 1, 2))
    # Without its tremble first: the shape about it would lie outside of every tooth.
    hull = cv2.approxPolyDP(hull, TREMBLE * cv2.arcLength(hull, True), True)
    area = float(cv2.contourArea(hull))
    if len(hull) < 4 or area <= 0:
        return None
    corners = cv2.approxPolyN(hull, 4, ensure_convex=True).reshape(-1, 2).astype(np.float32)
    if len(corners) != 4 or cv2.contourArea(corners) > most_added * area:
        return None
    clockwise = corners if cv2.contourArea(corners, oriented=True) > 0 else corners[::-1]
    return np.asarray(clockwise, dtype=np.float64)


# Of four corners each one's next, and each way to count them from another one.
NEXT = np.array([1, 2, 3, 0])
TURNED = (np.arange(4) - np.arange(4)[:, None]) % 4


def side_lengths(corners: Floats) -> Floats:
    """(4,) lengths of the sides of (4, 2) corners, each from its corner to the next."""
    x, y = (corners[NEXT] - corners).T
    return np.asarray(np.hypot(x, y), dtype=np.float64)


def corners_apart(first: Floats, second: Floats) -> float:
    """Distance of the farthest of (4, 2) corners from its counterpart, whichever corner comes first."""
    off = first[TURNED] - second
    return float(np.hypot(off[..., 0], off[..., 1]).max(axis=1).min())
