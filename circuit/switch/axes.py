"""Places told along and across a direction on the card.

In:    an origin, a unit vector.
Out:   points and outlines in card millimetres, and back.
Fails: never.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.layout import Point, Polyline


@dataclass(frozen=True, slots=True)
class Axes:
    """`towards` a unit vector: along (u) is measured that way from the origin, across (v) to its right. [mm]"""

    origin: Point
    towards: Point

    def at(self, along_mm: float, across_mm: float) -> Point:
        x, y = self.towards
        return (self.origin[0] + along_mm * x - across_mm * y, self.origin[1] + along_mm * y + across_mm * x)

    def back(self, point: Point) -> Point:
        """Along and across of a place on the card."""
        x, y = self.towards
        dx, dy = point[0] - self.origin[0], point[1] - self.origin[1]
        return (dx * x + dy * y, dy * x - dx * y)

    def all(self, ring: Polyline) -> Polyline:
        return tuple(self.at(along, across) for along, across in ring)

    def box(self, along_a: float, along_b: float, across_a: float, across_b: float) -> Polyline:
        return self.all(((along_a, across_a), (along_b, across_a), (along_b, across_b), (along_a, across_b)))


def axes_towards(origin: Point, towards: Point) -> Axes:
    """The vector's length does not matter. ValueError where it is 0 or endless."""
    size = math.hypot(*towards)
    if not 0 < size < math.inf:
        raise ValueError(f"a switch needs a direction, got {towards}")
    return Axes(origin, (towards[0] / size, towards[1] / size))
