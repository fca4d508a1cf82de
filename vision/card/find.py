"""Find the card's outline in the small picture, and its edges in the photo.

In:    the photo and its reduced copy.
Out:   candidate outlines, the likeliest first; [] when nothing bounds a sheet of paper.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np

from vision.card.lines import find_segments, merge_segments
from vision.card.quads import Quad, rank_quads, stepped_lines
from vision.edge_points import Course, EdgePoints, find_edge
from vision.photo import RgbImage
from vision.small_picture import Floats, SmallPicture

# Blur [small px] and gain of each search: a card that stands out is found by the first; the later ones
# lift white card on a white table out of the noise, and much else with it.
SEARCHES = ((1.0, 2.5), (1.5, 10.0), (2.5, 24.0))
EDGE_POINTS = 72  # profiles along one edge
EDGE_ENDS = 0.025  # share at either end, where corners are rounded or bent
EDGE_REACH_PX = 4.0  # how far a course from the small picture may be off [small px]
BORDER_PX = 16  # width of the frame drawn round the picture to find cards that it cuts
_FRAME_LAB = (60.0, 90.0, -90.0)  # a violet that no table or paper has


def outline_searches(small: SmallPicture) -> Iterator[list[Quad]]:
    """Candidate outlines of one search after the other, from the plain to the faint."""
    for blur_px, gain in SEARCHES:
        yield rank_quads(small, stepped_lines(small, merge_segments(find_segments(small, blur_px, gain))))


def top_first(corners: Floats) -> int:
    """Index of the side nearest the top of the picture; side i runs from corner i to i + 1, clockwise."""
    middles = (corners + np.roll(corners, -1, axis=0)) / 2
    return int(np.argmin(middles[:, 1]))


def find_edges(pixels: RgbImage, small: SmallPicture, quad: Quad) -> tuple[list[EdgePoints | None], Floats]:
    """Edge points of the top, right, bottom and left edge, and the corners from the top left on. [px]"""
    first = top_first(quad.corners)
    order = [(first + k) % 4 for k in range(4)]
    edges = []
    for side in order:
        rough = quad.course(side, EDGE_POINTS, EDGE_ENDS)
        course = Course(small.to_photo(rough.points), rough.outward)
        edges.append(find_edge(pixels, course, EDGE_REACH_PX / small.scale))
    return edges, small.to_photo(quad.corners[order])


LEAST_REAL_SIDE, LEAST_REAL_CONTRAST = 0.75, 2.0  # of the sides that are not the border; chosen


def _along_border(side: Floats, size: tuple[int, int]) -> bool:
    """Whether both ends lie on one border of the picture."""
    near = np.concatenate([np.abs(side) < 4, np.abs(side - np.array(size)) < 4], axis=1)
    return bool(near.all(axis=0).any())


def cut_off_score(small: SmallPicture) -> tuple[float, Floats]:
    """How well a sheet that the picture's border cuts explains what is seen (as `Quad.score`; 0: none),
    and its corners. [small px]

    A violet frame round the picture makes its border an edge like any other.
    """
    width, height = small.size
    lab = cv2.copyMakeBorder(
        small.lab, BORDER_PX, BORDER_PX, BORDER_PX, BORDER_PX, cv2.BORDER_CONSTANT, value=_FRAME_LAB
    )
    rgb = cv2.copyMakeBorder(small.rgb, BORDER_PX, BORDER_PX, BORDER_PX, BORDER_PX, cv2.BORDER_REPLICATE)
    framed = SmallPicture(rgb, lab, small.scale)
    best, where = 0.0, np.empty((0, 2))
    lines = stepped_lines(framed, merge_segments(find_segments(framed, *SEARCHES[0])))
    for quad in rank_quads(framed, lines):
        corners = quad.corners - BORDER_PX
        on_border = np.array([_along_border(corners[[i, (i + 1) % 4]], (width, height)) for i in range(4)])
        real = ~on_border
        if not 1 <= on_border.sum() <= 2 or quad.score <= best:
            continue
        # The frame's violet makes the border's own sides perfect: the others have to speak for themselves.
        plain = np.sqrt(quad.cover[real]) * quad.smooth[real] - 0.35 * quad.goes_on[real]
        if plain.min() > LEAST_REAL_SIDE and quad.contrast[real].min() > LEAST_REAL_CONTRAST:
            best, where = quad.score, corners
    return best, where
