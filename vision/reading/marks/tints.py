"""Which marks take colours away in other shares than most of the card's lights, as their pencil would not.

In:    a `StraightCard`; middles and radii of marks [mm], and which of them are lights.
Out:   for each whether it is of another tint.
Fails: never; where there are two lights or fewer, none is.

Pencil takes as much of each colour away on white paper, more of some on coloured paper, and a coloured pencil its own
shares: the same for all dots of one hand, dark or pale. A sticker, a pin's head, a felt-tip's dot or the table seen
through a hole has shares of its own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.marks.ink import DARKEST_PAPER
from vision.reading.marks.places import rings
from vision.reading.middle import median
from vision.straight_card import StraightCard

CORE = np.array([0.1, 0.3, 0.5, 0.65])  # of the radius: clear of the blurred rim
BESIDE_MM = np.array([0.8, 1.1, 1.4])  # beyond the rim: bare paper; the median passes over lines
TURNS = 24  # chosen: of a circle; some 70 places on the paper
LEAST_DARK = 0.15  # chosen: of the logarithm; a paler light's shares are noise
# What a light may take away more or less of one colour than its fellows' shares of its darkness: of the logarithm, past
# noise and the mottle of brown paper, and over the darkness, past grains that lie unevenly on it. Measured: 207 lights
# of usual, rare and littered simulated cards are off by 0.009 at the median, 0.085 at most; real ones by under 0.03.
MOST_OFF, MOST_OFF_SHARE = 0.12, 0.15
LEAST_LIGHTS = 3  # chosen: so many have a middle that one alone does not move


def odd_tints(
    straight: StraightCard, middles_mm: Floats, radii_mm: Floats, lights: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """(N,) which of the marks at (N, 2) places, of (N,) radii, are of another tint than most of the lights."""
    if lights.sum() < LEAST_LIGHTS:
        return np.zeros(len(middles_mm), dtype=np.bool_)
    away = _away(straight, middles_mm, radii_mm)
    dark = away.mean(axis=1, keepdims=True)
    usual = median((away / np.maximum(dark, LEAST_DARK))[lights], axis=0)
    off = np.abs(away - dark * usual).max(axis=1)
    return np.asarray(off > np.maximum(MOST_OFF, MOST_OFF_SHARE * dark[:, 0]), dtype=np.bool_)


def _away(straight: StraightCard, middles_mm: Floats, radii_mm: Floats) -> Floats:
    """(N, 3) how much of each colour a mark takes away from the paper beside it, as a logarithm."""
    core = _pixels(straight, rings(middles_mm, radii_mm[:, None] * CORE, TURNS))
    beside = _pixels(straight, rings(middles_mm, radii_mm[:, None] + BESIDE_MM, TURNS))
    away: Floats = np.log((median(beside, axis=1) + DARKEST_PAPER) / (core.mean(axis=1) + DARKEST_PAPER))
    return away


def _pixels(straight: StraightCard, places_mm: Floats) -> Floats:
    """(N, places, 3) the colours at (N, radii, turns, 2) places, those nearest where they lie outside."""
    rows, columns = straight.pixels.shape[:2]
    at = np.round(straight.to_px(places_mm)).astype(int)
    found = straight.pixels[np.clip(at[..., 1], 0, rows - 1), np.clip(at[..., 0], 0, columns - 1)]
    return np.asarray(found.reshape(len(places_mm), -1, 3), dtype=np.float64)
