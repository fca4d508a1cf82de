"""The ways in which a card may bend up, and what a flat card's fit says of each without fitting it.

In:    the `Fit` of a card that lies flat.
Out:   the likeliest bends, to be fitted; what all of them together may move a mark by.

One derivative for each shape: its part that no other parameter could take over is held against the residuals, so
that dozens of fits are spared. Paper on a table can only bend up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from vision.arrays import Floats
from vision.reading.fit.camera import Lift
from vision.reading.fit.parameters import CAMERA_COUNT, COUNT, LIFT
from vision.reading.fit.solve import Fit, robust_weights

LIFT_PRICE = 13.0  # twice the negative logarithm of the odds of one of some 70 bends and its height
BENT_ODDS = 1 / 3  # chosen: of four cards photographed one stands up somewhere by half a millimetre or more
ARCH_SHARE = 1 / 3  # chosen: of bends, since a sheet that was rolled or printed curls as a whole
LEAST_UPWARD = 5.0  # standard deviations by which a bend points down, from which it is as good as none
# Chosen: near enough that one in between fits nearly as well.
LIFT_ANGLES, LIFT_STARTS = 16, (-0.5, -0.15, 0.2, 0.5)
ARCH_ANGLES_DEG = (-10, 0, 10, 80, 90, 100)  # chosen: an arch lies along a side, or nearly
LIFTS = tuple(
    Lift(float(angle), start)
    for angle in np.arange(LIFT_ANGLES) * (2 * np.pi / LIFT_ANGLES)
    for start in LIFT_STARTS
) + tuple(Lift(float(np.radians(angle)), arch=True) for angle in ARCH_ANGLES_DEG)

# What share of all bends each of `LIFTS` is beforehand.
SHARES = np.where(
    [lift.arch for lift in LIFTS],
    ARCH_SHARE / len(ARCH_ANGLES_DEG),
    (1 - ARCH_SHARE) / (LIFT_ANGLES * len(LIFT_STARTS)),
)


@dataclass(frozen=True, slots=True)
class BendPulls:
    """What each of `LIFTS` would bring, from a flat card. heights : (K,) the likeliest [mm]; variances : (K,) of them
    [mm^2]; gains : (K,) fall of the sum of squares, 0 where it could only bend down; others : (COUNT, K) by how much
    the other parameters give way for each mm."""

    heights: Floats
    variances: Floats
    gains: Floats
    others: Floats


def bend_pulls(fit: Fit) -> BendPulls:
    """To first order about the fit."""
    model = replace(fit.model, lift=Lift.nowhere())
    rest, jacobian = model.residuals_and_jacobian(fit.values)
    root = np.sqrt(robust_weights(rest))
    free = np.ones(COUNT, dtype=bool)
    free[LIFT] = False
    jacobian = jacobian[:, free] * root[:, None]
    inverse = np.linalg.inv(jacobian.T @ jacobian + np.diag(fit.sigmas[free] ** -2.0))
    columns = model.lift_columns(fit.values, LIFTS) * root[:, None]
    others = np.zeros((COUNT, len(LIFTS)))
    others[free] = -inverse @ (jacobian.T @ columns)
    own = columns + jacobian @ others[free]
    size = (own * columns).sum(axis=0) + fit.priors.lift_mm**-2.0
    # At the minimum the other parameters' pulls on data and priors cancel, so the residuals themselves tell.
    height = -(columns.T @ (rest * root)) / size
    return BendPulls(height, 1 / size, np.where(height > 0, height**2 * size, 0.0), others)


def likeliest_lifts(fit: Fit, most: int = 3) -> list[tuple[Lift, float]]:
    """The ways of bending up that would explain most of what a flat card leaves over, and by how much
    the sum of squares would fall with each; the best first."""
    gains = bend_pulls(fit).gains
    order = np.argsort(-gains)[:most]
    return [(LIFTS[k], float(gains[k])) for k in order if gains[k] > 0]


@dataclass(frozen=True, slots=True)
class UnseenBends:
    """Bends that a card taken for flat may have all the same. odds : (K,) of each of `LIFTS` against the flat card;
    squares : (K,) its mean square height times its chance [mm^2]; others : as in `BendPulls`."""

    odds: Floats
    squares: Floats
    others: Floats

    def position_covariance(self, fit: Fit, places_mm: Floats, jacobian: Floats, axes: Floats) -> Floats:
        """(N, 2, 2) about the flat card's own answer, at places from the card's middle. [mm^2]

        jacobian : (N, 2, CAMERA_COUNT) of the marks' places in the frame with these axes (rows).
        """
        directly = np.einsum("ab,nbk->nak", axes, fit.model.place_lifts(fit.values, places_mm, LIFTS))
        moves = jacobian @ self.others[:CAMERA_COUNT] + directly
        covariance: Floats = np.einsum("nik,k,njk->nij", moves, self.squares, moves)
        return covariance


def unseen_bends(fit: Fit) -> UnseenBends:
    """Each bend by its odds against the flat card. A height is a Gaussian cut off at zero, before and after: its
    integral is the odds, its mean square what the bend may move a mark by."""
    pulls = bend_pulls(fit)
    sigma = np.sqrt(pulls.variances)
    upward = np.clip(pulls.heights / sigma, -LEAST_UPWARD, None)
    above = np.array([1 + math.erf(x / math.sqrt(2)) for x in upward]) / 2
    odds = BENT_ODDS * SHARES * 2 * sigma / fit.priors.lift_mm * np.exp(upward**2 / 2) * above
    at_zero = np.exp(-(upward**2) / 2) / math.sqrt(2 * math.pi)
    squares = pulls.variances * (1 + upward**2 + upward * at_zero / above)
    return UnseenBends(odds, odds / (1 + odds.sum()) * squares, pulls.others)
