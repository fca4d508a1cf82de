"""What the measuring functions look at: marks, traces and settings, with the tape's shape made once.

In:    a layout, its traces or None, the maker's settings, and how the traces came to be.
Out:   a `Scene`.
Fails: never; a trace whose points all coincide has no runs and shows up as not bridging any light.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from circuit.check.bridge import Bridge, best_bridge
from circuit.check.tape import Tape, tape_along
from circuit.joint import Joint, joints_of, lanes_of, line_of
from circuit.layout import POLARITIES, BatteryMark, Layout, LightMark, Polarity, Traces
from circuit.settings import Settings
from circuit.switch import NO_HINGE, Switch, switch_of

# What a hand's wobble along a pencil line amounts to; a drawn line is taken as straight within it: chosen. [mm]
_HAND_WOBBLE_MM = 0.3


@dataclass(frozen=True)
class Scene:
    """One layout under check. `drawn` traces were pencilled by the maker and carry the lines'
    uncertainty; routed ones (`drawn` False) are exact, because the lights go on the tape where the
    plan says."""

    layout: Layout
    traces: Traces | None
    settings: Settings
    drawn: bool = False

    @property
    def tapes(self) -> dict[Polarity, Tape]:
        """Both tapes of the lane itself; empty when there are no traces."""
        return self.lanes[0] if self.lanes else {}

    @cached_property
    def lanes(self) -> tuple[dict[Polarity, Tape], ...]:
        """Both tapes of the lane, then of each branch; empty when there are no traces."""
        if self.traces is None:
            return ()
        wide = self.traces.tape_width_mm
        return tuple(
            {name: tape_along(line_of(lane, name), wide, self._wobble_mm(name)) for name in POLARITIES}
            for lane in lanes_of(self.traces)
        )

    @property
    def every_tape(self) -> tuple[tuple[Polarity, Tape], ...]:
        """Lane by lane, the positive tape first."""
        return tuple((name, tape) for lane in self.lanes for name, tape in lane.items())

    @cached_property
    def bridges(self) -> tuple[tuple[LightMark, Bridge | None], ...]:
        """Every light with its bridge, None where a tape has no run at all."""
        part = self.settings.light
        return tuple((light, best_bridge(light, part, self.lanes)) for light in self.layout.lights)

    @cached_property
    def joints(self) -> tuple[Joint, ...]:
        """Of each branch."""
        return () if self.traces is None else joints_of(self.traces)

    @cached_property
    def switch(self) -> Switch | None:
        """The switch that these traces ask for: its hinge lies where both first runs come from, on the mean of
        their directions. None without a battery circle or traces, or where the two come from different sides."""
        if (
            self.battery is None
            or self.traces is None
            or not self.tapes
            or any(len(tape.lengths) == 0 for tape in self.tapes.values())
        ):
            return None
        one, other = (self.tapes[polarity].directions[0] for polarity in POLARITIES)
        if one @ other < NO_HINGE:
            return None
        x, y = one + other
        return switch_of(self.battery, (float(x), float(y)), self.settings, tongue=self.traces.tongue)

    def line_uncertainty_mm(self, polarity: Polarity) -> float:
        """The bound on a drawn line; 0 for a routed one. [mm]

        A drawn line whose polarity could not be told may be either, so it counts for both.
        """
        if not self.drawn:
            return 0.0
        return max(
            (line.uncertainty_mm for line in self.layout.drawn_lines if line.polarity in (None, polarity)),
            default=0.0,
        )

    def edge_uncertainty_mm(self, side: str) -> float:
        """The bound on where an edge is: the frame lies on the card's top and left edges. [mm]"""
        return self.layout.card.uncertainty_mm if side in ("right", "bottom") else 0.0

    def light_uncertainty_mm(self, light: LightMark) -> float:
        """The bound on a light against its trace: 0 for a routed trace (see the class). [mm]"""
        return light.uncertainty_mm if self.drawn else 0.0

    @property
    def light_half_mm(self) -> float:
        """From a light's centre to the furthest side of its body: which way it lies is not known from its mark."""
        light = self.settings.light
        return max(light.length_mm, light.width_mm) / 2

    @property
    def cell_radius_mm(self) -> float:
        return self.settings.cell.diameter_mm / 2

    @property
    def battery(self) -> BatteryMark | None:
        return self.layout.battery

    def _wobble_mm(self, polarity: Polarity) -> float:
        return max(_HAND_WOBBLE_MM, self.line_uncertainty_mm(polarity)) if self.drawn else 0.0
