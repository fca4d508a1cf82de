"""Legs: every way of joining the stations of one place to those of another.

A leg is a straight run, or one fold where the two headings' lines meet, or two folds with a
straight run between. All pairs of stations are worked out at once. A leg obeys every rule that
can be judged by looking at it alone: turns, the runs before and after each fold, the card's
edges, the battery zone, the other lights' bodies, its own two arms.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.plane import Points, cross, dot
from circuit.route.sizes import Sizes

BODY_GAP_MM = 0.1  # chosen: two bodies in one straight lane must not touch
TAPE_TO_BODY_MM = 0.15  # chosen: tape that passes a body stays visibly clear of it
SHORT_AT_MOST_MM = 1.2  # chosen: what turning a heading by a few degrees can still mend
SHORT_PRICE = 12.0  # chosen: a mm that is lacking outweighs a mm of lane by far
LONGEST_EXTRA_MM = 60.0  # chosen: a leg this much longer than straight is never part of a good lane


@dataclass(frozen=True, slots=True)
class Prices:
    """What the search weighs, in mm of lane."""

    fold: float = 3.0  # chosen: half a minute's work and one more place to crack
    sharp: float = 3.0  # more for a full 135 degree turn, growing from 90
    short: float = 4.0  # for any lack of straight tape, beside SHORT_PRICE for each mm of it
    near_edge: float = 4.0  # for a fold's outer corner at the limit, fading over EDGE_COMFORT_MM


EDGE_COMFORT_MM = 1.0


@dataclass(frozen=True, slots=True)
class Legs:
    """Legs from `(A,)` stations to `(B,)` stations; `cost` is inf where there is none.

    `folds` says how many of `first`, `second` (midline points) count. `short` is how much straight
    tape a leg lacks before or after a fold: a leg with any is a hint for a closer search, never
    part of a finished lane.
    """

    cost: Floats
    folds: NDArray[np.int8]
    first: Points
    second: Points
    short: Floats
    least: float


@dataclass(frozen=True, slots=True)
class Ground:
    """What legs have to keep clear of. `lights` are centres; place 0 is the battery, k is light k-1."""

    lights: Points
    battery: complex
    sizes: Sizes
    prices: Prices = field(default_factory=Prices)

    @property
    def body_reach(self) -> float:
        return float(np.hypot(self.sizes.half_along, self.sizes.half_across))


def run_needed(cos: Floats, tan_half: Floats, sizes: Sizes) -> Floats:
    """Straight midline from a light's centre to a fold of that turn, at least.

    The inner trace folds first, by offset·tan(turn/2); past 90 degrees the returning tape must
    clear the body it just left.
    """
    clear = np.full(cos.shape, sizes.fold_clear)
    sine = np.sqrt(np.maximum(1 - cos**2, 0))
    back = cos < 0
    # The corner of a body that sits beside the midline reaches past the trace's centre line.
    wide = max(sizes.half_across + sizes.off_midline - sizes.offset, 0.0)
    returning = (sizes.tape / 2 + TAPE_TO_BODY_MM - wide * cos) / np.where(sine > 0.01, sine, 0.01)
    clear = np.where(back, np.maximum(clear, returning), clear)
    return np.asarray(sizes.half_along + clear + sizes.offset * tan_half)


def zone_run_needed(cos: Floats, tan_half: Floats, start: Points, ahead: Points, ground: Ground) -> Floats:
    """Straight midline from a battery station to the first fold: past the switch's tab with all its tape, and
    where the lane turns back, out beside the tab's corner."""
    sizes = ground.sizes
    out = start - ground.battery
    along, beside = dot(out, ahead), np.abs(cross(ahead, out))
    sine = np.sqrt(np.maximum(1 - cos**2, 0.0025))
    half_tongue = abs(sizes.flap[4].imag)
    back = np.maximum(-cos, 0) / sine * (half_tongue + beside - sizes.outer)
    return np.asarray(sizes.straight + back + sizes.outer * tan_half - along)


def half_tan(cos: Floats) -> Floats:
    """tan(turn / 2) from the turn's cosine."""
    return np.asarray(np.sqrt(np.maximum(1 - cos, 0) / np.maximum(1 + cos, 1e-9)))


def edge_distance(points: Points, sizes: Sizes) -> Floats:
    """To the nearest card edge; negative outside."""
    x, y = points.real, points.imag
    return np.asarray(np.minimum(np.minimum(x, sizes.width - x), np.minimum(y, sizes.height - y)))
