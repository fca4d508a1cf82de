"""Which light of one plan is which of another.

In:    two plans, of one card read twice, of two variations of a design, or of cards that have nothing in common.
Out:   the pairs, the lights without a partner, the rows of lights that were spaced anew.
Fails: never.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np

from circuit.layout import LightMark
from circuit.plan import Plan
from circuit.spaced_anew import RowSpacedAnew, rows_spaced_anew

SAME_LIGHT_MM = 15.0  # chosen: a light that is further off is another light
STAYED_MM = 3.0  # chosen: what a hand misses that pencils a card once more through the same front
_LEAST_TOGETHER = 3  # chosen


@dataclass(frozen=True, slots=True)
class SameLights:
    """pairs : the light before and after; gone, new : lights without a partner. rows : those of the pairs that are a
    row spaced wider or narrower."""

    pairs: tuple[tuple[LightMark, LightMark], ...]
    gone: tuple[LightMark, ...]
    new: tuple[LightMark, ...]
    rows: tuple[RowSpacedAnew, ...] = ()

    @property
    def strangers(self) -> bool:
        """Are these other cards altogether, of whose lights it would be a guess which is which?"""
        return len(self.pairs) < min(len(self.gone), len(self.new))


def same_lights(before: Plan, after: Plan) -> SameLights:
    """Which light is which: rows spaced anew light by light, else those pairs that make the sum of all ways least, none
    over SAME_LIGHT_MM.

    In two designs that have nothing to do with each other every second light lies as near as that to one of the other
    (12 and 12 lights strewn over a card). So a light counts as moved only where most lights of the smaller design
    stayed, or all went one way together, or are rows spaced anew; else no more are the same than lie at the same place.
    """
    ours, theirs = before.layout.lights, after.layout.lights
    if not ours or not theirs:
        return SameLights((), ours, theirs)
    rows = rows_spaced_anew(ours, theirs, SAME_LIGHT_MM)
    in_rows = [pair for row in rows for pair in row.pairs]
    ours_left = tuple(light for light in ours if all(light is not a for a, _ in in_rows))
    theirs_left = tuple(light for light in theirs if all(light is not b for _, b in in_rows))
    near = _nearest(ours_left, theirs_left)
    if not _one_design(min(len(ours), len(theirs)), near, len(in_rows)):
        rows, in_rows = (), []
        near = [pair for pair in _nearest(ours, theirs) if math.dist(*_centres(pair)) <= STAYED_MM]
    pairs = sorted([*in_rows, *near], key=lambda pair: ours.index(pair[0]))
    return SameLights(
        pairs=tuple(pairs),
        gone=tuple(light for light in ours if all(light is not a for a, _ in pairs)),
        new=tuple(light for light in theirs if all(light is not b for _, b in pairs)),
        rows=rows,
    )


def _nearest(ours: Sequence[LightMark], theirs: Sequence[LightMark]) -> list[tuple[LightMark, LightMark]]:
    """Pairs no farther apart than SAME_LIGHT_MM, the sum of all ways the least."""
    if not ours or not theirs:
        return []
    from scipy.optimize import linear_sum_assignment

    ways = np.array([[math.dist(a.centre, b.centre) for b in theirs] for a in ours])
    # A pair that is too far apart costs no more than two lights left alone, so that it takes no near one's place.
    rows, columns = linear_sum_assignment(np.minimum(ways, SAME_LIGHT_MM))
    return [(ours[i], theirs[j]) for i, j in zip(rows, columns) if ways[i, j] <= SAME_LIGHT_MM]


def _one_design(smaller: int, pairs: Sequence[tuple[LightMark, LightMark]], in_rows: int) -> bool:
    """Did at least half of the smaller design's lights stay, or go the same way as most others? Those in rows spaced
    anew count as well."""
    shifts = [(b.x_mm - a.x_mm, b.y_mm - a.y_mm) for a, b in pairs]
    together = tuple(median(along) for along in zip(*shifts, strict=True)) or (0.0, 0.0)
    stayed = sum(math.hypot(*shift) <= STAYED_MM for shift in shifts)
    went = sum(math.dist(shift, together) <= STAYED_MM for shift in shifts)
    # One or two lights always go the same way as most.
    most = max(stayed, went if went >= _LEAST_TOGETHER else 0)
    return 2 * (in_rows + most) >= smaller


def _centres(pair: tuple[LightMark, LightMark]) -> tuple[tuple[float, float], tuple[float, float]]:
    return pair[0].centre, pair[1].centre
