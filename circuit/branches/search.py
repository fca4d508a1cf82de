"""A lane through most of the lights, and one or two branches for those that no single lane passes.

In:    a layout without a lane, the maker's settings, functions that lay a lane.
Out:   a `Branched` that the checker passes, its joints apart, which are to be looked at again.
Fails: `UsageError` for a limit that no rule has; None where nothing clean was found.

Round by round (`circuit.branches.groups`) a lane is laid through all lights but a few, and branches for these
are tried at every millimetre of it; the first round that gives any ends the search, with its cheapest. All steps are
counted, so that an answer repeats and a card without one takes no more than so many lanes.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from typing import Protocol, TypeVar

import numpy as np

from circuit.branches.groups import Groups, groups_to_try
from circuit.branches.paths import Path, paths_through
from circuit.branches.site import EXACTNESS_MM, Complexes, LaneSite, site_of, sizes_of
from circuit.check import check, must_fix_on_card
from circuit.layout import Branch, Layout, Polyline, Traces
from circuit.plan_limits import MOST_ON_LANE
from circuit.settings import Settings

# How many lanes may be laid for one card, over the square of its lights: chosen, so that looking for branches takes no
# longer than looking for moves. With many lights hardly ever one or two are what keeps a lane from the others, and
# what helps stands first in its round: one light on a branch, several, two branches.
_LANES_FOR_SQUARE = 600
_FEWEST_LANES, _MOST_LANES = 4, 16
# Where no light is known to be a dead end: chosen. Of some 25 such hand-like cards one got a branch, at the second.
_LANES_IN_A_MOMENT = _FEWEST_LANES
# After so many lanes without a few of the lights, none of which could be laid, it is not those few that are in the way:
# chosen; where dead ends are known, and where not.
_HOPELESS_WITH_DEAD_ENDS, _HOPELESS = 3, 2
_ENOUGH = 2  # lanes with branches that are compared before the cheapest is taken: chosen
_CHECKED = 24  # ways of one branch that the checker is asked about: chosen
_ALIKE_MM = 4.0  # of ways that leave so near to one another, only a few are asked about: chosen
_MOST_ALIKE = 2
_FIRSTS = 4  # ways of a first branch with which a second is tried: chosen


class MeasuredRoute(Protocol):
    """What is needed of the router's answer."""

    @property
    def traces(self) -> Traces | None: ...
    @property
    def midline_mm(self) -> float: ...


R = TypeVar("R", bound=MeasuredRoute)


@dataclass(frozen=True, slots=True)
class Branched:
    """`traces` with their branches; `groups` : the labels on each branch, in the order in which it passes them;
    `rest` : the layout without them, through which the lane goes."""

    traces: Traces
    groups: Groups
    rest: Layout
    price: float


def lay_branches(
    layout: Layout,
    settings: Settings,
    *,
    route: Callable[[Layout, Settings], R],
    quick_route: Callable[[Layout, Settings], R],
    dead_ends: Collection[str] = (),
    hopeful: bool = True,
) -> tuple[Branched, R] | None:
    """The cheapest lane with branches that was found, and the router's answer for its lane. Many lanes are laid with
    `quick_route`; the one that is taken once more with `route`. `dead_ends` : labels of lights that the router found to
    be no more than a lane's last. `hopeful` : look as long as may be; else only for a moment where there are none, and
    no longer where the first lanes can't be laid either."""
    if not can_branch(layout, settings):
        return None
    left = max(_FEWEST_LANES, min(_MOST_LANES, _LANES_FOR_SQUARE // len(layout.lights) ** 2))
    if not (dead_ends or hopeful):
        left = _LANES_IN_A_MOMENT
    lanes: dict[Layout, R] = {}  # the same lights can be grouped in several ways
    hopeless = left if hopeful else _HOPELESS_WITH_DEAD_ENDS if dead_ends else _HOPELESS
    for round_ in groups_to_try(layout, dead_ends):
        found: list[tuple[Branched, R]] = []
        # Half of what is left, so that the later rounds are not starved.
        for groups in round_[: (left + 1) // 2]:
            rest = layout.without([label for group in groups for label in group])
            if not rest.lights:
                continue
            if rest not in lanes:
                if len(lanes) >= hopeless and all(lane.traces is None for lane in lanes.values()):
                    return None
                left -= 1
                lanes[rest] = quick_route(rest, settings)
            routed = lanes[rest]
            best = _with_branches(layout, rest, routed, groups, settings)
            if best is not None:
                found.append((best, routed))
            if len(found) == _ENOUGH:
                break
        if found:
            best, routed = min(found, key=lambda one: one[0].price)
            return _carefully(layout, best, routed, settings, route)
    return None


def can_branch(layout: Layout, settings: Settings) -> bool:
    """Could branches help a layout without a lane: do its marks keep every rule, and are there neither too few nor too
    many lights?"""
    few_enough = layout.battery is not None and 2 <= len(layout.lights) <= MOST_ON_LANE
    return few_enough and not must_fix_on_card(check(layout, None, settings))


def _carefully(
    layout: Layout, best: Branched, routed: R, settings: Settings, route: Callable[[Layout, Settings], R]
) -> tuple[Branched, R]:
    """The same groups on a lane that was looked for longer, where that is better."""
    careful = route(best.rest, settings)
    better = _with_branches(layout, best.rest, careful, best.groups, settings)
    return (better, careful) if better is not None and better.price <= best.price else (best, routed)


def _with_branches(
    layout: Layout, rest: Layout, routed: MeasuredRoute, groups: Groups, settings: Settings
) -> Branched | None:
    """The lane with a branch for each group; None where one of them has no way."""
    if routed.traces is None:
        return None
    waiting = [label for group in groups for label in group]
    first = _branches(layout, routed.traces, groups[0], waiting, settings)
    if len(groups) == 1:
        return next(
            (Branched(traces, (order,), rest, routed.midline_mm + price) for traces, order, price in first),
            None,
        )
    for traces, order, price in first[:_FIRSTS]:
        second = _branches(layout, traces, groups[1], groups[1], settings)
        for both, other_order, other_price in second[:1]:
            whole = routed.midline_mm + price + other_price
            return Branched(both, (order, other_order), rest, whole)
    return None


def _branches(
    layout: Layout, traces: Traces, group: tuple[str, ...], waiting: Sequence[str], settings: Settings
) -> list[tuple[Traces, tuple[str, ...], float]]:
    """One more branch, through all lights of a group: those that the checker passes, the cheapest first."""
    site = site_of(layout, traces, settings, waiting)
    later = [label for label in waiting if label not in group]
    here = layout.without(later)
    ways: list[tuple[Path, tuple[str, ...]]] = []
    for order in permutations(group):
        centres = [complex(*layout.light(label).centre) for label in order]
        ways += [(path, order) for path in paths_through(site, centres)]
    ways.sort(key=lambda way: way[0].price)
    found = []
    for path, order in _unlike(ways):
        tried = replace(traces, branches=(*traces.branches, branch_along(path, site)))
        if not must_fix_on_card(check(here, tried, settings)):
            found.append((tried, order, path.price))
            if len(found) == _FIRSTS:
                break
    return found


def _unlike(ways: Sequence[tuple[Path, tuple[str, ...]]]) -> list[tuple[Path, tuple[str, ...]]]:
    """The cheapest ways to ask the checker about, few of them from one place."""
    taken: list[tuple[Path, tuple[str, ...]]] = []
    for path, order in ways:
        alike = sum(
            abs(path.points[0] - other.points[0]) < _ALIKE_MM and path.positive_left == other.positive_left
            for other, _ in taken
        )
        if alike < _MOST_ALIKE:
            taken.append((path, order))
            if len(taken) == _CHECKED:
                break
    return taken


def branch_along(path: Path, site: LaneSite) -> Branch:
    """The two tapes along a branch's midline, each from the far edge of the trace that it is joined to."""
    sizes = sizes_of(site.traces, site.settings)
    ahead = np.diff(path.points)
    ahead = ahead / np.abs(ahead)
    left = _beside(path.points, ahead, -sizes.offset)
    right = _beside(path.points, ahead, sizes.offset)
    positive, negative = (left, right) if path.positive_left else (right, left)
    start, out = complex(path.points[0]), complex(ahead[0])
    return Branch(
        _joined(positive, site.traces.positive, start, out, sizes.tape),
        _joined(negative, site.traces.negative, start, out, sizes.tape),
    )


def _beside(points: Complexes, ahead: Complexes, beside: float) -> Complexes:
    """The midline's parallel, so far to its right, mitred at the folds."""
    corners = (ahead[:-1] + ahead[1:]) * 1j / (1 + (ahead[:-1] * np.conj(ahead[1:])).real)
    return np.asarray(points + beside * np.concatenate([[ahead[0] * 1j], corners, [ahead[-1] * 1j]]))


def _joined(line: Complexes, trace: Polyline, start: complex, out: complex, tape: float) -> Polyline:
    """The tape's line begun at the far edge of its trace, of which `start` lies on the lane's midline."""
    places = np.array([complex(x, y) for x, y in trace])
    steps = np.diff(places)
    ways = steps / np.abs(steps)
    # The run of the trace beside the start: the one it lies square to.
    foot = (start - places[:-1]) * np.conj(ways)
    along = np.clip(foot.real, 0.0, np.abs(steps))
    run = int(np.argmin(np.abs(foot - along) + np.abs((np.conj(ways) * out).real)))
    to_trace = ((places[run] - start) * np.conj(out)).real
    begins = line[0] + (to_trace - tape / 2 - EXACTNESS_MM / 2) * out
    return tuple((float(z.real), float(z.imag)) for z in (begins, *line[1:]))
