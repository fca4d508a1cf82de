"""The kinds of array that pass between the modules of `vision`, each named once."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
AnyFloats = NDArray[np.floating[Any]]  # of either precision
FloatImage = NDArray[np.float32]  # (H, W), one value a pixel
BoolImage = NDArray[np.bool_]  # (H, W), a mask
GreyImage = NDArray[np.uint8]  # (H, W), levels
RgbImage = NDArray[np.uint8]  # (H, W, 3), red green blue
