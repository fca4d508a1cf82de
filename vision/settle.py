"""Settle which square, which outline and which card size belong together, and hand back the view.

In:    the photo's pixels and what the person said of card and square.
Out:   a `Sighting`: the view with its doubts (sentences) and notes.
Fails: `PhotoError`s by name; see `vision.errors`.

Nothing here is decided by one clue alone. A dark tile beside the card is as square as the reference; a
notebook has four straight edges too. What settles it is the one fit in which a square of the stated side,
four straight edges and a size that cards have all agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from circuit.layout import Card
from circuit.lengths import format_length
from circuit.settings import Units
from vision.camera import FLAT, Camera, Lift, rough_pose
from vision.card.find import cut_off_score, find_edges, outline_searches
from vision.card.quads import Quad
from vision.card.size import SizeMatch, compare_either_way, known_sizes, rivals, scaled_match
from vision.edge_points import EdgePoints
from vision.errors import (
    CardCutOffError,
    ManySquaresError,
    NoCardError,
    NoSquareError,
    PhotoError,
    SquareCardDisagreeError,
    SquareCutOffError,
    TooBlurredError,
    TooDarkError,
    TooSmallError,
)
from vision.fit import (
    LOG_FOCAL,
    SLANTS,
    Evidence,
    Fit,
    Priors,
    SquareEvidence,
    fit_models,
    main_focal_px,
)
from vision.fit.models import FULL_FRAME_DIAGONAL_MM
from vision.fit.models import rivals as near_rivals
from vision.photo import RgbImage
from vision.quality import (
    LEAST_PX_PER_MM,
    MOST_BLUR_MM,
    blurred_at_large,
    featureless,
    too_dark,
)
from vision.small_picture import Floats, SmallPicture, shrink
from vision.square import SquareSeen, cut_off_square, find_coded_squares, find_plain_squares
from vision.view import View

LOOSE_LOG_FOCAL = 0.35  # for the first guess, before any fit
TOLD_LOG_FOCAL = 0.08  # of a focal length written in the file: rounded, and some phones crop
CLEAR_SCORE = 0.85  # of a `Quad`: measured on the practice photos, cards on most tables reach 0.95
PERFECT_SCORE = 1.0  # a step all along all four sides that ends at all four corners
PLAINER = 0.2  # lead in score from which a plain rectangle leaves no room for another outline
DOUBTED_SCORE = 0.60  # an outline that fits but is as faint as this may be something else
LEAST_SCORE = 0.33
# An outline of no known size has to be plainer than one that fits.
UNSIZED_SCORE, UNSIZED_STRAIN, UNSIZED_MISFIT = 0.75, 12.0, 1.0
MOST_STRAIN = 20.0  # see `_Case.strain`
MOST_MISFIT, DOUBTED_MISFIT = 1.4, 1.1  # see `Fit.misfit`: flat cards on quiet tables give 0.3 to 0.5
MOST_LIFT_MM = 4.0  # beyond this the shape of the bend is guesswork
OBLONG, SKEWED = 1.2, 0.25  # how far a true square may look from one before lens and focal length are known
SMALLEST_CARD_MM, LARGEST_CARD_MM = 45.0, 450.0
OWN_PAPER = 2.3  # sides of the square that the white paper it is printed on may measure
FIRST_ROUNDS = 14  # of a fit that only ranks; the one that stands runs to its end
MOST_CASES = 9  # combinations of outline and square that are fitted before giving up
GROSS = 0.12  # square and card that differ by more than this share can't both be right


@dataclass(frozen=True, slots=True)
class Asked:
    """What the person said. card_mm : the card's sides, either way round, with its name if it has one;
    coded_side_mm : the printed side as measured, for a square that the printer scaled."""

    card_mm: tuple[float, float] | None = None
    card_name: str | None = None
    plain_side_mm: float = 25.4
    coded_side_mm: float | None = None
    turn_deg: int = 0
    units: Units = "mm"


@dataclass(frozen=True, slots=True)
class Sighting:
    """view, and what has to be said of it; blur_mm : standard deviation of the blur on the card."""

    view: View
    blur_mm: float
    doubts: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Case:
    """One combination of outline and square with its free fit and the sizes it may be."""

    quad: Quad
    square: SquareSeen
    side_mm: float
    corners: Floats
    fit: Fit
    matches: list[SizeMatch]
    on_card: bool

    @property
    def best(self) -> SizeMatch:
        return self.matches[0]

    @property
    def strain(self) -> float:
        """Squared standard deviations by which the shape alone departs from a rectangle in a phone photo."""
        values, sigmas = self.fit.values, self.fit.sigmas
        slants = float(((values[SLANTS] / sigmas[SLANTS]) ** 2).sum())
        focal = (values[LOG_FOCAL] - np.log(self.fit.evidence.focal_px)) / sigmas[LOG_FOCAL]
        return slants + max(0.0, abs(float(focal)) - 1.5) ** 2

    @property
    def rank(self) -> float:
        """Larger is likelier."""
        size = min(self.best.distance, 40.0) / 40.0
        shape = min(self.strain, 60.0) / 60.0
        misfit = min(max(self.fit.misfit - 0.5, 0.0), 1.0)
        return self.quad.score - 0.5 * size - 0.4 * shape - 0.4 * misfit

    @property
    def clear(self) -> bool:
        """True when no further search can bring anything better: a plain outline of a plain rectangle."""
        if self.quad.score < CLEAR_SCORE:
            return False
        return self.good or (self.plain_rectangle and self.square.kind == "coded")

    @property
    def plain_rectangle(self) -> bool:
        """True for a sheet seen beyond doubt, whatever its size."""
        return self.quad.score > PERFECT_SCORE and self.strain < 8.0 and self.fit.misfit < 0.8

    @property
    def good(self) -> bool:
        return self.best.fits and self.strain < MOST_STRAIN and self.fit.misfit < MOST_MISFIT


def look(pixels: RgbImage, asked: Asked, focal_35mm: float | None = None) -> Sighting:
    """Find square and card and fit them together. Raises a PhotoError that names what is wrong."""
    if min(pixels.shape[:2]) < 64:
        raise TooSmallError(
            "This picture is only a few dots wide; take the photo itself, not its preview, and try again."
        )
    small = shrink(pixels)
    if too_dark(small):
        raise TooDarkError("The photo is too dark to read; take it again by daylight or under a lamp.")
    squares: list[SquareSeen] = find_coded_squares(pixels)
    if not squares and not featureless(small):
        squares = find_plain_squares(pixels, small)
    if not squares:
        raise _no_square(pixels, small)
    case = _settle_case(pixels, small, squares, asked, focal_35mm)
    return _finish(pixels, case, asked)


def _no_square(pixels: RgbImage, small: SmallPicture) -> PhotoError:
    blur = _blurred_at_large(pixels, small)
    if blur is not None:
        return blur
    cut = cut_off_square(small)
    if cut is not None:
        return SquareCutOffError(
            "The reference square is not wholly in the picture; step back until the whole card and the whole "
            "square are in it, and take it again.",
            [(float(cut[0]), float(cut[1]))],
        )
    return NoSquareError(
        "There is no reference square in this picture; lay the printed square or a dark paper square flat on "
        "the card or beside it, wholly in the picture, and take it again."
    )


def _blurred_at_large(pixels: RgbImage, small: SmallPicture) -> PhotoError | None:
    if not blurred_at_large(pixels, small):
        return None
    return TooBlurredError(
        "The photo is too blurred to read; hold the phone still, tap the card so that it focuses there, and "
        "take it again."
    )


def _settle_case(
    pixels: RgbImage,
    small: SmallPicture,
    squares: list[SquareSeen],
    asked: Asked,
    focal_35mm: float | None,
) -> _Case:
    cases: list[_Case] = []
    tried: list[Floats] = []
    for quads in outline_searches(small):
        for quad in [quad for quad in quads if quad.score > LEAST_SCORE][:3]:
            if len(cases) >= MOST_CASES or any(_same_outline(quad.corners, other) for other in tried):
                continue
            tried.append(quad.corners)
            cases = _credible(cases + _cases_of(pixels, small, quad, squares, asked, focal_35mm))
            best = max(cases, key=lambda case: case.rank, default=None)
            if best is not None and best.clear:
                return _one_square(cases, best, asked)
    cases.sort(key=lambda case: -case.rank)
    found = cases[0] if cases else None
    if found is not None and found.good:
        return _one_square(cases, found, asked)
    raise_or_keep = _why_no_card(pixels, small, found)
    if raise_or_keep is not None or found is None:
        raise raise_or_keep or _no_card()
    return _one_square(cases, found, asked)


def _credible(cases: list[_Case]) -> list[_Case]:
    """Without outlines that a far plainer one puts to shame: given enough lines, some four of them always
    make a sheet of a size that cards have."""
    plainest = max((case.quad.score for case in cases if case.plain_rectangle), default=0.0)
    return [case for case in cases if case.quad.score > plainest - PLAINER]


def _same_outline(first: Floats, second: Floats) -> bool:
    return min(float(np.abs(np.roll(first, k, axis=0) - second).max()) for k in range(4)) < 4.0


def _why_no_card(pixels: RgbImage, small: SmallPicture, found: _Case | None) -> PhotoError | None:
    """The error for a photo whose outline does not fit; None when what was found may stand, in doubt."""
    if found is not None and found.plain_rectangle:
        return None
    score, corners = cut_off_score(small)
    if score > max(0.75, 0.0 if found is None else found.quad.score + 0.05):
        inside = np.clip(small.to_photo(corners), 0, np.array(pixels.shape[1::-1]) - 1)
        return CardCutOffError(
            "The card is not wholly in the picture; step back until all four corners are in it, and take it "
            "again.",
            [(float(x), float(y)) for x, y in inside],
        )
    blur = _blurred_at_large(pixels, small)
    if blur is not None:
        return blur
    if (
        found is None
        or found.quad.score < UNSIZED_SCORE
        or found.strain > UNSIZED_STRAIN
        or found.fit.misfit > UNSIZED_MISFIT
    ):
        return _no_card()
    return None


def _no_card() -> PhotoError:
    return NoCardError(
        "I can't make out the card's four edges; lay it on a table of another colour, with nothing over its "
        "edges, and take it again."
    )


def _cases_of(
    pixels: RgbImage,
    small: SmallPicture,
    quad: Quad,
    squares: Sequence[SquareSeen],
    asked: Asked,
    focal_35mm: float | None,
) -> list[_Case]:
    edges, corners = find_edges(pixels, small, quad)
    if sum(edge is not None for edge in edges) < 4:
        return []
    cases = []
    for square in squares[:4]:
        side = (asked.coded_side_mm or square.side_mm) if square.kind == "coded" else asked.plain_side_mm
        assert side is not None
        case = _free_case(pixels, quad, corners, edges, square, side, asked, focal_35mm)
        if case is not None:
            cases.append(case)
    return cases


def _focal(pixels: RgbImage, focal_35mm: float | None) -> tuple[float, float]:
    """Likely focal length [px] and the standard deviation of its logarithm."""
    diagonal = float(np.hypot(*pixels.shape[:2]))
    usual = main_focal_px(diagonal)
    long, short = max(pixels.shape[:2]), min(pixels.shape[:2])
    whole = any(abs(long / short - ratio) < 0.02 for ratio in (4 / 3, 3 / 2, 16 / 9))
    if focal_35mm is None or not whole or not 10 <= focal_35mm <= 300:
        return usual, Priors().log_focal
    return focal_35mm / FULL_FRAME_DIAGONAL_MM * diagonal, TOLD_LOG_FOCAL


def _free_case(
    pixels: RgbImage,
    quad: Quad,
    corners: Floats,
    edges: list[EdgePoints | None],
    square: SquareSeen,
    side_mm: float,
    asked: Asked,
    focal_35mm: float | None,
) -> _Case | None:
    height, width = pixels.shape[:2]
    middle = np.array([(width - 1) / 2, (height - 1) / 2])
    focal, log_sigma = _focal(pixels, focal_35mm)
    start = _start(corners, square, side_mm, focal, log_sigma, middle)
    if start is None:
        return None
    camera, size = start
    evidence = Evidence(
        (edges[0], edges[1], edges[2], edges[3]),
        SquareEvidence(square.sides, square.corners, side_mm),
        middle,
        float(np.hypot(width, height)),
        focal,
    )
    where = camera.to_card(square.corners).mean(axis=0)
    if size.max() < OWN_PAPER * side_mm and np.abs(where).max() < side_mm / 2:
        return None
    on_card = bool(np.all(np.abs(where) < size / 2))
    priors = replace(Priors(), log_focal=log_sigma)
    fit = fit_models(evidence, camera, size, True, on_card, priors, bends=False, rounds=FIRST_ROUNDS)[0][0]
    measured = fit.card_mm
    if not np.all(np.isfinite(measured)) or measured.min() < 20 or measured.max() > 1000:
        return None
    spread = fit.covariance[11:13, 11:13] + np.eye(2) * priors.cut_mm**2
    if asked.card_mm is not None:
        matches = [compare_either_way(measured, spread, asked.card_mm, asked.card_name)]
    else:
        matches = known_sizes(measured, spread)
    return _Case(quad, square, side_mm, corners, fit, matches, on_card)


def _start(
    corners: Floats, square: SquareSeen, side_mm: float, focal: float, log_sigma: float, middle: Floats
) -> tuple[Camera, Floats] | None:
    """A rough camera and card size [mm], over the focal lengths that phones have."""

    def strain(factor: float) -> float:
        pose = rough_pose(corners, focal * factor, middle)
        return float((pose.skew / 0.02) ** 2 + (np.log(factor) / max(log_sigma, LOOSE_LOG_FOCAL)) ** 2)

    factor = min(np.exp(np.linspace(-0.7, 0.9, 9)), key=strain)
    pose = rough_pose(corners, focal * factor, middle)
    unit = Camera(
        focal * factor,
        middle,
        0.0,
        0.0,
        pose.rotation,
        pose.shift,
        np.array([pose.aspect, 1.0]) / 2,
        FLAT,
        Lift.nowhere(),
    )
    seen = unit.to_card(square.corners)
    side = float(np.linalg.norm(np.roll(seen, -1, axis=0) - seen, axis=1).mean())
    if not np.isfinite(side) or side <= 1e-6 or not 0.2 < pose.aspect < 5 or pose.shift[2] <= 0:
        return None
    edges = np.roll(seen, -1, axis=0) - seen
    lengths = np.linalg.norm(edges, axis=1)
    cosines = np.abs((edges * np.roll(edges, -1, axis=0)).sum(axis=1)) / (lengths * np.roll(lengths, -1))
    # A tile that is no square, or lines that bound no rectangle, are not worth a fit.
    if lengths.max() > OBLONG * lengths.min() or cosines.max() > SKEWED or abs(pose.skew) > SKEWED:
        return None
    height = side_mm / side
    if not SMALLEST_CARD_MM < height < LARGEST_CARD_MM:
        return None
    size = np.array([pose.aspect, 1.0]) * height
    return replace(unit, shift=pose.shift * height, half=size / 2), size


def _one_square(cases: list[_Case], best: _Case, asked: Asked) -> _Case:
    """`best`, unless another square would make the same card another size."""
    if best.square.kind == "coded":
        return best
    same = [case for case in cases if case.quad is best.quad and case.square is not best.square]
    others = [
        case
        for case in same
        if (case.good or not best.good)
        and case.strain < MOST_STRAIN
        and case.fit.misfit < MOST_MISFIT
        and np.abs(case.best.size_mm - best.best.size_mm).max() > 1.2
    ]
    if others:
        places = [case.square.corners.mean(axis=0) for case in (best, *others)]
        raise ManySquaresError(
            "Several dark squares are in the picture and I can't tell which is the reference square; take the "
            f"others away, or give the card's size, and make sure that its side is "
            f"{format_length(asked.plain_side_mm, asked.units)}.",
            [(float(x), float(y)) for x, y in places],
        )
    return best


NEAR_SIZE = 0.04  # share by which a bent card's sides may seem off before its bend is known


def _with_bends(case: _Case, asked: Asked) -> _Case:
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
        if np.abs(fit.card_mm / match.size_mm - 1).max() > NEAR_SIZE:
            continue
        there = replace(camera, half=match.size_mm / 2)
        named = fit_models(fit.evidence, there, match.size_mm, False, case.on_card, fit.priors)[0]
        matches.append(replace(match, distance=max(named[1] - free[1], 0.0)))
    good = sorted((match for match in matches if match.fits), key=lambda match: match.distance)
    if not good:
        return replace(case, fit=free[0])
    return replace(case, fit=free[0], matches=good)


def _finish(pixels: RgbImage, case: _Case, asked: Asked) -> Sighting:
    doubts: list[str] = []
    notes: list[str] = []
    case = _with_bends(case, asked)
    match, size_free = _choose_size(case, asked, doubts, notes)
    fit = case.fit
    size = fit.card_mm if match is None else match.size_mm
    camera = replace(fit.camera, half=size / 2, curl=FLAT)
    found = fit_models(fit.evidence, camera, size, size_free, case.on_card, fit.priors)
    final = found[0][0]
    lift = final.lift_mm
    if lift > MOST_LIFT_MM:
        doubts.append(
            f"The card does not lie flat: an edge stands up by about {format_length(lift, asked.units)}; "
            "press it flat, or weigh it down at the edges, and take the photo again."
        )
    elif lift > 0.6:
        notes.append(f"An edge of the card stands up by about {format_length(lift, asked.units)}.")
    if case.quad.score < DOUBTED_SCORE:
        doubts.append(
            "The card's edges are hard to make out; lay it on a table of another colour and take the photo again."
        )
    if final.misfit > DOUBTED_MISFIT:
        doubts.append(
            "Square and card edges don't lie as they would on a flat card; press card and square flat and "
            "take the photo again."
        )
    name = None if match is None else match.name
    # The size is what the card was meant to be; a free one is what it measures.
    width, height = (float(v) for v in (final.card_mm if match is None else match.size_mm))
    turned = asked.turn_deg % 360
    card = Card(width, height, name) if turned in (0, 180) else Card(height, width, name)
    view = View(card, final, case.square.kind, case.side_mm, turned, tuple(near_rivals(found)))
    _check_frame(pixels, view)
    blur_mm = _check_sharpness(view)
    return Sighting(view, blur_mm, tuple(doubts), tuple(notes))


def _choose_size(
    case: _Case, asked: Asked, doubts: list[str], notes: list[str]
) -> tuple[SizeMatch | None, bool]:
    """The size to fit with (None: as measured), and whether it stays free."""

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
        return best, False
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
        return None, True
    misprint = None if case.square.kind == "plain" else scaled_match(case.fit.card_mm, _size_spread(case))
    if misprint is not None:
        match, factor = misprint
        off = float(np.abs(case.fit.card_mm - match.size_mm).max())
        doubts.append(
            f"By the square the card measures {measured}; if it is {match.name}, that is {mm(off)} off and the "
            f"square's side is {mm(case.side_mm / factor)}, not {mm(case.side_mm)}: measure the printed square "
            "and say its side, or give the card's size."
        )
    else:
        doubts.append(
            f"The card measures {measured} by the square, which is no size I know; measure it and give its size."
        )
    return None, True


def _size_spread(case: _Case) -> Floats:
    spread: Floats = case.fit.covariance[11:13, 11:13] + np.eye(2) * case.fit.priors.cut_mm**2
    return spread


def _check_frame(pixels: RgbImage, view: View) -> None:
    width, height = view.card.width_mm, view.card.height_mm
    corners = view.to_photo(np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]))
    limits = np.array(pixels.shape[1::-1]) - 1
    outside = (corners < -1.0) | (corners > limits + 1.0)
    if outside.any():
        inside = np.clip(corners[outside.any(axis=1)], 0, limits)
        raise CardCutOffError(
            "The card is not wholly in the picture; step back until all four corners are in it, and take it "
            "again.",
            [(float(x), float(y)) for x, y in inside],
        )


def _blur_px(sides: Sequence[EdgePoints | None]) -> float:
    """Standard deviation of the blur across four edges, in order round a shape. [px]

    A shaken photo is blurred one way only, so opposite edges speak for one direction, and the worse
    direction counts; of two opposite edges the sharper, since a shadow beside an edge widens it.
    """
    pairs = [[side.blur_px for side in sides[k::2] if side is not None] for k in (0, 1)]
    return max((min(pair) for pair in pairs if pair), default=0.0)


def _check_sharpness(view: View) -> float:
    """Blur on the card [mm]; raises when marks would drown in it or pixels are too few."""
    width, height = view.card.width_mm, view.card.height_mm
    middles = np.array([[width / 2, 0], [width, height / 2], [width / 2, height], [0, height / 2]])
    density = view.px_per_mm(middles)
    if float(np.median(density)) < LEAST_PX_PER_MM:
        raise TooSmallError(
            "The card is too small in this picture for its pencil marks; go nearer, or use the photo at full "
            "size, and take it again."
        )
    evidence = view.fit.evidence
    blur_px = _blur_px(evidence.edges)
    if evidence.square is not None:
        blur_px = min(blur_px, _blur_px(evidence.square.sides))
    blur_mm = blur_px / float(np.median(density))
    if blur_mm > MOST_BLUR_MM:
        raise TooBlurredError(
            "The photo is too blurred to read; hold the phone still, tap the card so that it focuses there, and "
            "take it again."
        )
    return blur_mm
