"""Find which square, which outline and which card size belong together, and hand back the view.

In:    the photo's pixels and what the person said of card and square.
Out:   a `FoundView`: the view with its doubts and notes.
Fails: `PhotoError`s by name; see `vision.errors` and `vision.reading.refusals`.

Nothing here is decided by one clue alone. A dark tile beside the card is as square as the reference; a
notebook has four straight edges too. What settles it is the one fit in which a square of the stated side,
four straight edges and a size that cards have all agree. A first look (`vision.reading.card.first_look`) says where to
measure, and has to agree with what was measured.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from circuit.asked import Asked
from circuit.layout import Card, Doubt, Remark
from vision.arrays import RgbImage
from vision.errors import CardCutOffError, NoCardError, SquareCutOffError, TooBlurredError
from vision.reading.fit.bends import unseen_bends
from vision.reading.fit.models import rivals as near_rivals
from vision.reading.fit.uncertainty import SURE_MM
from vision.reading.fit.view import View
from vision.reading.fit.wander import with_likely_wander
from vision.reading.placing.choice import Chosen, choose
from vision.reading.placing.doubts import corners_mm, doubts_of
from vision.reading.placing.first_fit import TakenIn, take_in
from vision.reading.placing.placing import CardPose, placed
from vision.reading.quality import LEAST_PX_PER_MM, MOST_BLUR_MM, blur_across, too_dark
from vision.reading.refusals import (
    beyond,
    card_cut_off,
    card_too_small,
    is_blurred,
    no_square,
    photo_too_dark,
    photo_too_small,
    square_cut_off,
    too_blurred,
)
from vision.reading.sight import first_sight
from vision.reading.square.find_squares import search_squares, squares_at
from vision.reading.square.plain import search_coloured_squares

LEAST_PHOTO_PX = 64  # short side of a picture that is looked at
NO_CARD = (NoCardError, CardCutOffError, SquareCutOffError, TooBlurredError)  # see `refusals.no_card`
RIVAL_PRICE = 12.0  # of another outline; what is dearer by so much has a chance under 0.3 %
# Of another outline within that price. Measured on 67 of 5,067 photos: 6 lay nearer to the truth, no matter how dear.
RIVAL_ODDS = 0.1
# Chosen: shares of width and height at which marks are compared; few lie nearer to an edge.
MARKS_AT = np.array([(x, y) for x in (0.1, 0.5, 0.9) for y in (0.1, 0.5, 0.9)])
FRAME_SLACK_PX = 1.0  # by which a corner may seem to lie beyond the picture


@dataclass(frozen=True, slots=True)
class FoundView:
    """view, and what has to be said of it."""

    view: View
    doubts: tuple[Doubt, ...]
    notes: tuple[Remark, ...]


def find_view(pixels: RgbImage, asked: Asked, focal_35mm: float | None = None) -> FoundView:
    """Find square and card and fit them together. Raises a PhotoError that names what is wrong."""
    if min(pixels.shape[:2]) < LEAST_PHOTO_PX:
        raise photo_too_small()
    sight = first_sight(pixels)
    if too_dark(sight.small):
        raise photo_too_dark()
    squares = squares_at(sight) or search_squares(sight)
    # Colour is looked for last, and in vain in a blurred photo: that takes longer than all else.
    coloured = [] if squares or is_blurred(sight, ()) else search_coloured_squares(sight)
    if not squares and not coloured:
        raise no_square(sight)
    seen = take_in(sight, asked, focal_35mm)
    try:
        chosen = choose(seen, squares or coloured)
    except NO_CARD as error:
        if coloured:  # many things differ in colour from what is about them: this was no square
            raise no_square(sight) from error
        raise
    return _found(seen, chosen)


def _found(seen: TakenIn, chosen: Chosen) -> FoundView:
    """The cheapest placing of the chosen candidate and of those elsewhere, and what has to be said of it."""
    placings = [placed(candidate, seen.asked, seen.bent) for candidate in (chosen.best, *chosen.elsewhere)]
    best = min(placings, key=lambda placing: placing.price)
    view = _view_of(best, seen.asked.turn_deg % 360)
    others = [one for one in placings if one is not best and one.price < best.price + RIVAL_PRICE]
    torn = any(_moves_mm(view, best, other) > SURE_MM for other in others)
    if not torn:  # what they would move the marks by is told by the marks' bounds
        near = [(other.likeliest, RIVAL_ODDS) for other in others]
        view = replace(view, rivals=(*view.rivals, *near))
    _check_frame(seen.sight.pixels, view)
    _check_sharpness(view)
    # Limits of doubts were measured on edges that wander as usual; this card's own wander only says where marks lie.
    doubts, notes = doubts_of(seen.sight, best, replace(view, fit=best.likeliest), torn)
    size_doubts = best.size_doubts
    if best.match is None:  # the card is as large as it measures, and is told so in one figure
        size_doubts = tuple(_with_size(doubt, view.card) for doubt in size_doubts)
    return FoundView(view, (*size_doubts, *doubts), tuple(notes))


def _with_size(doubt: Doubt, card: Card) -> Doubt:
    """A doubt about a card's size, with the sides that the card came out with in the end."""
    sides: dict[str, float | str] = {"width_mm": card.width_mm, "height_mm": card.height_mm}
    figures = {name: sides.get(name, figure) for name, figure in doubt.says.figures.items()}
    return replace(doubt, says=replace(doubt.says, figures=figures))


def _view_of(placing: CardPose, turn_deg: int) -> View:
    match, near = placing.match, near_rivals(placing.fits)
    fit = with_likely_wander(placing.likeliest)
    bent = fit.lift_mm > 0
    flat = next((one for one, _ in placing.fits if one.lift_mm == 0), None) if bent else None
    fitted = {one.model.lift for one, _ in placing.fits if one.lift_mm > 0}
    unseen = None if bent else unseen_bends(fit, fitted)
    # The size is what the card was meant to be; a free one is what it measures.
    width, height = (float(v) for v in (fit.card_mm if match is None else match.size_mm))
    name = None if match is None else match.name
    card = Card(width, height, name) if turn_deg in (0, 180) else Card(height, width, name)
    candidate = placing.candidate
    return View(card, fit, candidate.square.kind, candidate.side_mm, turn_deg, tuple(near), flat, unseen)


def _moves_mm(view: View, best: CardPose, other: CardPose) -> float:
    """How far another placing lays the place of a mark elsewhere, or a card's corner where it makes it another size."""
    if not np.array_equal(best.likeliest.size_mm, other.likeliest.size_mm):
        return other.flat.apart_mm(best.flat)
    places = np.array([view.card.width_mm, view.card.height_mm]) * MARKS_AT
    return float(np.linalg.norm(view.moved_by(other.likeliest, places), axis=1).max())


def _check_frame(pixels: RgbImage, view: View) -> None:
    cut = beyond(pixels, view.to_photo(corners_mm(view)), FRAME_SLACK_PX)
    if len(cut):
        raise card_cut_off(pixels, cut)
    square = view.fit.evidence.square
    if square is not None and len(beyond(pixels, square.corners, FRAME_SLACK_PX)):
        raise square_cut_off(pixels, square.corners)


def _check_sharpness(view: View) -> None:
    """Raises when marks would drown in the blur, or pixels are too few."""
    width, height = view.card.width_mm, view.card.height_mm
    middles = np.array([[width / 2, 0], [width, height / 2], [width / 2, height], [0, height / 2]])
    density = float(np.median(view.px_per_mm(middles)))
    if density < LEAST_PX_PER_MM:
        raise card_too_small()
    evidence = view.fit.evidence
    blur_px = blur_across(evidence.edges)
    if evidence.square is not None:
        blur_px = min(blur_px, blur_across(evidence.square.sides))
    if blur_px > MOST_BLUR_MM * density:
        raise too_blurred()
