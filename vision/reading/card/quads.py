"""Sets of four lines that may bound a card, ranked by what the picture shows along them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.card.lines import Line
from vision.reading.edges.profiles import Course
from vision.reading.middle import median
from vision.reading.small_picture import SmallPicture

STEP_PX = 3.0  # spacing of the samples along a line
SHORT_WAY_PX = 20.0  # how far beyond its seen length a line is weighed
NEAR_PX, FAR_PX = 1.5, 6.0  # the strips beside a line that are compared
BEYOND_PX = (6.0, 30.0)  # where a line that ends at a corner must have stopped
STRIP_STEP_PX = 1.5  # chosen: between the samples across a strip
SHORTEST_SIDE_SAMPLES = 12  # chosen: of a side; shorter ones show nothing
# Chosen: at either end of a side, where the corner's rounding spoils it.
MOST_MARGIN_PX, MARGIN_SHARE = 6.0, 0.04
MUCH_STEEPER = 2.5  # chosen: times the mean step, from which something lies over the edge
LEAST_ZONE = 4  # chosen: samples beyond a corner that count at the least
LEAST_SCATTER = 0.01  # Lab units squared, so that a side without noise is no division by nothing
CERTAIN_SCATTERS = 6.0  # chosen: standard deviations of its mean from which a step is certain
LEAST_WEIGHT = 0.15  # chosen: of a line without a step, so that a long one is tried all the same
# Chosen on the practice photos: what counts beside the weakest side in the rough score, and from where one is worth
# building.
ROUGH_MEAN, ROUGH_GOES_ON, LEAST_ROUGH, NO_SCORE = 0.3, 0.6, -0.4, -9.0
# Chosen on the practice photos, Lab units: sides may differ so much in hue for nothing and each further so much costs a
# whole side; paper darker than so much costs likewise.
FREE_HUE, HUE_COSTS, DARK_PAPER, DARK_COSTS = 6.0, 12.0, 45.0, 20.0
GOES_ON_COUNTS, SHARE_COUNTS = 0.35, 0.3  # chosen: in the score
LEAST_TINT_LIGHT = 20.0  # lightness below which a colour is noise; chosen
SAME_QUAD_PX = 6.0  # chosen: corners nearer than this are one outline's


@dataclass(frozen=True, slots=True)
class SteppedLine:
    """A line with what lies on either side of it.

    t0 : position of the first sample; step, left, right : (N, 3) Lab, left - right, N samples at
    STEP_PX; inside : (N,) whether the sample lies in the picture.
    """

    line: Line
    t0: float
    left: Floats
    right: Floats
    inside: NDArray[np.bool_]

    @property
    def step(self) -> Floats:
        return self.left - self.right


@dataclass(frozen=True, slots=True, eq=False)
class Quad:
    """Four corners in the small picture, clockwise as seen, and how well the picture bears them out.

    cover : (4,) share of each side (corner i to i+1) with a step of one kind; 1 is perfect.
    smooth : (4,) share of each side along which the paper inside looks the same; 1 is perfect.
    goes_on : (4,) share with that step beyond the corners, where there should be none.
    contrast : (4,) mean step in Lab units.
    """

    corners: Floats
    score: float
    cover: Floats
    smooth: Floats
    goes_on: Floats
    contrast: Floats
    lines: tuple[Line, Line, Line, Line]

    def course(self, side: int, count: int, ends: float) -> Course:
        """The way from corner `side` to the next, without the share `ends` at either end. [small px]"""
        line = self.lines[side]
        start, end = ((self.corners[k % 4] - line.start) @ line.along for k in (side, side + 1))
        points = line.at(start + np.linspace(ends, 1 - ends, count) * (end - start))
        outward = -line.normal if end > start else line.normal
        return Course(points, np.repeat(outward[None], count, axis=0))


def measure_steps(small: SmallPicture, line: Line) -> SteppedLine:
    """Sample the strips on both sides of a line over its whole way through the picture."""
    width, height = small.size
    reach = float(np.hypot(width, height))
    t = np.arange(-reach, reach, STEP_PX)
    points = line.at(t)
    seen = (
        (points[:, 0] >= 0) & (points[:, 0] <= width - 1) & (points[:, 1] >= 0) & (points[:, 1] <= height - 1)
    )
    if not seen.any():
        return SteppedLine(line, 0.0, np.zeros((1, 3)), np.zeros((1, 3)), np.zeros(1, dtype=bool))
    first, last = np.flatnonzero(seen)[[0, -1]]
    t, points, seen = t[first : last + 1], points[first : last + 1], seen[first : last + 1]
    offsets = np.arange(NEAR_PX, FAR_PX + STRIP_STEP_PX / 2, STRIP_STEP_PX)
    both = np.concatenate([-offsets, offsets])
    grid = points[:, None, :] + both[None, :, None] * line.normal[None, None, :]
    sampled = cv2.remap(
        small.lab,
        grid[..., 0].astype(np.float32),
        grid[..., 1].astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float64)
    left = sampled[:, : len(offsets)].mean(axis=1)
    right = sampled[:, len(offsets) :].mean(axis=1)
    return SteppedLine(line, float(t[0]), left, right, seen)


LEAST_SCORE = 0.33  # of an outline that is worth a try
MOST_BUILT = 250  # outlines that are looked at closely, the best covered first
LEAST_SHARE = 0.05  # chosen: a card that fills less of the picture is too small to read
MOST_OPPOSITE_DEG = 50.0  # chosen: opposite edges of a card tilted by 45 degrees and seen from near
LEAST_CROSSING_DEG = 35.0  # chosen, likewise for neighbouring edges
SAME_STEP = 0.4  # share of the mean step that a sample must show to count as the same edge
OUT_OF_PICTURE = 0.02  # corners may lie this share of the long side outside, to be refused by name later


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


@dataclass(frozen=True, slots=True)
class _Sides:
    """Figures of every stretch between two crossings of one line; index [first, second] crossing line."""

    cover: Floats  # NaN where there is no such stretch
    goes_on: Floats
    contrast: Floats
    left: Floats  # (n, n, 3)
    right: Floats


def _measure_sides(stepped: SteppedLine, t: Floats) -> _Sides:
    """`t` : (n,) crossings of this line with all lines, NaN where none."""
    count = len(t)
    cover = np.full((count, count), np.nan)
    goes_on, contrast = cover.copy(), cover.copy()
    left, right = np.full((count, count, 3), np.nan), np.full((count, count, 3), np.nan)
    usable = np.flatnonzero(np.isfinite(t))
    first, second = np.meshgrid(usable, usable, indexing="ij")
    longer = t[second] - t[first] > SHORTEST_SIDE_SAMPLES * STEP_PX
    first, second = first[longer], second[longer]
    samples = len(stepped.inside)
    if len(first) == 0 or samples < 3:
        return _Sides(cover, goes_on, contrast, left, right)
    position = (stepped.t0 + STEP_PX * np.arange(samples)).astype(np.float32)
    low, high = t[first].astype(np.float32), t[second].astype(np.float32)
    margin = np.minimum(MOST_MARGIN_PX, MARGIN_SHARE * (high - low))
    within = (position > (low + margin)[:, None]) & (position < (high - margin)[:, None])
    weight = within.astype(np.float32)
    total = np.maximum(weight.sum(axis=1), 1)
    step = stepped.step.astype(np.float32)
    sums = weight @ np.column_stack([step, (step**2).sum(axis=1), stepped.left, stepped.right]).astype(
        np.float32
    )
    mean = sums[:, :3] / total[:, None]
    for _ in range(2):  # a thing lying over the edge must not shape the mean
        likeness = mean @ step.T / np.maximum((mean**2).sum(axis=1), 1e-9)[:, None]
        same = likeness > SAME_STEP
        kept = (within & same & (likeness < MUCH_STEEPER)).astype(np.float32)
        mean = (kept @ step) / np.maximum(kept.sum(axis=1), 1)[:, None]
    expected = np.maximum((high - low - 2 * margin) / STEP_PX, 1)
    share = (within & same).sum(axis=1) / np.maximum(total, expected)
    ends = np.zeros(len(first))
    for lower, upper in (
        (low - BEYOND_PX[1], low - BEYOND_PX[0]),
        (high + BEYOND_PX[0], high + BEYOND_PX[1]),
    ):
        zone = (position > lower[:, None]) & (position < upper[:, None])
        ends = np.maximum(ends, (zone & same).sum(axis=1) / np.maximum(zone.sum(axis=1), LEAST_ZONE))
    # A step that drowns in its own scatter is none.
    size = np.linalg.norm(mean, axis=1)
    scatter = np.sqrt(np.maximum(sums[:, 3] / total - (mean**2).sum(axis=1), LEAST_SCATTER) / total)
    certain = np.clip(size / (CERTAIN_SCATTERS * scatter), 0, 1)
    cover[first, second] = share * certain
    goes_on[first, second] = ends
    contrast[first, second] = size
    left[first, second] = sums[:, 4:7] / total[:, None]
    right[first, second] = sums[:, 7:] / total[:, None]
    return _Sides(cover, goes_on, contrast, left, right)


def _pick(sides: list[_Sides], line: int, first: int, second: int) -> tuple[float, float, float, Floats]:
    """Cover, goes_on, contrast and the colour inside of a side walked from `first` to `second`
    with the inside to its right."""
    side = sides[line]
    if np.isfinite(side.cover[first, second]):
        pair, inside = (first, second), side.right
    else:
        pair, inside = (second, first), side.left
    return side.cover[pair], side.goes_on[pair], side.contrast[pair], inside[pair]


MOST_LINES = 32  # lines that are combined; the work grows with their third power
PLAIN_STEP = 2.5  # Lab units between both sides from which a line is an edge and no drawn line


def stepped_lines(small: SmallPicture, lines: list[Line]) -> list[SteppedLine]:
    """The lines likeliest to be edges of something: long, and of another colour on either side, which
    both sides of a pencil line are not."""
    weighed = []
    for line in lines:
        stepped = measure_steps(small, line)
        t = stepped.t0 + STEP_PX * np.arange(len(stepped.inside))
        seen = np.abs(t) < line.length_px / 2 + SHORT_WAY_PX
        step = median(np.linalg.norm(stepped.step[seen], axis=1)) if seen.any() else 0.0
        weighed.append((line.length_px * float(np.clip(step / PLAIN_STEP, LEAST_WEIGHT, 1.0)), stepped))
    weighed.sort(key=lambda item: -item[0])
    return [stepped for _, stepped in weighed[:MOST_LINES]]


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
    sides = [_measure_sides(edge, np.where(good_point[i], t[i], np.nan)) for i, edge in enumerate(edges)]
    cover = np.stack([np.fmax(side.cover, side.cover.T) for side in sides])  # [line, crossing, crossing]
    count = len(lines)
    pairs = [
        (i, j)
        for i, j in combinations(range(count), 2)
        if abs(sine[i, j]) < np.sin(np.radians(MOST_OPPOSITE_DEG))
    ]
    if not pairs:
        return []
    a, b = np.array(pairs).T
    p, q = np.triu_indices(len(pairs), 1)
    a, b, c, d = a[p], b[p], a[q], b[q]
    keep = (a != c) & (a != d) & (b != c) & (b != d)
    keep &= good_point[a, c] & good_point[a, d] & good_point[b, c] & good_point[b, d]
    a, b, c, d = a[keep], b[keep], c[keep], d[keep]
    covers = np.stack([cover[a, c, d], cover[c, a, b], cover[b, c, d], cover[d, a, b]])
    on = np.stack([np.fmax(side.goes_on, side.goes_on.T) for side in sides])
    goes_on = np.stack([on[a, c, d], on[c, a, b], on[b, c, d], on[d, a, b]])
    rough = np.nan_to_num(
        covers.min(axis=0) + ROUGH_MEAN * covers.mean(axis=0) - ROUGH_GOES_ON * goes_on.mean(axis=0),
        nan=NO_SCORE,
    )
    built = []
    for k in np.argsort(-rough)[:MOST_BUILT]:
        if rough[k] <= LEAST_ROUGH:
            break
        quad = _build(edges, points, sides, (a[k], c[k], b[k], d[k]), (width, height))
        if quad is not None:
            built.append(quad)
    return _best_unlike(built, most)


@dataclass(frozen=True, slots=True)
class _Built:
    """Four sides that bound something, before it is looked at how alike the paper along them is. own : the line of
    each side; rest : of the score, all that its sides' steps are not."""

    corners: Floats
    cover: Floats
    goes_on: Floats
    contrast: Floats
    own: list[SteppedLine]
    rest: float

    def score(self, smooth: Floats) -> float:
        """Of an outline whose sides are so smooth. Where a striped cloth has the card's own colour there is no step,
        so a step over part of the way counts for more than its share, if only the paper inside is of one kind."""
        side = np.sqrt(self.cover) * smooth
        return float(0.5 * side.min() + 0.5 * side.mean() + self.rest)

    def seen_closely(self) -> Quad:
        """The outline with its sides' smoothness looked at, which takes longer than all else."""
        smooth = _smoothness(self.own, self.corners)
        first, second, third, fourth = (side.line for side in self.own)
        lines = (first, second, third, fourth)
        return Quad(self.corners, self.score(smooth), self.cover, smooth, self.goes_on, self.contrast, lines)


def _build(
    edges: list[SteppedLine],
    points: Floats,
    sides: list[_Sides],
    ring: tuple[int, int, int, int],
    size: tuple[int, int],
) -> _Built | None:
    corners = np.array([points[ring[i], ring[(i + 1) % 4]] for i in range(4)])  # corner i: sides i and i+1
    ahead = np.roll(corners, -1, axis=0) - corners
    turns = ahead[:, 0] * np.roll(ahead, -1, axis=0)[:, 1] - ahead[:, 1] * np.roll(ahead, -1, axis=0)[:, 0]
    if not (np.all(turns > 0) or np.all(turns < 0)):
        return None
    if turns[0] < 0:  # walk it clockwise as seen (y down)
        ring = (ring[0], ring[3], ring[2], ring[1])
        corners = np.array([points[ring[i], ring[(i + 1) % 4]] for i in range(4)])
    area = cv2.contourArea(corners.astype(np.float32))
    share = area / (size[0] * size[1])
    if share < LEAST_SHARE:
        return None
    # Side i+1 runs from corner i to corner i+1; it lies between its crossings with sides i and i+2.
    seen = [_pick(sides, ring[(i + 1) % 4], ring[i], ring[(i + 2) % 4]) for i in range(4)]
    cover = np.array([s[0] for s in seen])
    goes_on = np.array([s[1] for s in seen])
    contrast = np.array([s[2] for s in seen])
    inside = np.array([s[3] for s in seen])
    if not np.all(np.isfinite(cover)):
        return None
    # One sheet of paper: much the same hue along all four sides, whatever the light does.
    tint = _tint(inside)
    hue_spread = float(np.linalg.norm(tint - tint.mean(axis=0), axis=1).max())
    hue = max(0.0, hue_spread - FREE_HUE) / HUE_COSTS
    # Pencil can't be seen on dark paper.
    dark = max(0.0, DARK_PAPER - float(median(inside[:, 0]))) / DARK_COSTS
    own = [edges[ring[(i + 1) % 4]] for i in range(4)]

    most = SHARE_COUNTS * min(share, 0.5) - GOES_ON_COUNTS * float(goes_on.mean()) - hue - dark
    found = _Built(corners, cover, goes_on, contrast, own, most)
    return found if found.score(np.ones(4)) >= LEAST_SCORE else None


PAPER_HUE, PAPER_LIGHT = 4.0, 14.0  # Lab units by which one sheet may jump along an edge: marks, shadows
TINT_LIGHT = 75.0  # lightness to which tints are brought, so that shade does not pass for another hue


def _tint(lab: Floats) -> Floats:
    """(N, 2) Lab a and b as they would be in good light: a shadow dims all three alike."""
    tint: Floats = lab[:, 1:] * (TINT_LIGHT / np.maximum(lab[:, :1], LEAST_TINT_LIGHT))
    return tint


def _smoothness(own: list[SteppedLine], corners: Floats) -> Floats:
    """(4,) share of each side's inner strip along which the colour changes only slowly, as it does over a
    sheet whatever the light; a cloth's pattern jumps."""
    shares = []
    for i, stepped in enumerate(own):
        start, end = ((corners[k % 4] - stepped.line.start) @ stepped.line.along for k in (i, i + 1))
        t = stepped.t0 + STEP_PX * np.arange(len(stepped.inside))
        low, high = min(start, end), max(start, end)
        within = (t > low + 4) & (t < high - 4)
        strip = (stepped.right if end > start else stepped.left)[within]
        if len(strip) == 0:
            shares.append(0.0)
            continue
        look = np.column_stack([strip[:, 0], _tint(strip)])
        reach = max(3, len(strip) // 4) | 1
        slow = np.asarray(cv2.blur(look, (1, reach)))
        jump = np.abs(look - slow)
        shares.append(float(np.mean((jump[:, 0] < PAPER_LIGHT) & (jump[:, 1:].max(axis=1) < PAPER_HUE))))
    return np.array(shares)


def _best_unlike(built: list[_Built], most: int) -> list[Quad]:
    """The best outlines that lie unlike each other, best first. Looked at closely from the one that could be best on;
    none is looked at that could not come before those that are known."""
    ordered = sorted(built, key=lambda one: -one.score(np.ones(4)))
    waiting: list[Quad] = []
    kept: list[Quad] = []
    for k, one in enumerate(ordered):
        waiting.append(one.seen_closely())
        bound = ordered[k + 1].score(np.ones(4)) if k + 1 < len(ordered) else -np.inf
        waiting.sort(key=lambda quad: -quad.score)
        while waiting and waiting[0].score >= bound:
            quad = waiting.pop(0)
            if not any(_alike(quad, other) for other in kept):
                kept.append(quad)
            if len(kept) == most:
                return kept
    return kept


def _alike(one: Quad, other: Quad) -> bool:
    ways = (np.abs(np.roll(one.corners, k, axis=0) - other.corners).max() for k in range(4))
    return bool(min(ways) < SAME_QUAD_PX)
