"""Is a dot struck out with an X?

In:    `Ink` and one dot.
Out:   "crossed", "unclear" or "clear".
Fails: never.

An X is two strokes that both pass through the dot's middle, cross there, and end a few millimetres
beyond it. Circuit lines pass beside the middle or run on; an outline runs on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vision.marks.ink import Ink

Floats = NDArray[np.float64]

Crossing = Literal["crossed", "unclear", "clear"]

ORIENTATIONS = 45  # 4 degrees apart
ASIDE_MM = (-0.6, -0.3, 0.0, 0.3, 0.6)  # how far a stroke may miss the middle
CLEAR_OF_DOT_MM = 0.45  # past the dot's own ragged edge
ARM_MM = 0.9  # chosen: an arm must stick out by at least this much
LONGEST_ARM_MM = 7.0  # chosen: a longer one is no strike but a line that runs on
SAMPLE_MM = 0.15
STROKE_OF_LEVEL = 0.22  # chosen: an arm's ink against the dot's
LEAST_STROKE = 0.07
CROSS_DEG = 35.0  # chosen: strokes of an X differ by this much at the least
UPRIGHT_DEG = 12.0  # chosen: + of a centre mark


@dataclass(frozen=True, slots=True)
class _Stroke:
    angle_deg: float
    arms_mm: tuple[float, float]  # how far it sticks out on either side
    ink: float


def judge_crossing(ink: Ink, x_mm: float, y_mm: float, radius_mm: float, level: float) -> Crossing:
    """Whether strokes strike the dot out."""
    strokes = _strokes_through(ink, np.array([x_mm, y_mm]), radius_mm, level)
    short = [s for s in strokes if max(s.arms_mm) <= LONGEST_ARM_MM]
    for index, one in enumerate(short):
        for other in short[index + 1 :]:
            between = abs(one.angle_deg - other.angle_deg) % 180
            if min(between, 180 - between) < CROSS_DEG:
                continue
            # a + that marks the middle before the dot is filled in looks the same but stands upright
            upright = all(_off_axis(s.angle_deg) < UPRIGHT_DEG for s in (one, other))
            return "unclear" if upright or len(strokes) > 2 else "crossed"
    return "clear"


def _off_axis(angle_deg: float) -> float:
    return abs((angle_deg + 45) % 90 - 45)


def _strokes_through(ink: Ink, middle: Floats, radius: float, level: float) -> list[_Stroke]:
    """Strokes that pass through the dot's middle and stick out on both sides, strongest first."""
    angles = np.arange(ORIENTATIONS) * (np.pi / ORIENTATIONS)
    along = np.column_stack([np.cos(angles), np.sin(angles)])
    across = np.column_stack([-along[:, 1], along[:, 0]])
    reach = np.arange(radius + CLEAR_OF_DOT_MM, radius + LONGEST_ARM_MM + 2.0, SAMPLE_MM)
    aside = np.array(ASIDE_MM)
    points = (
        middle
        + aside[None, :, None, None, None] * across[:, None, None, None, :]
        + np.array([1.0, -1.0])[None, None, :, None, None]
        * reach[None, None, None, :, None]
        * along[:, None, None, None, :]
    )
    got = ink.sample(points.reshape(-1, 2)).astype(np.float64)
    rays = got.reshape(ORIENTATIONS, len(aside), 2, len(reach))
    first = round(ARM_MM / SAMPLE_MM)
    starts = rays[..., :first].mean(axis=3)  # (orientation, aside, side)
    # the stroke may bend in the dot: either arm may use any neighbouring offset
    best = starts.max(axis=1)
    score = best.min(axis=1)
    least = max(LEAST_STROKE, STROKE_OF_LEVEL * level)
    found: list[_Stroke] = []
    taken = score.copy()
    for _ in range(4):
        top = int(taken.argmax())
        if taken[top] < least:
            break
        arms = tuple(_arm_length(rays[:, :, side], top, 0.5 * float(best[top, side])) for side in (0, 1))
        found.append(_Stroke(float(np.degrees(angles[top])), (arms[0], arms[1]), float(score[top])))
        gap = np.abs((np.arange(ORIENTATIONS) - top + ORIENTATIONS // 2) % ORIENTATIONS - ORIENTATIONS // 2)
        taken[gap * (180 / ORIENTATIONS) < 24] = 0
    return found


def _arm_length(side: Floats, orientation: int, least: float) -> float:
    """How far the ink goes on from the dot's edge, in this orientation or one beside it. [mm]"""
    near = [(orientation + step) % ORIENTATIONS for step in (-1, 0, 1)]
    if orientation in (0, ORIENTATIONS - 1):
        near = [orientation]  # the next one round points the other way
    strongest = side[near].max(axis=(0, 1))
    window = max(1, round(0.6 / SAMPLE_MM))
    smooth = np.convolve(strongest, np.ones(window) / window, mode="valid")
    below = np.nonzero(smooth < least)[0]
    return float((below[0] if len(below) else len(smooth)) * SAMPLE_MM)
