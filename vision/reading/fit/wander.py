"""How far the edges of one card wander: a scale that its own photo tells.

A shop's card is cut straight, a sheet torn from a pad is not; taking all for middling gives the straight one's edges
too little say, and the other one's too much.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.arrays import Floats
from vision.reading.fit.parameters import WANDER, wander_sigmas
from vision.reading.fit.solve import Fit, robust_weights, with_wander

# Beforehand: half of all cards wander by less, 95 of 100 within four times as much or as little; photographed sheets
# lie within. [mm], of the longest half wave.
USUAL_BOW_MM, LOG_SPREAD = 0.10, np.log(2.0)
BOWS_MM = np.geomspace(0.02, 0.4, 9)


def with_likely_wander(fit: Fit) -> Fit:
    """The fit made again with the scale of wander that is likeliest by what it has seen."""
    return with_wander(fit, likely_bow_mm(fit))


def likely_bow_mm(fit: Fit) -> float:
    """The scale of the edges' longest half wave, by the chance of all that was seen under each scale. [mm]

    About the fit the model is taken for linear, so each chance is a Gaussian integral (empirical Bayes; the integral
    by Laplace's method, as in MacKay, Neural Computation 4 (1992) 415, from memory).
    """
    return float(BOWS_MM[int(np.argmin(bow_prices(fit)))])


def supposed_price(fit: Fit) -> float:
    """Twice the negative logarithm of the chance of what was seen if the fit's supposition holds, whatever its
    parameters and its edges' wander, but for a constant that all suppositions about the same card share."""
    prices = bow_prices(fit)
    return float(prices.min() - 2 * np.log(np.exp((prices.min() - prices) / 2).sum()))


def bow_prices(fit: Fit, bows_mm: Sequence[float] | Floats = BOWS_MM) -> Floats:
    """The same under each scale of wander, (N,)."""
    jacobian, weights = fit.standing.jacobian, robust_weights(fit.standing.residuals)
    information = jacobian.T @ (jacobian * weights[:, None])
    sigmas = np.tile(fit.sigmas, (len(bows_mm), 1))
    sigmas[:, WANDER] = [wander_sigmas(bow) for bow in bows_mm]
    supposed, wander = sigmas**-2.0, fit.values[WANDER]
    # At the fit's minimum the pulls of data and of what was known beforehand cancel, wander's own among them.
    change = (supposed - fit.sigmas**-2.0)[:, WANDER]
    pull = np.zeros_like(sigmas)
    pull[:, WANDER] = change * wander
    full = information + supposed[:, :, None] * np.eye(len(fit.sigmas))
    fallen = (pull * np.linalg.solve(full, pull[:, :, None])[:, :, 0]).sum(axis=1)
    wide = np.linalg.slogdet(full)[1] + 2 * np.log(sigmas).sum(axis=1)
    own = (np.log(np.asarray(bows_mm) / USUAL_BOW_MM) / LOG_SPREAD) ** 2
    prices: Floats = fit.cost + change @ wander**2 - fallen + wide + own
    return prices
