"""`suggest_moves`: what a maker can do when a card can't be laid as it is drawn.

In:    a layout, settings, what the router made of it, the router.
Out:   an `Advice`.
Fails: `UsageError` for a limit that no rule has.

Nothing is told before it has been routed and checked. How moves are looked for: `circuit.moves.search`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from circuit.check import check, must_fix_on_card
from circuit.layout import Layout, Move, MovesFound, Problem, Traces
from circuit.moves.alternatives import other_parts
from circuit.moves.in_steps import Mended
from circuit.moves.left_out import fewest_left_out
from circuit.moves.on_grid import grid_mm
from circuit.moves.router import Route, RoutedLike, Router
from circuit.moves.search import mend
from circuit.plan_limits import MOST_ON_LANE
from circuit.settings import Settings

# Who can mend a card with a pencil by this much in all won't buy other parts or make a joint for it: chosen. [mm]
_LITTLE_MM = 3.0
# Of the work at first, for a search that begins anew: chosen, the first one took the rest.
_SHARE_BEYOND_RULES = 0.7
# Of the work that is left: chosen, since the careful router takes twice as long.
_SHARE_FOR_ANOTHER_LOOK = 0.5


@dataclass(frozen=True, slots=True)
class Advice:
    """What mends a card, as far as it was found; all empty where nothing is wrong.

    moves : new places for marks. `moved_layout`, `moved_traces`: the card with all of them made, and
        the lane through it, which keeps every rule and leaves no doubt about them. `found`: how small they are.
    leave_out : labels of the fewest lights found without which a lane goes through the rest as it is
        drawn; only where no moves were found.
    alternatives : sentences about other parts with which the card can be laid as it is drawn; not looked
        for where very small moves mend it.
    """

    moves: tuple[Move, ...] = ()
    leave_out: tuple[str, ...] = ()
    alternatives: tuple[str, ...] = ()
    moved_layout: Layout | None = None
    moved_traces: Traces | None = None
    found: MovesFound | None = None

    @property
    def little(self) -> bool:
        """Do moves mend the card that are so small that nobody would rather have other parts, or a joint?"""
        return bool(self.moves) and math.fsum(move.by_mm for move in self.moves) <= _LITTLE_MM


def suggest_moves(
    layout: Layout,
    settings: Settings,
    routed: RoutedLike,
    *,
    route: Route,
    quick_route: Route | None = None,
    dead_ends: Collection[str] = (),
) -> Advice:
    """The smallest moves found that mend `layout`; nothing where nothing is wrong with its marks and lane.

    Many trial cards are routed with `quick_route`, where there is one; the mended card then once more
    with `route`. `dead_ends` : labels of lights that the router found to be no more than a lane's last.
    """
    wrong = must_fix_on_card(check(layout, routed.traces, settings))
    if (routed.traces is not None and not wrong) or not layout.lights or layout.battery is None:
        return Advice()
    if len(layout.lights) > MOST_ON_LANE:
        return Advice()
    router = Router(quick_route or route, settings, layout)
    mended = mend(layout, router, laid=routed.traces is not None, dead_ends=dead_ends)
    traces = None if mended is None else _careful(mended, router, route, quick_route)
    if mended is not None and traces is None:
        # Planned again the card would get none, or one that leaves a doubt: so not as little as the rules ask for.
        router.left = max(router.left, _SHARE_BEYOND_RULES * router.at_first)
        other = mend(layout, router, laid=routed.traces is not None, beyond_rules=True)
        if other is not None and other.layout != mended.layout:
            mended, traces = other, _careful(other, router, route, quick_route)
    if mended is not None and traces is None:
        # Look with that very router.
        work = _SHARE_FOR_ANOTHER_LOOK * router.left
        mended = mend(layout, Router(route, settings, layout, work, work), laid=routed.traces is not None)
        traces = None if mended is None else mended.traces
    if mended is not None and mended.total_mm <= _LITTLE_MM:
        alternatives: tuple[str, ...] = ()
    else:
        alternatives = other_parts(layout, settings, router)
    if mended is None or traces is None:
        return Advice(leave_out=fewest_left_out(layout, router), alternatives=alternatives)
    moves = _moves(layout, mended.layout, wrong)
    return Advice(
        moves,
        (),
        alternatives,
        mended.layout,
        traces,
        MovesFound(mended.least, _grid_of(layout, moves, settings)),
    )


def _careful(mended: Mended, router: Router, route: Route, quick_route: Route | None) -> Traces | None:
    """The mended card's lane as it comes when it is planned again; None where that would leave something wrong."""
    if quick_route is None:
        return mended.traces
    traces = route(mended.layout, router.settings).traces
    return traces if traces is not None and router.keeps(mended.layout, traces) else None


def _grid_of(layout: Layout, moves: Sequence[Move], settings: Settings) -> float:
    """The coarsest steps that any of these marks was moved in."""
    labels = [*(light.label for light in layout.lights), "battery"]
    return max(grid_mm(layout, labels.index(move.about), settings.units) for move in moves)


def _moves(layout: Layout, moved: Layout, wrong: Sequence[Problem]) -> tuple[Move, ...]:
    """One move for each mark that moved, with the rule that asks for it, lights first."""
    moves = [
        Move(before.label, before.centre, after.centre, _why(before.label, wrong))
        for before, after in zip(layout.lights, moved.lights, strict=True)
        if before.centre != after.centre
    ]
    if layout.battery is not None and moved.battery is not None:
        before_mm, after_mm = layout.battery.centre, moved.battery.centre
        if before_mm != after_mm:
            moves.append(Move("battery", before_mm, after_mm, _why("battery", wrong)))
    return tuple(moves)


def _why(label: str, wrong: Sequence[Problem]) -> str:
    """The rule that a mark breaks by most; "no-lane" for one that only makes room."""
    broken = [problem for problem in wrong if label in problem.about]
    if not broken:
        return "no-lane"
    worst = max(broken, key=lambda problem: abs((problem.limit or 0.0) - (problem.measured or 0.0)))
    return worst.name
