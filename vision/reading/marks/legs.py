"""The ways from mark to mark along which two pencilled circuit lines run side by side.

In:    the network's map of circuit lines, what of the card can be seen, the battery circle and the lights.
Out:   `Legs`: how plainly each pair of marks is joined, straight or round one bend, and how far apart the
       lines lie.
Fails: never; marks that no lines join have a low score.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import AnyFloats, FloatImage, Floats
from vision.reading.marks.likeness import Likeness
from vision.reading.ratio import over

ASIDE_MM = np.arange(0.9, 3.3, 0.15)  # half the distance of two lines; tape of 2 to 5 mm
TOLERANCE_MM, LOOSE_MM = 0.5, 1.0  # the hand's; where a bend is only looked for
STEP_MM, LOOSE_STEP_MM = 0.5, 2.0  # chosen: between the places that are looked at
CLEAR_MM = 0.4  # past the rim of a light or the battery circle
LEAST_LEG = 0.5  # of a leg has a line on both sides
LEAST_IN_SIGHT = 0.35  # of a leg: what the square hides is no witness
BEND_GRID_MM, FINE_GRID_MM, FINE_STEPS = 2.0, 0.5, (-3, -2, -1, 0, 1, 2, 3)
DETOUR, DETOUR_MM = 1.5, 8.0  # length of a bent leg over the straight one's at the most
LEAST_BENT, LEAST_LOOSE, BEST_BENDS = 0.5, 0.5, 6  # of both parts; on the way there; places that are refined
CLEAR_OF_MARKS_MM = 2.5  # beyond other marks' rims: a way past one of them is two legs
FARTHEST_MM = 90.0
BETWEEN_DOTS = (0.35, 0.65)  # chosen: of the way between dots side by side, where a lane still shows
BEND_SHORT = 0.6  # chosen: of half the lines' distance, by which the inner one ends before a bend


@dataclass(frozen=True, slots=True)
class Legs:
    """score : (N, N) how much of the way between two marks has a line on both sides; bends : the place of the
    bend of those that are not straight, by the pair of marks, lower number first; half_mm : half the distance
    of the two lines; None where no leg shows any."""

    score: Floats
    bends: Mapping[tuple[int, int], Floats]
    half_mm: float | None

    def way(self, a: int, b: int) -> list[Floats]:
        """The corners between two marks."""
        bend = self.bends.get((min(a, b), max(a, b)))
        return [] if bend is None else [bend]


@dataclass(frozen=True, slots=True)
class Ground:
    """line : the map of circuit lines; near, loose : the same widened by what a hand is off; seen : 0 where the
    square hides the card."""

    likeness: Likeness
    line: FloatImage
    near: FloatImage
    loose: FloatImage
    seen: FloatImage

    @classmethod
    def of(cls, likeness: Likeness, seen: FloatImage) -> Ground:
        line = likeness.of("line")
        near, loose = (_widened(line, mm * likeness.px_per_mm) for mm in (TOLERANCE_MM, LOOSE_MM))
        return cls(likeness, line, near, loose, seen)


def _widened(image: FloatImage, reach_px: float) -> FloatImage:
    size = 2 * round(reach_px) + 1
    return np.asarray(cv2.dilate(image, np.ones((size, size), np.uint8)), dtype=np.float32)


def weaker_side(likeness: Likeness, image: FloatImage, spots: AnyFloats, aside: AnyFloats) -> FloatImage:
    """(...) the lesser of an image's values at (..., 2) spots moved by `aside` and by as much the other way."""
    sides = likeness.read(image, spots + aside), likeness.read(image, spots - aside)
    return np.asarray(np.minimum(*sides), dtype=np.float32)


def both_sides(likeness: Likeness, image: FloatImage, spots: Floats, across: Floats) -> FloatImage:
    """(len(ASIDE_MM), N) the weaker side's map beside each of (N, 2) spots."""
    return weaker_side(likeness, image, spots[None], ASIDE_MM[:, None, None] * across)


def find_straight_legs(ground: Ground, nodes: Floats, radii: Floats) -> Legs:
    """The straight legs between (N, 2) marks of (N,) radii."""
    count = len(nodes)
    score = np.zeros((count, count))
    plain = np.zeros(len(ASIDE_MM))
    for a, b in combinations(range(count), 2):
        score[a, b] = score[b, a] = _straight(ground, nodes[[a, b]], radii[[a, b]], plain)
    return Legs(score, {}, float(ASIDE_MM[int(plain.argmax())]) if plain.any() else None)


def with_bent_legs(ground: Ground, nodes: Floats, radii: Floats, straight: Legs) -> Legs:
    """The same with legs round one bend where straight there are no lines. `nodes` (N, 2), `radii` (N,)."""
    half = straight.half_mm
    if half is None:
        return straight
    score, bends = straight.score.copy(), {}
    for a, b in combinations(range(len(nodes)), 2):
        if straight.score[a, b] < LEAST_LEG:
            share, bend = _bent(ground, nodes, radii, (a, b), half)
            if share >= LEAST_BENT:
                score[a, b] = score[b, a] = share
                bends[a, b] = bend
    return Legs(score, bends, half)


def _straight(ground: Ground, ends: Floats, radii: Floats, plain: Floats) -> float:
    """The score of one straight leg; what shows at each distance of the lines is added to `plain`."""
    way = ends[1] - ends[0]
    length = float(np.hypot(*way))
    if length < 1e-6:
        return 0.0
    low, high = radii[0] + CLEAR_MM, length - radii[1] - CLEAR_MM
    if high - low < 2 * STEP_MM:  # dots side by side: what shows between their middles
        low, high = (share * length for share in BETWEEN_DOTS)
    along = way / length
    across = np.array([-along[1], along[0]])
    spots = ends[0] + np.arange(low, high + 1e-9, min(STEP_MM, (high - low) / 2))[:, None] * along
    seen = _in_sight(ground, spots[None])[0]
    if seen.mean() < LEAST_IN_SIGHT:
        return 0.0
    best = float(both_sides(ground.likeness, ground.near, spots[seen], across).mean(axis=1).max())
    if best >= LEAST_LEG:
        plain += both_sides(ground.likeness, ground.line, spots[seen], across).sum(axis=1)
    return best


def _in_sight(ground: Ground, spots: AnyFloats) -> NDArray[np.bool_]:
    return np.asarray(ground.likeness.read(ground.seen, spots) > 0.5, dtype=np.bool_)


def _bent(
    ground: Ground, nodes: Floats, radii: Floats, pair: tuple[int, int], half: float
) -> tuple[float, Floats]:
    """Score and place of the best bend of a leg with lines so far apart."""
    start, end = (nodes[k] for k in pair)
    if np.hypot(*(end - start)) > FARTHEST_MM:
        return 0.0, start
    reach = DETOUR * float(np.hypot(*(end - start))) + DETOUR_MM
    middle, room = (start + end) / 2, reach / 2
    steps = np.arange(-room, room + 1e-9, BEND_GRID_MM)
    grid = middle + np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    grid = grid[np.hypot(*(grid - start).T) + np.hypot(*(grid - end).T) < reach]
    off_x, off_y = grid.T[:, None] - nodes.T[..., None]
    grid = grid[(off_x**2 + off_y**2 > (radii[:, None] + CLEAR_OF_MARKS_MM) ** 2).all(axis=0)]
    others = [k for k in range(len(nodes)) if k not in pair]
    nothing = (0.0, middle)
    by_way_of = partial(_by_way_of, ground, (start, end), radii[list(pair)], half)
    scores = by_way_of(ground.loose, grid, LOOSE_STEP_MM, LEAST_LOOSE)
    best = np.argsort(-scores)[:BEST_BENDS]
    best = best[scores[best] > LEAST_LOOSE]
    if not len(best):
        return nothing
    fine = np.stack(np.meshgrid(FINE_STEPS, FINE_STEPS), axis=-1).reshape(-1, 2) * FINE_GRID_MM
    near = (grid[best][:, None] + fine).reshape(-1, 2)
    scores = by_way_of(ground.near, near)
    # Of places alike the one that the lines themselves, not widened, bear out.
    chosen = int(np.argmax(scores + by_way_of(ground.line, near)))
    bend = near[chosen]
    if others and (off_way(nodes[others], np.array([start, bend, end])) < radii[others]).any():
        return nothing
    return float(scores[chosen]), bend


def off_way(places: Floats, corners: Floats) -> Floats:
    """(N,) distances of (N, 2) places from a way along corners."""
    start, step = corners[:-1], np.diff(corners, axis=0)
    along = over(((places[:, None] - start) * step).sum(axis=2), (step**2).sum(axis=1))
    foot = start + np.clip(along, 0.0, 1.0)[..., None] * step
    off: Floats = np.linalg.norm(places[:, None] - foot, axis=2).min(axis=1)
    return off


def _by_way_of(
    ground: Ground,
    ends: tuple[Floats, Floats],
    radii: Floats,
    half: float,
    image: FloatImage,
    bends: Floats,
    step_mm: float = 2 * STEP_MM,
    least: float = 0.0,
) -> Floats:
    """(M,) the weaker part's share with a line on both sides, for each of (M, 2) bends between two marks; 0 where that
    is no more than `least`."""
    likeness, px = ground.likeness, ground.likeness.px_per_mm
    scores = np.ones(len(bends))
    for end, radius in zip(ends, radii, strict=True):
        worth = np.nonzero(scores > least)[0]
        if not len(worth):
            break
        way = bends[worth] - end
        length = np.maximum(np.hypot(*way.T), 1e-9)
        along = way / length[:, None]
        across = np.column_stack([-along[:, 1], along[:, 0]])
        # Near the bend the inner line ends early and the outer late.
        low, high = radius + CLEAR_MM, np.maximum(length - BEND_SHORT * half, radius + CLEAR_MM + STEP_MM)
        count = max(4, int(np.ceil((length.max() - radius) / step_mm)))
        t = low + np.linspace(0.0, 1.0, count) * (high - low)[:, None]
        # In the map's pixels, in single precision, to a thousandth of one: hundreds of thousands of places are read.
        t, along, across = (part.astype(np.float32) for part in (px * t, along.T, half * px * across.T))
        x, y = (
            middle + t * ahead[:, None]
            for middle, ahead in zip(likeness.to_px(end).astype(np.float32), along, strict=True)
        )
        aside_x, aside_y = across[..., None]
        seen = (_read(ground.seen, x, y) > 0.5).astype(np.float32)
        # Where already one side shows too little the other is not looked at.
        one, both = _read(image, x + aside_x, y + aside_y), np.zeros(len(worth))
        left = np.nonzero(_share(one, seen) > least)[0]
        other = _read(image, (x - aside_x)[left], (y - aside_y)[left])
        both[left] = _share(np.minimum(one[left], other), seen[left])
        scores[worth] = np.minimum(scores[worth], both)
    return np.where(scores > least, scores, 0.0)


def _read(image: FloatImage, x: FloatImage, y: FloatImage) -> FloatImage:
    """(M, N) an image's values at these places, linear between pixels; 0 outside. [px]"""
    if x.size == 0:
        return np.zeros(x.shape, np.float32)
    return np.asarray(cv2.remap(image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT), np.float32)


def _share(lines: FloatImage, seen: FloatImage) -> FloatImage:
    """(M,) mean of (M, N) values where they are seen (1, else 0); 0 where too few are."""
    every = np.ones(lines.shape[1], np.float32)
    count = seen @ every
    share = (lines * seen) @ every / np.maximum(count, 1)
    return np.where(count < LEAST_IN_SIGHT * len(every), np.float32(0.0), share)
