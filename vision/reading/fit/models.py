"""Which lens and which bend of the card explain a photo best, and how far the rivals lie from it.

A photo alone seldom tells a longer lens from a little curl. So the fit is made under several
suppositions, each with a price for how much it supposes; the cheapest stands, and what the near
rivals would have said goes into the uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.arrays import Floats
from vision.reading.fit.bends import LIFT_PRICE, LIFTS, UnseenBends, likeliest_lifts
from vision.reading.fit.camera import FLAT, Camera, Lift
from vision.reading.fit.parameters import LOG_FOCAL, Evidence, Priors
from vision.reading.fit.solve import MOST_ROUNDS, Fit, fit_card

FULL_FRAME_DIAGONAL_MM = 43.2666  # of the 24 x 36 mm frame that equivalent focal lengths refer to
# A phone's main lens has 23-30 mm; its longer ones 48-77, its wide one 13-16.
MAIN_EQUIVALENT_MM = 27.0
ANY_EQUIVALENT_MM, ANY_LOG_SIGMA = 36.0, 0.50
ANY_PRICE = 5.0  # twice the logarithm of the odds (4 in 5 take the main lens) and of the wider range
FOCAL_STRAIN = 1.6  # standard deviations of the focal length from which another lens is tried
WORTH_A_FIT = 7.0  # expected fall of the sum of squares from which a bend is tried
BENT_ROUNDS = 15  # of a fit that starts from the flat card's
BEND_SHAPE = 0.3  # share of what a bend moves a mark by which that may be off
RIVAL_COST = 12.0  # a rival dearer than this by so much weighs under 0.3 %


def main_focal_px(diagonal_px: float) -> float:
    """Focal length of a phone's main lens for a picture of this diagonal. [px]"""
    return MAIN_EQUIVALENT_MM / FULL_FRAME_DIAGONAL_MM * diagonal_px


def fit_models(
    evidence: Evidence,
    start: Camera,
    size_mm: Floats,
    size_free: bool,
    on_card: bool,
    priors: Priors,
    bends: bool = True,
    rounds: int = MOST_ROUNDS,
) -> list[tuple[Fit, float]]:
    """Fits under every supposition worth trying with the price of each (lower is likelier), best first.

    bends : False to suppose a flat card throughout.
    """
    flat = fit_card(evidence, start, size_mm, size_free, on_card, priors, rounds=rounds)
    found = [(flat, flat.cost)]
    off = (flat.values[LOG_FOCAL] - np.log(evidence.focal_px)) / priors.log_focal
    if abs(off) > FOCAL_STRAIN:
        any_focal = ANY_EQUIVALENT_MM / FULL_FRAME_DIAGONAL_MM * evidence.diagonal_px
        wider = replace(evidence, focal_px=any_focal)
        other = fit_card(
            wider,
            flat.camera,
            size_mm,
            size_free,
            on_card,
            replace(priors, log_focal=ANY_LOG_SIGMA),
            rounds=rounds,
        )
        found.append((other, other.cost + ANY_PRICE))
    if bends:
        for fit, price in list(found):
            for lift, gain in likeliest_lifts(fit):
                if gain < WORTH_A_FIT:
                    break
                bent = _bent(fit, size_mm, size_free, lift)
                if bent.lift_mm > 0:
                    found.append((bent, bent.cost + price - fit.cost + LIFT_PRICE))
    found.sort(key=lambda item: item[1])
    return found


def rivals(found: list[tuple[Fit, float]]) -> list[tuple[Fit, float]]:
    """The other fits with their odds against the best, near ones only; beside a bent card always the flat one, since
    no paper bends quite as supposed: marks may lie off by a share of what the bend moves them."""
    best, price = found[0]
    near = [(fit, float(np.exp(-(cost - price) / 2))) for fit, cost in found[1:] if cost - price < RIVAL_COST]
    flat = next((fit for fit, _ in found if fit.lift_mm == 0), None)
    if best.lift_mm == 0 or flat is None:
        return near
    odds = max((own for fit, own in near if fit is flat), default=0.0)
    return [(fit, own) for fit, own in near if fit is not flat] + [_beside_bent(flat, odds)]


@dataclass(frozen=True, slots=True)
class BentAfterAll:
    """fit : of the likeliest bend; flat : the flat card's, with its odds against it, as in `rivals`."""

    fit: Fit
    flat: tuple[Fit, float]


def bent_after_all(flat: Fit, unseen: UnseenBends, size_free: bool) -> BentAfterAll | None:
    """The likeliest bend of a card that was taken for flat; None where flat is likelier than all bends together.

    Asked once it is known how far the card's own edges wander: what a straight edge shows of a bend counts for more.
    """
    against = float(unseen.odds.sum())
    if against <= 1:
        return None
    lift = LIFTS[int(unseen.odds.argmax())]
    fit = _bent(flat, flat.size_mm, size_free, lift)
    return BentAfterAll(fit, _beside_bent(flat, 1 / against)) if fit.lift_mm > 0 else None


def _bent(flat: Fit, size_mm: Floats, size_free: bool, lift: Lift) -> Fit:
    level = replace(flat.camera, curl=FLAT)
    return fit_card(
        flat.evidence, level, size_mm, size_free, flat.on_card, flat.priors, lift, rounds=BENT_ROUNDS
    )


def _beside_bent(flat: Fit, odds: float) -> tuple[Fit, float]:
    """The flat card's fit with its odds against a bent one, which are never less than what a bend's shape is worth."""
    return flat, max(odds, BEND_SHAPE**2)
