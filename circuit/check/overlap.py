"""How far one outline reaches into another, and how clear of it it stays."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from circuit.arrays import Floats
from circuit.layout import Point


def reach_into(body: Any, pieces: Any) -> tuple[float, Point]:
    """How far convex `pieces` reach under a convex body, below 0 where they stay clear, and where. [mm]

    Reaching in is how far the deepest piece would have to be pushed to be clear.
    """
    gaps = shapely.distance(pieces, body)
    depths = np.array([_depth(piece, body) if gap == 0 else 0.0 for piece, gap in zip(pieces, gaps)])
    deepest = int(np.argmax(depths))
    patch = shapely.intersection(pieces[deepest], body)
    if depths[deepest] > 0 and not patch.is_empty:  # empty: they only just touch, and rounding parts them
        return float(depths[deepest]), (float(patch.centroid.x), float(patch.centroid.y))
    nearest = pieces[int(np.argmin(gaps))]
    x, y = shapely.shortest_line(nearest, body).coords[1]
    return -float(gaps.min()), (float(x), float(y))


def shared_width(one: Any, other: Any) -> tuple[float, Point]:
    """How wide the patch is that two outlines of any shape share, below 0 how far apart they are, and where. [mm]"""
    patch = shapely.intersection(one, other)
    if patch.area > 0:
        ring = shapely.get_coordinates(shapely.convex_hull(patch))
        normals = _normals(ring)
        # An outline is narrowest across one of its hull's sides.
        return float(np.ptp(ring @ normals, axis=0).min()), (float(patch.centroid.x), float(patch.centroid.y))
    x, y = shapely.shortest_line(one, other).coords[0]
    return -float(shapely.distance(one, other)), (float(x), float(y))


def _depth(piece: Any, body: Any) -> float:
    """The shortest way to push two convex outlines apart: along a normal of one of their sides. [mm]

    Separating axes: outlines that overlap do so along every normal; the least is how deep they are in
    each other.
    """
    rings = [shapely.get_coordinates(shape) for shape in (piece, body)]
    normals = np.concatenate([_normals(ring) for ring in rings], axis=1)
    one, other = (ring @ normals for ring in rings)
    overlaps = np.minimum(one.max(axis=0) - other.min(axis=0), other.max(axis=0) - one.min(axis=0))
    return float(overlaps.min())


def _normals(ring: Floats) -> Floats:
    """Unit vectors across the sides of a closed ring, (2, n)."""
    sides = np.diff(ring, axis=0)
    sizes = np.hypot(sides[:, 0], sides[:, 1])
    sides, sizes = sides[sizes > 0], sizes[sizes > 0]
    return np.asarray(np.stack([-sides[:, 1], sides[:, 0]]) / sizes, dtype=np.float64)
