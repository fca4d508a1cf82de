"""Which lens and which bend of the card explain a photo best, and which others nearly as well.

A photo alone seldom tells a longer lens from a little curl. So the fit is made under several
suppositions, each with a price for how much it supposes; what the near ones say counts by its odds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from vision.arrays import Floats
from vision.reading.fit.bends import LikelyBend, likeliest_bends
from vision.reading.fit.camera import Camera
from vision.reading.fit.parameters import LOG_FOCAL, Evidence, Priors
from vision.reading.fit.solve import MOST_ROUNDS, Fit, fit_card, with_bend, with_size
from vision.reading.fit.wander import supposed_price

FULL_FRAME_DIAGONAL_MM = 43.2666  # of the 24 x 36 mm frame that equivalent focal lengths refer to
# A phone's main lens has 23-30 mm; its longer ones 48-77, its wide one 13-16.
MAIN_EQUIVALENT_MM = 27.0
ANY_EQUIVALENT_MM, ANY_LOG_SIGMA = 36.0, 0.50
ANY_PRICE = 5.0  # twice the logarithm of the odds (4 in 5 take the main lens) and of the wider range
FOCAL_STRAIN = 1.6  # standard deviations of the focal length from which another lens is tried
# Logarithm of all bends' odds against the flat card, to first order, from which they are fitted: six that are each
# unlikely may together be as likely as none. First order says too little of a high bend: of 110 simulated cards bent by
# 0.4 to 4 mm the likeliest bend had 0 to -1 on 6; 3 of them were bent by the fit, and laid 0.4 mm nearer to the truth.
# Of 191 flat cards and 58 bent ones 15 and 43 have more, as many flat ones as have a bend of more than -1, but two more
# bent ones.
WORTH_A_FIT = -0.7
# The same beside a likelier one: a high bend is far from first order. Of two photos whose marks lay over a millimetre
# off the right one had -1.7 and -3.7, and once fitted odds of 100,000 and of 25. The higher the likeliest, the less is
# seen in one that explains none of it: of 324 that were fitted beside others the 112 with less than this share of its
# logarithm more never came out with odds of 5 % against the best.
WORTH_BESIDE, BESIDE_SHARE = -4.0, 0.25
MOST_BENDS = 6  # chosen: so many are fitted at most, none of which passes into another; of one card the fifth was right
# Chosen: of the way from a card's middle to its farthest corner; what starts farther out is a dog-ear, no bend, and its
# fit does not come to rest.
MOST_START = 0.85
# What is dearer by so much weighs under 2 %. With all above 0.3 % as many of 1,892 cards are doubted, their bounds hold
# as often, and their marks lie as near.
RIVAL_COST = 8.0


def main_focal_px(diagonal_px: float) -> float:
    """Focal length of a phone's main lens for a picture of this diagonal. [px]"""
    return MAIN_EQUIVALENT_MM / FULL_FRAME_DIAGONAL_MM * diagonal_px


def fit_models(
    evidence: Evidence,
    start: Camera,
    sizes_mm: Sequence[Floats],
    size_free: bool,
    on_card: bool,
    priors: Priors,
    bends: int = MOST_BENDS,
    rounds: int = MOST_ROUNDS,
) -> list[tuple[Fit, float]]:
    """Fits under every supposition worth trying with the price of each (lower is likelier), best first.

    sizes_mm : one, or several that lie within a millimetre or two, each (2,). bends : how many of the likeliest ways in
    which the card may bend up are fitted, 0 to suppose a flat one throughout.
    """
    first = partial(fit_card, size_mm=sizes_mm[0], size_free=size_free, on_card=on_card, rounds=rounds)
    flat = first(evidence, start, priors=priors)
    lenses = [(flat, flat.cost)]
    off = (flat.values[LOG_FOCAL] - np.log(evidence.focal_px)) / priors.log_focal
    if abs(off) > FOCAL_STRAIN:
        any_focal = ANY_EQUIVALENT_MM / FULL_FRAME_DIAGONAL_MM * evidence.diagonal_px
        wider = replace(evidence, focal_px=any_focal)
        other = first(wider, flat.camera, priors=replace(priors, log_focal=ANY_LOG_SIGMA))
        lenses.append((other, other.cost + ANY_PRICE))
    found: list[tuple[Fit, float]] = []
    for flat, price in lenses:
        of_sizes = [flat, *(with_size(flat, size) for size in sizes_mm[1:])]
        prices = [price + fit.cost - flat.cost for fit in of_sizes]
        found += zip(of_sizes, prices, strict=True)
        supposed: list[float] = []
        for bend in _worth_a_fit(likeliest_bends(flat, bends)) if bends else ():
            bent = with_bend(flat, bend.lift, bend.values)
            if bent.lift_mm <= 0 or bent.camera.lift.start > MOST_START:
                continue
            supposed = supposed or [supposed_price(fit) for fit in of_sizes]
            for k, fit in enumerate([bent, *(with_size(bent, size) for size in sizes_mm[1:])]):
                if fit.lift_mm > 0:
                    found.append((fit, prices[k] + supposed_price(fit) - supposed[k] + bend.price))
    return sorted(found, key=lambda item: item[1])


def _worth_a_fit(likeliest: Sequence[LikelyBend]) -> list[LikelyBend]:
    """likeliest : the best first."""
    if np.logaddexp.reduce([bend.log_odds for bend in likeliest], initial=-np.inf) < WORTH_A_FIT:
        return []
    worth = WORTH_BESIDE + BESIDE_SHARE * max(likeliest[0].log_odds, 0.0)
    return [likeliest[0], *(bend for bend in likeliest[1:] if bend.log_odds >= worth)]


def rivals(found: Sequence[tuple[Fit, float]]) -> list[tuple[Fit, float]]:
    """The other fits with their odds against the best, near ones only."""
    best = found[0][1]
    return [(fit, float(np.exp(-(cost - best) / 2))) for fit, cost in found[1:] if cost - best < RIVAL_COST]
