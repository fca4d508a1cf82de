"""What a closed outline encloses, as a shape that is quickly asked for many points.

In:    an outline, as a hand may draw it.
Out:   its area, its edge, how far a point lies from it [mm].
Fails: never.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import shapely

from circuit.layout import Point, Polyline

_KEPT = 8  # outlines that are kept ready: chosen, a card and those that it is held against


class Enclosed(NamedTuple):
    """The area within an outline, and the edge of that area; both made ready for many questions."""

    area: Any
    edge: Any


@lru_cache(maxsize=_KEPT)
def enclosed(outline: Polyline) -> Enclosed:
    """What an outline encloses. One that crosses itself encloses what any of its loops encloses."""
    area = shapely.make_valid(shapely.Polygon(outline))
    edge = area.boundary
    shapely.prepare(area)
    shapely.prepare(edge)
    return Enclosed(area, edge)


def outside_distance(point: Point, outline: Polyline) -> tuple[float, Point]:
    """From a point to a closed outline, below 0 inside it [mm], and the nearest place on it."""
    area, edge = enclosed(outline)
    here = shapely.Point(point)
    distance = float(shapely.distance(here, edge))
    nearest = shapely.shortest_line(here, edge).coords[1]
    sign = -1.0 if shapely.covers(area, here) else 1.0
    return sign * distance, (float(nearest[0]), float(nearest[1]))
