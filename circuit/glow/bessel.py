"""The Bessel functions that bounced light asks for: J0, J1, K1.

In:    arguments of 0 and above (above 0 for K1), any shape.
Out:   values, J to 1e-9, K1 to 1e-12 of itself; the same shape.
Fails: never.

By their integrals, which the plainest rules sum exactly: the functions under them are periodic, or fall off faster
than any power; J of large arguments by Hankel's expansion. A library has them too, but loading it takes a tenth of a
whole plan's time.

References
----------
.. [1] NIST Digital Library of Mathematical Functions, 10.9.1 and 10.9.2 (Bessel's integral), 10.17.3
   (Hankel's expansion), 10.32.9 (K).
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from circuit.arrays import Floats

_MORE_NODES = 100  # on the circle, beyond the argument (up to 400): what they leave out is under 1e-14
_TABLE_STEP = 1 / 32  # between arguments; cubics between them are off by step^4 / 384, 2.5e-9, at most
_LEAST_TABLE = 400.0  # argument up to which J0 is kept; lamps behind any foam ask for less
_FAR = 25.0  # from here on the expansion's terms fall under 1e-14 before they grow again
_TERMS = 16  # of it
_K_STEP = 0.1  # of K1's integral: what it leaves out is exp(-pi^2 / step)
_NOTHING = 700.0  # exp(-700) is the least that a double holds


def j0(x: Floats) -> Floats:
    """Bessel's J of order 0, by a table; for any shape, and of the same shape."""
    values, slopes = _table(max(_LEAST_TABLE, float(np.max(x, initial=0.0))))
    at = x / _TABLE_STEP
    left = np.minimum(at.astype(np.intp), len(values) - 2)
    t = at - left
    back = 1 - t
    ends = back * back * ((1 + 2 * t) * values[left] + t * _TABLE_STEP * slopes[left])
    ends += t * t * ((1 + 2 * back) * values[left + 1] - back * _TABLE_STEP * slopes[left + 1])
    return ends


def j1(x: Floats) -> Floats:
    """Bessel's J of order 1; for any shape, and of the same shape."""
    total = np.zeros(np.shape(x))
    sines = _sines(x)
    for sine in sines:
        total += sine * np.sin(x * sine)
    return total / len(sines)


def k1(x: Floats) -> Floats:
    """The modified Bessel function K of order 1; for any shape, and of the same shape."""
    farthest = math.acosh(max(_NOTHING / float(np.min(x)), 1.0))
    total = np.exp(-x) / 2
    for t in np.arange(_K_STEP, farthest, _K_STEP):
        total += math.cosh(t) * np.exp(-x * math.cosh(t))
    return total * _K_STEP


@lru_cache(maxsize=1)
def _table(most: float) -> tuple[Floats, Floats]:
    """J0 and its slope, -J1, at equal steps up to `most`."""
    every = np.arange(0.0, most + 2 * _TABLE_STEP, _TABLE_STEP)
    near, far = np.split(every, [np.searchsorted(every, _FAR)])
    values = np.concatenate([_j0_summed(near), _expanded(0, far)])
    return values, -np.concatenate([j1(near), _expanded(1, far)])


def _j0_summed(x: Floats) -> Floats:
    sines = _sines(x)
    total = np.zeros(np.shape(x))
    for sine in sines:
        total += np.cos(x * sine)
    return total / len(sines)


def _expanded(order: int, x: Floats) -> Floats:
    """J of that order far out, by Hankel's expansion."""
    term, level, quarter = np.ones_like(x), np.ones_like(x), np.zeros_like(x)
    for k in range(1, _TERMS):
        term = term * (4 * order**2 - (2 * k - 1) ** 2) / (8 * k * x)
        sign = -1.0 if k % 4 > 1 else 1.0
        if k % 2:
            quarter += sign * term
        else:
            level += sign * term
    phase = x - (2 * order + 1) * math.pi / 4
    wave: Floats = np.sqrt(2 / (math.pi * x)) * (level * np.cos(phase) - quarter * np.sin(phase))
    return wave


def _sines(x: Floats) -> Floats:
    """Sines of the middles of equal parts of a quarter turn: the other three quarters are alike."""
    count = math.ceil((float(np.max(x, initial=0.0)) + _MORE_NODES) / 4)
    sines: Floats = np.sin((np.arange(count) + 0.5) * (math.pi / 2 / count))
    return sines
