"""The law of propagation of uncertainty by numbers: what the covariances of the reading are held against.

JCGM 100:2008 (GUM), 5.1 and 5.2; itself held against the guide's worked example in `tests/published/`.
"""

import numpy as np


def propagate(function, at, covariance, steps):
    """Covariance of function(at), (M, M), from the inputs' (N, N): J C J^T, J by central differences.

    `steps` (N,) must be small against the curvature of the function and large against its rounding.
    """
    columns = []
    for k, step in enumerate(steps):
        shift = np.zeros(len(at))
        shift[k] = step
        columns.append((function(at + shift) - function(at - shift)) / (2 * step))
    jacobian = np.column_stack(columns)
    return jacobian @ covariance @ jacobian.T
