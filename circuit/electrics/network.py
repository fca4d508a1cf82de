"""Currents of lights in parallel along two resistive rails, fed by one source.

In:    the rails as a matrix of shared resistance, the lights as diodes, the source(s).
Out:   one current per light. [A]
Fails: ValueError for arrays that don't fit together; ArithmeticError if no solution is found.

The node equations of the two rails are linear but for the lights, so the rails' own nodes are
eliminated beforehand: what is left is one equation per light,

    volts_k(I_k) + sum_j (source_ohm + rail_kj) I_j = emf        for each light k,

where rail_kj is the resistance that the currents of lights k and j share on their way: on a
tape fed from one end, everything up to the nearer of the two. volts_k is a Shockley diode; its own
series resistance sits on the diagonal of `rail`.

All left-hand sides together are the slope of one convex function of the currents (the network's
co-content: half I'RI + the integral of each light's volts - emf times the sum), which has one
minimum and no other flat place; Newton's steps go there, halved where they overshoot. Several
sources are solved at one go, which the discharge of a cell needs.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from circuit.arrays import Floats

_START_A = 1e-9  # chosen: below the current of any light that one could see
_STEPS = 200  # far more than ever needed (some 10-20); a stop, not a tuning knob
_DONE = 1e-11  # largest relative change of a current in the last step
_KEEP = 0.1  # a step takes a current down by nine tenths at most: its logarithm must exist
_HALVINGS = 40  # of a step that goes too far, down to a millionth of a millionth; a stop, not a tuning knob
_CLIMB = 0.9  # the usual curvature condition of line searches
_ROUNDING = 1e-13  # of the source's volts: a few hundred times what a double keeps

Slope = Callable[[Floats], Floats]


def shared_path_matrix(at_ohm: ArrayLike) -> Floats:
    """(N, N) shared resistance of N taps on a tape fed from one end, `at_ohm` (N,) from that end."""
    at = np.asarray(at_ohm, dtype=float)
    shared: Floats = np.minimum.outer(at, at)
    return shared


def light_currents(
    emf_v: ArrayLike,
    source_ohm: ArrayLike,
    rail_ohm: Floats,
    saturation_a: Floats,
    slope_v: Floats,
) -> Floats:
    """(B, N) currents for B sources, or B states of the rails, and N lights, 0 where a light is
    reverse-biased. [A]

    Parameters
    ----------
    emf_v, source_ohm : (B,) or scalars
        Open-circuit voltage, above 0, and the resistance that all lights share.
    rail_ohm : (N, N) or (B, N, N)
        Shared resistances, symmetric, each light's own series resistance on the diagonal.
    saturation_a, slope_v : (N,)
        Each light's diode: its saturation current and ideality * kT/q.

    Raises ValueError for shapes or figures that make no circuit, ArithmeticError where no end is reached.
    """
    count = len(saturation_a)
    if rail_ohm.shape[-2:] != (count, count) or rail_ohm.ndim not in (2, 3) or slope_v.shape != (count,):
        raise ValueError(f"{count} lights need a ({count}, {count}) rail matrix, got {rail_ohm.shape}")
    rails = rail_ohm if rail_ohm.ndim == 3 else rail_ohm[None]
    emf, source, _ = np.broadcast_arrays(
        np.atleast_1d(emf_v).astype(float), np.atleast_1d(source_ohm), np.zeros(len(rails))
    )
    if not (emf > 0).all():
        raise ValueError(f"a source needs a voltage above 0, got {emf.min()}")
    if count == 0:
        return np.zeros((len(emf), 0))
    resistance = rails + source[:, None, None]
    diagonal = np.arange(count)

    # Worked on is the current above a diode's least, which is minus its saturation current: it is above 0
    # whatever the voltage, and its logarithm is the diode's own scale.
    def slope(above: Floats) -> Floats:
        drop = np.einsum("bij,bj->bi", resistance, above - saturation_a)
        result: Floats = slope_v * np.log(above / saturation_a) + drop - emf[:, None]
        return result

    above = np.full((len(emf), count), _START_A) + saturation_a
    gradient = slope(above)
    for _ in range(_STEPS):
        hessian = resistance.copy()
        hessian[:, diagonal, diagonal] += slope_v / above
        step = np.linalg.solve(hessian, -gradient[..., None])[..., 0]
        # The longest share of the step that leaves a tenth of every current.
        dives = -step > (1 - _KEEP) * above
        room = np.where(dives, (1 - _KEEP) * above / np.where(dives, -step, 1.0), 1.0)
        share, above, gradient = _advance(above, step, room.min(axis=1), gradient, slope, emf)
        if (np.abs(share[:, None] * step) <= _DONE * above).all():
            return np.maximum(above - saturation_a, 0.0)
    raise ArithmeticError("the currents of this circuit could not be found")


def _advance(
    above: Floats, step: Floats, share: Floats, gradient: Floats, slope: Slope, scale: Floats
) -> tuple[Floats, Floats, Floats]:
    """Take that share of each source's step, halved while the function climbs steeply where it lands.
    Gives the share that was taken, the new currents and the slope there."""
    downhill = -np.einsum("bi,bi->b", gradient, step)  # above 0: Newton's step on a convex function
    for _ in range(_HALVINGS):
        tried = above + share[:, None] * step
        new_gradient = slope(tried)
        climbing = np.einsum("bi,bi->b", new_gradient, step)
        # A slope is a difference of volts: what rounding leaves of it, times the step, is no climb.
        noise = _ROUNDING * scale * np.abs(step).sum(axis=1)
        overshot = climbing > _CLIMB * downhill + noise
        if not overshot.any():
            break
        share = np.where(overshot, share / 2, share)
    return share, tried, new_gradient
