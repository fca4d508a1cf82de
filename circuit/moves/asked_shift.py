"""The smallest shift that the mark rules ask for, and whether a shift is within reason.

In:    a layout, what distances its marks need.
Out:   the layout shifted, or None.
Fails: never.
"""

from __future__ import annotations

import math

from circuit.layout import Layout
from circuit.moves.needs import Needs
from circuit.moves.shift import marks_of, smallest_shift

# A card that asks for more than this is a card to be drawn again, not to be mended: chosen. [mm]
_REASONABLE_TOTAL_MM = 60.0
_REASONABLE_MOVE_MM = 20.0
# Moving the battery moves the push switch away from its place on the front: worth it only where lights would
# have to move this many times as far: chosen.
_BATTERY_COSTS = 2.0


def shifted(layout: Layout, needs: Needs, starts: int = 4) -> Layout | None:
    """The smallest reasonable shift: of lights alone, or with the battery where that saves much."""
    lights_only = smallest_shift(layout, needs, starts=starts)
    if lights_only == layout:
        return layout
    if lights_only is not None and not is_reasonable(layout, lights_only):
        lights_only = None
    if lights_only is not None and not _battery_could_help(layout, needs):
        return lights_only
    both = smallest_shift(layout, needs, move_battery=True, starts=starts)
    if both is None or not is_reasonable(layout, both):
        return lights_only
    if lights_only is None or total_mm(layout, lights_only) > _BATTERY_COSTS * total_mm(layout, both):
        return both
    return lights_only


def total_mm(layout: Layout, moved: Layout) -> float:
    """How far all marks together were moved."""
    return math.fsum(_shifts_mm(layout, moved))


def _battery_could_help(layout: Layout, needs: Needs) -> bool:
    """Is a light short of distance to the battery at all?"""
    battery = layout.battery
    return battery is not None and any(
        math.dist(light.centre, battery.centre) < need
        for light, need in zip(layout.lights, needs.zone, strict=True)
    )


def is_reasonable(layout: Layout, moved: Layout) -> bool:
    """Would a maker rather make these moves than draw the card again?"""
    return (
        total_mm(layout, moved) <= _REASONABLE_TOTAL_MM
        and max(_shifts_mm(layout, moved)) <= _REASONABLE_MOVE_MM
    )


def _shifts_mm(layout: Layout, moved: Layout) -> list[float]:
    return [math.dist(a, b) for a, b in zip(marks_of(layout), marks_of(moved), strict=True)]
