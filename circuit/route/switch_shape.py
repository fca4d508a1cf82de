"""The push switch as the router sees it: what it covers, where tape may lie in it.

In:    the maker's settings.
Out:   a `SwitchShape`, the cell's middle at 0 and the hinge towards +x.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from circuit.layout import Point, Tongue
from circuit.route.plane import Points
from circuit.route.sizes import EXACTNESS_MM
from circuit.rules import straight_limit_mm
from circuit.settings import Settings
from circuit.switch import first_point_range, lane_at_range, shape_of


@dataclass(frozen=True)
class SwitchShape:
    """The push switch from above, the cell's middle at 0 and the hinge towards +x.

    `parts` are convex, each by its corners in clockwise turn (y down): what no other tape may come under, empty where
    that is overlooked. `reach` is where the tab ends and the first fold may come; `begin` is how far beyond
    the middle, away from the hinge, the tapes begin; the lane's midline may pass the middle between
    `beside` mm to its right (the lane's own right, walking off from the cell).
    """

    parts: tuple[Points, ...]
    reach: float
    begin: float
    beside: tuple[float, float]
    tongue: Tongue = "bent"

    @cached_property
    def corners(self) -> Points:
        """Of all parts together."""
        return np.concatenate([*self.parts, np.zeros(0, dtype=np.complex128)])

    @cached_property
    def farthest(self) -> float:
        """From the cell's middle to the farthest corner; 0 without any."""
        return float(np.abs(self.corners).max(initial=0.0))


def switch_shape(settings: Settings, tongue: Tongue = "bent") -> SwitchShape:
    """The switch with its hinge towards +x, the cell's middle at 0."""
    shape, (least, most) = shape_of(settings, tongue), lane_at_range(settings)
    offset, beside = settings.trace_offset_mm, shape.tongue_mm / 2
    first = first_point_range(settings, max(abs(least - offset), abs(most + offset)))
    corners = [
        (shape.half_mm, -beside),
        (shape.reach_mm, -beside),
        (shape.reach_mm, beside),
        (shape.half_mm, beside),
    ]
    return SwitchShape(
        (_clockwise(shape.lid), _clockwise(corners)),
        straight_limit_mm(settings, tongue) + EXACTNESS_MM,
        (first[0] + max(first)) / 2,
        (least, most),
        tongue,
    )


def _clockwise(corners: Sequence[Point]) -> Points:
    points = np.array([complex(x, y) for x, y in corners])
    area = float(np.sum(np.conj(points) * np.roll(points, -1)).imag)
    return points if area > 0 else points[::-1]
