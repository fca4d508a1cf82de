"""How far along a line something lies: for who lays tape along it, or follows a current through it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from circuit.arrays import Floats, Indices
from circuit.layout import Point, Polyline


def nearest_along(line: Polyline, points: Sequence[Point]) -> tuple[Floats, Indices]:
    """Where the line comes nearest to each of N points: (N,) how far along it [mm], (N,) on which run, from 0."""
    corners = np.array(line, dtype=float)
    starts, steps = corners[:-1], np.diff(corners, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    walked = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    away = np.array(points, dtype=float).reshape(-1, 1, 2) - starts
    squares = lengths**2  # 0 for a run of next to no length, too: its foot is at its start
    share = (away * steps).sum(axis=2) / np.where(squares > 0, squares, 1.0)
    share = np.clip(share, 0.0, 1.0)
    gap = np.hypot(*np.moveaxis(away - share[..., None] * steps, 2, 0))
    run = gap.argmin(axis=1)
    each = np.arange(len(run))
    return walked[run] + share[each, run] * lengths[run], run
