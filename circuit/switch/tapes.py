"""The two tapes in the switch: where they are bare, where clear tape covers them, where the positive one lies.

In:    the flap's shape, how the end runs lie, the parts.
Out:   `SwitchTapes`, along (u) and across (v) from the cell's middle.
Fails: never.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.settings import Settings
from circuit.switch.contact import usual_cover_mm, usual_end_mm
from circuit.switch.flap import FlapShape

COVER_BESIDE_TAPE_MM = 2.0
COVER_PAST_TAB_MM = 2.0
# The dot ends this far before the clear tape begins: on top of it the clear tape would carry the cell.
DOT_BEFORE_COVER_MM = 0.5


@dataclass(frozen=True, slots=True)
class EndRuns:
    """How the two tapes come to the cell.

    lane_at_mm : how far to the right of the cell's middle the lane's midline passes, looking towards the hinge.
    start_mm : how far beyond the middle both tapes begin; None: in the middle of what is allowed.
    positive_right : the positive tape lies right of the negative, looking towards the hinge; the router lays it left.
    clear_from_mm : how far from the middle a light sits on the negative end run, where one does: no clear tape from
        there.
    """

    lane_at_mm: float = 0.0
    start_mm: float | None = None
    positive_right: bool = False
    clear_from_mm: float = math.inf

    def __post_init__(self) -> None:
        if not math.isfinite(self.lane_at_mm):
            raise ValueError(f"a switch needs a finite place of its lane, got {self.lane_at_mm}")


UVBox = tuple[float, float, float, float]  # u from, u to, v from, v to


@dataclass(frozen=True, slots=True)
class SwitchTapes:
    """Millimetres along (u) and across (v). positive_v, negative_v : the centre lines. lid_end : of the positive tape
    under the lid, past the middle. The boxes are those of `circuit.switch.Switch`."""

    positive_v: float
    negative_v: float
    start: float
    lid_end: float
    dot_mm: float
    bare: UVBox
    contact: UVBox
    cover: UVBox
    lid_cover: UVBox


def switch_tapes(shape: FlapShape, runs: EndRuns, settings: Settings) -> SwitchTapes:
    """Both tapes with their clear tape and the paper dot."""
    side = settings.trace_offset_mm if runs.positive_right else -settings.trace_offset_mm
    positive, negative = runs.lane_at_mm + side, runs.lane_at_mm - side
    start = usual_end_mm(settings, negative) if runs.start_mm is None else runs.start_mm
    lid_end = usual_end_mm(settings, positive)
    bare, lid_bare = (usual_cover_mm(settings, v) for v in (negative, positive))
    cover_end = max(min(shape.reach_mm + COVER_PAST_TAB_MM, runs.clear_from_mm), shape.ramp_mm)
    half = settings.tape_width_mm / 2
    wide = half + COVER_BESIDE_TAPE_MM
    return SwitchTapes(
        positive_v=positive,
        negative_v=negative,
        start=start,
        lid_end=lid_end,
        dot_mm=2 * max(bare - DOT_BEFORE_COVER_MM, 0.0),
        bare=(-start, bare, negative - half, negative + half),
        contact=(-lid_bare, lid_end, positive - half, positive + half),
        cover=(bare, cover_end, negative - wide, negative + wide),
        lid_cover=(-shape.half_mm, -lid_bare, positive - wide, positive + wide),
    )
