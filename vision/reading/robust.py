"""Least squares in which what lies far off counts less and less.

In:    a design, one or more rows of values, and how far off is far.
Out:   the coefficients, what they leave over, and how much each value counted.
Fails: never; a design without full rank gives some of its solutions.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from vision.arrays import Floats

ROUNDS = 5  # chosen: what lies far off hardly counts after three
RIDGE = 1e-9  # keeps a design without full rank solvable


def robust_fit(
    design: Floats,
    values: Floats,
    far: Callable[[Floats], Floats | float],
    *,
    rounds: int = ROUNDS,
    held: Floats | None = None,
    start: Floats | None = None,
) -> tuple[Floats, Floats, Floats]:
    """Cauchy weights 1 / (1 + (rest / far)^2), worked out anew in each round.

    design : (R, K); values : (..., R); far : from what is left over to the distance at which a value counts half;
    held : (K, K) added to the normal equations, for coefficients that are to stay small where little is seen;
    start : (..., K) coefficients to begin with, else all values count alike at first.
    Returns (..., K) coefficients, (..., R) what they leave over, (..., R) weights of that.
    """
    extra = RIDGE * np.eye(design.shape[1]) + (0.0 if held is None else held)

    def weigh(rest: Floats) -> Floats:
        weights: Floats = 1.0 / (1.0 + (rest / far(rest)) ** 2)
        return weights

    weights = np.ones_like(values) if start is None else weigh(values - start @ design.T)
    for _ in range(rounds):
        normal = design.T @ (weights[..., None] * design) + extra
        right = (weights * values) @ design
        coefficients = np.asarray(np.linalg.solve(normal, right[..., None])[..., 0], dtype=np.float64)
        rest: Floats = values - coefficients @ design.T
        weights = weigh(rest)
    return coefficients, rest, weights
