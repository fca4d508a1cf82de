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
BESIDE_MM = np.array(
    [0.8, 1.1, 1.4]
)  # beyond the rim: bare paper but for lines, which the median passes over
TURNS = 24  # chosen: of a circle; some 70 places on the paper
LEAST_DARK = 0.15  # chosen: of the logarithm; a paler light's shares are noise
# Measured: 99 in 100 lights of simulated cards lie within 0.054 of their card's median, all of 126 within 0.062, those
# of real cards within 0.03; of 28 things that were taken for lights 22 lay farther than this.
MOST_OFF = 0.2
LEAST_LIGHTS = 3  # chosen: so many have a middle that one alone does not move


def odd_tints(
    straight: StraightCard, middles_mm: Floats, radii_mm: Floats, lights: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """(N,) which of the marks at (N, 2) places, of (N,) radii, are of another tint than most of the lights."""
    if lights.sum() < LEAST_LIGHTS:
        return np.zeros(len(middles_mm), dtype=np.bool_)
    shares, dark = _shares(straight, middles_mm, radii_mm)
    off = np.abs(shares - median(shares[lights], axis=0)).max(axis=1)
    return np.asarray((off > MOST_OFF) & (dark > LEAST_DARK), dtype=np.bool_)


def _shares(straight: StraightCard, middles_mm: Floats, radii_mm: Floats) -> tuple[Floats, Floats]:
    """(N, 3) how much of each colour a mark takes away over the mean of the three, and (N,) that mean, both of
    logarithms."""
    core = _pixels(straight, rings(middles_mm, radii_mm[:, None] * CORE, TURNS))
    beside = _pixels(straight, rings(middles_mm, radii_mm[:, None] + BESIDE_MM, TURNS))
    seen, paper = core.mean(axis=1), median(beside, axis=1)
    away = np.log((paper + DARKEST_PAPER) / (seen + DARKEST_PAPER))
    dark = away.mean(axis=1)
    shares: Floats = away / np.maximum(dark, LEAST_DARK)[:, None]
    return shares, dark


def _pixels(straight: StraightCard, places_mm: Floats) -> Floats:
    """(N, places, 3) the colours at (N, radii, turns, 2) places, those nearest where they lie outside."""
    rows, columns = straight.pixels.shape[:2]
    at = np.round(straight.to_px(places_mm)).astype(int)
    found = straight.pixels[np.clip(at[..., 1], 0, rows - 1), np.clip(at[..., 0], 0, columns - 1)]
    return np.asarray(found.reshape(len(places_mm), -1, 3), dtype=np.float64)
