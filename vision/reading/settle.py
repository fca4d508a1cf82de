"""Settle which square, which outline and which card size belong together, and hand back the view.

In:    the photo's pixels and what the person said of card and square.
Out:   a `Sighting`: the view with its doubts and notes.
Fails: `PhotoError`s by name; see `vision.errors` and `vision.reading.refusals`.

Nothing here is decided by one clue alone. A dark tile beside the card is as square as the reference; a
notebook has four straight edges too. What settles it is the one fit in which a square of the stated side,
four straight edges and a size that cards have all agree. A first look (`vision.reading.card.scene`) says where to
measure, and has to agree with what was measured.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, partial

import numpy as np

from circuit.asked import Asked
from circuit.layout import Card, Doubt, Remark, Saying
from vision.arrays import Floats, RgbImage
from vision.errors import CardCutOffError, ManySquaresError, NoCardError, SquareCutOffError, TooBlurredError
from vision.reading.card.find import (
    EdgeFinder,
    find_edges,
    outline_searches,
    quad_of_outline,
    snapped,
    weighed,
)
from vision.reading.card.outline import apart_px, borne_out
from vision.reading.card.quads import LEAST_SCORE, Quad
from vision.reading.card.size import APART_MM
from vision.reading.case import CLEAR_SCORE, Case, cases_of, looks_square
from vision.reading.edge_doubts import (
    DOUBTED_SHARE,
    FAR_SHARE,
    TOLD_LIFT_MM,
    bounded,
    least_share,
    strange,
    tense,
)
from vision.reading.fit.models import rivals as near_rivals
from vision.reading.fit.view import View
from vision.reading.fit.wander import with_likely_wander
from vision.reading.placing import Placing, placed
from vision.reading.quality import LEAST_PX_PER_MM, MOST_BLUR_MM, blur_across, too_dark
from vision.reading.refusals import (
    beyond,
    card_cut_off,
    card_too_small,
    no_card,
    no_square,
    photo_too_dark,
    photo_too_small,
    square_cut_off,
    too_blurred,
)
from vision.reading.sight import Sight, first_sight
from vision.reading.size_choice import with_bends
from vision.reading.square.places import relaid_by_colour, search_squares, squares_at
from vision.reading.square.plain import find_plain_squares, search_coloured_squares
from vision.reading.square.seen import SAME, SquareSeen, alike

NO_CARD = (
    NoCardError,
    CardCutOffError,
    SquareCutOffError,
    TooBlurredError,
)  # see `vision.reading.refusals.no_card`
LEAST_PHOTO_PX = 64  # short side of a picture that is looked at
PLAINER = 0.2  # lead in score from which a plain rectangle leaves no room for another outline
DOUBTED_SCORE = 0.45  # an outline that fits but is as faint as this may be something else
# An outline of no known size has to be plainer than one that fits.
UNSIZED_SCORE, UNSIZED_STRAIN, UNSIZED_MISFIT = 0.75, 8.0, 0.8
DOUBTED_MISFIT = 0.66  # see `Fit.misfit`, bends allowed for: 4 of 4,100 right cards have more
MOST_LIFT_MM = 4.6  # beyond this the shape of the bend is guesswork; of 4 mm it may come out so much
BENT_SCORE = 0.95  # of an outline that is worth a look whether it is a bent card's
# Chosen: what ranks so much lower is not carried to its end, and a mark may lie nearly a millimetre elsewhere.
RIVAL_RANK, RIVAL_MM = 0.15, 0.8
RIVAL_PRICE = 12.0  # as of `fit.models.RIVAL_COST`: what is dearer by so much has a chance under 0.3 %
MOST_RIVALS = 3  # other dark squares that are looked at
BEST_OF_A_SEARCH = 3  # outlines of one search that are tried
MOST_CASES = 9  # combinations of outline and square that are fitted before giving up
FRAME_SLACK_PX = 1.0  # by which a corner may seem to lie beyond the picture
# Map px by which a card's side may lie off where a first look plainly sees it: measured, right ones stay under
# 0.45 where the look leaves no doubt (see `Outline.borne_out`), and go up to 1.5 where it is 0.8.
MOST_APART_PX, APART_IF_VAGUE_PX = 0.6, 6.0
# Where lines, square, shape and a known size all agree the look is rather what errs; what agrees by chance
# lies wholly elsewhere, as a tile of a wall or a square of a mat.
# Of 220 outlines that a look saw ten or more off, the wrong ones had a tension over 30.
PLAIN_SCORE, APART_IF_EXCELLENT_PX = 0.8, 25.0
# Of a bend that explains all of it. In 8,400 photos 68 right ones have more, but the one that was wrong, too.
MUCH_BENT = 18.0
SURE = 0.95  # see `Outline.borne_out`
# Of a card that square, shape, a known size and four edges agree on; wrong outlines have 5.7 or more.
AGREED_TENSION, AGREED_MISFIT, AGREED_SHARE = 3.5, 0.6, 0.25


@dataclass(frozen=True, slots=True)
class Sighting:
    """view, and what has to be said of it; blur_mm : standard deviation of the blur on the card."""

    view: View
    blur_mm: float
    doubts: tuple[Doubt, ...]
    notes: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class _Look:
    """What is seen, and what was said of it."""

    sight: Sight
    asked: Asked
    focal_35mm: float | None
    edges_of: EdgeFinder

    def cases(self, quad: Quad, squares: list[SquareSeen]) -> list[Case]:
        return cases_of(self.sight, quad, squares, self.asked, self.focal_35mm, self.edges_of)

    def bears_out(self, ring: Floats, case: Case) -> bool:
        """Whether lines or a first look, one of them at least, plainly show the card's sides there, and
        neither shows them elsewhere; or all else agrees, and no look shows a card far away.
        ring : (4, N, 2) photo px along them."""
        sheet, there = self.sight.sheet, self.sight.photo_to_map(ring)
        if _agreed(case) and (sheet is None or apart_px(sheet, there) < APART_IF_EXCELLENT_PX):
            return True
        if max(case.quad.score, borne_out(self.sight.scene.card, there)) < DOUBTED_SCORE:
            return False
        if sheet is None or not sheet.plain:
            return all(edge is None or edge.share > DOUBTED_SHARE for edge in case.fit.evidence.edges)
        apart = apart_px(sheet, there)
        if case.excellent and case.quad.score > PLAIN_SCORE:
            return apart < APART_IF_EXCELLENT_PX
        return apart < MOST_APART_PX + APART_IF_VAGUE_PX * (1 - sheet.borne_out)


def look(pixels: RgbImage, asked: Asked, focal_35mm: float | None = None) -> Sighting:
    """Find square and card and fit them together. Raises a PhotoError that names what is wrong."""
    if min(pixels.shape[:2]) < LEAST_PHOTO_PX:
        raise photo_too_small()
    sight = first_sight(pixels)
    if too_dark(sight.small):
        raise photo_too_dark()
    squares, more = squares_at(sight)
    squares = squares or search_squares(sight)
    coloured = [] if squares else search_coloured_squares(sight)
    if not squares and not coloured:
        raise no_square(sight)
    # An outline's edges are measured once, however many squares are tried with it.
    seen = _Look(sight, asked, focal_35mm, cache(partial(find_edges, sight)))
    try:
        settled = _settle_case(seen, squares or coloured, more)
    except NO_CARD as error:
        if coloured:  # many things differ in colour from what is about them: this was no square
            raise no_square(sight) from error
        raise
    return _finish(seen, *settled)


def _settle_case(
    seen: _Look, squares: list[SquareSeen], more: list[SquareSeen]
) -> tuple[Case, tuple[Case, ...]]:
    """The case that stands, and those that could as well but lay the card elsewhere. From the cheapest tries
    on: what a first look sees, then more squares, then outlines of lines."""
    cases: list[Case] = []
    for quad, some in _tries(seen, squares, more):
        cases = _credible(cases + seen.cases(quad, some))
        best = max(cases, key=lambda case: case.rank, default=None)
        if best is not None and best.clear and bounded(seen.sight.pixels, best):
            return _one_square(seen, cases, best), _rivals(best, cases)
        if len(cases) >= MOST_CASES:
            break
    found = _likeliest(seen.sight.pixels, cases)
    stands = found is not None and (found.good or _may_stand(found) or _stands_bent(found))
    if found is None or not stands or _cut_off(seen, found):
        raise no_card(seen.sight, squares, curled=found is not None and _curled(found))
    return _one_square(seen, cases, found), _rivals(found, cases)


def _curled(case: Case) -> bool:
    """Whether four edges are seen well that are no flat card's: of a sheet that stands up from the table."""
    return not case.possible and case.quad.score > CLEAR_SCORE and least_share(case) > FAR_SHARE


def _likeliest(pixels: RgbImage, cases: list[Case]) -> Case | None:
    """The case of the highest rank, but one with edges all round before one that goes on beyond an edge as before:
    half a card up to its pencilled fold has a size that cards have, too."""
    ranked = sorted(cases, key=lambda case: -case.rank)
    if not ranked or bounded(pixels, ranked[0]):
        return next(iter(ranked), None)
    return next((case for case in ranked if case.good and bounded(pixels, case)), ranked[0])


def _rivals(best: Case, cases: list[Case]) -> tuple[Case, ...]:
    """Other cases of the same square with an edge laid elsewhere that are not plainly worse: of the same size, or with
    plainer edges, since a pencil line along the edge of a bent card can give a better flat card than the edge does."""
    return tuple(
        case
        for case in cases
        if alike(case.square.corners, best.square.corners, SAME)
        and best.apart_mm(case) > RIVAL_MM
        and (case.best.name == best.best.name or _plainer(case, best))
    )


def _plainer(case: Case, best: Case) -> bool:
    return case.plain_rectangle and case.quad.score > best.quad.score


def _tries(
    seen: _Look, squares: list[SquareSeen], more: list[SquareSeen]
) -> Iterator[tuple[Quad, list[SquareSeen]]]:
    """Outlines to try with the squares that may belong to them, `more` being other ways to lay those."""
    tried: list[Floats] = []
    first = None
    sight = seen.sight
    sheet, scene = sight.sheet, sight.scene
    if sheet is not None and not sheet.cut_off:
        first = quad_of_outline(scene, sheet)
        tried.append(first.corners)
        yield first, squares
        if more:
            yield first, more
        nearer = snapped(sight, first)
        if nearer is not None:
            tried.append(nearer.corners)
            yield nearer, squares + more
    if all(square.kind == "plain" for square in squares):
        others = _unlike(search_squares(sight), squares)
        others += _unlike(relaid_by_colour(sight, squares), squares + others, SAME)
        if first is not None and others:
            yield first, others
        squares = squares + more + others
    plain = first is not None and sheet is not None and sheet.plain
    if plain and sheet is not None and sheet.borne_out > SURE:
        return  # other lines could only fit by chance
    for quads in outline_searches(sight.small):
        if plain:  # a look that is unsure of the card would only mislead
            quads = sorted((weighed(scene, quad) for quad in quads), key=lambda quad: -quad.score)
        for quad in quads[:BEST_OF_A_SEARCH]:
            if quad.score > LEAST_SCORE and not any(_same_outline(quad.corners, other) for other in tried):
                tried.append(quad.corners)
                yield quad, squares
    if sheet is not None and sheet.cut_off:  # a card that only just fits into the picture
        yield quad_of_outline(scene, sheet), squares


def _unlike(found: list[SquareSeen], known: list[SquareSeen], most: float = 0.3) -> list[SquareSeen]:
    """Those that lie elsewhere than any known one, by more than this share of the side."""
    return [one for one in found if not any(alike(one.corners, other.corners, most) for other in known)]


def _credible(cases: list[Case]) -> list[Case]:
    """Without outlines that a far plainer one puts to shame: given enough lines, some four of them always
    make a sheet of a size that cards have."""
    plainest = max((case.quad.score for case in cases if case.plain_rectangle), default=0.0)
    return [case for case in cases if case.quad.score > plainest - PLAINER]


def _same_outline(first: Floats, second: Floats) -> bool:
    return min(float(np.abs(np.roll(first, k, axis=0) - second).max()) for k in range(4)) < 4.0


def _may_stand(case: Case) -> bool:
    """True for a sheet that is plain enough to be taken, in doubt, for a card of a size not known."""
    return case.plain_rectangle or (
        case.quad.score >= UNSIZED_SCORE
        and case.strain <= UNSIZED_STRAIN
        and case.fit.misfit <= UNSIZED_MISFIT
    )


def _cut_off(seen: _Look, case: Case) -> bool:
    """True for what the picture's border bounds, unless a size that cards have speaks for the whole card."""
    if case.good or seen.sight.sheet is None or not seen.sight.sheet.cut_off:
        return False
    return _same_outline(case.quad.corners, seen.sight.scene.to_small(seen.sight.sheet.corners))


def _stands_bent(case: Case) -> bool:
    """True for a plain outline whose odd shape a bend of the card explains."""
    plain = case.square.kind == "coded" and case.quad.score > BENT_SCORE
    return plain and with_bends(case).best.fits


def _one_square(seen: _Look, cases: list[Case], best: Case) -> Case:
    """`best`, unless another square would make the same card another size."""
    if best.square.kind == "coded":
        return best
    known = [case.square for case in cases if case.quad is best.quad]

    def likely(corners: Floats) -> bool:
        new = all(not alike(corners, square.corners) for square in known)
        return new and looks_square(best.fit.camera.to_card(corners))

    rivals = find_plain_squares(seen.sight, MOST_RIVALS, likely)
    if rivals:
        cases = cases + seen.cases(best.quad, rivals)
    others = [
        case
        for case in cases
        if case.quad is best.quad
        and not alike(case.square.corners, best.square.corners)
        and (case.good or not best.good)
        and case.possible
        and np.abs(case.best.size_mm - best.best.size_mm).max() > APART_MM
    ]
    if others:
        places = [case.square.corners.mean(axis=0) for case in (best, *others)]
        raise ManySquaresError(
            "Several dark squares are in the picture and I can't tell which is the reference square; take the "
            "others away, or give the card's size, and make sure that its side is {side_mm}.",
            [(float(x), float(y)) for x, y in places],
            {"side_mm": seen.asked.plain_side_mm},
        )
    return best


def _finish(seen: _Look, first: Case, elsewhere: tuple[Case, ...]) -> Sighting:
    asked = seen.asked
    placings = [
        placed(first, asked),
        *(placed(case, asked) for case in elsewhere if _worth_placing(case, first)),
    ]
    best = min(placings, key=lambda placing: placing.price)
    rivals = [
        placing
        for placing in placings
        if placing.price < best.price + RIVAL_PRICE and placing.flat.apart_mm(best.flat) > RIVAL_MM
    ]
    match, final = best.match, with_likely_wander(best.likeliest)
    name = None if match is None else match.name
    # The size is what the card was meant to be; a free one is what it measures.
    width, height = (float(v) for v in (final.card_mm if match is None else match.size_mm))
    turned = asked.turn_deg % 360
    card = Card(width, height, name) if turned in (0, 180) else Card(height, width, name)
    near = tuple(near_rivals(list(best.fits)))
    view = View(card, final, best.case.square.kind, best.case.side_mm, turned, near)
    _check_frame(seen.sight.pixels, view)
    blur_mm = _check_sharpness(view)
    lift = final.lift_mm
    much = best.flat.tension > MUCH_BENT and match is not None
    bent = lift > MOST_LIFT_MM or (lift > TOLD_LIFT_MM and much)
    notes: tuple[Remark, ...] = ()
    if lift > TOLD_LIFT_MM and not bent:
        notes = (Remark("card", None, Saying("edge-up", {"lift_mm": lift})),)
    return Sighting(view, blur_mm, (*best.size_doubts, *_doubts(seen, best, view, bool(rivals), bent)), notes)


def _worth_placing(case: Case, best: Case) -> bool:
    """Whether an outline that lies elsewhere could turn out as good, a bend allowed for."""
    if _plainer(case, best):
        case = with_bends(case)
    return case.good and case.rank > best.rank - RIVAL_RANK


def _agreed(case: Case) -> bool:
    return (
        case.good
        and case.tension < AGREED_TENSION
        and case.fit.misfit < AGREED_MISFIT
        and least_share(case) > AGREED_SHARE
    )


def _doubts(seen: _Look, placing: Placing, view: View, torn: bool, bent: bool) -> list[Doubt]:
    """What speaks against a view that fits. `torn` : its edges could as well lie elsewhere; `bent` : so much that
    the shape of the bend is guesswork."""
    says = []
    if bent:
        says.append(Saying("bent", {"lift_mm": view.fit.lift_mm}))
    flat, known = placing.flat, placing.match is not None
    odd_shape = known and tense(flat, view)
    faint = odd_shape and least_share(flat) < DOUBTED_SHARE
    strange_edges = strange(seen.sight.pixels, flat, view)
    if torn or faint or strange_edges or not seen.bears_out(_ring(view), placing.case):
        says.append(Saying("edges-faint"))
    elif odd_shape or view.fit.misfit > DOUBTED_MISFIT:
        says.append(Saying("not-flat"))
    return [Doubt("card", None, one) for one in says]


def _corners_mm(view: View) -> Floats:
    width, height = view.card.width_mm, view.card.height_mm
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def _ring(view: View, count: int = 9) -> Floats:
    """(4, count, 2) places along the card's sides, the corners left out. [photo px]"""
    corners = _corners_mm(view)
    t = np.linspace(0.1, 0.9, count)[:, None]
    sides = [corners[k] + t * (corners[(k + 1) % 4] - corners[k]) for k in range(4)]
    return view.to_photo(np.vstack(sides)).reshape(4, count, 2)


def _check_frame(pixels: RgbImage, view: View) -> None:
    cut = beyond(pixels, view.to_photo(_corners_mm(view)), FRAME_SLACK_PX)
    if len(cut):
        raise card_cut_off(pixels, cut)
    square = view.fit.evidence.square
    if square is not None and len(beyond(pixels, square.corners, FRAME_SLACK_PX)):
        raise square_cut_off(pixels, square.corners)


def _check_sharpness(view: View) -> float:
    """Blur on the card [mm]; raises when marks would drown in it or pixels are too few."""
    width, height = view.card.width_mm, view.card.height_mm
    middles = np.array([[width / 2, 0], [width, height / 2], [width / 2, height], [0, height / 2]])
    density = view.px_per_mm(middles)
    if float(np.median(density)) < LEAST_PX_PER_MM:
        raise card_too_small()
    evidence = view.fit.evidence
    blur_px = blur_across(evidence.edges)
    if evidence.square is not None:
        blur_px = min(blur_px, blur_across(evidence.square.sides))
    blur_mm = blur_px / float(np.median(density))
    if blur_mm > MOST_BLUR_MM:
        raise too_blurred()
    return blur_mm


__all__ = ["Sighting", "look"]
