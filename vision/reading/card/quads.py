"""Sets of four lines that may bound a card, ranked by what the picture shows along them.

In:    the small picture and the likeliest edges in it, as `SteppedLine`s.
Out:   `Quad`s, the best first; [] when no four lines bound anything.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.card.lines import Line
from vision.reading.card.sides import SteppedLine, measure_sides, tint_of
from vision.reading.edges.profiles import Course
from vision.reading.four_corners import corners_apart
from vision.reading.middle import median
from vision.reading.small_picture import SmallPicture

# Chosen on the practice photos: what counts beside the weakest side in the rough score.
ROUGH_MEAN, ROUGH_GOES_ON, NO_SCORE = 0.3, 0.6, -9.0
# Chosen on the practice photos, Lab units: sides may differ so much in hue for nothing and each further so much costs a
# whole side; paper darker than so much costs likewise.
FREE_HUE, HUE_COSTS, DARK_PAPER, DARK_COSTS = 6.0, 12.0, 45.0, 20.0
GOES_ON_COUNTS, SHARE_COUNTS = 0.35, 0.3  # chosen: in the score
SAME_QUAD_PX = 6.0  # chosen: corners nearer than this are one outline's
LEAST_SCORE = 0.33  # of an outline that is worth a try
MOST_BUILT = 250  # outlines that are looked at closely, the best covered first
LEAST_SHARE = 0.05  # chosen: a card that fills less of the picture is too small to read
MOST_OPPOSITE_DEG = 50.0  # chosen: opposite edges of a card tilted by 45 degrees and seen from near
LEAST_CROSSING_DEG = 35.0  # chosen, likewise for neighbouring edges
OUT_OF_PICTURE = 0.02  # corners may lie this share of the long side outside, to be refused by name later


@dataclass(frozen=True, slots=True, eq=False)
class Quad:
    """Four corners in the small picture, clockwise as seen, the line of each side (corner i to i + 1), and how well the
    picture bears them out."""

    corners: Floats
    score: float
    lines: tuple[Line, Line, Line, Line]

    def course(self, side: int, count: int, ends: float) -> Course:
        """The way from corner `side` to the next, without the share `ends` at either end. [small px]"""
        line = self.lines[side]
        start, end = ((self.corners[k % 4] - line.start) @ line.along for k in (side, side + 1))
        points = line.at(start + np.linspace(ends, 1 - ends, count) * (end - start))
        outward = -line.normal if end > start else line.normal
        return Course(points, np.repeat(outward[None], count, axis=0))


def rank_quads(small: SmallPicture, edges: list[SteppedLine], most: int) -> list[Quad]:
    """The likeliest card outlines, at most so many, best first; [] when no four lines bound anything."""
    if len(edges) < 4:
        return []
    lines = [edge.line for edge in edges]
    t, sine = _crossings(lines)
    points = np.stack([line.at(t[i]) for i, line in enumerate(lines)])  # [line, crossing, 2]
    slack = OUT_OF_PICTURE * max(small.size)
    in_picture = ((points > -slack) & (points < np.array(small.size) + slack)).all(axis=2)
    good_point = in_picture & (np.abs(sine) > np.sin(np.radians(LEAST_CROSSING_DEG)))
    sides = [measure_sides(edge, np.where(good_point[i], t[i], np.nan)) for i, edge in enumerate(edges)]
    # [line, crossing, crossing], whichever crossing comes first
    cover, on = (
        np.stack([np.fmax(values, values.T) for values in of_all])
        for of_all in zip(*((side.cover, side.goes_on) for side in sides), strict=True)
    )
    opposite = np.abs(sine) < np.sin(np.radians(MOST_OPPOSITE_DEG))
    likely = _likely_rings(np.argwhere(np.triu(opposite, 1)), good_point, cover, on)
    rings, corners, share = _walked(likely, points, small.size)
    # Side i + 1 runs from corner i to corner i + 1; it lies between its crossings with sides i and i + 2.
    at = tuple(np.roll(rings, -k, axis=1) for k in (1, 0, 2))
    inside = np.stack([side.inside() for side in sides])[at]
    score = _score(cover[at], inside, on[at].mean(axis=1), share)
    ranked = [k for k in np.argsort(-score, kind="stable") if score[k] >= LEAST_SCORE]
    first, second, third, fourth = ([lines[k] for k in side] for side in at[0].T)
    quads = [Quad(corners[k], float(score[k]), (first[k], second[k], third[k], fourth[k])) for k in ranked]
    return _unlike(quads, most)


def _likely_rings(
    pairs: NDArray[np.intp], good_point: NDArray[np.bool_], cover: Floats, on: Floats
) -> NDArray[np.intp]:
    """(K, 4) lines one after the other round a shape, the best covered first, from two of (N, 2) pairs of opposite
    ones; at most `MOST_BUILT`."""
    p, q = np.triu_indices(len(pairs), 1)
    (a, b), (c, d) = pairs[p].T, pairs[q].T
    keep = (a != c) & (a != d) & (b != c) & (b != d)
    keep &= good_point[a, c] & good_point[a, d] & good_point[b, c] & good_point[b, d]
    a, b, c, d = a[keep], b[keep], c[keep], d[keep]
    covers, goes_on = (
        np.stack([values[a, c, d], values[c, a, b], values[b, c, d], values[d, a, b]])
        for values in (cover, on)
    )
    rough = np.nan_to_num(
        covers.min(axis=0) + ROUGH_MEAN * covers.mean(axis=0) - ROUGH_GOES_ON * goes_on.mean(axis=0),
        nan=NO_SCORE,
    )
    likely = np.argsort(-rough)[:MOST_BUILT]
    rings: NDArray[np.intp] = np.column_stack([a, c, b, d])[likely]
    return rings


def _walked(
    rings: NDArray[np.intp], points: Floats, size: tuple[int, int]
) -> tuple[NDArray[np.intp], Floats, Floats]:
    """Of (K, 4) lines that bound something, those that bound a convex shape large enough: the lines, walked clockwise
    as seen (y down); their (K, 4, 2) corners, corner i where lines i and i + 1 meet; (K,) shares of the picture."""

    def corners_of(rings: NDArray[np.intp]) -> Floats:
        corners: Floats = points[rings, np.roll(rings, -1, axis=1)]
        return corners

    def turns_of(corners: Floats) -> Floats:
        ahead = np.roll(corners, -1, axis=1) - corners
        onward = np.roll(ahead, -1, axis=1)
        turns: Floats = ahead[..., 0] * onward[..., 1] - ahead[..., 1] * onward[..., 0]
        return turns

    backward = turns_of(corners_of(rings))[:, :1] < 0
    rings = np.where(backward, rings[:, [0, 3, 2, 1]], rings)
    corners = corners_of(rings)
    x, y = corners[..., 0], corners[..., 1]
    area = (x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y).sum(axis=1) / 2
    share = area / (size[0] * size[1])
    keep = (turns_of(corners) > 0).all(axis=1) & (share >= LEAST_SHARE)
    return rings[keep], corners[keep], share[keep]


def _score(cover: Floats, inside: Floats, goes_on: Floats, share: Floats) -> Floats:
    """(K,) scores of outlines by how much of each side has a step of one kind, (K, 4), and the colour inside of it,
    (K, 4, 3); how far the steps go on beyond the corners, (K,); their shares of the picture, (K,). Where a striped
    cloth has the card's own colour there is no step, so a step over part of the way counts for more than its share."""
    # One sheet of paper: much the same hue along all four sides, whatever the light does.
    tint = tint_of(inside)
    hue_spread = np.linalg.norm(tint - tint.mean(axis=1, keepdims=True), axis=2).max(axis=1)
    hue = np.maximum(0.0, hue_spread - FREE_HUE) / HUE_COSTS
    # Pencil can't be seen on dark paper.
    dark = np.maximum(0.0, DARK_PAPER - median(inside[..., 0], axis=1)) / DARK_COSTS
    side = np.sqrt(cover)
    steps = 0.5 * side.min(axis=1) + 0.5 * side.mean(axis=1)
    score: Floats = steps + SHARE_COUNTS * np.minimum(share, 0.5) - GOES_ON_COUNTS * goes_on - hue - dark
    return score


def _crossings(lines: list[Line]) -> tuple[Floats, Floats]:
    """t[i, j]: where on line i it meets line j; sine[i, j] of their angle. NaN where parallel."""
    start = np.array([line.start for line in lines])
    along = np.array([line.along for line in lines])
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    sine = along @ normal.T
    gap = start[None, :, :] - start[:, None, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.einsum("ijk,jk->ij", gap, normal) / sine
    # One correction for the bow of both lines, taken where the chords meet.
    bow = np.array([line.bow for line in lines])
    with np.errstate(invalid="ignore", over="ignore"):
        own = bow[:, :1] + bow[:, 1:2] * t + bow[:, 2:] * t**2  # line i's own sideways offset at t[i, j]
        others = own.T
        cosine = along @ along.T
        with np.errstate(divide="ignore"):
            t = t + (others - own * cosine) / sine
    t[~np.isfinite(t)] = np.nan
    return t, sine


def _unlike(ranked: Sequence[Quad], most: int) -> list[Quad]:
    """The first of these outlines that lie unlike each other, at most so many."""
    kept: list[Quad] = []
    for quad in ranked:
        if len(kept) < most and all(
            corners_apart(quad.corners, other.corners) > SAME_QUAD_PX for other in kept
        ):
            kept.append(quad)
    return kept
