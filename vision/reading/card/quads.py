"""Sets of four lines that may bound a card, ranked by what the picture shows along them.

In:    the small picture and the likeliest edges in it, as `SteppedLine`s.
Out:   `Quad`s, the best first; [] when no four lines bound anything.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.card.lines import Line
from vision.reading.card.sides import SteppedLine, measure_sides, smoothness, tint_of
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
    width, height = small.size
    t, sine = _crossings(lines)
    points = np.stack([line.at(t[i]) for i, line in enumerate(lines)])  # [line, crossing, 2]
    slack = OUT_OF_PICTURE * max(width, height)
    good_point = (
        (points[..., 0] > -slack)
        & (points[..., 0] < width + slack)
        & (points[..., 1] > -slack)
        & (points[..., 1] < height + slack)
        & (np.abs(sine) > np.sin(np.radians(LEAST_CROSSING_DEG)))
    )
    sides = [measure_sides(edge, np.where(good_point[i], t[i], np.nan)) for i, edge in enumerate(edges)]
    # [line, crossing, crossing], whichever crossing comes first
    cover, on = (
        np.stack([np.fmax(values, values.T) for values in of_all])
        for of_all in zip(*((side.cover, side.goes_on) for side in sides), strict=True)
    )
    opposite = np.abs(sine) < np.sin(np.radians(MOST_OPPOSITE_DEG))
    likely = _likely_rings(np.argwhere(np.triu(opposite, 1)), good_point, cover, on)
    rings, corners, share = _walked(likely, points, (width, height))
    # Side i + 1 runs from corner i to corner i + 1; it lies between its crossings with sides i and i + 2.
    at = tuple(np.roll(rings, -k, axis=1) for k in (1, 0, 2))
    inside = np.stack([side.inside() for side in sides])[at]
    rest = _rest_of_score(inside, on[at].mean(axis=1), share)
    covers = cover[at]
    could_be = _score(covers, rest)
    built = [
        _Built(corners[k], covers[k], [edges[line] for line in at[0][k]], float(rest[k]), float(could_be[k]))
        for k in np.argsort(-could_be, kind="stable")
        if could_be[k] >= LEAST_SCORE
    ]
    return _best_unlike(built, most)


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


def _rest_of_score(inside: Floats, goes_on: Floats, share: Floats) -> Floats:
    """(K,) of outlines' scores, all that their sides' steps are not: (K, 4, 3) the colour inside of each side."""
    # One sheet of paper: much the same hue along all four sides, whatever the light does.
    tint = tint_of(inside)
    hue_spread = np.linalg.norm(tint - tint.mean(axis=1, keepdims=True), axis=2).max(axis=1)
    hue = np.maximum(0.0, hue_spread - FREE_HUE) / HUE_COSTS
    # Pencil can't be seen on dark paper.
    dark = np.maximum(0.0, DARK_PAPER - median(inside[..., 0], axis=1)) / DARK_COSTS
    rest: Floats = SHARE_COUNTS * np.minimum(share, 0.5) - GOES_ON_COUNTS * goes_on - hue - dark
    return rest


def _score(cover: Floats, rest: Floats | float, smooth: Floats | float = 1.0) -> Floats:
    """(...) scores of outlines by (..., 4) of each side with a step of one kind, how smooth the sides are, and the rest
    of the score. Where a striped cloth has the card's own colour there is no step, so a step over part of the way
    counts for more than its share, if only the paper inside is of one kind."""
    side = np.sqrt(cover) * smooth
    score: Floats = 0.5 * side.min(axis=-1) + 0.5 * side.mean(axis=-1) + rest
    return score


@dataclass(frozen=True, slots=True)
class _Built:
    """Four sides that bound something, before it is looked at how alike the paper along them is. cover : (4,) share of
    each side with a step of one kind; own : each side's line; rest : of the score, all that its steps are not;
    could_be : the score, were all sides smooth."""

    corners: Floats
    cover: Floats
    own: list[SteppedLine]
    rest: float
    could_be: float

    def seen_closely(self) -> Quad:
        """The outline with its sides' smoothness looked at, which takes longer than all else."""
        score = float(_score(self.cover, self.rest, smoothness(self.own, self.corners)))
        first, second, third, fourth = (side.line for side in self.own)
        return Quad(self.corners, score, (first, second, third, fourth))


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


def _best_unlike(built: list[_Built], most: int) -> list[Quad]:
    """The best outlines that lie unlike each other, best first. Looked at closely from the one that could be best, the
    first of `built`, on; none is looked at that could not come before those that are known."""
    waiting: list[Quad] = []
    kept: list[Quad] = []
    for k, one in enumerate(built):
        waiting.append(one.seen_closely())
        bound = built[k + 1].could_be if k + 1 < len(built) else -np.inf
        waiting.sort(key=lambda quad: -quad.score)
        while waiting and waiting[0].score >= bound:
            quad = waiting.pop(0)
            if all(corners_apart(quad.corners, other.corners) > SAME_QUAD_PX for other in kept):
                kept.append(quad)
            if len(kept) == most:
                return kept
    return kept
