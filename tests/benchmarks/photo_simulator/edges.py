"""What paper really does at its edges and under its own weight: cuts that wander, sheets that lie in waves.

In:    a generator of its own, so that a card with straight edges and one with real ones share all other dice.
Out:   how far each side leaves the straight line between its corners; a sheet that does not lie clean.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.card_kit.camera import Points, Sheet

HARMONICS = np.arange(1, 7)  # half waves along a side: from one long bow to what a blade's slips leave
FALL = 1.5  # chosen: power by which shorter waves are lower, so that the curve is smooth
# Largest departure from the straight line, half of all sides under it. Measured on 38 photographed sheets: 0.12 to
# 0.3 mm on those that lie flat, up to 0.5 on others; chosen about that for cards of a shop and by hand.
SHOP_BOW_MM, HAND_BOW_MM, SPREAD = 0.06, 0.14, 0.5
WAVE_MM = 0.15  # standard deviation of a sheet that lies on a table, about the plane; chosen
WAVE_LENGTHS_MM = (70.0, 250.0)  # chosen: from half a card to more than a whole one
UNEVEN = 0.35  # share by which a curl's slope departs from a parabola's; chosen


def wander_of_chance(rng: np.random.Generator, by_hand: bool, points: int = 97) -> Points:
    """(4, points) outward departures of the sides from straight lines, from corner to corner. [mm]"""
    typical = (HAND_BOW_MM if by_hand else SHOP_BOW_MM) * np.exp(rng.normal(0, SPREAD))
    heights = rng.normal(0, 1, (4, len(HARMONICS))) / HARMONICS**FALL
    waves = np.sin(np.pi * HARMONICS[:, None] * np.linspace(0, 1, points))
    return np.asarray(typical * heights @ waves)


def unclean(rng: np.random.Generator, sheet: Sheet, corners_mm: Points, lift_mm: float) -> Sheet:
    """The sheet of a card with these corners with waves of its own, and its curl, if any, no clean curve any more.

    lift_mm : how far its curl stands off.
    """
    direction = sheet.direction_deg if lift_mm > 0 else float(rng.uniform(0, 180))
    low, high = span_along(corners_mm, direction)
    s = np.arange(low - 80, high + 80, 0.1) if lift_mm <= 0 else sheet.along_mm
    lift = np.zeros(len(s)) if lift_mm <= 0 else sheet.lift_mm * (1 + UNEVEN * _wave(rng, s))
    lift = lift + WAVE_MM * rng.normal(0, 1) * _wave(rng, s)
    inside = (s >= low) & (s <= high)
    lift = np.maximum(lift - lift[inside].min(), 0.0)
    # Nothing is stretched: what goes up is missing along the table.
    step = np.diff(s)
    reach = s[0] + np.concatenate([[0.0], np.cumsum(np.sqrt(np.maximum(step**2 - np.diff(lift) ** 2, 0)))])
    flat = int(np.argmin(np.where(inside, lift, np.inf)))
    return replace(
        sheet, direction_deg=direction, along_mm=s, reach_mm=reach + s[flat] - reach[flat], lift_mm=lift
    )


def span_along(corners_mm: Points, direction_deg: float) -> tuple[float, float]:
    """From where to where a card reaches along a direction. [mm]"""
    a = np.radians(direction_deg)
    along = corners_mm @ np.array([np.cos(a), np.sin(a)])
    return float(along.min()), float(along.max())


def _wave(rng: np.random.Generator, s: Points) -> Points:
    """One long wave of unit height at a place of chance."""
    return np.asarray(np.sin(2 * np.pi * (s / rng.uniform(*WAVE_LENGTHS_MM) + rng.uniform(0, 1))))
