"""What measures each rule: its name -> the function that looks at a card and gives findings.

A rule that stands in `circuit.rules` but not here is no measure but an outcome of the search.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from circuit.check.battery import measure_battery_zone
from circuit.check.bridging import measure_bridges, measure_folds_near_lights, measure_tape_under_lights
from circuit.check.clearance import measure_trace_to_edge, measure_trace_to_itself, measure_trace_to_trace
from circuit.check.finding import Finding
from circuit.check.folds import measure_folds
from circuit.check.joints import measure_joints
from circuit.check.marks import (
    measure_cell_to_window,
    measure_circle_to_cell,
    measure_light_to_edge,
    measure_light_to_light,
    measure_light_to_window,
)
from circuit.check.scene import Scene
from circuit.check.switch import measure_switch_covers, measure_switch_to_edge

MEASURES: Mapping[str, Callable[[Scene], Iterable[Finding]]] = {
    "light-not-bridged": measure_bridges,
    "traces-too-close": measure_trace_to_trace,
    "trace-overlaps-itself": measure_trace_to_itself,
    "trace-near-edge": measure_trace_to_edge,
    "battery-zone": measure_battery_zone,
    "switch-off-card": measure_switch_to_edge,
    "switch-covers": measure_switch_covers,
    "fold-near-light": measure_folds_near_lights,
    "folds-too-close": measure_folds,
    "tape-under-light": measure_tape_under_lights,
    "joint": measure_joints,
    "lights-too-close": measure_light_to_light,
    "light-near-edge": measure_light_to_edge,
    "light-outside-window": measure_light_to_window,
    "cell-under-window": measure_cell_to_window,
    "cell-mismatch": measure_circle_to_cell,
}
