"""Whether the edges of a card lie where they were laid: what the fit and what lies beside them say.

In:    the photo, a `Candidate`, the `View` that was made of it.
Out:   yes or no.
Fails: never.
"""

from __future__ import annotations

import numpy as np

from vision.arrays import RgbImage
from vision.reading.edges.beside import (
    LEAST_STEP,
    SIDE_PASSED_OVER,
    SIDE_STRETCHES,
    STRANGE,
    STRANGE_AS_LAID,
    courses,
    least_step,
    strangest_tint,
)
from vision.reading.edges.profiles import Course
from vision.reading.fit.view import View
from vision.reading.placing.candidate import Candidate

TOLD_LIFT_MM = 0.6  # of a bend that is worth a word
# Squared standard deviations by which a card that lies flat departs from a known one. Of 5,067 simulated photos to read
# 14 lay flat with 10 to 20, all right but one bent unnoticed, and 2 with more, both wrong.
MOST_DEPARTURE_FLAT = 20.0
# Over so much of its length an edge leaves no room to be led off, but for what a finger or a clip hides; chosen.
# 19 of 20 right cards have 0.7 or more.
WHOLE_SHARE = 0.6
DOUBTED_SHARE = 0.4  # of an edge's length: what is seen over less of it says little
SIDE_POINTS, SIDE_ENDS = 72, 0.04  # along a side as laid, its ends left out


def departs_beyond_its_bend(candidate: Candidate, view: View) -> bool:
    """Whether shape and size depart from a known card's by more than a bend explains: an edge that was laid
    along something else looks like a bend, too, but hardly over its whole length. A bend that rests on little of an
    edge is none."""
    if view.fit.lift_mm > TOLD_LIFT_MM:
        return candidate.least_share < DOUBTED_SHARE
    return candidate.departure > MOST_DEPARTURE_FLAT


def ends_at_all_edges(pixels: RgbImage, candidate: Candidate) -> bool:
    """Whether the card ends at all four edges, rather than goes on beyond one as before."""
    return least_step(pixels, courses(candidate.fit.evidence.edges), candidate.px_per_mm) > LEAST_STEP


def has_else_beside_edges(pixels: RgbImage, candidate: Candidate, view: View) -> bool:
    """Whether something else than the card lies just inside one of its edges, or the card just outside.
    Where an edge was not seen, what was, or a bend, may have led it far off, so that there it counts as laid."""
    middle = np.array([[view.card.width_mm / 2, view.card.height_mm / 2]])
    density = float(view.px_per_mm(middle)[0])
    edges = courses(view.fit.evidence.edges)
    seen = strangest_tint(pixels, edges, density)
    if seen > STRANGE or least_step(pixels, edges, density) < LEAST_STEP:
        return True
    if view.fit.lift_mm < TOLD_LIFT_MM and candidate.least_share > WHOLE_SHARE:
        return False
    return strangest_tint(pixels, sides(view), density, SIDE_STRETCHES, SIDE_PASSED_OVER) > STRANGE_AS_LAID


def sides(view: View) -> list[Course]:
    """The card's four sides as the fit lays them, bends included. [photo px]"""
    fit = view.fit
    corners = fit.corners_mm(fit.values) - fit.size_mm / 2
    laid = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        places = start + np.linspace(SIDE_ENDS, 1 - SIDE_ENDS, SIDE_POINTS)[:, None] * (end - start)
        along = (end - start) / np.linalg.norm(end - start)
        points = fit.camera.to_photo(places)
        outward = fit.camera.to_photo(places + 0.5 * np.array([along[1], -along[0]])) - points
        laid.append(Course(points, outward / np.linalg.norm(outward, axis=1)[:, None]))
    return laid
