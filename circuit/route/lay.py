"""`lay_traces`: the whole search, from marks to traces."""

from __future__ import annotations

import numpy as np

from circuit.bounds import shortest_path_bound
from circuit.layout import Layout, Traces
from circuit.polyline import length
from circuit.route.lane import Lane, as_complex, clashes, trace_lines, with_tail
from circuit.route.legs import Ground
from circuit.route.routed import Blocked, Routed
from circuit.route.search import Budget, Search
from circuit.route.sizes import sizes_for, usable_gap
from circuit.route.stations import light_stations
from circuit.route.tables import Tables
from circuit.settings import Settings


def lay_traces(layout: Layout, settings: Settings, *, effort: int = 1) -> Routed:
    """The best pair of traces found for `layout`, or none and why. ValueError for an effort below 1."""
    if effort < 1:
        raise ValueError(f"effort must be 1 or above, got {effort}")
    labels = tuple(light.label for light in layout.lights)
    if layout.battery is None:
        return Routed(
            None,
            (),
            0.0,
            0.0,
            0.0,
            0,
            0.0,
            False,
            (Blocked(("battery",), "There is no battery circle.", True),),
        )
    if not layout.lights:
        return Routed(None, (), 0.0, 0.0, 0.0, 0, 0.0, True)
    bound = shortest_path_bound(
        layout.battery.centre, layout.battery.diameter_mm / 2, [light.centre for light in layout.lights]
    )
    gap = usable_gap(settings)
    if gap is None:
        return Routed(
            None,
            (),
            0.0,
            0.0,
            0.0,
            0,
            bound.length_mm,
            bound.exact,
            (Blocked(labels, "The lights are too short to reach two tapes.", True),),
        )
    sizes = sizes_for(layout, settings, gap, 0.0)
    ground = Ground(
        as_complex([light.centre for light in layout.lights]), complex(*layout.battery.centre), sizes
    )
    tables = Tables(ground, light_stations(ground.lights, ground.battery, sizes))
    first = tuple(i + 1 for i in bound.order)
    budget = Budget(800 * effort, 6 * effort, 10, 12 * effort)
    found = Search(tables, budget).run([first])
    if found.lane is None:
        return Routed(
            None,
            (),
            0.0,
            0.0,
            0.0,
            0,
            bound.length_mm,
            bound.exact,
            (Blocked(labels, "No lane was found.", False),),
        )
    lane = _ended(found.lane, ground)
    left, right = trace_lines(lane, sizes)
    return Routed(
        traces=Traces(left, right, settings.tape_width_mm, gap),
        order=tuple(labels[place - 1] for place in lane.order),
        positive_mm=length(left),
        negative_mm=length(right),
        midline_mm=lane.length,
        folds=lane.folds,
        lower_bound_mm=bound.length_mm,
        bound_is_exact=bound.exact,
    )


def _ended(lane: Lane, ground: Ground) -> Lane:
    """The lane run a little past the last body, where there is room for it."""
    last = lane.points[-1]
    ahead = (last - lane.points[-2]) / np.abs(last - lane.points[-2])
    light = last - ground.sizes.tail * ahead
    points = with_tail(lane.points[:-1], complex(light), complex(ahead), ground)
    if points is None:
        return lane
    longer = Lane(points, lane.run_of_light, lane.order)
    return lane if clashes(longer, ground) else longer
