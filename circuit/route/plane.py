"""Plane geometry on arrays of complex numbers, as the router needs it.

In:    points and directions as complex128 arrays that broadcast together.
Out:   float arrays. Nothing here knows of cards or tape.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.complex128]
Bools = NDArray[np.bool_]


def dot(a: Any, b: Any) -> Any:
    """Scalar product."""
    return a.real * b.real + a.imag * b.imag


def cross(a: Any, b: Any) -> Any:
    """Vector product; positive when b lies clockwise of a as seen on the card (y down)."""
    return a.real * b.imag - a.imag * b.real


def unit(a: Any) -> Any:
    """Direction of `a`; 0 stays 0."""
    size = np.abs(a)
    return a / np.where(size > 0, size, 1.0)


def point_to_segment(point: Any, a: Any, b: Any) -> Any:
    """Distance from points to segments a-b."""
    along = b - a
    square = dot(along, along)
    t = np.minimum(np.maximum(dot(point - a, along) / np.maximum(square, 1e-12), 0.0), 1.0)
    return np.abs(point - a - t * along)


def segment_to_segment(a: Any, b: Any, c: Any, d: Any) -> Any:
    """Distance between segments a-b and c-d; 0 where they cross."""
    ab, cd = b - a, d - c
    crossing = (cross(ab, c - a) * cross(ab, d - a) < 0) & (cross(cd, a - c) * cross(cd, b - c) < 0)
    nearest = np.minimum(
        np.minimum(point_to_segment(a, c, d), point_to_segment(b, c, d)),
        np.minimum(point_to_segment(c, a, b), point_to_segment(d, a, b)),
    )
    return np.where(crossing, 0.0, nearest)


def point_nearer(point: Any, a: Any, b: Any, limit: float) -> Any:
    """Whether segments a-b come nearer than `limit` to points: `point_to_segment` without its root."""
    abx, aby = b.real - a.real, b.imag - a.imag
    px, py = point.real - a.real, point.imag - a.imag
    t = (px * abx + py * aby) / np.maximum(abx * abx + aby * aby, 1e-12)
    t = np.minimum(np.maximum(t, 0.0), 1.0)
    x, y = px - t * abx, py - t * aby
    return x * x + y * y < limit * limit


def segments_nearer(a: Any, b: Any, c: Any, d: Any, limit: Any) -> Any:
    """Whether segments a-b and c-d come nearer than `limit`: `segment_to_segment` without its roots."""
    a, ab, c, cd = ((point.real, point.imag) for point in (a, b - a, c, d - c))
    return squares_apart(a, ab, c, cd) < limit * limit


def squares_apart(a: Any, ab: Any, c: Any, cd: Any) -> Any:
    """The square of the distance between segments that begin at a and c and go ab and cd far, 0 where they cross;
    points as pairs of arrays, x and y, and as exact as these are.

    Where the lines meet, as far along the one segment as it reaches; from there straight to the other segment, and
    from there straight back (Ericson, Real-Time Collision Detection, 5.1.9, from memory).
    """
    (ax, ay), (abx, aby), (cx, cy), (cdx, cdy) = a, ab, c, cd
    acx, acy = cx - ax, cy - ay
    turn = abx * cdy - aby * cdx
    turn += turn == 0  # parallel: any place on the one will do to begin with
    on_ab = _held_within_one((acx * cdy - acy * cdx) / turn)
    x, y = on_ab * abx - acx, on_ab * aby - acy
    on_cd = _held_within_one((x * cdx + y * cdy) / np.maximum(cdx * cdx + cdy * cdy, 1e-12))
    x, y = acx + on_cd * cdx, acy + on_cd * cdy
    on_ab = _held_within_one((x * abx + y * aby) / np.maximum(abx * abx + aby * aby, 1e-12))
    x -= on_ab * abx
    y -= on_ab * aby
    return x * x + y * y


def _held_within_one(share: Any) -> Any:
    """Shares held within 0 and 1, in their own place."""
    np.minimum(share, 1.0, out=share)
    np.maximum(share, 0.0, out=share)
    return share


def meets_convex(a: Any, b: Any, corners: Points, clear: float) -> Any:
    """Whether segments a-b come into one convex shape, its sides moved out by `clear`; `corners` turn clockwise
    as seen on the card (y down)."""
    if not a.size:
        return np.zeros(a.shape, dtype=bool)
    if a.size > _AT_ONCE:
        size = max(len(a) * _AT_ONCE // a.size, 1)
        parts = [slice(low, low + size) for low in range(0, len(a), size)]
        return np.concatenate([meets_convex(a[part], b[part], corners, clear) for part in parts])
    # One more axis before all others: the shape's sides, all at once, since most calls are about few segments.
    sides = np.concatenate([corners[1:], corners[:1]]) - corners
    sides = (sides / np.abs(sides)).reshape(-1, *(1,) * a.ndim)
    # How far outside each side each end lies (Cyrus and Beck's clipping).
    out = clear + cross(corners.reshape(sides.shape), sides)
    from_ = a.real * sides.imag - a.imag * sides.real - out
    to = b.real * sides.imag - b.imag * sides.real - out
    steps = from_ - to
    share = from_ / np.where(np.abs(steps) > 1e-12, steps, 1e-12)
    outside, leaves = from_ > 0, to > 0
    enters_at = np.where(outside, np.where(leaves, 2.0, share), 0.0).max(axis=0)
    leaves_at = np.where(leaves & ~outside, share, 1.0).min(axis=0)
    return enters_at <= leaves_at


_AT_ONCE = 4096  # segments held against all sides together: chosen, they stay in a processor's fast memory


_LEAST_MITRE = 0.05  # chosen: 1 + cosine of a turn by 162 degrees; folds end at 135


def mitre(before: Any, after: Any) -> Any:
    """What to add to a fold's midline point, per mm of offset to the right of the lane.

    `before` and `after` are headings. Right of heading h (y down) is h·j.
    """
    right_before, right_after = before * 1j, after * 1j
    # Held off 0 for a turn right about, which no fold makes but an unused entry of an array may.
    return (right_before + right_after) / np.maximum(1.0 + dot(before, after), _LEAST_MITRE)


def narrowest_strip(points: Points) -> tuple[complex, complex]:
    """The line whose farthest point is nearest: a point on it and its heading.

    The narrowest strip round a set of points has two of them on one side (the supporting
    lines of its hull are parallel to an edge), so trying the direction of every pair finds it.
    Raises ValueError for less than two points, and where all coincide.
    """
    i, j = np.triu_indices(len(points), 1)
    ways = points[j] - points[i]
    ways = ways[np.abs(ways) > 1e-9]
    if len(ways) == 0:
        raise ValueError("points that all coincide have no line")
    ways = unit(ways)
    beside = cross(ways[:, None], points[None, :])
    low, high = beside.min(axis=1), beside.max(axis=1)
    best = int(np.argmin(high - low))
    ahead = complex(ways[best])
    return complex(1j * ahead * (low[best] + high[best]) / 2), ahead
