"""`lay_traces`: the whole search, from marks to traces."""

from __future__ import annotations

import numpy as np

from circuit.bounds import PathBound, shortest_path_bound
from circuit.layout import BatteryMark, Layout, Traces
from circuit.polyline import length
from circuit.route.blocked import likely_blocks, proven_blocks
from circuit.route.lane import Lane, as_complex, clashes, trace_lines, with_tail
from circuit.route.leg_builder import HOOKS, PLAIN
from circuit.route.legs import Ground
from circuit.route.routed import Blocked, Routed
from circuit.route.search import Budget, Search
from circuit.route.sizes import Sizes, sizes_for, usable_gap
from circuit.route.stations import light_stations
from circuit.route.tables import MISSING_MM, Tables
from circuit.settings import Settings

# The everyday search, and the longer look where it finds none or only a long one. In counted steps:
# chosen so that twenty lights take about a second; where there is no lane both looks take up to nine.
_FIRST_LOOK = Budget(evaluations=800, repairs=6, rounds=10, shakes=12, look=PLAIN, closest=2)
_SECOND_LOOK = Budget(1200, 8, 12, 24, HOOKS, closest=2, clash_guess=30.0)
# A lane this much longer than the shortest path asks for is looked at again: chosen.
LONG_SHARE = 1.2
# What any lane needs beyond that path: the ends inside the circle, the tape past the last light.
# From a trial of the rules. [mm]
LEAST_OVERHEAD_MM = 6.5
# Beyond this the search would take minutes: chosen, half as many again as makers put on a card.
MOST_LIGHTS = 30


def lay_traces(layout: Layout, settings: Settings, *, effort: int = 1, quick: bool = False) -> Routed:
    """The best pair of traces found for `layout`, or none and why.

    `effort` multiplies how many orders are tried; `quick` leaves the longer second look out, for
    callers who try many cards. The positive trace is the left one as seen when
    walking along the lane away from the battery. No lights: no traces, nothing blocked. ValueError for an
    effort below 1.
    """
    if effort < 1:
        raise ValueError(f"effort must be 1 or above, got {effort}")
    battery = layout.battery
    labels = tuple(light.label for light in layout.lights)
    if battery is None:
        return _none(PathBound(0.0, False, ()), (Blocked(("battery",), "There is no battery circle.", True),))
    bound = shortest_path_bound(
        battery.centre, battery.diameter_mm / 2, [light.centre for light in layout.lights]
    )
    if not layout.lights:
        return _none(bound, ())
    if len(layout.lights) > MOST_LIGHTS:
        reason = (
            f"This card has {len(layout.lights)} lights, and lanes are looked for with up to {MOST_LIGHTS}."
        )
        return _none(bound, (Blocked(labels, reason, False),))
    gap = usable_gap(settings)
    if gap is None:
        reason = "Two tapes that far apart don't reach under both ends of such a light."
        return _none(bound, (Blocked(labels, reason, True),))
    ground = _ground(layout, battery, sizes_for(layout, settings, gap))
    proven = proven_blocks(layout, settings, ground)
    if proven:
        return _none(bound, proven)
    lane, blocked = _find_lane(
        layout, ground, tuple(i + 1 for i in bound.order), bound.length_mm, effort, quick
    )
    if lane is None:
        return _none(bound, blocked)
    lane = _ended(lane, ground)
    left, right = trace_lines(lane, ground.sizes)
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


def _none(bound: PathBound, blocked: tuple[Blocked, ...]) -> Routed:
    return Routed(None, (), 0.0, 0.0, 0.0, 0, bound.length_mm, bound.exact, blocked)


def _ground(layout: Layout, battery: BatteryMark, sizes: Sizes) -> Ground:
    return Ground(as_complex([light.centre for light in layout.lights]), complex(*battery.centre), sizes)


def _find_lane(
    layout: Layout, ground: Ground, shortest: tuple[int, ...], floor_mm: float, effort: int, quick: bool
) -> tuple[Lane | None, tuple[Blocked, ...]]:
    """The lane, or None and where the search got stuck. It starts from the shortest path's order."""
    starts = [shortest, shortest[::-1]]
    stations = light_stations(ground.lights, ground.battery, ground.sizes)
    best: Lane | None = None
    for budget in (_FIRST_LOOK,) if quick else (_FIRST_LOOK, _SECOND_LOOK):
        tables = Tables(ground, stations, look=budget.look)
        found = Search(tables, budget.times(effort)).run(starts)
        if found.lane is not None and (best is None or _cost(found.lane, ground) < _cost(best, ground)):
            best = found.lane
        if best is not None and best.length <= LONG_SHARE * (floor_mm + LEAST_OVERHEAD_MM):
            break
    if best is not None:
        return best, ()
    order = min(found.seen, key=lambda item: (found.seen[item], item))
    nearest = found.nearest if found.seen[order] < MISSING_MM else None
    return None, likely_blocks(layout, ground, nearest, order, tables)


def _cost(lane: Lane, ground: Ground) -> float:
    return lane.length + ground.prices.fold * lane.folds


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
