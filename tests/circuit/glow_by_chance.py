"""Light between two matt planes by chance: photons from lamps to the sheet, back and forth, one by one.

Knows nothing of transforms: each photon leaves its lamp or a plane by Lambert's cosine law, and wherever one
leaves the card (or the lamp), what it would put on each looked-at place of the sheet is added up.
"""

from __future__ import annotations

import math

import numpy as np

ROUNDS = 9  # 0.6 to the ninth is 1 %


def lux_by_chance(places_mm, lamps, height_mm, gap_mm, radius_mm, spread_mm, bounce, photons, rng):
    """(P,) lux at P places of the sheet. `lamps`: (x, y, candela) each."""
    total = np.zeros(len(places_mm))
    for x, y, candela in lamps:
        turn, out = rng.uniform(0, 2 * math.pi, photons), radius_mm * np.sqrt(rng.random(photons))
        at = np.stack([x + out * np.cos(turn), y + out * np.sin(turn)], axis=1)
        lumen, rise = math.pi * candela / photons, height_mm
        for _ in range(ROUNDS):
            total += 1e6 * lumen * _arrives(places_mm, at, rise, spread_mm, rng)
            at = _thrown(at, rise, rng)  # on the sheet
            at = _thrown(at, gap_mm, rng)  # on the card
            lumen, rise = lumen * bounce, gap_mm
    return total


def _arrives(places_mm, at, rise_mm, spread_mm, rng):
    """What photons that leave `at` put on each place, per square millimetre."""
    blurred = at + spread_mm * rng.normal(size=at.shape)
    arrives = np.zeros(len(places_mm))
    for i, place in enumerate(places_mm):
        away2 = ((blurred - place) ** 2).sum(axis=1)
        arrives[i] = (rise_mm**2 / (math.pi * (rise_mm**2 + away2) ** 2)).sum()
    return arrives


def _thrown(at, gap_mm, rng):
    """Where photons land that leave by the cosine law: the square of the sine is evenly spread."""
    sine2, turn = rng.random(len(at)), rng.uniform(0, 2 * math.pi, len(at))
    out = gap_mm * np.sqrt(sine2 / (1 - sine2))
    return at + np.stack([out * np.cos(turn), out * np.sin(turn)], axis=1)
