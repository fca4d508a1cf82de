"""Which candidate stands, and which others could as well but lay the card elsewhere.

In:    a photo as it was taken in, and the squares seen in it.
Out:   a `Chosen`.
Fails: `NoCardError` and its like where none stands; `ManySquaresError` where another square makes another card.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vision.arrays import Floats
from vision.errors import ManySquaresError
from vision.reading.card.size import APART_MM, possible_sizes
from vision.reading.fit.uncertainty import SURE_MM
from vision.reading.four_corners import side_lengths
from vision.reading.placing.candidate import CLEAR_SCORE, Candidate, size_spread
from vision.reading.placing.edge_signs import ends_at_all_edges
from vision.reading.placing.first_fit import TakenIn, candidates_of, looks_square
from vision.reading.placing.tries import is_the_cut_off_sheet, tries
from vision.reading.refusals import no_card
from vision.reading.square.plain import find_plain_squares
from vision.reading.square.square_edges import SAME, SquareSeen, alike

MOST_CANDIDATES = 9  # combinations of outline and square that are fitted before giving up
PLAINER = 0.2  # lead in score from which a plain rectangle leaves no room for another outline
UNSIZED_SCORE = 0.75  # an outline of no known size has to be plainer than one that fits
RIVAL_RANK = 0.15  # chosen: what ranks so much lower is not carried to its end
MOST_OTHER_SQUARES = 3  # dark ones that are looked at
ROUGH_SIDE = 0.08  # chosen: standard deviation of a dark patch's sides before they are laid, a share of them


@dataclass(frozen=True, slots=True)
class Chosen:
    """best : the candidate that stands; elsewhere : others that could turn out as good, an edge laid elsewhere."""

    best: Candidate
    elsewhere: tuple[Candidate, ...]


def choose(seen: TakenIn, squares: list[SquareSeen]) -> Chosen:
    """Try outlines until one ends the search, or take the likeliest of all."""
    found: list[Candidate] = []
    first: Candidate | None = None
    whole, floor = False, -math.inf

    def so_far() -> Candidate | None:
        if first is None or not whole:
            return None
        return seen.bent(first) if first.is_seen_all_round else first

    for quad, some in tries(seen.sight, squares, so_far):
        if quad.score <= floor:
            continue
        found = _without_far_fainter(found + candidates_of(seen, quad, some))
        best = max(found, key=lambda one: one.rank, default=None)
        if best is not None and best is not first:
            first, whole = best, ends_at_all_edges(seen.sight.pixels, best)
            if whole and best.ends_the_search:
                return _chosen(seen, found, best)
            # Nothing ranks above its score: what is fainter can neither win nor be a rival.
            floor = best.rank - RIVAL_RANK if whole and best.is_known_card else -math.inf
        if len(found) >= MOST_CANDIDATES:
            break
    best = max(found, key=lambda one: one.rank, default=None)
    if (
        best is None
        or not _stands(best)
        or (not best.is_known_card and is_the_cut_off_sheet(seen.sight, best.quad))
    ):
        raise no_card(seen.sight, squares, curled=best is not None and _is_curled(best))
    return _chosen(seen, found, best)


def _chosen(seen: TakenIn, found: list[Candidate], best: Candidate) -> Chosen:
    _refuse_another_square(seen, found, best)
    return Chosen(best, rivals(best, found))


def _without_far_fainter(found: list[Candidate]) -> list[Candidate]:
    """Without outlines far fainter than a plain rectangle's: given enough lines, some four of them always
    make a sheet of a size that cards have."""
    plainest = max((one.quad.score for one in found if one.is_seen_all_round), default=0.0)
    return [one for one in found if one.quad.score > plainest - PLAINER]


def _stands(best: Candidate) -> bool:
    """True for a known card, and for a sheet plain enough to be taken, in doubt, for a card of a size not known."""
    return best.is_known_card or (best.is_plain_sheet and best.quad.score >= UNSIZED_SCORE)


def _is_curled(best: Candidate) -> bool:
    """Whether four edges are seen well that are no flat card's: of a sheet that stands up from the table."""
    return not best.is_rectangle and best.quad.score > CLEAR_SCORE


def rivals(best: Candidate, found: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """Others of the same square and size with an edge laid elsewhere that could turn out as good."""
    return tuple(
        one
        for one in found
        if alike(one.square.corners, best.square.corners, SAME)
        and best.apart_mm(one) > SURE_MM
        and one.best.name == best.best.name
        and one.is_known_card
        and one.rank > best.rank - RIVAL_RANK
    )


def _could_make_another_card(seen: TakenIn, best: Candidate, side_mm: float) -> bool:
    """Whether a square with sides of about so many of the card's own millimetres could make it another known size."""
    if not best.is_known_card:
        return True
    scale = seen.asked.plain_side_mm / side_mm
    size = scale * best.fit.card_mm
    spread = scale**2 * size_spread(best.fit) + ROUGH_SIDE**2 * np.outer(size, size)
    matches = possible_sizes(size, spread, seen.asked)
    return any(one.fits and np.abs(one.size_mm - best.best.size_mm).max() > APART_MM for one in matches)


def _refuse_another_square(seen: TakenIn, found: list[Candidate], best: Candidate) -> None:
    """Raise ManySquaresError where another square would make the same card another size."""
    if best.square.kind == "coded":
        return
    same_quad = [one for one in found if one.quad is best.quad]

    def likely(corners: Floats) -> bool:
        new = all(not alike(corners, one.square.corners) for one in same_quad)
        return new and looks_square(best.fit.camera.to_card(corners))

    def worth_laying(corners: Floats) -> bool:
        side_mm = float(side_lengths(best.fit.camera.to_card(corners)).mean())
        return _could_make_another_card(seen, best, side_mm)

    squares = find_plain_squares(seen.sight, MOST_OTHER_SQUARES, likely, worth_laying)
    if squares:
        same_quad += candidates_of(seen, best.quad, squares)
    others = [
        one
        for one in same_quad
        if not alike(one.square.corners, best.square.corners)
        and (one.is_known_card or not best.is_known_card)
        and one.is_rectangle
        and np.abs(one.best.size_mm - best.best.size_mm).max() > APART_MM
    ]
    if others:
        places = [one.square.corners.mean(axis=0) for one in (best, *others)]
        raise ManySquaresError(
            "Several dark squares are in the picture and I can't tell which is the reference square; take the "
            "others away, or give the card's size, and make sure that its side is {side_mm}.",
            [(float(x), float(y)) for x, y in places],
            {"side_mm": seen.asked.plain_side_mm},
        )
