"""What the maker builds with: parts, tape, gap, units, their own limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from circuit.part_kinds import CellPart, LightPart, TapePart
from circuit.parts import cell_part, light_part, tape_part

LEAST_TRACE_MM = 1.0  # chosen: half of the narrowest strip that is sold; a narrower one tears as it is laid
ROUND_CELL_MM = 6.0  # room for the foam frame, and a little: chosen with makers, common practice, no source
Units = Literal["mm", "in"]
# How the tape turns a corner: folded in one piece, or cut and lapped, one piece glued on the other.
Corners = Literal["folded", "lapped"]
# What stands in the window: one or two sheets of translucent paper, or one with a sheet of plain white paper.
WindowPaper = Literal["one", "two", "plain"]


@dataclass(frozen=True, slots=True)
class Settings:
    """All that the rules, the router and the pages need to know besides the marks.

    `tape` is the strip that the traces are cut from: its copper and its thickness count, its width does not.
    `limits` overrides entries of `circuit.rules`; an unknown key is a UsageError there.
    """

    light: LightPart = field(default_factory=lambda: light_part("5050"))
    cell: CellPart = field(default_factory=lambda: cell_part("CR2032"))
    tape_width_mm: float = 2.5
    gap_mm: float = 2.5
    tape: TapePart = field(default_factory=tape_part)
    corners: Corners = "folded"
    window_paper: WindowPaper = "one"
    units: Units = "mm"
    limits: Mapping[str, float] = field(default_factory=dict)

    @property
    def battery_zone_radius_mm(self) -> float:
        """The cell and what tape keeps out of round it, but for its two end runs."""
        return self.cell.diameter_mm / 2 + self.limits.get("battery-zone.round-cell", ROUND_CELL_MM)

    @property
    def trace_offset_mm(self) -> float:
        """From the lane's midline to a trace's centre line."""
        return (self.gap_mm + self.tape_width_mm) / 2
