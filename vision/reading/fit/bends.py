"""The ways in which a card may bend up, and what a flat card's fit says of each without fitting it.

In:    the `Fit` of a card that lies flat.
Out:   the likeliest bends, to be fitted; what all of them together may move a mark by.

Each bend is a few heights: of its even curve, and of the polynomials by which it is uneven. To first order about the
flat card its chance and what it moves are sums of squares, so that dozens of fits are spared. Paper on a table can only
bend up.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from vision.arrays import Floats
from vision.reading.fit import parameters as slot
from vision.reading.fit.bend_shape import DEGREES, Kind, Lift
from vision.reading.fit.parameters import Priors, uneven_sigmas, wander_sigmas
from vision.reading.fit.solve import OUTLYING_OF_MISFIT, Fit, robust_weights
from vision.reading.fit.wander import bow_prices

BENT_ODDS = 1 / 3  # chosen: of four cards photographed one stands up somewhere by half a millimetre or more
LEAST_UPWARD = 5.0  # standard deviations by which a bend points down, from which it is as good as none
# Chosen: near enough that one in between fits nearly as well.
LIFT_ANGLES, LIFT_STARTS = 12, (-0.4, 0.05, 0.45)
ONE_END = tuple(
    Lift(float(angle), start)
    for angle in np.arange(LIFT_ANGLES) * (2 * np.pi / LIFT_ANGLES)
    for start in LIFT_STARTS
)


def _all_over(kind: Kind, *angles_deg: float) -> tuple[Lift, ...]:
    return tuple(Lift(float(np.radians(angle)), kind=kind) for angle in angles_deg)


# What share of all bends each group is beforehand. Chosen: a sheet that was rolled or printed curls as a whole, up or
# down, along a side or nearly; now and then both ways, as an S, or at two opposite corners.
GROUPS = (
    (1 / 3, ONE_END),
    (1 / 3, _all_over("arch", 0, 90)),
    (1 / 6, _all_over("ends", 0, 90)),
    (1 / 12, _all_over("ends", 35, 55, 125, 145)),
    (1 / 12, _all_over("s", 0, 90, 180, 270)),
)
LIFTS = tuple(lift for _, lifts in GROUPS for lift in lifts)
SHARES = np.concatenate([np.full(len(lifts), share / len(lifts)) for share, lifts in GROUPS])
HEIGHTS = 1 + len(DEGREES)  # of each bend
# Chosen: bends whose directions differ by less pass into one another as they are fitted.
SAME_WAY = math.radians(40)
LIFT_ROUNDS = 3  # chosen: the heights' own priors settle within these
MOST_UNEVEN = 0.5  # chosen: from which a fit is to start, so that no part of a bend points down
LEAST_LIFT_MM = 0.3  # chosen: a bend lower than this may be as uneven as one of this height
SCANNED_BOWS_MM = (0.05, 0.1, 0.2)  # chosen: wander of the edges under which bends are weighed


@dataclass(frozen=True, slots=True)
class BendPulls:
    """What each of `LIFTS` would bring, from a flat card. log_odds : (K,) against the flat card; heights : (K, H) the
    likeliest [mm]; squares : (K, H, H) mean products of its heights [mm^2], those that point down left out; others :
    (COUNT, K, H) by how much the other parameters give way for each mm."""

    log_odds: Floats
    heights: Floats
    squares: Floats
    others: Floats


def bend_pulls(fit: Fit) -> BendPulls:
    """To first order about the fit, for edges that wander as in it."""
    return _pulls(_Data.of(fit), fit.priors.bow_mm)


@dataclass(frozen=True, slots=True)
class _Data:
    """What was seen, weighed. information : (COUNT, COUNT) of the flat card's parameters; slope : (COUNT,) of half the
    sum of squares with them; with_heights : (COUNT, K, H) of them and the heights; of_heights : (K, H, H); pulled :
    (K, H) what the residuals ask of the heights."""

    fit: Fit
    information: Floats
    slope: Floats
    with_heights: Floats
    of_heights: Floats
    pulled: Floats

    @classmethod
    def of(cls, fit: Fit) -> _Data:
        rest, jacobian = fit.standing.residuals, fit.standing.jacobian
        weights = robust_weights(rest, OUTLYING_OF_MISFIT)  # what a bend would explain is no outlier
        # At the minimum the pulls of data, as the fit weighed them, and of what was known beforehand cancel.
        slope = jacobian.T @ ((weights - robust_weights(rest)) * rest)
        root = np.sqrt(weights)
        rest, jacobian = rest * root, jacobian * root[:, None]
        columns = fit.standing.lift_columns(LIFTS) * root[:, None, None]
        flat = columns.reshape(len(rest), -1)
        by_bend = columns.transpose(1, 2, 0)
        return cls(
            fit,
            jacobian.T @ jacobian,
            slope,
            (jacobian.T @ flat).reshape(slot.COUNT, *columns.shape[1:]),
            by_bend @ by_bend.transpose(0, 2, 1),
            (rest @ flat).reshape(columns.shape[1:]),
        )


def _pulls(data: _Data, bow_mm: float) -> BendPulls:
    fit, count = data.fit, len(LIFTS)
    known = fit.sigmas**-2.0
    known[slot.WANDER] = wander_sigmas(bow_mm) ** -2.0
    inverse = np.linalg.inv(data.information + np.diag(known))
    flat = data.with_heights.reshape(slot.COUNT, -1)
    given_way = -inverse @ flat
    others = given_way.reshape(data.with_heights.shape)
    slope = data.slope.copy()
    slope[slot.WANDER] += (known - fit.sigmas**-2.0)[slot.WANDER] * fit.values[slot.WANDER]
    asked = data.pulled + (slope @ given_way).reshape(count, HEIGHTS)
    taken = np.einsum("pki,pkj->kij", data.with_heights, others)
    own = data.of_heights + taken
    lifts = np.full(count, fit.priors.lift_mm)
    for _ in range(LIFT_ROUNDS):  # how far a bend may be uneven goes by its height
        variances = height_variances(fit.priors, lifts)
        covariances = np.linalg.inv(own + variances[:, :, None] ** -1.0 * np.eye(HEIGHTS))
        heights = -np.einsum("kij,kj->ki", covariances, asked)
        lifts = np.maximum(heights[:, 0], LEAST_LIFT_MM)
    gains = -np.einsum("ki,ki->k", heights, asked)
    narrower = np.linalg.slogdet(covariances)[1] - np.log(variances).sum(axis=1)
    sigma = np.sqrt(covariances[:, 0, 0])
    upward = np.clip(heights[:, 0] / sigma, -LEAST_UPWARD, None)
    above = np.array([1 + math.erf(x / math.sqrt(2)) for x in upward]) / 2
    log_odds = np.log(BENT_ODDS * SHARES * 2 * above) + (gains + narrower) / 2
    return BendPulls(log_odds, heights, _upward_squares(heights, covariances, upward, above), others)


def height_variances(priors: Priors, lifts_mm: Floats) -> Floats:
    """(K, HEIGHTS) of the heights beforehand, of bends about so high. [mm^2]"""
    sigmas = np.column_stack(
        [np.full(len(lifts_mm), priors.lift_mm), lifts_mm[:, None] * uneven_sigmas(priors)]
    )
    variances: Floats = sigmas**2
    return variances


def _upward_squares(heights: Floats, covariances: Floats, upward: Floats, above: Floats) -> Floats:
    """(K, H, H) mean products of heights that are Gaussian but for the first, which is cut off at zero."""
    variance = covariances[:, 0, 0]
    sigma = np.sqrt(variance)
    at_zero = np.exp(-(upward**2) / 2) / math.sqrt(2 * math.pi) / above
    first = sigma * (upward + at_zero)
    square = variance * (1 + upward**2 + upward * at_zero)
    # Each height follows the first along a line, and is spread about it.
    along = covariances[:, :, 0] / variance[:, None]
    about = covariances - along[:, :, None] * along[:, None, :] * variance[:, None, None]
    rest = heights - along * (sigma * upward)[:, None]
    mixed = rest[:, :, None] * along[:, None, :] * first[:, None, None]
    squares: Floats = (
        about
        + rest[:, :, None] * rest[:, None, :]
        + mixed
        + mixed.transpose(0, 2, 1)
        + along[:, :, None] * along[:, None, :] * square[:, None, None]
    )
    return squares


@dataclass(frozen=True, slots=True)
class LikelyBend:
    """lift : which of `LIFTS`; values : (COUNT,) all parameters with it, to first order, from which a fit is to start;
    log_odds : of all bends that pass into it, against the flat card; price : twice the negative logarithm of what share
    of all cards they are beforehand."""

    lift: Lift
    values: Floats
    log_odds: float
    price: float


def likeliest_bends(fit: Fit, most: int) -> list[LikelyBend]:
    """The likeliest of those that don't pass into one another, the best first."""
    data, prices = _Data.of(fit), bow_prices(fit, SCANNED_BOWS_MM)
    pulls = [_pulls(data, bow) for bow in SCANNED_BOWS_MM]
    by_bow = np.array([one.log_odds for one in pulls]) - (prices - prices.min())[:, None] / 2
    log_odds = np.logaddexp.reduce(by_bow) - np.log(np.exp((prices.min() - prices) / 2).sum())
    left, found = log_odds.copy(), []
    for _ in range(most):
        best = int(left.argmax())
        alike = np.array([_alike(lift, LIFTS[best]) for lift in LIFTS])
        whole = float(np.logaddexp.reduce(left[alike]))
        share = math.log(2 * BENT_ODDS * SHARES[best]) + whole - float(left[best])
        values = _with_bend(fit, pulls[int(by_bow[:, best].argmax())], best)
        found.append(LikelyBend(LIFTS[best], values, whole, -2 * share))
        left[alike] = -np.inf
    return found


def _with_bend(fit: Fit, pulls: BendPulls, k: int) -> Floats:
    heights = pulls.heights[k]
    values: Floats = fit.values + pulls.others[:, k] @ heights
    values[slot.LIFT] = max(float(heights[0]), LEAST_LIFT_MM)
    values[slot.UNEVEN] = np.clip(heights[1:] / values[slot.LIFT], -MOST_UNEVEN, MOST_UNEVEN)
    return values


def _alike(one: Lift, other: Lift) -> bool:
    apart = math.pi if one.kind in ("arch", "ends") else 2 * math.pi  # turned by half they are the same
    off = abs((one.angle - other.angle + apart / 2) % apart - apart / 2)
    return one.kind == other.kind and off < SAME_WAY


@dataclass(frozen=True, slots=True)
class UnseenBends:
    """Bends that a card taken for flat may have all the same. squares : (K, H, H) mean products of its heights times
    its chance [mm^2]; others : as in `BendPulls`."""

    squares: Floats
    others: Floats

    def position_covariance(self, fit: Fit, places_mm: Floats, jacobian: Floats, axes: Floats) -> Floats:
        """(N, 2, 2) about the flat card's own answer, at places from the card's middle. [mm^2]

        jacobian : (N, 2, CAMERA_COUNT) of the marks' places in the frame with these axes (rows).
        """
        directly = np.einsum("ab,nbkh->nakh", axes, fit.model.place_lifts(fit.values, places_mm, LIFTS))
        moves = np.einsum("nap,pkh->nakh", jacobian, self.others[: slot.CAMERA_COUNT]) + directly
        covariance: Floats = np.einsum("nikg,kgh,njkh->nij", moves, self.squares, moves, optimize=True)
        return covariance


def unseen_bends(fit: Fit, fitted: Collection[Lift] = ()) -> UnseenBends:
    """Each bend by its odds against the flat card; none that passes into one of `fitted`, which count by their fits."""
    pulls = bend_pulls(fit)
    seen = np.array([any(_alike(lift, one) for one in fitted) for lift in LIFTS])
    log_odds = np.where(seen, -np.inf, pulls.log_odds)
    chances = np.exp(log_odds - np.logaddexp.reduce([*log_odds, 0.0]))
    return UnseenBends(chances[:, None, None] * pulls.squares, pulls.others)
