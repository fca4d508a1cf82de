"""Ratios of what may be nothing: a share of nothing is nothing, and what has no length points nowhere.

In:    numbers or vectors, of any shape.
Out:   the same, divided.
Fails: never.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats

NOTHING = 1e-9  # far under any length, weight or light that is measured here


def over(values: NDArray[Any] | float, whole: NDArray[Any] | float) -> Floats:
    """(...,) values over a whole that is never below 0."""
    return np.asarray(values / np.maximum(whole, NOTHING), dtype=np.float64)


def unit(vectors: Floats) -> Floats:
    """(..., K) vectors brought to a length of 1; without a length they stay."""
    return over(vectors, np.linalg.norm(vectors, axis=-1, keepdims=True))
