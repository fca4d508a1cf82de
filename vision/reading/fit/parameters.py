"""What the fit of square and card has for unknowns, what is known of each beforehand, what was seen.

Everything that can be off is a parameter with its own prior: the cut of each card edge, a step of each
seen edge against the true one (paper's thickness, shadow, blur), the square's side, the height at which
it lies, the curl. So the covariance carries all of them on to any point of the card.

The frame is the card as it was cut: origin at the corner of its top and left edges, x along the top edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.arrays import Floats
from vision.reading.edges.profiles import EdgePoints
from vision.reading.fit.bend_shape import DEGREES, Lift

# Places in the parameter vector.
LOG_FOCAL, CENTRE, K1, K2, TURN, SHIFT = 0, slice(1, 3), 3, 4, slice(5, 8), slice(8, 11)
WIDTH, HEIGHT, LEFT_SLANT, RIGHT_SLANT, BOTTOM_SLANT = 11, 12, 13, 14, 15
SLANTS = slice(13, 16)
EDGE_STEP = slice(16, 20)  # top, right, bottom, left
CURL, LIFT, CURL_AND_LIFT = slice(20, 23), 23, slice(20, 24)
# The bend's direction and start, from those it was supposed with, and how uneven it is.
BEND_TURN, BEND_START, UNEVEN = 24, 25, slice(26, 26 + len(DEGREES))
BEND = slice(LIFT, UNEVEN.stop)
CAMERA_COUNT = UNEVEN.stop  # the parameters up to here place a point; the rest only come in through the fit
_NEXT = CAMERA_COUNT
SQUARE_PLACE, SQUARE_SIDE, SQUARE_HEIGHT = slice(_NEXT, _NEXT + 3), _NEXT + 3, _NEXT + 4
SQUARE_STEP = slice(_NEXT + 5, _NEXT + 9)
# An edge leaves the straight line between its corners by a few half waves: as paper is cut, whatever the lens.
HALF_WAVES = np.arange(1, 5)
# All half waves of the top edge, then of the right, bottom, left.
WANDER = slice(SQUARE_STEP.stop, SQUARE_STEP.stop + 4 * len(HALF_WAVES))
COUNT = WANDER.stop
# Chosen: standard deviations of what nothing is known of: far beyond all cards and photos, and solvable.
ANYTHING, ANYWHERE_MM, ANY_SIZE_MM = 1e4, 1e5, 1e3
FIXED = 1e-6  # standard deviation of what is not to give way
UNEVEN_FALL = 0.5  # chosen: power by which higher degrees are lower
WANDER_FALL = 1.5  # chosen: power by which shorter waves are lower, so that an edge is smooth


@dataclass(frozen=True, slots=True)
class Priors:
    """Standard deviations of what is known beforehand; `..._mm` lengths in millimetres."""

    log_focal: float = 0.14  # a phone's main lens; others are tried when this does not fit
    centre: float = 0.006  # of the frame's diagonal: optical axis to picture's middle, from memory
    k1: float = 0.05  # chosen: phones correct their pictures to a few per cent
    k2: float = 0.01
    # Cut by hand to +-0.5 mm, any of it alike: 0.5 / sqrt 3, a little less for shop cards.
    cut_mm: float = 0.27
    slant_mm: float = 0.20  # over an edge's whole length
    bow_mm: float = 0.15  # of an edge's longest half wave: photographed sheets have 0.1 to 0.3, some 0.5
    edge_step_mm: float = 0.08  # the card's 0.2-0.4 mm side wall, seen or in shadow
    edge_step_px: float = 0.15  # sharpening and shadow beside an edge
    curl_mm: float = 0.15
    lift_mm: float = 1.5  # of an edge or corner that the picture shows to bend up
    bend_turn: float = 0.15  # rad; chosen: half the way to the next supposed direction
    bend_start: float = 0.13  # chosen: about half the way to the next supposed start
    # Of the first degree, as a share of the bend's height. On 60 simulated cards bent by 0.6 to 3.8 mm bounds hold for
    # 92.7 % of the marks at 0.3, for 93.9 at 0.45; eleven photographed sheets, which lie nearly flat, tell nothing.
    uneven: float = 0.45
    square_side_mm: float = 0.06  # a printer's or a punch's own error
    square_step_mm: float = 0.02  # ragged ink, a blade's slip
    square_step_px: float = 0.40  # corners of isolated squares hold to 0.4 px on packaged photos
    square_height_mm: float = 0.10  # paper thicknesses and a corner that does not lie down


@dataclass(frozen=True, slots=True)
class SquareEvidence:
    """sides : edge points, side i between corners i and i + 1, clockwise as seen, None where one was not seen well;
    corners : (4, 2) px."""

    sides: tuple[EdgePoints | None, ...]
    corners: Floats
    side_mm: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """edges : edge points of the card's top, right, bottom, left; None where an edge was not seen well.
    focal_px : the likely focal length; diagonal_px : of the whole picture, whose middle is `middle_px`."""

    edges: tuple[EdgePoints | None, EdgePoints | None, EdgePoints | None, EdgePoints | None]
    square: SquareEvidence | None
    middle_px: Floats
    diagonal_px: float
    focal_px: float


def prior_sigmas(evidence: Evidence, priors: Priors, px_per_mm: float, size_free: bool, lift: Lift) -> Floats:
    """Standard deviation of every parameter beforehand, (COUNT,)."""
    sigmas = np.full(COUNT, ANYTHING)
    sigmas[LOG_FOCAL] = priors.log_focal
    sigmas[CENTRE] = priors.centre * evidence.diagonal_px
    sigmas[K1], sigmas[K2] = priors.k1, priors.k2
    sigmas[TURN], sigmas[SHIFT] = 10.0, ANYWHERE_MM
    sigmas[[WIDTH, HEIGHT]] = ANY_SIZE_MM if size_free else priors.cut_mm
    sigmas[[LEFT_SLANT, RIGHT_SLANT, BOTTOM_SLANT]] = priors.slant_mm
    sigmas[WANDER] = wander_sigmas(priors.bow_mm)
    sigmas[EDGE_STEP] = np.hypot(priors.edge_step_mm, priors.edge_step_px / px_per_mm)
    sigmas[CURL] = priors.curl_mm
    sigmas[BEND] = bend_prior(priors, lift)
    if all(edge is None for edge in evidence.edges):
        sigmas[SQUARE_PLACE] = FIXED  # without a card the square itself is the frame
    sigmas[SQUARE_SIDE] = priors.square_side_mm
    sigmas[SQUARE_HEIGHT] = priors.square_height_mm
    sigmas[SQUARE_STEP] = np.hypot(priors.square_step_mm, priors.square_step_px / px_per_mm)
    return sigmas


def wander_sigmas(bow_mm: float) -> Floats:
    """(W,) standard deviation of every half wave of the four edges, in the order of `WANDER`. [mm]"""
    sigmas: Floats = np.tile(bow_mm / HALF_WAVES**WANDER_FALL, 4)
    return sigmas


def bend_prior(priors: Priors, lift: Lift) -> Floats:
    """(B,) standard deviation of every parameter of a bend, in the order of `BEND`."""
    if lift.kind == "none":
        return np.full(BEND.stop - BEND.start, FIXED)
    start = FIXED if lift.all_over else priors.bend_start
    uneven = uneven_sigmas(priors)
    sigmas: Floats = np.concatenate([[priors.lift_mm, priors.bend_turn, start], uneven])
    return sigmas


def uneven_sigmas(priors: Priors) -> Floats:
    """(D,) standard deviation of every degree of a bend, as a share of its height."""
    return np.asarray(priors.uneven / DEGREES**UNEVEN_FALL, dtype=np.float64)
