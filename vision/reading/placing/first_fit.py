"""The first fit of an outline and a square: everything free, the square alone telling the size.

In:    a photo as it was taken in, an outline of its small picture, the squares seen.
Out:   a `Candidate` for each square that could lie as seen; none where edges or square don't bear the outline out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial

import numpy as np

from circuit.asked import Asked
from vision.arrays import Floats, RgbImage
from vision.reading.card.find_card import FourEdges, corners_px, find_edges
from vision.reading.card.quads import Quad
from vision.reading.card.size import possible_sizes
from vision.reading.fit.bend_shape import Lift
from vision.reading.fit.camera import FLAT, Camera, rough_pose
from vision.reading.fit.models import FULL_FRAME_DIAGONAL_MM, fit_models, main_focal_px
from vision.reading.fit.parameters import Evidence, Priors, SquareEvidence
from vision.reading.four_corners import side_lengths
from vision.reading.placing.candidate import Candidate, size_spread
from vision.reading.placing.size_choice import with_bends
from vision.reading.sight import Sight
from vision.reading.square.square_edges import SquareSeen

LOOSE_LOG_FOCAL = 0.35  # for the first guess, before any fit
TOLD_LOG_FOCAL = 0.08  # of a focal length written in the file: rounded, and some phones crop
# Of pictures that are not cropped, as phones take them.
SENSOR_RATIOS, SAME_RATIO = (4 / 3, 3 / 2, 16 / 9), 0.02
SHORTEST_FOCAL_MM, LONGEST_FOCAL_MM = 10.0, 300.0  # equivalent; a file that says otherwise is wrong
FOCAL_FACTORS = np.exp(np.linspace(-0.7, 0.9, 9))  # of the likely focal length, from a wide to a long lens
SKEW_SIGMA = 0.02  # of the cosine between a sheet's sides, by corners that are roughly known; chosen
OBLONG, SKEWED = 1.2, 0.25  # how far a true square may look from one before lens and focal length are known
SMALLEST_CARD_MM, LARGEST_CARD_MM = 45.0, 450.0
LEAST_SIDE_MM, MOST_SIDE_MM, MOST_OBLONG = 20.0, 1000.0, 5.0  # of a sheet that is worth a fit; chosen
OWN_PAPER = 2.3  # sides of the square that the white paper it is printed on may measure
FIRST_ROUNDS = 14  # of a fit that only ranks; the one that stands runs to its end
MOST_SQUARES = 6  # that are tried with one outline


@dataclass(frozen=True, slots=True)
class Lens:
    """focal_px : likely focal length, log_sigma : the standard deviation of its logarithm; middle_px, diagonal_px : of
    the picture."""

    focal_px: float
    log_sigma: float
    middle_px: Floats
    diagonal_px: float


@dataclass(frozen=True, slots=True)
class TakenIn:
    """A photo as it was taken in, what was said of card and square, what is known of its lens; edges_of : the edges
    of an outline, measured once however many squares are tried with it; bent : a candidate with bends, fitted once."""

    sight: Sight
    asked: Asked
    lens: Lens
    edges_of: Callable[[Quad], FourEdges | None]
    bent: Callable[[Candidate], Candidate]


def take_in(sight: Sight, asked: Asked, focal_35mm: float | None) -> TakenIn:
    """focal_35mm : as the file tells it, None where it doesn't."""
    lens = _lens(sight.pixels, focal_35mm)
    return TakenIn(sight, asked, lens, cache(partial(find_edges, sight)), cache(with_bends))


def side_of(square: SquareSeen, asked: Asked) -> float:
    """The side that this square should have. [mm]"""
    if square.kind == "plain" or square.side_mm is None:
        return asked.plain_side_mm
    return asked.printed_mm or square.side_mm


def candidates_of(seen: TakenIn, quad: Quad, squares: Sequence[SquareSeen]) -> list[Candidate]:
    """One candidate for each square that fits into the outline; [] when an edge is not to be seen."""
    corners = corners_px(seen.sight, quad)
    starts = [
        (square, start)
        for square in squares[:MOST_SQUARES]
        if (start := _start(corners, square, side_of(square, seen.asked), seen.lens)) is not None
    ]
    # Only now the edges: most squares are told from a tile or a label by the corners alone.
    edges = seen.edges_of(quad) if starts else None
    if edges is None:
        return []
    found = [_free_candidate(quad, edges, square, start, seen.asked, seen.lens) for square, start in starts]
    return [one for one in found if one is not None]


def _lens(pixels: RgbImage, focal_35mm: float | None) -> Lens:
    height, width = pixels.shape[:2]
    middle, diagonal = np.array([(width - 1) / 2, (height - 1) / 2]), float(np.hypot(width, height))
    long, short = max(height, width), min(height, width)
    whole = any(abs(long / short - ratio) < SAME_RATIO for ratio in SENSOR_RATIOS)
    if focal_35mm is None or not whole or not SHORTEST_FOCAL_MM <= focal_35mm <= LONGEST_FOCAL_MM:
        return Lens(main_focal_px(diagonal), Priors().log_focal, middle, diagonal)
    return Lens(focal_35mm / FULL_FRAME_DIAGONAL_MM * diagonal, TOLD_LOG_FOCAL, middle, diagonal)


def _free_candidate(
    quad: Quad,
    edges: FourEdges,
    square: SquareSeen,
    start: tuple[Camera, Floats],
    asked: Asked,
    lens: Lens,
) -> Candidate | None:
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
    fit = fit_models(evidence, camera, [size], True, on_card, priors, bends=0, rounds=FIRST_ROUNDS)[0][0]
    measured = fit.card_mm
    if not np.all(np.isfinite(measured)) or measured.min() < LEAST_SIDE_MM or measured.max() > MOST_SIDE_MM:
        return None
    matches = possible_sizes(measured, size_spread(fit), asked)
    return Candidate(quad, square, side_mm, fit, matches, on_card)


def _start(corners: Floats, square: SquareSeen, side_mm: float, lens: Lens) -> tuple[Camera, Floats] | None:
    """A rough camera and card size [mm], over the focal lengths that phones have; None for a tile that is no square,
    or lines that bound no rectangle: they are not worth a fit."""

    def strain(factor: float) -> float:
        pose = rough_pose(corners, lens.focal_px * factor, lens.middle_px)
        return float((pose.skew / SKEW_SIGMA) ** 2 + (np.log(factor) / LOOSE_LOG_FOCAL) ** 2)

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
    if not 1 / MOST_OBLONG < pose.aspect < MOST_OBLONG or pose.shift[2] <= 0:
        return None
    if not looks_square(seen) or abs(pose.skew) > SKEWED:
        return None
    height = side_mm / float(side_lengths(seen).mean())
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
