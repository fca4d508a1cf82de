"""From covariances to the 95 % bound that is stated beside every mark, and how wide it may be for a sure one."""

from __future__ import annotations

import numpy as np

from vision.arrays import Floats

COVERAGE = 0.95
SIGMAS_OF_ONE_FIGURE = 1.96  # of a Gaussian: standard deviations that hold COVERAGE of one figure
FLATTEST = 1 / 20  # chosen: flatter is as good as a line, and the sum over the angle would miss its peak
# Where the bound is looked for: less is beyond them than 1e-5; to a millionth
FARTHEST_SIGMAS, HALVINGS = 5.0, 24
# Where the reading is sure, no mark may lie farther off: neither within its bound nor in another placing that is about
# as likely. A mark a whole millimetre off is wrong, and of bounds that say 0.8 mm one in twenty is exceeded.
SURE_MM = 0.8
LEAST_BOUND_MM = 0.05  # chosen: the grain of the pencil line itself; no mark is placed better than that


def bound_mm(covariance: Floats) -> float:
    """Radius round the estimate that holds the true place with probability `COVERAGE`, for a Gaussian
    error of this (2, 2) covariance. [mm]

    The two axes are rarely alike, so the round case's 2.45 sigma would be too wide: the distance's
    distribution is summed over the angle and the radius found by bisection.
    """
    variances = np.maximum(np.linalg.eigvalsh(np.asarray(covariance, dtype=np.float64)), 1e-12)
    variances[0] = max(variances[0], variances[1] * FLATTEST**2)
    angles = (np.arange(90) + 0.5) * (np.pi / 180)  # a quarter turn, the rest is alike
    # P(|d| <= r) = 1 - mean over the angle of exp(-r^2 / (2 s(angle)^2)), weighted as below.
    shape = np.cos(angles) ** 2 / variances[0] + np.sin(angles) ** 2 / variances[1]
    weight = 1 / shape
    weight = weight / weight.sum()
    low, high = 0.0, FARTHEST_SIGMAS * float(np.sqrt(variances[1]))
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        inside = 1 - float((weight * np.exp(-0.5 * middle**2 * shape)).sum())
        low, high = (middle, high) if inside < COVERAGE else (low, middle)
    return max((low + high) / 2, LEAST_BOUND_MM)
