"""The flap: one piece of thin card, its lid over the cell, its tongue glued to the card.

In:    the parts, which tongue, the height that it rises.
Out:   a `FlapShape` about the cell's middle; how much paper the tongue takes.
Fails: ValueError for a ramp that makes none.

The tongue comes in two forms, from the side:

    bent      lid =======.              the ramp comes down in an easy bend: copper over a bend lasts a thousand
                   foam  |`.            openings
                   foam  |  `==== tab

    upright   lid =======|              creased at the lid's edge and at its foot, for where the other has no room:
                   foam  ||             copper over a sharp crease cracks after a few openings
                   foam  |`=== tab

Chosen where nothing else is said: worked out as plane geometry, not yet tried with paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.layout import Polyline, Tongue
from circuit.settings import Settings

# The foam frame: its opening is the cell's size and this much play all round, its strips this wide.
CELL_PLAY_MM = 0.5
FOAM_STRIP_MM = 5.0
CORNER_CUT_MM = 6.0  # off each corner of lid and frame: the frame stays 2.8 mm wide there
# The tongue: seen from above the ramp takes this much for its rise and the tab this much to be glued by.
RAMP_MM = 6.0
TAB_MM = 4.0
# An upright tongue leans by this much: card and tape are thick, and foam is not laid to a tenth.
UPRIGHT_MM = 1.0
TONGUE_WIDTH_MM = 16.0
TONGUE_BESIDE_LANE_MM = 3.0  # the tongue is at least this much wider than the lane, on each side


@dataclass(frozen=True, slots=True)
class FlapShape:
    """What the parts alone decide, in millimetres along (u) and across (v) from the cell's middle.

    tongue : how it comes down to the card. half_mm : of the lid. reach_mm : from the middle to the tab's outer edge, to
    which the end runs are straight. ramp_mm : where the ramp ends and the tab begins, from the middle.
    tongue_mm : the tongue's width. lid, outline : polygons, (u, v), not closed.
    """

    tongue: Tongue
    half_mm: float
    ramp_mm: float
    reach_mm: float
    tongue_mm: float
    lid: Polyline
    outline: Polyline

    @property
    def inside_mm(self) -> float:
        """From the middle to the foam frame's inner side."""
        return self.half_mm - FOAM_STRIP_MM

    def ramp_flat_mm(self, rise_mm: float) -> float:
        """The ramp's length in flat paper, where it rises so far. [mm]"""
        run_mm = self.ramp_mm - self.half_mm
        return math.hypot(run_mm, rise_mm) if self.tongue == "upright" else bent_ramp_mm(run_mm, rise_mm)


def shape_of(settings: Settings, tongue: Tongue = "bent") -> FlapShape:
    """The flap's shape for these parts, about the cell's middle."""
    half = settings.cell.diameter_mm / 2 + CELL_PLAY_MM + FOAM_STRIP_MM
    lane = settings.gap_mm + 2 * settings.tape_width_mm
    wide = min(max(TONGUE_WIDTH_MM, lane + 2 * TONGUE_BESIDE_LANE_MM), 2 * half)
    ramp = half + (UPRIGHT_MM if tongue == "upright" else RAMP_MM)
    reach = ramp + TAB_MM
    beside = wide / 2
    # A small cell's lid is hardly wider than the tongue: there the hinge side's corners are cut by less.
    far, near = half - CORNER_CUT_MM, max(half - CORNER_CUT_MM, beside)
    left = ((-half, -far), (-far, -half), (near, -half), (half, -near))
    lid = (*left, *((u, -v) for u, v in reversed(left)))
    tongue_left = ((half, -beside), (reach, -beside))
    side = _without_repeats((*left, *tongue_left))
    outline = (*side, *((u, -v) for u, v in reversed(side)))
    return FlapShape(tongue, half, ramp, reach, wide, lid, outline)


def bent_ramp_mm(run_mm: float, rise_mm: float) -> float:
    """Paper that a ramp takes which rises by `rise_mm` over `run_mm` in two equal arcs, level at both ends. [mm]

    Each arc turns by 2 atan(rise / run): plane geometry. ValueError where it would be steeper than upright.
    """
    if run_mm <= 0 or rise_mm < 0 or not math.isfinite(rise_mm):
        raise ValueError(f"a ramp needs a run above 0 and a rise of 0 or more, got {run_mm} and {rise_mm}")
    if rise_mm == 0:
        return run_mm
    if rise_mm >= run_mm:  # upright between two bends: as long as going across and up
        return run_mm + rise_mm
    radius = (run_mm**2 + rise_mm**2) / (4 * rise_mm)
    return 4 * radius * math.atan(rise_mm / run_mm)


def _without_repeats(ring: Polyline) -> Polyline:
    return tuple(point for i, point in enumerate(ring) if i == 0 or point != ring[i - 1])
