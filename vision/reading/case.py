"""One outline and one square put together: the free fit of both, and the sizes that the card may have.

In:    an outline in the small picture, the squares seen, what the person said.
Out:   a `Case` for each square that could lie as seen; none where edges or square don't bear the outline out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from circuit.asked import Asked
from vision.arrays import Floats, RgbImage
from vision.reading.card.find import EdgeFinder, FourEdges, corners_px
from vision.reading.card.quads import Quad
from vision.reading.card.size import SizeMatch, compare_either_way, known_sizes
from vision.reading.fit import (
    LOG_FOCAL,
    SLANTS,
    Evidence,
    Fit,
    Priors,
    SquareEvidence,
    fit_models,
    main_focal_px,
)
from vision.reading.fit.camera import FLAT, Camera, Lift, rough_pose
from vision.reading.fit.models import FULL_FRAME_DIAGONAL_MM
from vision.reading.sight import Sight
from vision.reading.square.seen import SquareSeen, corners_apart

LOOSE_LOG_FOCAL = 0.35  # for the first guess, before any fit
TOLD_LOG_FOCAL = 0.08  # of a focal length written in the file: rounded, and some phones crop
CLEAR_SCORE = 0.85  # of a `Quad`: measured on the practice photos, cards on most tables reach 0.95
PERFECT_SCORE = 1.0  # a step all along all four sides that ends at all four corners
MOST_STRAIN = 14.0  # see `Case.strain`: of 215 right cards none has over 8
MOST_MISFIT = 1.0  # see `Fit.misfit`: of 215 right cards none has over 0.65
PLAIN_STRAIN, PLAIN_MISFIT = 8.0, 0.8  # the same for a sheet of any size: right cards stay below both
OBLONG, SKEWED = 1.2, 0.25  # how far a true square may look from one before lens and focal length are known
SMALLEST_CARD_MM, LARGEST_CARD_MM = 45.0, 450.0
OWN_PAPER = 2.3  # sides of the square that the white paper it is printed on may measure
FREE_FOCAL = 1.5  # standard deviations by which the focal length may be off without counting as odd
# Chosen, from good to bad cases of the practice photos: what counts against a case's rank, and from where it is as bad
# as can be. What right cards leave over anyhow counts for nothing.
WORST_DISTANCE, WORST_STRAIN, USUAL_MISFIT = 40.0, 60.0, 0.35
SIZE_COUNTS, SHAPE_COUNTS, MISFIT_COUNTS = 0.5, 0.4, 0.8
SENSOR_RATIOS, SAME_RATIO = (
    (4 / 3, 3 / 2, 16 / 9),
    0.02,
)  # of pictures that are not cropped, as phones take them
SHORTEST_FOCAL_MM, LONGEST_FOCAL_MM = 10.0, 300.0  # equivalent; a file that says otherwise is wrong
LEAST_SIDE_MM, MOST_SIDE_MM, MOST_OBLONG = 20.0, 1000.0, 5.0  # of a sheet that is worth a fit; chosen
SKEW_SIGMA = 0.02  # of the cosine between a sheet's sides, by corners that are roughly known; chosen
FOCAL_FACTORS = np.exp(np.linspace(-0.7, 0.9, 9))  # of the likely focal length, from a wide to a long lens
FIRST_ROUNDS = 14  # of a fit that only ranks; the one that stands runs to its end
MOST_SQUARES = 6  # that are tried with one outline


def side_of(square: SquareSeen, asked: Asked) -> float:
    """The side that this square should have. [mm]"""
    if square.kind == "plain" or square.side_mm is None:
        return asked.plain_side_mm
    return asked.printed_mm or square.side_mm


# Measured on 430 simulated photos with patterned tables, 700 outlines of which reach this: the only ones of
# them that lie wrong are tiles and the like, far from where the card is.
EXCELLENT_TENSION, EXCELLENT_MISFIT, EXCELLENT_SHARE = 5.0, 0.55, 0.6
# Of flat cards on simulated photos 94 of 100 stay within both; an edge laid a millimetre off gives 4 to 6.
EASY_TENSION, EASY_MISFIT = 3.5, 0.65
FAINT_TENSION, FAINT_MISFIT = 3.0, 0.5  # for an outline that is not plain all round


@dataclass(frozen=True, slots=True)
class Case:
    """One combination of outline and square with its free fit and the sizes it may be."""

    quad: Quad
    square: SquareSeen
    side_mm: float
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
        return slants + max(0.0, abs(float(focal)) - FREE_FOCAL) ** 2

    @property
    def corners_px(self) -> Floats:
        """(4, 2) corners of the card as the fit has them. [photo px]"""
        fit = self.fit
        return fit.camera.to_photo(fit.corners_mm(fit.values) - fit.size_mm / 2)

    @property
    def px_per_mm(self) -> float:
        """Photo pixels per millimetre along the card's upper edge."""
        own = self.corners_px
        return float(np.linalg.norm(own[1] - own[0])) / float(self.fit.card_mm[0])

    def apart_mm(self, other: Case) -> float:
        """How far off another case's farthest corner lies, about. [mm]"""
        return corners_apart(other.corners_px, self.corners_px) / self.px_per_mm

    @property
    def tension(self) -> float:
        """Squared standard deviations by which shape and size depart from a known card's, lying flat."""
        return self.best.distance + self.strain

    @property
    def rank(self) -> float:
        """Larger is likelier."""
        size = min(self.best.distance / WORST_DISTANCE, 1.0)
        shape = min(self.strain / WORST_STRAIN, 1.0)
        misfit = min(max(self.fit.misfit - USUAL_MISFIT, 0.0), 1.0)
        return self.quad.score - SIZE_COUNTS * size - SHAPE_COUNTS * shape - MISFIT_COUNTS * misfit

    @property
    def clear(self) -> bool:
        """True when no further search can bring anything better: a plain outline of a plain rectangle."""
        if self.quad.score < CLEAR_SCORE:
            return False
        plain = self.quad.score > PERFECT_SCORE
        tension, misfit = (EASY_TENSION, EASY_MISFIT) if plain else (FAINT_TENSION, FAINT_MISFIT)
        if self.good:
            return self.tension < tension and self.fit.misfit < misfit
        return self.plain_rectangle and self.square.kind == "coded"

    @property
    def plain_rectangle(self) -> bool:
        """True for a sheet seen beyond doubt, whatever its size."""
        plain = self.quad.score > PERFECT_SCORE
        return plain and self.strain < PLAIN_STRAIN and self.fit.misfit < PLAIN_MISFIT

    @property
    def possible(self) -> bool:
        """True for a rectangle of any size in a phone photo."""
        return self.strain < MOST_STRAIN and self.fit.misfit < MOST_MISFIT

    @property
    def excellent(self) -> bool:
        """True where square, shape, a known size and the edges' whole length agree as they hardly do by
        chance."""
        edges = self.fit.evidence.edges
        return (
            self.good
            and self.tension < EXCELLENT_TENSION
            and self.fit.misfit < EXCELLENT_MISFIT
            and all(edge is not None and edge.share > EXCELLENT_SHARE for edge in edges)
        )

    @property
    def good(self) -> bool:
        return self.best.fits and self.possible


def cases_of(
    sight: Sight,
    quad: Quad,
    squares: Sequence[SquareSeen],
    asked: Asked,
    focal_35mm: float | None,
    edges_of: EdgeFinder,
) -> list[Case]:
    """The cases of one outline, one for each square that fits into it; [] when an edge is not to be seen."""
    lens = _lens(sight.pixels, focal_35mm)
    corners = corners_px(sight, quad)
    starts = [
        (square, start)
        for square in squares[:MOST_SQUARES]
        if (start := _start(corners, square, side_of(square, asked), lens)) is not None
    ]
    # Only now the edges: most squares are told from a tile or a label by the corners alone.
    edges = edges_of(quad) if starts else None
    if edges is None:
        return []
    cases = [_free_case(quad, edges, square, start, asked, lens) for square, start in starts]
    return [case for case in cases if case is not None]


@dataclass(frozen=True, slots=True)
class _Lens:
    """focal_px : likely focal length, log_sigma : the standard deviation of its logarithm; middle_px, diagonal_px : of
    the picture."""

    focal_px: float
    log_sigma: float
    middle_px: Floats
    diagonal_px: float


def _lens(pixels: RgbImage, focal_35mm: float | None) -> _Lens:
    height, width = pixels.shape[:2]
    middle, diagonal = np.array([(width - 1) / 2, (height - 1) / 2]), float(np.hypot(width, height))
    long, short = max(height, width), min(height, width)
    whole = any(abs(long / short - ratio) < SAME_RATIO for ratio in SENSOR_RATIOS)
    if focal_35mm is None or not whole or not SHORTEST_FOCAL_MM <= focal_35mm <= LONGEST_FOCAL_MM:
        return _Lens(main_focal_px(diagonal), Priors().log_focal, middle, diagonal)
    return _Lens(focal_35mm / FULL_FRAME_DIAGONAL_MM * diagonal, TOLD_LOG_FOCAL, middle, diagonal)


def _free_case(
    quad: Quad,
    edges: FourEdges,
    square: SquareSeen,
    start: tuple[Camera, Floats],
    asked: Asked,
    lens: _Lens,
) -> Case | None:
    side_mm = side_of(square, asked)
    camera, size = start
    evidence = Evidence(
        edges,
        SquareEvidence(square.sides, square.corners, side_mm),
        lens.middle_px,
        lens.diagonal_px,
        lens.focal_px,
    )
    where = camera.to_card(square.corners).mean(axis=0)
    if size.max() < OWN_PAPER * side_mm and np.abs(where).max() < side_mm / 2:
        return None
    on_card = bool(np.all(np.abs(where) < size / 2))
    priors = replace(Priors(), log_focal=lens.log_sigma)
    fit = fit_models(evidence, camera, size, True, on_card, priors, bends=False, rounds=FIRST_ROUNDS)[0][0]
    measured = fit.card_mm
    if not np.all(np.isfinite(measured)) or measured.min() < LEAST_SIDE_MM or measured.max() > MOST_SIDE_MM:
        return None
    spread = size_spread(fit)
    if asked.card_mm is not None:
        matches = [compare_either_way(measured, spread, asked.card_mm, asked.card_name)]
    else:
        matches = known_sizes(measured, spread)
    return Case(quad, square, side_mm, fit, matches, on_card)


def size_spread(fit: Fit) -> Floats:
    """(2, 2) covariance of width and height, the cut included. [mm2]"""
    spread: Floats = fit.covariance[11:13, 11:13] + np.eye(2) * fit.priors.cut_mm**2
    return spread


def _start(corners: Floats, square: SquareSeen, side_mm: float, lens: _Lens) -> tuple[Camera, Floats] | None:
    """A rough camera and card size [mm], over the focal lengths that phones have; None for a tile that is no square,
    or lines that bound no rectangle: they are not worth a fit."""

    def strain(factor: float) -> float:
        pose = rough_pose(corners, lens.focal_px * factor, lens.middle_px)
        off = np.log(factor) / max(lens.log_sigma, LOOSE_LOG_FOCAL)
        return float((pose.skew / SKEW_SIGMA) ** 2 + off**2)

    focal = lens.focal_px * min(FOCAL_FACTORS, key=strain)
    pose = rough_pose(corners, focal, lens.middle_px)
    unit = Camera(
        focal,
        lens.middle_px,
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
    if (
        not np.isfinite(side)
        or side <= 1e-6
        or not 1 / MOST_OBLONG < pose.aspect < MOST_OBLONG
        or pose.shift[2] <= 0
    ):
        return None
    if not looks_square(seen) or abs(pose.skew) > SKEWED:
        return None
    height = side_mm / side
    if not SMALLEST_CARD_MM < height < LARGEST_CARD_MM:
        return None
    size = np.array([pose.aspect, 1.0]) * height
    return replace(unit, shift=pose.shift * height, half=size / 2), size


def looks_square(corners: Floats) -> bool:
    """Whether (4, 2) corners on the card's plane are about those of a square."""
    edges = np.roll(corners, -1, axis=0) - corners
    lengths = np.linalg.norm(edges, axis=1)
    cosines = np.abs((edges * np.roll(edges, -1, axis=0)).sum(axis=1)) / (lengths * np.roll(lengths, -1))
    return bool(lengths.max() < OBLONG * lengths.min() and cosines.max() < SKEWED)
