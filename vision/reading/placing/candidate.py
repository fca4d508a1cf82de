"""One outline and one square put together: their free fit, the sizes that the card may have, how well all agree.

In:    an outline of the small picture, a square, the fit in which only the square tells the size.
Out:   a `Candidate` with its measures; `vision.reading.placing.first_fit` makes them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.arrays import Floats
from vision.reading.card.quads import Quad
from vision.reading.card.size import SizeMatch
from vision.reading.fit.parameters import HEIGHT, LOG_FOCAL, SLANTS, WIDTH
from vision.reading.fit.solve import Fit
from vision.reading.four_corners import corners_apart
from vision.reading.square.square_edges import SquareSeen

FREE_FOCAL = 1.5  # standard deviations by which the focal length may be off without counting as odd
# Chosen, from good to bad candidates of the practice photos: what counts against a candidate's rank, and from where it
# is as bad as can be. What right cards leave over anyhow counts for nothing.
WORST_SIZE, WORST_SHAPE, USUAL_MISFIT = 40.0, 60.0, 0.35
SIZE_COUNTS, SHAPE_COUNTS, MISFIT_COUNTS = 0.5, 0.4, 0.8

# Scores of a `Quad`: cards on most tables reach the first by some way, measured on the practice photos; the second
# has a step all along all four sides that ends at all four corners.
CLEAR_SCORE, ALL_ROUND_SCORE = 0.85, 1.0
# Squared standard deviations of a flat rectangle's shape, and misfit: of 215 right cards none has over 8 and 0.65.
MOST_SHAPE, MOST_MISFIT = 14.0, 1.0
SHEET_SHAPE, SHEET_MISFIT = 8.0, 0.8  # the same for a sheet of any size, which has no size to agree with
# Of flat cards on simulated photos 94 of 100 stay within both; an edge laid a millimetre off gives 4 to 6.
AGREED_DEPARTURE, AGREED_MISFIT, AGREED_SHARE = 3.5, 0.6, 0.25
FAINT_DEPARTURE, FAINT_MISFIT = 3.0, 0.5  # for an outline that is not plain all round
# What a bent card departs by until its bend is known, and of each edge's length what clips and fingers leave of it.
# None of 131 photos, 34 of them once read wrongly, came out otherwise for it; by fainter lines four cards of which an
# edge was seen over 0.56 to 0.78 were laid otherwise or had a rival.
BENT_DEPARTURE, BENT_MISFIT, SEEN_SHARE = 20.0, 0.55, 0.85


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One combination of outline and square with its free fit and the sizes it may be, the likeliest first."""

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
    def shape_departure(self) -> float:
        """Squared standard deviations by which the shape alone departs from a rectangle in a phone photo."""
        values, sigmas = self.fit.values, self.fit.sigmas
        slants = float(((values[SLANTS] / sigmas[SLANTS]) ** 2).sum())
        focal = (values[LOG_FOCAL] - np.log(self.fit.evidence.focal_px)) / sigmas[LOG_FOCAL]
        return slants + max(0.0, abs(float(focal)) - FREE_FOCAL) ** 2

    @property
    def departure(self) -> float:
        """Squared standard deviations by which shape and size depart from a known card's, lying flat."""
        return self.best.distance + self.shape_departure

    @property
    def least_share(self) -> float:
        """Of the edges' lengths over which they are seen, the least."""
        return min(0.0 if edge is None else edge.share for edge in self.fit.evidence.edges)

    @property
    def rank(self) -> float:
        """Larger is likelier."""
        size = min(self.best.distance / WORST_SIZE, 1.0)
        shape = min(self.shape_departure / WORST_SHAPE, 1.0)
        misfit = min(max(self.fit.misfit - USUAL_MISFIT, 0.0), 1.0)
        return self.quad.score - SIZE_COUNTS * size - SHAPE_COUNTS * shape - MISFIT_COUNTS * misfit

    @property
    def is_rectangle(self) -> bool:
        """A flat rectangle of any size in a phone photo."""
        return self.shape_departure < MOST_SHAPE and self.fit.misfit < MOST_MISFIT

    @property
    def is_known_card(self) -> bool:
        """A flat rectangle of a size that cards have, or that was given."""
        return self.best.fits and self.is_rectangle

    @property
    def is_plain_sheet(self) -> bool:
        """A flat rectangle, size or no size."""
        return self.shape_departure < SHEET_SHAPE and self.fit.misfit < SHEET_MISFIT

    @property
    def is_seen_all_round(self) -> bool:
        """A flat rectangle of any size with a step all along all four sides."""
        return self.quad.score > ALL_ROUND_SCORE and self.is_plain_sheet

    @property
    def is_seen_along_whole_edges(self) -> bool:
        """A card that is nearly a known one, bent perhaps, each of whose edges is seen nearly from corner to corner:
        fainter lines than its own are then those of something else."""
        return self.agrees_within(BENT_DEPARTURE, BENT_MISFIT, SEEN_SHARE)

    @property
    def ends_the_search(self) -> bool:
        """True when no further outline can bring anything better: a plain outline of a plain rectangle."""
        if self.quad.score < CLEAR_SCORE:
            return False
        if self.is_known_card:
            faint = self.quad.score <= ALL_ROUND_SCORE
            return self.agrees_within(FAINT_DEPARTURE, FAINT_MISFIT, 0.0) if faint else self.agrees_closely
        return self.is_seen_all_round and self.square.kind == "coded"

    @property
    def agrees_closely(self) -> bool:
        """Square, shape, a known size and four edges agree as they hardly do by chance."""
        return self.agrees_within(AGREED_DEPARTURE, AGREED_MISFIT, AGREED_SHARE)

    def agrees_within(self, departure: float, misfit: float, share: float) -> bool:
        """A card that departs by less and leaves less over, each of its edges seen over more of its length."""
        return self.departure < departure and self.fit.misfit < misfit and self.least_share > share

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

    def apart_mm(self, other: Candidate) -> float:
        """How far off another candidate's farthest corner lies, about. [mm]"""
        return corners_apart(other.corners_px, self.corners_px) / self.px_per_mm


def size_spread(fit: Fit) -> Floats:
    """(2, 2) covariance of width and height, the cut included. [mm2]"""
    spread: Floats = fit.covariance[WIDTH : HEIGHT + 1, WIDTH : HEIGHT + 1] + np.eye(2) * fit.priors.cut_mm**2
    return spread
