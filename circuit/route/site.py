"""The card as the router sees it: the marks, the lengths that count, the switch, what things cost.

In:    built once from a layout and the maker's settings (`circuit.route.lay`).
Out:   `Site`, and the plain measures that every stretch of lane has to keep.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from circuit.arrays import Floats
from circuit.route.plane import Bools, Points, cross, dot, meets_convex, point_nearer
from circuit.route.sizes import Sizes
from circuit.route.switch_shape import SwitchShape

BODY_GAP_MM = 0.1  # chosen: two bodies in one straight lane must not touch
TAPE_TO_BODY_MM = 0.15  # chosen: tape that passes a body stays visibly clear of it
# Squared sines, held off 0 so that a turn right about, which no fold makes, gives a long run and no division by 0.
_LEAST_SINE2_AT_LIGHT = 1e-4  # chosen: 0.6 degrees
# Chosen: 2.9 degrees; the longer arm past the switch would reach off the card before.
_LEAST_SINE2_AT_CELL = 0.0025
EDGE_COMFORT_MM = 1.0  # chosen: a fold's corner this much inside the limit costs nothing more


@dataclass(frozen=True, slots=True)
class Prices:
    """What the router weighs, in mm of lane.

    A fold is half a minute's work, a place where copper cracks and where a tape comes out crooked; a millimetre of tape
    is nothing. On 30 made-up cards of 2 to 20 lights prices of 1, 1 and 2 for fold, sharp and near_edge made lanes
    0.8 % shorter (2 mm of 230) with 16 % more folds, one more on every card: a fold is worth more than it saves.
    """

    fold: float = 3.0  # chosen: half a minute's work and one more place to crack
    sharp: float = 3.0  # more for a full 135 degree turn, growing from 90
    lacking: float = 4.0  # for any lack of straight tape
    lacking_per_mm: float = 12.0  # and for each mm of it: far more than a mm of lane
    near_edge: float = 4.0  # for a fold's outer corner at the limit, fading over EDGE_COMFORT_MM


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """What a lane goes to and has to keep clear of. `lights` are centres; place 0 is the cell, k is light k-1.

    A site equals itself alone, so that what was worked out for it can be looked up by it.

    `narrow` : links need keep no farther from other lights than a body's side asks for, which lies along the lane at
    best; the clash of links tells whether it does. There are more of them then: for proofs.
    """

    lights: Points
    battery: complex
    sizes: Sizes
    switch: SwitchShape
    prices: Prices = field(default_factory=Prices)
    window: Points = field(default_factory=lambda: np.zeros(0, dtype=np.complex128))
    narrow: bool = False

    @property
    def past_body(self) -> float:
        """From another light's centre to the edge of a link's tape, at least."""
        if self.narrow:
            return min(self.sizes.half_along, self.sizes.half_across) + TAPE_TO_BODY_MM
        return self.body_reach

    @property
    def body_reach(self) -> float:
        """From a light's centre to its body's corners."""
        return float(np.hypot(self.sizes.half_along, self.sizes.half_across))

    @property
    def places(self) -> Points:
        """The cell's middle, then the lights."""
        return np.concatenate([[self.battery], self.lights])


def run_needed(cos: Floats, tan_half: Floats, sizes: Sizes) -> Floats:
    """(N,) straight midline from a light's centre to a fold of that turn, at least. [mm]

    The inner trace folds first, by offset·tan(turn/2); past 90 degrees the returning tape must
    clear the body it just left.
    """
    sine = np.sqrt(np.maximum(1 - cos**2, _LEAST_SINE2_AT_LIGHT))
    # The corner of a body that sits beside the midline reaches past the trace's centre line.
    wide = max(sizes.half_across + sizes.off_midline - sizes.offset, 0.0)
    returning = (sizes.tape / 2 + TAPE_TO_BODY_MM - wide * cos) / sine
    clear = np.where(cos < 0, np.maximum(sizes.fold_clear, returning), sizes.fold_clear)
    return np.asarray(sizes.half_along + clear + sizes.offset * tan_half)


def end_run_needed(cos: Floats, tan_half: Floats, start: Points, ahead: Points, site: Site) -> Floats:
    """(N,) straight midline from where the tapes begin to the first fold: past the tab, or out of the zone, with
    all the folded tape."""
    sizes, switch = site.sizes, site.switch
    out = start - site.battery
    along, beside = dot(out, ahead), np.abs(cross(ahead, out))
    sine = np.sqrt(np.maximum(1 - cos**2, _LEAST_SINE2_AT_CELL))
    turned = switch.reach + sizes.outer * tan_half
    returning = (sizes.zone + sizes.outer + beside) / sine
    # The returning tape passes each corner of the outline by half a lane.
    for corner in switch.corners:
        side = abs(corner.imag) + beside
        returning = np.maximum(
            returning, corner.real + (sizes.outer + CLEAR_OF_SWITCH_MM - side * cos) / sine
        )
    return np.asarray(np.where(cos < 0, np.maximum(turned, returning), turned) - along)


CLEAR_OF_SWITCH_MM = 0.05  # chosen: touching the outline counts as under it


def under_switch(site: Site, hinge: Points, a: Points, b: Points) -> Bools:
    """Whether segments a-b come under the switch, its hinge that way, one each."""
    under = np.zeros(len(a), dtype=bool)
    if not site.switch.parts:
        return under
    rows = np.flatnonzero(point_nearer(site.battery, a, b, site.switch.farthest + CLEAR_OF_SWITCH_MM))
    # Seen from the switch it is the segments that turn, so that its sides stay the same for all.
    back = np.conj(hinge[rows])
    a, b = (a[rows] - site.battery) * back, (b[rows] - site.battery) * back
    for part in site.switch.parts:
        under[rows] |= meets_convex(a, b, part, CLEAR_OF_SWITCH_MM)
    return under


def half_tan(cos: Floats) -> Floats:
    """tan(turn / 2) from the turn's cosine, of any shape."""
    return np.asarray(np.sqrt(np.maximum(1 - cos, 0) / np.maximum(1 + cos, 1e-9)))


def edge_distance(points: Points, sizes: Sizes) -> Floats:
    """From points, of any shape, to the nearest card edge; negative outside. [mm]"""
    x, y = points.real, points.imag
    return np.asarray(np.minimum(np.minimum(x, sizes.width - x), np.minimum(y, sizes.height - y)))
