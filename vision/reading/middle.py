"""The median of an array, several times faster than numpy's own for what is read here.

In:    any array without nan.
Out:   the same values as `numpy.median`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def median(values: NDArray[Any], axis: int = -1) -> NDArray[Any]:
    """The median along one axis. numpy sorts by vector instructions, and selects without them."""
    ordered = np.sort(values, axis=axis)
    count = ordered.shape[axis]
    low, high = (np.take(ordered, k, axis=axis) for k in ((count - 1) // 2, count // 2))
    return np.asarray((low + high) / 2)
