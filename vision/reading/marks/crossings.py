"""Is a dot struck out with an X?

In:    `Ink` and one dot.
Out:   "crossed", "unclear" or "clear".
Fails: never.

The strokes that leave the dot are followed outwards as arms. The arms of an X point at the dot's middle,
lie opposite one another in two pairs and end freely a few millimetres on. Circuit lines and outlines
pass beside the middle or run on.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from vision.arrays import Floats
from vision.reading.marks.ink import Ink

Crossing = Literal["crossed", "unclear", "clear"]

CLEAR_OF_DOT_MM = 0.4  # past the dot's own ragged edge
START_MM = 0.5  # length over which an arm must show to be followed
DIRECTIONS = 120
STEP_MM = 0.15
SIDE_MM = 0.3  # how far an arm may bend aside from one step to the next
LONGEST_MM = 9.0
STRIKE_MM = (0.8, 6.5)  # chosen: how far a strike sticks out of the dot
PLAIN_STRIKE_MM = 1.5
BLANK_MM = 0.75  # an arm that shows no ink for so long has ended
BEYOND_MM = 3.0  # ink that goes on behind the end is a line that skips
LEAST_INK = 0.05
INK_OF_LEVEL = 0.16  # chosen: a strike's ink against the dot's
NOISE_TIMES = 4.0
ASIDE = 0.5  # of the radius: by how much a strike may miss the middle
OPPOSITE_DEG = 32.0  # opposite arms of one strike bend by no more
CROSS_DEG = (45.0, 135.0)  # two strikes differ by this much
UPRIGHT_DEG = 12.0  # a + that marked the middle stands upright


@dataclass(frozen=True, slots=True)
class _Arm:
    """One stroke that leaves the dot: where it points, how long it is, by how much its line misses the
    dot's middle, and whether it ends with nothing behind."""

    angle_deg: float
    length_mm: float
    miss_mm: float
    free: bool


def judge_crossing(ink: Ink, x_mm: float, y_mm: float, radius_mm: float, level: float) -> Crossing:
    """Whether strokes strike the dot out."""
    arms = _arms(ink, np.array([x_mm, y_mm]), radius_mm, level)
    allowed = max(0.45, ASIDE * radius_mm)
    strikes = [
        arm
        for arm in arms
        if arm.free and arm.miss_mm <= allowed and STRIKE_MM[0] <= arm.length_mm <= STRIKE_MM[1]
    ]
    pairs = [(a, b) for a, b in combinations(strikes, 2) if 180 - _between(a, b) <= OPPOSITE_DEG]
    for a, b in pairs:
        third = [arm for arm in strikes if arm not in (a, b) and _across(arm, a) and _across(arm, b)]
        if not third:
            continue
        if len(arms) > 4:
            return "unclear"
        if all(_off_axis(arm) < UPRIGHT_DEG for arm in (a, b, *third)):
            return "unclear"
        return "crossed"
    # strokes of a hurried X bend: what counts then is that they leave on all four sides and end
    short = [arm for arm in arms if arm.free and STRIKE_MM[0] <= arm.length_mm <= STRIKE_MM[1]]
    if len(short) == len(arms) and len(short) in (3, 4) and _all_round(short):
        return "crossed" if len(short) == 4 and any(_off_axis(a) >= UPRIGHT_DEG for a in short) else "unclear"
    long_strikes = [arm for arm in strikes if arm.length_mm >= PLAIN_STRIKE_MM]
    if any(_across(a, b) for a, b in combinations(long_strikes, 2)) and all(
        arm in strikes or arm.length_mm < STRIKE_MM[0] for arm in arms
    ):
        return "unclear"
    # one single strike, with nothing else at the dot, may mean the same
    if pairs and len(arms) == 2:
        return "unclear"
    return "clear"


def _all_round(arms: list[_Arm]) -> bool:
    """Neighbouring arms lie about a quarter turn apart, or a half where one is missing."""
    angles = sorted(arm.angle_deg for arm in arms)
    gaps = [(b - a) % 360 for a, b in zip(angles, [*angles[1:], angles[0]])]
    wide = [gap for gap in gaps if gap > CROSS_DEG[1]]
    return min(gaps) > CROSS_DEG[0] and len(wide) <= 4 - len(arms) and all(gap < 225 for gap in wide)


def _between(a: _Arm, b: _Arm) -> float:
    apart = abs(a.angle_deg - b.angle_deg) % 360
    return min(apart, 360 - apart)


def _across(a: _Arm, b: _Arm) -> bool:
    return CROSS_DEG[0] <= _between(a, b) <= CROSS_DEG[1]


def _off_axis(arm: _Arm) -> float:
    return abs((arm.angle_deg + 45) % 90 - 45)


def _arms(ink: Ink, middle: Floats, radius: float, level: float) -> list[_Arm]:
    """Every stroke that leaves the dot."""
    least = max(LEAST_INK, NOISE_TIMES * ink.noise, INK_OF_LEVEL * level)
    angles = np.arange(DIRECTIONS) * (2 * np.pi / DIRECTIONS)
    reach = np.arange(radius + CLEAR_OF_DOT_MM, radius + CLEAR_OF_DOT_MM + START_MM, STEP_MM)
    points = middle + np.stack([np.outer(np.cos(angles), reach), np.outer(np.sin(angles), reach)], axis=2)
    shown = ink.sample(points.reshape(-1, 2)).reshape(DIRECTIONS, -1).astype(np.float64).mean(axis=1)
    shown = (np.roll(shown, 1) + shown + np.roll(shown, -1)) / 3
    arms: list[_Arm] = []
    for index in np.argsort(-shown):
        if shown[index] < least:
            break
        # one arm is as wide as a stroke is, seen from the middle
        if all(_turn(np.degrees(angles[index]), arm.angle_deg) > 25 for arm in arms):
            arms.append(_follow(ink, middle, radius, float(angles[index]), least))
    return arms


def _turn(a: float, b: float) -> float:
    apart = abs(a - b) % 360
    return min(apart, 360 - apart)


def _follow(ink: Ink, middle: Floats, radius: float, angle: float, least: float) -> _Arm:
    """Follow one arm outwards step by step along the darkest way."""
    way = np.array([np.cos(angle), np.sin(angle)])
    here = middle + way * (radius + CLEAR_OF_DOT_MM)
    aside = np.linspace(-SIDE_MM, SIDE_MM, 7)
    track, blank, travelled, free = [here], 0.0, 0.0, True
    while travelled < LONGEST_MM + BLANK_MM:
        across = np.array([-way[1], way[0]])
        spots = here + STEP_MM * way + aside[:, None] * across
        seen = ink.sample(spots).astype(np.float64)
        seen = np.convolve(seen, [0.25, 0.5, 0.25], mode="same") * (1 - 0.15 * np.abs(aside) / SIDE_MM)
        best = int(seen.argmax())
        travelled += STEP_MM
        if seen[best] < least:
            blank += STEP_MM
            here = here + STEP_MM * way
            if blank > BLANK_MM:
                break
            continue
        blank = 0.0
        # half of the way to the darkest spot: a stroke is not as jagged as its grain
        here = here + STEP_MM * way + 0.5 * aside[best] * across
        track.append(here)
        if len(track) > 4:
            back = track[max(0, len(track) - 10)]
            step = here - back
            size = float(np.hypot(*step))
            way = step / size if size > 1e-6 else way
    line = np.array(track)
    length = float(np.hypot(*(line[-1] - line[0])))
    if travelled >= LONGEST_MM:
        free = False
    else:
        ahead = line[-1] + way * (BLANK_MM + np.arange(0, BEYOND_MM, STEP_MM))[:, None]
        beyond = np.max(
            [ink.sample(ahead + side * np.array([-way[1], way[0]])) for side in (-0.3, 0.0, 0.3)], axis=0
        )
        free = float((beyond > least).mean()) < 0.25
    return _Arm(float(np.degrees(angle)) % 360, length, _miss(line, middle), free)


def _miss(line: Floats, middle: Floats) -> float:
    """Distance at which the straight line through the arm passes the dot's middle. [mm]"""
    if len(line) < 3:
        return float("inf")
    centre = line.mean(axis=0)
    _, _, axes = np.linalg.svd(line - centre)
    offset = middle - centre
    return float(abs(axes[0, 0] * offset[1] - axes[0, 1] * offset[0]))
