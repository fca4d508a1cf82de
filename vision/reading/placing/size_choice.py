"""Which size the card was meant to be, and what has to be said where square and size don't agree.

In:    the `Candidate` that stands.
Out:   the same candidate with its bends allowed for; the size to fit with, its doubts.
Fails: `SquareCardDisagreeError` where a size that was given can't be true.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from circuit.asked import Asked
from circuit.layout import Doubt, Saying
from vision.errors import SquareCardDisagreeError
from vision.reading.card.size import APART_MM, FITS, SizeMatch, compare, known_sizes, rivals, scaled_match
from vision.reading.fit.camera import FLAT
from vision.reading.fit.models import fit_models
from vision.reading.fit.solve import Fit
from vision.reading.placing.candidate import Candidate, size_spread

GROSS = 0.12  # square and card that differ by more than this share can't both be right
NEAR_MM = 1.0  # chosen: twice what a hand cuts off; a size that near is worth naming
# Chosen: sides' ratio, to what a hand-cut of 0.5 mm on each side of a small card changes it.
SAME_SHAPE = 0.01
NEAR_SIZE = 0.04  # share by which a bent card's sides may seem off before its bend is known


def with_bends(candidate: Candidate) -> Candidate:
    """The same candidate with its size looked at again when none fits: a bent card seems larger than it is.

    A named size stands when a fit with it, bends included, is hardly worse than one with no size given.
    """
    if candidate.best.fits:
        return candidate
    fit = candidate.fit
    camera = replace(fit.camera, curl=FLAT)
    fits = fit_models(fit.evidence, camera, [fit.size_mm], True, candidate.on_card, fit.priors)
    free = fits[0][0]
    matches = []
    for match in candidate.matches[:4]:
        if np.abs(free.card_mm / match.size_mm - 1).max() > NEAR_SIZE:
            continue
        there = replace(camera, half=match.size_mm / 2)
        named = fit_models(
            fit.evidence, there, [match.size_mm], False, candidate.on_card, fit.priors, bends=1
        )
        matches.append(replace(match, distance=max(_left_over(named) - _left_over(fits), 0.0)))
    good = sorted((match for match in matches if match.fits), key=lambda match: match.distance)
    if not good:
        # what was compared with a flat card's size no longer holds
        spread = size_spread(free)
        again = [compare(free.card_mm, spread, match.size_mm, match.name) for match in candidate.matches]
        far = [replace(match, distance=max(match.distance, FITS)) for match in again]
        return replace(candidate, fit=free, matches=sorted(far, key=lambda match: match.off_mm))
    return replace(candidate, fit=free, matches=good)


def _left_over(fits: Sequence[tuple[Fit, float]]) -> float:
    """What the closest of the fits leaves over. Their prices would not do: a size that is free counts in them, too, and
    more or less so by the bend."""
    return min(fit.cost for fit, _ in fits)


def choose_size(candidate: Candidate, asked: Asked) -> tuple[SizeMatch | None, list[Doubt]]:
    """The size to fit with, None to leave it as measured; and the doubts about it."""
    width, height = (float(side) for side in candidate.fit.card_mm)
    best = candidate.best
    measured: dict[str, float | str] = {
        "width_mm": width,
        "height_mm": height,
        "off_mm": best.off_mm,
        "name": best.name or "",
    }
    if best.fits:
        others = [] if asked.card_mm is not None else rivals(candidate.matches)
        other = others[0].name or "" if others else ""
        return best, [_doubt("two-sizes", {**measured, "other": other})] if others else []
    if asked.card_mm is not None:
        _refuse_another_size(candidate)
        said = {"said_width_mm": float(best.size_mm[0]), "said_height_mm": float(best.size_mm[1])}
        if np.abs(candidate.fit.card_mm / best.size_mm - 1).max() > GROSS:
            raise SquareCardDisagreeError(
                "By the reference square the card measures {width_mm} x {height_mm}, but its size was given as "
                "{said_width_mm} x {said_height_mm}; check which square lies there and the card's size.",
                lengths_mm={"width_mm": width, "height_mm": height, **said},
            )
        return None, [_doubt("square-and-size", {**measured, **said, "side_mm": candidate.side_mm})]
    misprint = (
        None
        if candidate.square.kind == "plain"
        else scaled_match(candidate.fit.card_mm, size_spread(candidate.fit))
    )
    if misprint is not None:
        match, factor = misprint
        sides = {"side_mm": candidate.side_mm, "true_side_mm": candidate.side_mm / factor}
        off = float(np.abs(candidate.fit.card_mm - match.size_mm).max())
        return None, [
            _doubt("square-off-scale", {**measured, **sides, "off_mm": off, "name": match.name or ""})
        ]
    return None, [_doubt("near-size" if best.off_mm < NEAR_MM else "no-known-size", measured)]


def _refuse_another_size(candidate: Candidate) -> None:
    """Raise SquareCardDisagreeError where the square makes the card the size that was given, but for its scale, and
    that is just another known size: a square that lies higher than the card, on a wallet or a book, does that."""
    measured, given = candidate.fit.card_mm, candidate.best.size_mm
    width, height = (float(share) for share in measured / given)
    other = known_sizes(measured, size_spread(candidate.fit))[0]
    if abs(width / height - 1) < SAME_SHAPE and other.fits and np.abs(other.size_mm - given).max() > APART_MM:
        raise SquareCardDisagreeError(
            f"By the reference square this is a {other.name} card, "
            "{width_mm} x {height_mm}, but its size was given as {said_width_mm} x {said_height_mm}; lay the square "
            "flat on the card, or on the table right beside it, not on something higher, and take the photo again.",
            lengths_mm={
                "width_mm": float(measured[0]),
                "height_mm": float(measured[1]),
                "said_width_mm": float(given[0]),
                "said_height_mm": float(given[1]),
            },
        )


def _doubt(key: str, figures: Mapping[str, float | str]) -> Doubt:
    return Doubt("card", None, Saying(key, figures))
