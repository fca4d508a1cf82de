"""Edges that were laid along something else than the card, looked for again by the card's own colour.

A shadow's rim, a cloth's stripe, a line of a mat can be a greater step than the card's edge beside it. What lies
just inside such an edge is table: of another colour than the card farther in, which all four edges show.

In:    the photo, the courses along which edges were looked for, the edges that were found.
Out:   the edges, those that had something else inside laid where the card's colour ends.
Fails: never; an edge that is not to be found by its colour stays as it was.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.arrays import Floats, RgbImage
from vision.reading.colours import apart_from
from vision.reading.edges.beside import STRANGE, middle_of, stretches_inside, tint_apart
from vision.reading.edges.find_edge import find_edge
from vision.reading.edges.profiles import Course, EdgePoints
from vision.reading.middle import median

# Chosen: of the reach within which the edge was looked for; the card's own lies inside of what was found, by as much as
# that may lie outside of the course and the card's edge inside.
INWARD, OUTWARD = 3.0, 0.25


def by_own_colour(
    pixels: RgbImage,
    along: Sequence[Course],
    edges: Sequence[EdgePoints],
    reach_px: float,
    px_per_mm: float,
) -> list[EdgePoints]:
    """px_per_mm : about; how far in from an edge its strip lies is no matter of accuracy."""

    def inside(edge: EdgePoints) -> list[tuple[Floats, Floats]]:
        return stretches_inside(pixels, edge.course, px_per_mm)

    strips = [inside(edge) for edge in edges]
    own = median(np.array([middle_of(farther) for parts in strips for _, farther in parts]), axis=0)
    found = []
    for course, edge, parts in zip(along, edges, strips, strict=True):
        again = None
        if tint_apart(parts) > STRANGE:
            near = np.array([middle_of(near) for near, _ in parts])
            again = _look_again(pixels, _through(course, edge), reach_px, near, own)
        found.append(edge if again is None or tint_apart(inside(again)) >= STRANGE else again)
    return found


def _look_again(
    pixels: RgbImage, course: Course, reach_px: float, near: Floats, own: Floats
) -> EdgePoints | None:
    """The edge of the card's `own` colour, (3,), by `near`, (N, 3), that of each stretch of the strip; across the
    strip's own, light and shade of it are not seen."""
    inward = (INWARD - OUTWARD) / 2 * reach_px
    middle = Course(course.points - inward * course.outward, course.outward)
    colour = apart_from(own, median(near, axis=0))
    return find_edge(pixels, middle, (INWARD + OUTWARD) / 2 * reach_px, colour, floor=0.0)


def _through(course: Course, edge: EdgePoints) -> Course:
    """The course moved onto the edge that was found along it."""
    apart = np.linalg.norm(edge.points[:, None] - course.points[None], axis=2)
    nearest = apart.argmin(axis=1)
    off = ((edge.points - course.points[nearest]) * course.outward[nearest]).sum(axis=1)
    every = np.arange(len(course.points)) / len(course.points)
    moved = np.polynomial.polynomial.polyval(every, np.polynomial.polynomial.polyfit(every[nearest], off, 2))
    return Course(course.points + moved[:, None] * course.outward, course.outward)
