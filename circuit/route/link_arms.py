"""Whether the two arms of a link with two folds keep their tapes apart.

In:    corners and headings of many links, (N,) complex.
Out:   (N,) bool.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from circuit.arrays import Floats
from circuit.route.passages import Ints
from circuit.route.plane import Bools, Points, cross, dot, segments_nearer
from circuit.route.site import (
    Site,
)

PARALLEL_SINE = 1e-3  # chosen: 0.06 degrees; lines nearer to parallel meet beyond any card


_GENTLE_COS = 0.7  # chosen: two folds of less than 45 degrees each spread the tapes apart by themselves


def taken(which: Ints | Bools, *arrays: Any) -> Any:
    """These entries of every array."""
    return tuple(array[which] for array in arrays)


def along(way_left: Points, on: Points, across: Points) -> Floats:
    """(N,) how far along `on` one has to go so that `across` leads to the rest of the way; nan for parallels."""
    sine = cross(on, across)
    safe = np.where(np.abs(sine) > PARALLEL_SINE, sine, np.nan)
    return np.asarray(cross(way_left, across) / safe)


def arms_apart(
    p: Points, v1: Points, v2: Points, q: Points, h: Points, way: Points, k: Points, site: Site
) -> Bools:
    """Whether the first and last run of a two-fold link keep their tapes apart, edge to edge."""
    sizes = site.sizes
    good = np.ones(len(p), dtype=bool)
    # Gentle links spread out by themselves; only where both folds together turn far is there doubt.
    sharp = np.flatnonzero((dot(h, way) < _GENTLE_COS) | (dot(way, k) < _GENTLE_COS))
    if not len(sharp):
        return good
    p, v1, v2, q, h, way, k = taken(sharp, p, v1, v2, q, h, way, k)
    m1 = (h + way) * 1j / (1 + dot(h, way))
    m2 = (way + k) * 1j / (1 + dot(way, k))
    fine = np.ones(len(p), dtype=bool)
    for side1 in (-1, 1):
        for side2 in (-1, 1):
            fine &= ~segments_nearer(
                p - h * sizes.half_along + side1 * sizes.outer * h * 1j,
                v1 + side1 * sizes.outer * m1,
                v2 + side2 * sizes.outer * m2,
                q + k * sizes.half_along + side2 * sizes.outer * k * 1j,
                sizes.itself if side1 == side2 else sizes.apart,
            )
    good[sharp] = fine
    return good
