"""Which way round: each light's positive side.

In:    a layout and its two traces.
Out:   directions in degrees, 0 = +x, 90 = down, in (-180, 180].
Fails: never; a light without tape beside it has no entry.
"""

from __future__ import annotations

import math

from circuit.layout import Layout, Traces
from circuit.settings import Settings


def positive_sides_deg(layout: Layout, traces: Traces, settings: Settings | None = None) -> dict[str, float]:
    """Label -> direction from the light's centre to the positive trace, square to the lane there.

    `settings` tells the light's size, which decides what runs can bridge it; the default parts when None.
    """
    from circuit.check.scene import Scene  # brings the geometry library along

    sides: dict[str, float] = {}
    for light, bridge in Scene(layout, traces, settings or Settings()).bridges:
        if bridge is not None:
            x, y = bridge.across * bridge.positive_side
            sides[light.label] = _direction_deg(float(x), float(y))
    return sides


def _direction_deg(x: float, y: float) -> float:
    degrees = math.degrees(math.atan2(y, x))
    return 180.0 if degrees == -180.0 else degrees + 0.0
