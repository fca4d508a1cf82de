"""Cards with marks moved elsewhere, to be tried where no lane goes through the card as the rules ask for it.

In:    a card that keeps the mark rules; what is known of it.
Out:   cards.
Fails: `UsageError` for a limit that no rule has.

    freed    of lights that could only be a lane's last all but one, moved off what crowds them
    nudged   single crowded marks, moved away from what crowds them
    spread   lights that stand close to one another, moved apart
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

import numpy as np

from circuit.arrays import Floats
from circuit.layout import Layout
from circuit.moves.left_out import crowded_first
from circuit.moves.needs import Needs
from circuit.moves.shift import marks_of, smallest_shift, with_marks
from circuit.settings import Settings

# A light 10 mm from two edges comes free within 1 to 2 mm, one 7.5 mm from both, the least that is allowed, within 5.5.
FREED_MM = (1.5, 3.0, 4.5, 6.0)
# Of the dead ends, so many may stay where they are as the lane's last, in turn, the most crowded first: chosen.
_LASTS = 2
# A lane needs about 8 mm from light to light in a straight run and 9 with a fold between (from a trial of the rules);
# a crowd at random needs more, so that there is a way round for the rest. Of 12 hand-like cards of 8 to 12 lights
# without a lane 4 had one at the first distance, by 1 to 5 mm in all, and one more beyond 12 mm, by 19.
APART_MM = (9.25, 11.0)
# How far the most crowded marks are nudged in turn, how many of them, and how far aside of straight away: chosen.
_NUDGES_MM = (1.0, 2.0, 4.0, 7.0)
_NUDGED_MARKS = 3
_ASIDE_DEG = (0.0, 60.0, -60.0)


def freed(base: Layout, dead_ends: Collection[str], settings: Settings, by_mm: float) -> list[Layout]:
    """`dead_ends` : labels of lights from which no lane can go on; one of them may stay, since a lane has an end. None
    where there are fewer than two."""
    count = len(base.lights)
    stuck = [
        (k, way)
        for k, way in crowded_first(base, settings)
        if k < count and base.lights[k].label in dead_ends
    ]
    if len(stuck) < 2:
        return []
    return [_moved(base, [(k, by_mm * way) for k, way in stuck if k != last]) for last, _ in stuck[:_LASTS]]


def nudged(base: Layout, settings: Settings) -> Iterator[list[Layout]]:
    """Each of the most crowded marks away from what crowds it, straight and aside; in rounds, farther each time."""
    crowded = crowded_first(base, settings)[:_NUDGED_MARKS]
    for by_mm in _NUDGES_MM:
        yield [
            _moved(base, [(k, by_mm * (_turned(aside) @ away))])
            for k, away in crowded
            for aside in _ASIDE_DEG
        ]


def spread(base: Layout, needs: Needs, apart_mm: float) -> Layout | None:
    """All lights so far apart, by the least total shift found; None where there is no room."""
    least = np.maximum(needs.apart, apart_mm)
    np.fill_diagonal(least, 0.0)
    # The card is only tried: one start, in a quarter of the time.
    return smallest_shift(base, replace(needs, apart=least), starts=1)


def _turned(angle_deg: float) -> Floats:
    angle = math.radians(angle_deg)
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])


def _moved(base: Layout, shifts: Sequence[tuple[int, Floats]]) -> Layout:
    marks = marks_of(base)
    for k, shift in shifts:
        marks[k] += shift
    return with_marks(base, marks)
