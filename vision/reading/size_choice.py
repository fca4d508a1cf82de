"""Which size the card was meant to be, and what has to be said where square and size don't agree.

In:    the `Case` that stands.
Out:   the same case with its bends allowed for; the size to fit with, its doubts as sentences.
Fails: `SquareCardDisagreeError` where a size that was given can't be true.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from circuit.lengths import format_length
from vision.errors import SquareCardDisagreeError
from vision.reading.card.size import FITS, SizeMatch, compare, rivals, scaled_match
from vision.reading.case import Asked, Case, size_spread
from vision.reading.fit import fit_models
from vision.reading.fit.camera import FLAT

GROSS = 0.12  # square and card that differ by more than this share can't both be right
NEAR_MM = 1.0  # chosen: twice what a hand cuts off; a size that near is worth naming
NEAR_SIZE = 0.04  # share by which a bent card's sides may seem off before its bend is known


def with_bends(case: Case) -> Case:
    """The same case with its size looked at again when none fits: a bent card seems larger than it is.

    A named size stands when a fit with it, bends included, is hardly worse than one with no size given.
    """
    if case.best.fits:
        return case
    fit = case.fit
    camera = replace(fit.camera, curl=FLAT)
    free = fit_models(fit.evidence, camera, fit.size_mm, True, case.on_card, fit.priors)[0]
    matches = []
    for match in case.matches[:4]:
        if np.abs(free[0].card_mm / match.size_mm - 1).max() > NEAR_SIZE:
            continue
        there = replace(camera, half=match.size_mm / 2)
        named = fit_models(fit.evidence, there, match.size_mm, False, case.on_card, fit.priors)[0]
        matches.append(replace(match, distance=max(named[1] - free[1], 0.0)))
    good = sorted((match for match in matches if match.fits), key=lambda match: match.distance)
    if not good:
        # what was compared with a flat card's size no longer holds
        spread = size_spread(free[0])
        again = [compare(free[0].card_mm, spread, match.size_mm, match.name) for match in case.matches]
        far = [replace(match, distance=max(match.distance, FITS)) for match in again]
        return replace(case, fit=free[0], matches=sorted(far, key=lambda match: match.off_mm))
    return replace(case, fit=free[0], matches=good)


def choose_size(case: Case, asked: Asked) -> tuple[SizeMatch | None, list[str]]:
    """The size to fit with, None to leave it as measured; and the doubts about it."""
    doubts: list[str] = []

    def mm(value: float) -> str:
        return format_length(value, asked.units)

    width, height = case.fit.card_mm
    measured = f"{mm(width)} x {mm(height)}"
    best = case.best
    if best.fits:
        others = [] if asked.card_mm is not None else rivals(case.matches)
        if others:
            doubts.append(
                f"The card measures {measured}: that could be {best.name} or {others[0].name}; give its size."
            )
        return best, doubts
    share = float(np.abs(case.fit.card_mm / best.size_mm - 1).max())
    if asked.card_mm is not None:
        nominal = f"{mm(best.size_mm[0])} x {mm(best.size_mm[1])}"
        if share > GROSS:
            raise SquareCardDisagreeError(
                f"By the reference square the card measures {measured}, but its size was given as {nominal}; "
                "check which square lies there and the card's size."
            )
        doubts.append(
            f"Square and card disagree by {mm(best.off_mm)}: by the square the card measures {measured}, not "
            f"{nominal}; check that the square was printed at full size "
            f"({mm(case.side_mm)} a side) and that the card's size is right."
        )
        return None, doubts
    misprint = None if case.square.kind == "plain" else scaled_match(case.fit.card_mm, size_spread(case.fit))
    if misprint is not None and mm(case.side_mm / misprint[1]) != mm(case.side_mm):
        match, factor = misprint
        off = float(np.abs(case.fit.card_mm - match.size_mm).max())
        doubts.append(
            f"By the square the card measures {measured}; if it is {match.name}, that is {mm(off)} off and the "
            f"square's side is {mm(case.side_mm / factor)}, not {mm(case.side_mm)}: measure the printed square "
            "and say its side, or give the card's size."
        )
    elif best.off_mm < NEAR_MM:
        doubts.append(
            f"The card measures {measured} by the square, {mm(best.off_mm)} off {best.name}: measure it and "
            "give its size."
        )
    else:
        doubts.append(
            f"The card measures {measured} by the square, which is no size I know; measure it and give its size."
        )
    return None, doubts
