"""The measures that the router works with, drawn once from the maker's settings.

Everything inside the router is complex numbers: a point is x + y·j in card millimetres, a
heading is a unit number. With y down a left turn, as the maker sees it, has a negative angle.

    outer      outer edge of the left tape   ---------------------
    offset     left trace's centre line      - - - - - - - - - - -
               gap, the lights sit here        [ ]     midline
               right trace's centre line     - - - - - - - - - - -
               outer edge of the right tape  ---------------------
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.gap import tape_under_pads_mm
from circuit.layout import Layout
from circuit.rules import limit_of
from circuit.settings import Settings

_SHARPEST_TURN_DEG = 170.0  # chosen: past it the tape lies upon itself, whatever a maker allows
_TURN_EXACTNESS_RAD = 0.002  # chosen: 0.1 degrees, what a rounded plan file may turn a fold by
EXACTNESS_MM = 0.02  # chosen: plan files are rounded to 0.001 mm, sums to far less


@dataclass(frozen=True, slots=True)
class Sizes:
    """Lengths in mm, taken so that a rule that holds here holds for sure."""

    width: float
    height: float
    tape: float
    gap: float
    offset: float  # midline to a trace's centre line
    outer: float  # midline to the outer edge of a tape
    half_along: float  # of a light's body, along the lane
    half_across: float
    off_midline: float  # how far the lane may pass a light's centre
    fold_clear: float
    fold_apart: float
    turn_cos: float  # of the sharpest fold
    edge: float
    itself: float
    apart: float
    zone: float
    tail: float  # how far the lane runs past the last light's centre, at least
    switch_edge: float  # the switch's outline to the card's edge


def usable_gap(settings: Settings) -> float | None:
    """The gap between the tapes, or None when no two tapes so far apart can bridge a light.

    That is when the light's body does not reach from one tape to the other with what its pads
    need, or when the gap is below what keeps the tapes from touching.
    """
    overlap = limit_of(settings, "light-not-bridged.overlap")
    least = max(limit_of(settings, "light-not-bridged.gap"), limit_of(settings, "traces-too-close"))
    reach = tape_under_pads_mm(settings)
    if reach <= 0 or reach < overlap or settings.gap_mm < least:
        return None
    return settings.gap_mm


def sizes_for(layout: Layout, settings: Settings, gap: float) -> Sizes:
    """All measures for one layout. Traces are exact against the marks: lights and tape go where the
    plan says, so nothing is held back for what the reading is unsure of."""
    tape = settings.tape_width_mm
    light = settings.light
    overlap = limit_of(settings, "light-not-bridged.overlap")
    room = min(
        limit_of(settings, "light-not-bridged.off-midline"),
        tape_under_pads_mm(settings) - overlap,
    )
    turn = (
        math.radians(min(limit_of(settings, "folds-too-close.turn-deg"), _SHARPEST_TURN_DEG))
        - _TURN_EXACTNESS_RAD
    )
    return Sizes(
        width=layout.card.width_mm,
        height=layout.card.height_mm,
        tape=tape,
        gap=gap,
        offset=(gap + tape) / 2,
        outer=gap / 2 + tape,
        half_along=light.width_mm / 2,
        half_across=light.length_mm / 2,
        off_midline=max(room - EXACTNESS_MM, 0.0),
        fold_clear=limit_of(settings, "fold-near-light") + EXACTNESS_MM,
        fold_apart=limit_of(settings, "folds-too-close") + EXACTNESS_MM,
        turn_cos=math.cos(turn),
        edge=limit_of(settings, "trace-near-edge") + EXACTNESS_MM,
        itself=limit_of(settings, "trace-overlaps-itself") + EXACTNESS_MM,
        apart=limit_of(settings, "traces-too-close") + EXACTNESS_MM,
        zone=settings.battery_zone_radius_mm + EXACTNESS_MM,
        tail=light.width_mm / 2 + EXACTNESS_MM,
        switch_edge=limit_of(settings, "switch-off-card") + EXACTNESS_MM,
    )
