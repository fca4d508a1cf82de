"""Outlines on the card's plane: corners, turns, points along lines, the share of a pixel that lies inside.

In:    (N, 2) points, millimetres or pixels.
Out:   the same.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Plane = NDArray[np.float32]

FINE_STEPS = 2048  # of a side that wanders: a tenth of a millimetre, in which it changes by a hair


def rectangle(width: float, height: float) -> Points:
    """(4, 2) corners, clockwise from the top-left one at (0, 0)."""
    return np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])


def turned(points: Points, turn_deg: float) -> Points:
    """(N, 2) points turned clockwise, as one sees it, about (0, 0)."""
    a = math.radians(turn_deg)
    return points @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])


def square_about(centre: Points, half: float, turn_deg: float) -> Points:
    """(4, 2) corners of a square, clockwise from its own first one."""
    return turned(np.array([(-half, -half), (half, -half), (half, half), (-half, half)]), turn_deg) + centre


def resample(path: Points, step: float) -> Points:
    """The same path with points every `step` or closer; corners stay."""
    out = [path[:1]]
    for a, b in pairwise(path):
        pieces = max(1, math.ceil(math.dist(a, b) / step))
        out.append(a + (b - a) * (np.arange(1, pieces + 1) / pieces)[:, None])
    return np.vstack(out)


def span(values: Points, reach: float, limit: int) -> slice:
    """The whole numbers within `reach` of the values, from 0 up to `limit`; may be empty."""
    low = math.floor(float(values.min()) - reach)
    high = math.ceil(float(values.max()) + reach) + 1
    return slice(min(max(low, 0), limit), min(max(high, 0), limit))


def coverage(x: Plane, y: Plane, corners: Points, scale: float, wander_mm: Points | None = None) -> Plane:
    """Share of each pixel that lies inside the convex outline (clockwise, y down), whose sides may lie outside
    of the straight line by so much, (4, N), all along them."""
    nearest = np.full(np.broadcast_shapes(x.shape, y.shape), np.inf, np.float32)
    for k, (a, b) in enumerate(zip(corners, np.roll(corners, -1, axis=0), strict=True)):
        length = float(np.linalg.norm(b - a))
        along = (b - a) / length
        inside = (y - a[1]) * np.float32(along[0]) - (x - a[0]) * np.float32(along[1])
        if wander_mm is not None and np.any(wander_mm[k]):
            off = np.interp(
                np.linspace(0, 1, FINE_STEPS), np.linspace(0, 1, wander_mm.shape[1]), wander_mm[k]
            )
            share = ((x - a[0]) * np.float32(along[0]) + (y - a[1]) * np.float32(along[1])) / np.float32(
                length
            )
            at = np.clip(share * np.float32(FINE_STEPS - 1), 0, FINE_STEPS - 1).astype(np.int32)
            inside += off.astype(np.float32)[at]
        np.minimum(nearest, inside, out=nearest)
    return np.asarray(np.clip(nearest * scale + 0.5, 0, 1), np.float32)


def blend(spot: Plane, colour: Plane, cover: Plane) -> None:
    """Lay a colour, (3,) or (H, W, 3), on (H, W, 3) light by each pixel's share of it."""
    spot += cover[:, :, None] * (colour - spot)
