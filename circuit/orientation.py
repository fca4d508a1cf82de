"""Which way round: each light's positive side, and the side the lane comes to the battery from.

In:    a layout and its two traces.
Out:   directions in degrees, 0 = +x, 90 = down, in (-180, 180].
Fails: never; a light without tape beside it has no entry, a card without a battery no hinge side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from circuit.layout import Layout, Point, Traces
from circuit.settings import Settings


def positive_sides_deg(layout: Layout, traces: Traces, settings: Settings | None = None) -> dict[str, float]:
    """Label -> direction from the light's centre to the positive trace, square to the lane there.

    `settings` tells the light's size, which decides what runs can bridge it; the default parts when None.
    """
    from circuit.check.bridging import bridges  # brings the geometry library along
    from circuit.check.scene import Scene

    sides: dict[str, float] = {}
    for light, bridge in bridges(Scene(layout, traces, settings or Settings())):
        if bridge is not None:
            x, y = bridge.across * bridge.positive_side
            sides[light.label] = _direction_deg(float(x), float(y))
    return sides


def hinge_deg(layout: Layout, traces: Traces) -> float | None:
    """Direction from the battery's centre towards where the two tapes enter its circle.

    None without a battery, or where no tape leaves its circle.
    """
    battery = layout.battery
    if battery is None:
        return None
    radius = battery.diameter_mm / 2
    entries = [
        entry
        for line in (traces.positive, traces.negative)
        if (entry := leaves_circle(line, battery.centre, radius)) is not None
    ]
    x = sum(entry[0] - battery.x_mm for entry in entries)
    y = sum(entry[1] - battery.y_mm for entry in entries)
    if math.hypot(x, y) < radius * _NO_SIDE:
        return None  # no entry, or two straight across from each other
    return _direction_deg(x, y)


def leaves_circle(line: Sequence[Point], centre: Point, radius_mm: float) -> Point | None:
    """Where a line, followed from its first point, first crosses a circle outwards; None where it never does."""
    for (ax, ay), (bx, by) in pairwise(line):
        step_x, step_y = bx - ax, by - ay
        from_x, from_y = ax - centre[0], ay - centre[1]
        # |from + share * step| = radius: the later of the two solutions is the way out.
        square = step_x**2 + step_y**2
        mixed = from_x * step_x + from_y * step_y
        under_root = mixed**2 - square * (from_x**2 + from_y**2 - radius_mm**2)
        if square == 0 or under_root < 0:
            continue
        share = (-mixed + math.sqrt(under_root)) / square
        if 0 <= share <= 1:
            return (ax + share * step_x, ay + share * step_y)
    return None


_NO_SIDE = 1e-6  # entries that cancel out to less than this share of the radius have no side: rounding


def _direction_deg(x: float, y: float) -> float:
    degrees = math.degrees(math.atan2(y, x))
    return 180.0 if degrees == -180.0 else degrees + 0.0
