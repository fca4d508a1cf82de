"""Find the card's outline in the small picture, and its edges in the photo.

In:    the photo and its reduced copy.
Out:   candidate outlines, the likeliest first; [] when nothing bounds a sheet of paper.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from vision.arrays import Floats
from vision.reading.card.first_look import FirstLook
from vision.reading.card.lines import Line, find_segments, merge_segments
from vision.reading.card.outline import SIDE_ENDS, SIDE_POINTS, Outline, bent_line, borne_out, meeting
from vision.reading.card.quads import Quad, rank_quads
from vision.reading.card.sides import measure_steps, stepped_lines
from vision.reading.edges.find_edge import find_edge
from vision.reading.edges.own_colour import by_own_colour
from vision.reading.edges.profiles import Course, EdgePoints
from vision.reading.four_corners import side_lengths
from vision.reading.sight import Sight
from vision.reading.small_picture import SmallPicture

# Blur [small px], gain and size of the picture, in small pictures', of each search: a card that stands out is found by
# the first; the later ones lift white card on a white table out of the noise, and much else with it. What was blurred
# needs fewer pixels: on 42 simulated photos the true outline was among the best as often as at 0.8, in half the time.
SEARCHES = ((1.0, 2.5, 0.6), (1.5, 10.0, 0.5), (2.5, 24.0, 0.4))
EDGE_POINTS = 72  # profiles along one edge
EDGE_ENDS = 0.025  # share at either end, where corners are rounded or bent
USUAL_SIDE_MM = 130.0  # chosen: of a card, before any fit tells its scale
EDGE_REACH_PX = 4.0  # how far a course from the small picture may be off [small px]


def outline_searches(small: SmallPicture, most: int) -> Iterator[list[Quad]]:
    """At most so many candidate outlines of one search after the other, from the plain to the faint."""
    for blur_px, gain, size in SEARCHES:
        lines = stepped_lines(small, merge_segments(find_segments(small, blur_px, gain, size)))
        yield rank_quads(small, lines, most)


def top_first(corners: Floats) -> int:
    """Index of the side nearest the top of the picture; side i runs from corner i to i + 1 of
    (4, 2), clockwise."""
    middles = (corners + np.roll(corners, -1, axis=0)) / 2
    return int(np.argmin(middles[:, 1]))


def corners_px(sight: Sight, quad: Quad) -> Floats:
    """(4, 2) corners of an outline from the top left on. [photo px]"""
    return sight.small.to_photo(np.roll(quad.corners, -top_first(quad.corners), axis=0))


FourEdges = tuple[EdgePoints, EdgePoints, EdgePoints, EdgePoints]


def find_edges(sight: Sight, quad: Quad) -> FourEdges | None:
    """Edge points of the top, right, bottom and left edge; None where one is not to be seen. [photo px]"""
    small = sight.small
    first = top_first(quad.corners)
    reach_px = EDGE_REACH_PX / small.scale
    edges: list[EdgePoints] = []
    along: list[Course] = []
    for side in (first, first + 1, first + 2, first + 3):
        rough = quad.course(side % 4, EDGE_POINTS, EDGE_ENDS)
        course = Course(small.to_photo(rough.points), rough.outward)
        edge = find_edge(sight.pixels, course, reach_px) or _coarse_edge(small, rough)
        if edge is None:
            return None
        edges.append(edge)
        along.append(course)
    about = float(side_lengths(quad.corners).mean()) / small.scale / USUAL_SIDE_MM
    edges = by_own_colour(sight.pixels, along, edges, reach_px, about)
    return edges[0], edges[1], edges[2], edges[3]


def _coarse_edge(small: SmallPicture, rough: Course) -> EdgePoints | None:
    """An edge that drowns in the photo's noise, measured in the small picture, where the noise is averaged
    out: less exact, and said to be. [photo px]"""
    edge = find_edge(small.rgb, rough, EDGE_REACH_PX)
    if edge is None:
        return None
    finer = 1 / small.scale
    return replace(
        edge,
        points=small.to_photo(edge.points),
        sigma_px=edge.sigma_px * finer,
        blur_px=edge.blur_px * finer,
    )


def snapped(sight: Sight, quad: Quad) -> Quad | None:
    """The outline moved to the plainest edges near it in the small picture, for one that was seen only
    roughly; None where a side shows none."""
    small = sight.small
    ends = np.roll(quad.corners, -1, axis=0)
    lengths = side_lengths(quad.corners)
    lines = []
    for side in range(4):
        edge = find_edge(small.rgb, quad.course(side, EDGE_POINTS, SNAP_ENDS), SNAP_PX)
        if edge is None:
            return None
        along = (ends[side] - quad.corners[side]) / lengths[side]
        lines.append(bent_line(edge.points, quad.corners[side], along, float(lengths[side])))
    corners = np.array([meeting(lines[k - 1], lines[k], quad.corners[k]) for k in range(4)])
    moved = replace(quad, corners=corners, lines=(lines[0], lines[1], lines[2], lines[3]))
    by_lines = rank_quads(small, measure_steps(small, lines), 1)
    scores = [MAP_SCORE * _borne_out(sight.first_look, moved), *(one.score for one in by_lines)]
    return replace(moved, score=max(scores))


MAP_SCORE = 1.1  # score of an outline that the map bears out wholly: as of lines that are plain all round
SNAP_PX = 10.0  # small px; two of the map's own
SNAP_ENDS = 0.06  # share of a side left out at either end


def quad_of_outline(look: FirstLook, outline: Outline) -> Quad:
    """The sides laid round a look's map as a candidate like those made of lines. [small px]

    Its score is the map's own certainty: a patch with four straight sides, plain throughout.
    """
    finer = 1 / look.scale
    lines = [
        Line(
            look.to_small(line.start),
            line.along,
            line.bow * np.array([finer, 1.0, 1 / finer]),
            line.length_px * finer,
        )
        for line in outline.lines
    ]
    score = MAP_SCORE * outline.borne_out
    return Quad(look.to_small(outline.corners), score, (lines[0], lines[1], lines[2], lines[3]))


def _borne_out(look: FirstLook, quad: Quad) -> float:
    sides = [quad.course(side, SIDE_POINTS, SIDE_ENDS).points for side in range(4)]
    return borne_out(look.card, look.to_map(np.array(sides)))
