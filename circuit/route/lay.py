"""`lay_traces`: the whole search, from marks to traces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from circuit.bounds import PathBound, shortest_path_bound
from circuit.gap_trouble import gap_trouble
from circuit.layout import BatteryMark, Layout, Traces
from circuit.plan_limits import MOST_ON_LANE
from circuit.polyline import length
from circuit.route.blocked import likely_blocks, proven_blocks
from circuit.route.catalogue import Network
from circuit.route.find_lane import Outcome, find_any_lane, find_lane, look_harder, no_lane
from circuit.route.lane import Lane, as_complex, clashes, trace_lines, with_tail
from circuit.route.passages import cell_rows
from circuit.route.routed import Blocked, Routed
from circuit.route.site import Site
from circuit.route.sizes import Sizes, sizes_for, usable_gap
from circuit.route.solve import Proof
from circuit.route.switch_shape import switch_shape
from circuit.settings import Settings

# A lane this much longer than the shortest path asks for is looked at again: chosen.
LONG_SHARE = 1.2
# What any lane needs beyond that path: the tape from beyond the cell's middle to its rim, and past the last light.
# From a trial of the rules. [mm]
LEAST_OVERHEAD_MM = 15.5
# How much effort a card may take, times its lights squared: chosen, to stay below half a minute with the most lights
# (measured: 30 lights spread over A4 take 21 s, with ten times the effort 31 s).
_MOST_EFFORT = 2000
# With more, a quick look leaves roundabout links out, which take half its time: chosen.
MOST_LIGHTS_QUICK_HOOKS = 12


def lay_traces(
    layout: Layout, settings: Settings, *, effort: int = 1, quick: bool = False, give_up_soon: bool = False
) -> Routed:
    """The best pair of traces found for `layout`, or none and why.

    `effort` multiplies how many orders are tried, on crowded cards not beyond what they can take; `quick` takes
    the first lane found, if any is found soon, for callers who try many cards; `give_up_soon` looks as ever, but where
    that gives no lane, neither for rarer ones nor for a proof, which takes seconds. The positive trace is the left one
    as seen when walking along the lane away from the battery. No lights: no traces, nothing blocked. ValueError for
    an effort below 1.
    """
    if effort < 1:
        raise ValueError(f"effort must be 1 or above, got {effort}")
    effort = min(effort, max(1, _MOST_EFFORT // max(1, len(layout.lights)) ** 2))
    battery = layout.battery
    labels = tuple(light.label for light in layout.lights)
    if battery is None:
        return _none(PathBound(0.0, False, ()), (Blocked(("battery",), "There is no battery circle.", True),))
    bound = shortest_path_bound(
        battery.centre, battery.diameter_mm / 2, [light.centre for light in layout.lights]
    )
    if not layout.lights:
        return _none(bound, ())
    if len(layout.lights) > MOST_ON_LANE:
        reason = (
            f"This card has {len(layout.lights)} lights, and lanes are looked for with up to {MOST_ON_LANE}."
        )
        return _none(bound, (Blocked((), reason, False),))
    gap = usable_gap(settings)
    if gap is None:
        trouble, remedy = gap_trouble(settings) or ("Such tapes can't bridge such a light", "use another gap")
        return _none(bound, (Blocked((), f"{trouble}: {remedy}.", True, of_parts=True),))
    site = _site(layout, battery, settings, sizes_for(layout, settings, gap))
    proven = proven_blocks(layout, settings, site)
    if proven:
        return _none(bound, proven)
    enough_mm = LONG_SHARE * (bound.length_mm + LEAST_OVERHEAD_MM)
    upright = replace(site, switch=switch_shape(settings, "upright"))
    outcome, site, overlooked = _find_lane(site, upright, enough_mm, effort, quick, give_up_soon)
    none = outcome.none
    ends = () if none is None else tuple(labels[place - 1] for place in none.dead_ends)
    blocked = likely_blocks(ends, proven=none is not None and none.proven)
    if outcome.lane is None:
        return replace(_none(bound, blocked), dead_ends=ends)
    lane = _ended(outcome.lane, site)
    left, right = trace_lines(lane, site.sizes)
    return Routed(
        traces=Traces(left, right, settings.tape_width_mm, gap, site.switch.tongue),
        order=tuple(labels[place - 1] for place in lane.order),
        positive_mm=length(left),
        negative_mm=length(right),
        midline_mm=lane.length,
        folds=lane.folds,
        lower_bound_mm=bound.length_mm,
        bound_is_exact=bound.exact,
        blocked=blocked if overlooked else (),
        proven_best=outcome.proof is Proof.BEST,
    )


def _none(bound: PathBound, blocked: tuple[Blocked, ...]) -> Routed:
    return Routed(None, (), 0.0, 0.0, 0.0, 0, bound.length_mm, bound.exact, blocked)


def _site(layout: Layout, battery: BatteryMark, settings: Settings, sizes: Sizes) -> Site:
    window = as_complex(layout.window or ())
    return Site(
        as_complex([light.centre for light in layout.lights]),
        complex(*battery.centre),
        sizes,
        switch=switch_shape(settings),
        window=window,
    )


def _find_lane(
    site: Site, upright: Site, enough_mm: float, effort: int, quick: bool, give_up_soon: bool
) -> tuple[Outcome, Site, bool]:
    """With room for the switch; where there is none, with room for the one whose tongue stands `upright`; where not
    even for that, a lane that leaves the cell straight all the same; and where not even that goes, one that keeps the
    battery zone alone clear. The second is the site whose switch it has, the third whether that was overlooked."""
    network = Network(site)
    if quick:
        # The weaker switch counts only where the other has no room in any direction.
        chosen = site if cell_rows(site, network.lines) else upright
        hooks = len(site.lights) <= MOST_LIGHTS_QUICK_HOOKS
        return Outcome(find_any_lane(network, chosen, hooks=hooks, soon=True), Proof.UNKNOWN), chosen, False
    first = find_lane(network, site, enough_mm, effort=effort)
    none = None
    if first.solved is not None and not give_up_soon:
        # What is proven with the switch that takes less room holds with the other one, too.
        none = no_lane(network, site, upright, effort=effort)
        if not none.proven:
            first = look_harder(network, site, first.solved, effort=effort)
    if first.lane is not None:
        return first, site, False
    overlooked = replace(site.switch, parts=())
    freest = replace(site, switch=replace(overlooked, reach=site.sizes.zone))
    lane = find_any_lane(network, freest, first.solved)
    if lane is None:
        return replace(first, none=none), site, False
    if none is None or not none.proven:
        weaker = find_lane(network, upright, enough_mm, effort=effort)
        if weaker.lane is not None:
            return replace(weaker, proof=Proof.FOUND), upright, False
    straight = find_any_lane(network, replace(site, switch=overlooked), first.solved)
    return Outcome(lane if straight is None else straight, Proof.FOUND, none=none), site, True


def _ended(lane: Lane, site: Site) -> Lane:
    """The lane run a little past the last body, where there is room for it."""
    last = lane.points[-1]
    ahead = (last - lane.points[-2]) / np.abs(last - lane.points[-2])
    light = last - site.sizes.tail * ahead
    points = with_tail(lane.points[:-1], complex(light), complex(ahead), site)
    if points is None:
        return lane
    longer = Lane(points, lane.run_of_light, lane.order)
    return lane if clashes(longer, site) else longer
