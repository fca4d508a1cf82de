"""Lines with what lies on either side of them, and how plainly stretches of them bound a sheet of paper.

In:    the small picture and its `Line`s.
Out:   `SteppedLine`s, the colours along both sides of a line; `Sides`, what they say of each stretch between two
       crossings with other lines.
Fails: never; a line outside the picture shows nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.card.lines import Line
from vision.reading.middle import median
from vision.reading.small_picture import SmallPicture

MOST_ROWS = 16384  # read at once; OpenCV takes at most 32,767
STEP_PX = 3.0  # spacing of the samples along a line
SHORT_WAY_PX = 20.0  # how far beyond its seen length a line is weighed
NEAR_PX, FAR_PX = 1.5, 6.0  # the strips beside a line that are compared
BEYOND_PX = (6.0, 30.0)  # where a line that ends at a corner must have stopped
STRIP_STEP_PX = 1.5  # chosen: between the samples across a strip
SHORTEST_SIDE_SAMPLES = 12  # chosen: of a side; shorter ones show nothing
# Chosen: at either end of a side, where the corner's rounding spoils it.
MOST_MARGIN_PX, MARGIN_SHARE = 6.0, 0.04
MUCH_STEEPER = 2.5  # chosen: times the mean step, from which something lies over the edge
SAME_STEP = 0.4  # share of the mean step that a sample must show to count as the same edge
LEAST_ZONE = 4  # chosen: samples beyond a corner that count at the least
LEAST_SCATTER = 0.01  # Lab units squared, so that a side without noise is no division by nothing
CERTAIN_SCATTERS = 6.0  # chosen: standard deviations of its mean from which a step is certain
LEAST_WEIGHT = 0.15  # chosen: of a line without a step, so that a long one is tried all the same
MOST_LINES = 32  # lines that are combined; the work grows with their third power
PLAIN_STEP = 2.5  # Lab units between both sides from which a line is an edge and no drawn line
LEAST_TINT_LIGHT = 20.0  # lightness below which a colour is noise; chosen
TINT_LIGHT = 75.0  # lightness to which tints are brought, so that shade does not pass for another hue


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


def measure_steps(small: SmallPicture, lines: Sequence[Line]) -> list[SteppedLine]:
    """Sample the strips on both sides of each line over its whole way through the picture."""
    if not lines:
        return []
    width, height = small.size
    reach = float(np.hypot(width, height))
    way = np.arange(-reach, reach, STEP_PX)
    starts, seen, points = [], [], []
    for line in lines:
        x, y = (at := line.at(way)).T
        inside = (x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)
        hits = np.flatnonzero(inside)
        through = slice(hits[0], hits[-1] + 1) if len(hits) else slice(0)
        starts.append(float(way[hits[0]]) if len(hits) else 0.0)
        seen.append(inside[through])
        points.append(at[through])
    counts = [len(one) for one in points]
    normals = np.repeat([line.normal for line in lines], counts, axis=0)
    offsets = np.arange(NEAR_PX, FAR_PX + STRIP_STEP_PX / 2, STRIP_STEP_PX)
    strips = _strips(small, np.concatenate(points), normals, np.concatenate([-offsets, offsets]))
    left, right = (strips[:, part].mean(axis=1) for part in (slice(len(offsets)), slice(len(offsets), None)))
    ends = np.cumsum(counts)[:-1]
    return [
        SteppedLine(line, t0, lefts, rights, inside)
        if len(inside)
        else SteppedLine(line, t0, np.zeros((1, 3)), np.zeros((1, 3)), np.zeros(1, dtype=bool))
        for line, t0, lefts, rights, inside in zip(
            lines, starts, np.split(left, ends), np.split(right, ends), seen, strict=True
        )
    ]


def _strips(small: SmallPicture, points: Floats, normals: Floats, offsets: Floats) -> Floats:
    """(N, M, 3) Lab at M offsets square to a line from each of (N, 2) points."""
    grid = points[:, None, :] + offsets[None, :, None] * normals[:, None, :]
    sampled = [
        cv2.remap(
            small.lab,
            part[..., 0].astype(np.float32),
            part[..., 1].astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for part in np.split(grid, range(MOST_ROWS, len(grid), MOST_ROWS))
    ]
    return np.concatenate(sampled).reshape(*grid.shape[:2], 3).astype(np.float64)


def stepped_lines(small: SmallPicture, lines: list[Line]) -> list[SteppedLine]:
    """The lines likeliest to be edges of something: long, and of another colour on either side, which
    both sides of a pencil line are not."""
    weighed = []
    for line, stepped in zip(lines, measure_steps(small, lines), strict=True):
        t = stepped.t0 + STEP_PX * np.arange(len(stepped.inside))
        seen = np.abs(t) < line.length_px / 2 + SHORT_WAY_PX
        step = median(np.linalg.norm(stepped.step[seen], axis=1)) if seen.any() else 0.0
        weighed.append((line.length_px * float(np.clip(step / PLAIN_STEP, LEAST_WEIGHT, 1.0)), stepped))
    weighed.sort(key=lambda item: -item[0])
    return [stepped for _, stepped in weighed[:MOST_LINES]]


@dataclass(frozen=True, slots=True)
class Sides:
    """Figures of every stretch between two crossings of one line; index [first, second] crossing line.

    cover : share of it with a step of one kind, NaN where there is no such stretch; goes_on : share with that step
    beyond its ends, where there should be none; left, right : (n, n, 3) mean colour, Lab."""

    cover: Floats
    goes_on: Floats
    left: Floats
    right: Floats

    def inside(self) -> Floats:
        """(N, N, 3) colour inside of a side walked from the first crossing to the second with the inside to its
        right."""
        onward = np.isfinite(self.cover)[..., None]
        inside: Floats = np.where(onward, self.right, self.left.transpose(1, 0, 2))
        return inside


def measure_sides(stepped: SteppedLine, t: Floats) -> Sides:
    """Of one line. `t` : (N,) its crossings with all lines, NaN where none."""
    count = len(t)
    cover = np.full((count, count), np.nan)
    goes_on = cover.copy()
    left, right = np.full((count, count, 3), np.nan), np.full((count, count, 3), np.nan)
    usable = np.flatnonzero(np.isfinite(t))
    first, second = np.meshgrid(usable, usable, indexing="ij")
    longer = t[second] - t[first] > SHORTEST_SIDE_SAMPLES * STEP_PX
    first, second = first[longer], second[longer]
    samples = len(stepped.inside)
    if len(first) == 0:
        return Sides(cover, goes_on, left, right)
    position = (stepped.t0 + STEP_PX * np.arange(samples)).astype(np.float32)
    low, high = t[first].astype(np.float32), t[second].astype(np.float32)
    margin = np.minimum(MOST_MARGIN_PX, MARGIN_SHARE * (high - low))
    within = (position > (low + margin)[:, None]) & (position < (high - margin)[:, None])
    weight = within.astype(np.float32)
    total = np.maximum(weight.sum(axis=1), 1)
    step = stepped.step.astype(np.float32)
    squares = (step**2).sum(axis=1, keepdims=True)
    mean, square, on_left, on_right = (
        (weight @ values.astype(np.float32)) / total[:, None]
        for values in (step, squares, stepped.left, stepped.right)
    )
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
    scatter = np.sqrt(np.maximum(square[:, 0] - (mean**2).sum(axis=1), LEAST_SCATTER) / total)
    certain = np.clip(size / (CERTAIN_SCATTERS * scatter), 0, 1)
    cover[first, second] = share * certain
    goes_on[first, second] = ends
    left[first, second], right[first, second] = on_left, on_right
    return Sides(cover, goes_on, left, right)


def tint_of(lab: Floats) -> Floats:
    """(..., 2) Lab a and b of (..., 3) Lab as they would be in good light: a shadow dims all three alike."""
    tint: Floats = lab[..., 1:] * (TINT_LIGHT / np.maximum(lab[..., :1], LEAST_TINT_LIGHT))
    return tint
