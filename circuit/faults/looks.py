"""How a light looks to a person, and how likely they are to say so.

In:    lights' currents, and the same as shares of what they should be.
Out:   how likely what was said is.
Fails: never.

All figures chosen: no source for how people look at cards.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.electrics.lifetime import HARDLY_MA
from circuit.faults.effect import Effect

DARK, DIM, LIT = 0, 1, 2
DARK_SHARE = 0.03  # of its own light: beside others this looks dark
DIM_BESIDE = 0.5  # of the best light's share: this looks dim beside it
DIM_ALONE = 0.2  # of its own light: this looks dim with nothing to hold it against
# People's limits differ by a third or so, either way; one person judges lights that are alike alike.
_LIMIT_TIMES = np.exp([-0.35, 0.0, 0.35])
_LIMIT_OFTEN = np.array([0.25, 0.5, 0.25])
_WIDTH = 0.12  # of the logarithm, from light to light
# Rows: what it truly is, dark, dim, lit. Columns: what is said. Most people name the dim lights, and then nearly all of
# them; some name the dark ones alone.
_SAID_BY = np.array(
    [
        [[0.95, 0.04, 0.01], [0.06, 0.82, 0.12], [0.005, 0.025, 0.97]],
        [[0.95, 0.04, 0.01], [0.06, 0.06, 0.88], [0.005, 0.005, 0.99]],
    ]
)
_PEOPLE = np.array([0.75, 0.25])
BEST = _SAID_BY[0].diagonal()


def likelihood(effect: Effect, said: NDArray[np.int_], telling: NDArray[np.bool_]) -> tuple[float, float]:
    """How likely it is that a card with this fault is described so, over its cases and in its best one; `said` (N,)
    holds DARK, DIM or LIT, `telling` (N,) whose look counts."""
    whole = np.zeros(len(effect.often))
    for times, often in zip(_LIMIT_TIMES, _LIMIT_OFTEN):
        by = looks(effect, float(times)) @ _SAID_BY[:, None]  # (people, V, N, 3): what is said of each light
        each = np.take_along_axis(by, said[None, None, :, None], axis=3)[..., 0]
        whole += often * (_PEOPLE @ each[..., telling].prod(axis=2))
    return float(effect.often @ whole), float(whole.max())


def looks(effect: Effect, limit_times: float = 1.0) -> Floats:
    """(V, N, 3) how likely each light looks dark, dim and lit to a person whose limits are so many times the
    usual ones."""
    share = np.maximum(effect.share, 1e-12)
    beside = share / share.max(axis=1, keepdims=True, initial=1e-12)
    dark = _below(
        np.minimum(share / DARK_SHARE, np.maximum(effect.current_ma, 1e-12) / HARDLY_MA), limit_times
    )
    dim = (1 - dark) * _below(np.minimum(beside / DIM_BESIDE, share / DIM_ALONE), limit_times)
    return np.stack([dark, dim, 1 - dark - dim], axis=-1)


def _below(ratio: Floats, limit: float) -> Floats:
    """How likely a ratio is taken to be under the limit."""
    below: Floats = 1 / (1 + (ratio / limit) ** (1 / _WIDTH))
    return below
