"""The two circuit lines that the maker pencilled, as polylines from the battery on.

In:    the pencilled `DrawnLane` and the ink.
Out:   two `SeenLine`s on the middle of the pencil's strokes.
Fails: never.
"""

from __future__ import annotations

import math
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import BoolImage, Floats
from vision.reading.marks.ink import Ink
from vision.reading.marks.lanes import DrawnLane, beside
from vision.reading.marks.seen import SeenCircle, SeenLine
from vision.reading.marks.tidy import tidy_line
from vision.reading.ratio import unit

END_STEP_MM, LONGEST_END_MM, BLANK_MM = 0.2, 10.0, 1.0  # how a line's end is looked for
LEAST_INK, NOISE_TIMES = 0.06, 4.0
LINE_SIGMA_MM = 0.2  # the hand's own tremble
SIGN_MM = (1.6, 5.5)  # chosen: how large a plus sign is drawn
SIGN_REACH_MM = 10.0  # from the battery circle
# Measured on simulated photos: a sign farther round the circle belongs to either line as often.
SIGN_TURN_DEG = 35.0
# Past a sign's arms there is paper; where ruled lines cross, pencil goes on both up or down and across.
PAST_SIGN_MM, GOES_ON_SHARE = 4.0, 0.35  # chosen

# Chosen: across a line's end, as far as a hand strays from straight on.
ASIDE_MM = np.array([-0.4, -0.2, 0.0, 0.2, 0.4])
EVEN_DEG = 5.0  # chosen: a sign whose turns to both lines differ by less belongs to neither
MOST_UNEVEN = 1.67  # chosen: longer over shorter side of a hand-drawn plus
# Chosen: half a bar's width over the sign's; of its pixels off both bars; of the longer bar that the shorter has.
BAR_SHARE, MOST_OFF, LEAST_BAR = 0.12, 0.1, 0.35
PAST_ASIDE_MM = 0.4  # chosen: a stroke's width

Polarity = Literal["positive", "negative"]


def find_drawn_lines(ink: Ink, lane: DrawnLane, battery: SeenCircle, rest: BoolImage) -> tuple[SeenLine, ...]:
    """The lane's two lines. `rest` are the thinned strokes without ring, dots and lane, for the signs."""
    sides = [beside(lane.middle, sign * lane.apart_mm / 2) for sign in (1.0, -1.0)]
    lines = [_to_its_end(ink, tidy_line(ink, side)) for side in sides]
    polarities = _polarities(ink, rest, battery, lines)
    return tuple(
        SeenLine(tuple((float(x), float(y)) for x, y in line), LINE_SIGMA_MM, polarity)
        for line, polarity in zip(lines, polarities)
    )


def _to_its_end(ink: Ink, line: Floats) -> Floats:
    """The line led on straight as far as pencil shows: past the last light the lane says little."""
    way = line[-1] - line[-2]
    along = unit(way)
    across = np.array([-along[1], along[0]])
    reach = np.arange(END_STEP_MM, LONGEST_END_MM, END_STEP_MM)
    spots = line[-1] + reach[:, None] * along
    seen = np.max([ink.sample(spots + side * across) for side in ASIDE_MM], axis=0)
    shows = seen > max(LEAST_INK, NOISE_TIMES * ink.noise)
    last, blank = 0.0, 0.0
    for at, shown in zip(reach, shows):
        blank = 0.0 if shown else blank + END_STEP_MM
        if blank > BLANK_MM:
            break
        last = float(at) if shown else last
    if last == 0.0:
        return line
    return np.vstack([line[:-1], line[-1:] + last * along])


def _polarities(
    ink: Ink, rest: BoolImage, battery: SeenCircle, lines: list[Floats]
) -> tuple[Polarity | None, Polarity | None]:
    """Which line is positive: the one whose start lies nearer to the one plus sign at the battery."""
    signs = _plus_signs(ink, rest, battery)
    if len(signs) != 1:
        return None, None
    centre = np.array(battery.centre)
    sign = signs[0] - centre
    turns = [_turn_deg(sign, line[0] - centre) for line in lines]
    if min(turns) > SIGN_TURN_DEG or abs(turns[0] - turns[1]) < EVEN_DEG:
        return None, None
    return ("positive", "negative") if turns[0] < turns[1] else ("negative", "positive")


def _turn_deg(a: Floats, b: Floats) -> float:
    return math.degrees(math.acos(float(np.clip((unit(a) * unit(b)).sum(), -1.0, 1.0))))


def _plus_signs(ink: Ink, rest: BoolImage, battery: SeenCircle) -> list[Floats]:
    """Middles of small upright crosses at or in the battery circle. [mm]"""
    scale = ink.work_px_per_mm
    count, labels, stats, _ = cv2.connectedComponentsWithStats(rest.astype(np.uint8), connectivity=8)
    found = []
    for label in range(1, count):
        width, height = (float(stats[label, k]) for k in (cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT))
        if not all(SIGN_MM[0] <= side / scale <= SIGN_MM[1] for side in (width, height)):
            continue
        if max(width, height) > MOST_UNEVEN * min(width, height):
            continue
        left, top, across, down = stats[label, : cv2.CC_STAT_HEIGHT + 1]
        rows, columns = np.nonzero(labels[top : top + down, left : left + across] == label)
        rows, columns = rows + top, columns + left
        middle = ink.work_to_mm(np.array([[np.median(columns), np.median(rows)]]))[0]
        if math.dist(middle, battery.centre) > battery.diameter_mm / 2 + SIGN_REACH_MM:
            continue
        on_bar = np.abs(rows - np.median(rows)) <= BAR_SHARE * height + 1
        on_post = np.abs(columns - np.median(columns)) <= BAR_SHARE * width + 1
        bar, post = int((on_bar & ~on_post).sum()), int((on_post & ~on_bar).sum())
        crossed = float((on_bar | on_post).mean()) > 1 - MOST_OFF and min(bar, post) > LEAST_BAR * max(
            bar, post
        )
        if crossed and not _ruled(np.asarray(rest & (labels != label)), rows, columns, scale):
            found.append(middle)
    return found


def _ruled(others: BoolImage, rows: NDArray[np.intp], columns: NDArray[np.intp], scale: float) -> bool:
    """Whether a cross at these pixels is where two ruled lines meet: other strokes go on past it, across and
    up or down."""
    reach, aside = round(PAST_SIGN_MM * scale), max(round(PAST_ASIDE_MM * scale), 1)
    row, column = round(float(np.median(rows))), round(float(np.median(columns)))

    def goes_on(picture: BoolImage, line: int, first: int, last: int) -> bool:
        band = np.asarray(picture[max(line - aside, 0) : line + aside + 1].any(axis=0), dtype=np.bool_)
        ends = band[max(first - reach, 0) : first], band[last + 1 : last + 1 + reach]
        return any(len(end) > 0 and float(end.mean()) > GOES_ON_SHARE for end in ends)

    return goes_on(others, row, int(columns.min()), int(columns.max())) and goes_on(
        others.T, column, int(rows.min()), int(rows.max())
    )
