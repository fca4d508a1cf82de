"""Where a pencil line lies, and which circle one is."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tests.card_kit.outlines import Points


def along_run(x: Any, y: Any, a: Any, b: Any) -> tuple[Any, Any]:
    """For every place (x, y), which broadcast, how far along the run from `a` to `b` it lies, 0 to 1, and how far
    away from it."""
    dx, dy = float(b[0] - a[0]), float(b[1] - a[1])
    length2 = dx * dx + dy * dy + 1e-9
    t = np.clip(((x - a[0]) * dx + (y - a[1]) * dy) / length2, 0, 1)
    return t, np.sqrt((x - a[0] - t * dx) ** 2 + (y - a[1] - t * dy) ** 2)


def fit_circle(points: Points) -> tuple[float, float, float]:
    """Centre's x and y, and diameter, of the geometric least-squares circle (Gauss-Newton from the algebraic one)."""
    x, y = points.T
    a = np.column_stack([x, y, np.ones_like(x)])
    (p, q, c), *_ = np.linalg.lstsq(a, x**2 + y**2, rcond=None)
    cx, cy = p / 2, q / 2
    r = math.sqrt(c + cx**2 + cy**2)
    for _ in range(8):
        d = np.hypot(x - cx, y - cy)
        jacobian = np.column_stack([(x - cx) / d, (y - cy) / d, np.ones_like(d)])
        step, *_ = np.linalg.lstsq(jacobian, d - r, rcond=None)
        cx, cy, r = cx + step[0], cy + step[1], r + step[2]
    return float(cx), float(cy), float(2 * r)
