"""Four-cornered patches of the small picture that are darker, or of another tint, than what lies about them.

In:    the small picture, or one channel of it.
Out:   rough corners [small px], each with a rank: the smaller the likelier to be a square.
Fails: never; [] when there is none.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.four_corners import four_corners, side_lengths
from vision.reading.small_picture import SmallPicture

LEAST_FILLED = 0.86  # of the four-sided shape about a patch: chosen, for a ragged edge
DARK_SMOOTH_PX = 0.8  # chosen: before patches are cut out
# L*: solid black paper is darker than most things with corners.
DARK_LEVELS, DARK_SPAN = np.arange(4.0, 56.0, 3.0), 60.0
LEAST_SIDE, LARGEST_SHARE = 0.02, 0.12  # chosen: of the picture's long side, of its area
LEAST_CONVEX, LEAST_EDGE = 0.88, 0.4  # chosen: area over the hull's, shortest edge over the longest

Patches = list[tuple[float, Floats]]


def dark_patches(small: SmallPicture) -> Patches:
    """Dark ones, whatever their shade, the likeliest first."""
    light = cv2.GaussianBlur(small.lab[:, :, 0], (0, 0), DARK_SMOOTH_PX)
    return patches_below(small, light, DARK_LEVELS, DARK_SPAN)


def patches_below(
    small: SmallPicture, values: NDArray[np.float32], levels: Floats, span: float = np.inf
) -> Patches:
    """Rough corners, (4, 2), of patches whose values, (H, W), lie below one of the levels, the likeliest first,
    with their rank: how ragged they are, and how large the values over `span`. [small px]"""
    width, height = small.size
    least, largest = (LEAST_SIDE * max(width, height)) ** 2, LARGEST_SHARE * width * height
    shortest = 2 * least**0.5  # pixels round it at the least, each a step aside or across
    rough: Patches = []
    for level in levels:
        below = (values < level).astype(np.uint8)
        # Dark table, light card, dark square on it: patches lie within each other, so all are listed.
        for contour in cv2.findContours(below, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0]:
            if len(contour) < shortest:
                continue
            area = cv2.contourArea(contour)
            if not least < area < largest:
                continue
            hull = cv2.convexHull(contour)
            if area < LEAST_CONVEX * cv2.contourArea(hull):
                continue
            corners = four_corners(hull)
            if corners is None:
                continue
            fill = area / max(cv2.contourArea(corners.astype(np.float32)), 1.0)
            edges = side_lengths(corners)
            if fill < LEAST_FILLED or edges.min() < LEAST_EDGE * edges.max():
                continue
            if corners.min() < 1 or (corners.max(axis=0) > np.array([width - 2, height - 2])).any():
                continue
            at = corners.astype(np.int32)
            x, y, across, down = cv2.boundingRect(at)
            inside = np.zeros((down, across), np.uint8)
            cv2.fillConvexPoly(inside, at - np.array([x, y], np.int32), 1)
            mean = float(cv2.mean(values[y : y + down, x : x + across], inside)[0])
            if mean > level:
                continue  # a light patch in dark surroundings
            rough.append((mean / span + 4 * abs(1 - fill), corners))
    rough.sort(key=lambda item: item[0])
    return rough
