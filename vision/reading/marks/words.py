"""Whether a spot is a letter in the middle of a word.

In:    `Ink` and a place.
Out:   True where what lies there has a letter's size and other such pieces to both sides.
Fails: never.

A filled loop of a letter looks like a small light by itself; letters stand in rows, lights seldom so close.
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from circuit.layout import Point
from vision.reading.marks.ink import Ink

LETTER_MM = (1.2, 6.5)  # longer side of a letter as people write on cards
NEXT_MM = 5.0  # from a letter's middle to the next one's
BOTH_SIDES = -0.77  # cosine of 140 degrees: the letters on either side lie about in line
LEAST_INK, NOISE_TIMES = 0.12, 6.0
TOUCH_MM = 0.6  # about the place, where its piece is looked for


def in_a_word(ink: Ink, place: Point) -> bool:
    """Whether the piece of pencil at a place is one of a row of pieces alike."""
    inked = (ink.work > max(LEAST_INK, NOISE_TIMES * ink.noise)).astype(np.uint8)
    scale = ink.work_px_per_mm
    middle = ink.mm_to_work(np.array([place]))[0]
    reach = math.ceil((NEXT_MM + LETTER_MM[1]) * scale)
    x, y = (round(float(at)) for at in middle)
    left, top = max(x - reach, 0), max(y - reach, 0)
    part = inked[top : y + reach + 1, left : x + reach + 1]
    _, labels, stats, middles = cv2.connectedComponentsWithStats(part, connectivity=8)
    near = math.ceil(TOUCH_MM * scale)
    own_row, own_column = y - top, x - left
    here = labels[
        max(own_row - near, 0) : own_row + near + 1, max(own_column - near, 0) : own_column + near + 1
    ]
    here = here[here > 0]
    if not len(here):
        return False
    longest = stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1) / scale
    letter = (longest >= LETTER_MM[0]) & (longest <= LETTER_MM[1])
    own = int(np.bincount(here).argmax())
    letter[0] = False
    if not letter[own]:
        return False
    letter[own] = False
    away = (middles[letter] - middles[own]) / scale
    distance = np.hypot(away[:, 0], away[:, 1])
    beside = away[distance < NEXT_MM] / distance[distance < NEXT_MM][:, None]
    return bool(len(beside) > 1 and (beside @ beside.T).min() < BOTH_SIDES)
