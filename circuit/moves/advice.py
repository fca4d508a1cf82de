"""`suggest_moves`: what a maker can do when a card can't be laid as it is drawn.

In:    a layout, settings, what the router made of it, the router.
Out:   an `Advice`.
Fails: `UsageError` for a limit that no rule has.

The smallest shift that the mark rules need comes first (`circuit.moves.shift`). Where the router
finds no lane through it, the marks are given the room that a lane asks for (`circuit.moves.room`), a
little more each time; what is found is then taken back as far as a lane still goes through. Where
that fails too, the lights that stand in each other's way are left out, and put back beside the
nearest place on the lane that the others have. Nothing is told before it has been routed and checked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from circuit.check import check
from circuit.layout import Layout, Move, Problem, Traces
from circuit.moves.alternatives import other_parts
from circuit.moves.needs import Needs, mark_needs
from circuit.moves.on_lane import put_back
from circuit.moves.room import lane_room
from circuit.moves.shift import marks_of, smallest_shift, with_marks
from circuit.settings import Settings

# A card that asks for more than this is a card to be drawn again, not to be mended: chosen. [mm]
_REASONABLE_TOTAL_MM = 60.0
_REASONABLE_MOVE_MM = 20.0
# Moving the battery moves the push switch away from its place on the front: worth it only where lights would
# have to move this many times as far: chosen.
_BATTERY_COSTS = 2.0
# How generous the room for a lane is made in turn: chosen, from what the router needed on random cards. [mm]
_GENEROUS_MM = (0.0, 1.0, 2.5)
# How often the router may be asked, for a card of one light and at least: chosen, to stay within a few seconds.
_CALLS_FOR_ONE_LIGHT = 160
_FEWEST_CALLS = 14
_MOST_CALLS = 30
_MOST_LEFT_OUT = 3
_MOST_SINGLES = 5  # lights tried one at a time, those that lack most room: chosen
# A move that works is good enough when it is this near to the least that the mark rules ask for: chosen. [mm]
_NEAR_LEAST_MM = 1.5
# Below this a move is not worth a call of the router to save it: chosen. [mm]
_WORTH_SAVING_MM = 0.5


class RoutedLike(Protocol):
    """What is needed of the router's answer."""

    @property
    def traces(self) -> Traces | None: ...


Route = Callable[[Layout, Settings], RoutedLike]


@dataclass(frozen=True, slots=True)
class Advice:
    """What mends a card, as far as it was found; all empty where nothing is wrong.

    moves : new places for marks. `moved_layout`, `moved_traces`: the card with all of them made, and
        the lane through it, which keeps every rule.
    leave_out : labels of the fewest lights found without which a lane goes through the rest as it is
        drawn (or moved); only where no moves were found.
    alternatives : sentences about other parts with which the card can be laid as it is drawn.
    """

    moves: tuple[Move, ...] = ()
    leave_out: tuple[str, ...] = ()
    alternatives: tuple[str, ...] = ()
    moved_layout: Layout | None = None
    moved_traces: Traces | None = None


@dataclass
class _Router:
    """The router with a count of how often it may still be asked."""

    route: Route
    settings: Settings
    left: int

    def lane(self, layout: Layout) -> Traces | None:
        """Traces that the checker passes; None where there are none, or no calls are left."""
        if self.left <= 0 or must_fix(check(layout, None, self.settings)):
            return None
        self.left -= 1
        traces = self.route(layout, self.settings).traces
        if traces is None or must_fix(check(layout, traces, self.settings)):
            return None
        return traces


@dataclass(frozen=True)
class _Mended:
    """A card that keeps every rule, with its lane and how far its marks were moved in all."""

    layout: Layout
    traces: Traces
    total_mm: float


def must_fix(problems: Sequence[Problem]) -> list[Problem]:
    """What moving marks has to mend: the circle's size is another cell's or another circle's business."""
    return [
        problem for problem in problems if problem.level == "must-fix" and problem.name != "cell-mismatch"
    ]


def suggest_moves(layout: Layout, settings: Settings, routed: RoutedLike, *, route: Route) -> Advice:
    """The smallest moves found that mend `layout`; nothing where nothing is wrong with its marks and lane."""
    wrong = must_fix(check(layout, routed.traces, settings))
    if (routed.traces is not None and not wrong) or not layout.lights or layout.battery is None:
        return Advice()
    router = _Router(
        route, settings, max(_FEWEST_CALLS, min(_MOST_CALLS, _CALLS_FOR_ONE_LIGHT // len(layout.lights)))
    )
    mended = _mend(layout, settings, router, routed)
    alternatives = other_parts(layout, settings, route)
    if mended is not None:
        moves = _moves(layout, mended.layout, wrong)
        return Advice(moves, (), alternatives, mended.layout, mended.traces)
    return Advice(leave_out=_fewest_left_out(layout, settings, router), alternatives=alternatives)


def _mend(layout: Layout, settings: Settings, router: _Router, routed: RoutedLike) -> _Mended | None:
    """The card with its marks moved as little as was found, and its lane."""
    needs = mark_needs(layout, settings)
    base = _shifted(layout, needs)
    if base is None:
        return None
    least_mm = _total_mm(layout, base)
    best: _Mended | None = None
    tried: set[object] = set() if base != layout or routed.traces is not None else {_key(base)}
    for trial in _trials(layout, base, settings, needs):
        if _key(trial) in tried or (best is not None and _total_mm(layout, trial) >= best.total_mm):
            continue
        tried.add(_key(trial))
        traces = router.lane(trial)
        if traces is not None:
            best = _Mended(trial, traces, _total_mm(layout, trial))
            break
    if best is None or best.total_mm > least_mm + _NEAR_LEAST_MM:
        best = _put_on_lane(layout, base, settings, router, best)
    if best is not None and best.total_mm > least_mm + _NEAR_LEAST_MM:
        best = _taken_back(layout, base, best, router)
    return best


def _trials(layout: Layout, base: Layout, settings: Settings, needs: Needs) -> Iterator[Layout]:
    """Shifted cards, cheap ones first: what the rules ask for, then with more and more room for a lane."""
    yield base
    if base != layout:
        other = smallest_shift(layout, needs, later_first=False)
        if other is not None and _reasonable(layout, other):
            yield other
    for generous in _GENEROUS_MM:
        roomy = _shifted(layout, lane_room(base, settings, needs, generous).needs)
        if roomy is not None:
            yield roomy


def _shifted(layout: Layout, needs: Needs) -> Layout | None:
    """The smallest reasonable shift: of lights alone, or with the battery where that saves much."""
    lights_only = smallest_shift(layout, needs)
    if lights_only == layout:
        return layout
    if lights_only is not None and not _reasonable(layout, lights_only):
        lights_only = None
    if lights_only is not None and not _battery_could_help(layout, needs):
        return lights_only
    both = smallest_shift(layout, needs, move_battery=True)
    if both is None or not _reasonable(layout, both):
        return lights_only
    if lights_only is None or _total_mm(layout, lights_only) > _BATTERY_COSTS * _total_mm(layout, both):
        return both
    return lights_only


def _battery_could_help(layout: Layout, needs: Needs) -> bool:
    """Is a light short of distance to the battery at all?"""
    battery = layout.battery
    return battery is not None and any(
        math.dist(light.centre, battery.centre) < need
        for light, need in zip(layout.lights, needs.zone, strict=True)
    )


def _reasonable(layout: Layout, moved: Layout) -> bool:
    return (
        _total_mm(layout, moved) <= _REASONABLE_TOTAL_MM
        and max(_shifts_mm(layout, moved)) <= _REASONABLE_MOVE_MM
    )


def _taken_back(layout: Layout, base: Layout, found: _Mended, router: _Router) -> _Mended:
    """Less of a move that works: each mark, the furthest moved first, all the way back, or half of it."""
    best, start = found, marks_of(base)
    sizes = np.hypot(*(marks_of(best.layout) - start).T)
    for k in np.argsort(-sizes):
        for share in (1.0, 0.5, 0.25):
            here = marks_of(best.layout)
            if math.dist(here[k], start[k]) * share < _WORTH_SAVING_MM:
                break
            here[k] += share * (start[k] - here[k])
            trial = with_marks(best.layout, here)
            if _total_mm(layout, trial) > best.total_mm - _WORTH_SAVING_MM:
                continue
            traces = router.lane(trial)
            if traces is not None:
                best = _Mended(trial, traces, _total_mm(layout, trial))
                break
    return best


def _put_on_lane(
    layout: Layout, base: Layout, settings: Settings, router: _Router, best: _Mended | None
) -> _Mended | None:
    """Lights in each other's way are taken off; where the rest has a lane, they are put back on it.

    A few sets are tried and the smallest total shift wins; half of the calls are kept for later.
    """
    keep = router.left // 2 if best is not None else router.left // 3
    for left_out in _in_the_way(base, settings):
        if router.left <= keep:
            break
        rest = _less(base, left_out)
        traces = router.lane(rest) if rest.lights else None
        back = None if traces is None else put_back(base, rest, traces, settings)
        if back is None:
            continue
        moved, lane = back
        total = _total_mm(layout, moved)
        if (best is None or total < best.total_mm) and _reasonable(layout, moved):
            best = _Mended(moved, lane, total)
    return best


def _in_the_way(layout: Layout, settings: Settings) -> list[tuple[str, ...]]:
    """Sets of lights to try without, smallest first: those that lack most room first, then their pairs."""
    needs = mark_needs(layout, settings)
    short = lane_room(layout, settings, needs, _GENEROUS_MM[1]).short_mm
    labels = [light.label for light in layout.lights]
    ranked = [labels[k] for k in sorted(range(len(labels)), key=lambda k: -short[k])]
    sets: list[tuple[str, ...]] = [(label,) for label in ranked[:_MOST_SINGLES]]
    for size in range(2, _MOST_LEFT_OUT + 1):
        sets.append(tuple(ranked[:size]))
        # Taking one off changes who stands in whose way.
        sets.append(_one_by_one(layout, settings, size))
    return [left_out for k, left_out in enumerate(sets) if left_out not in sets[:k]]


def _one_by_one(layout: Layout, settings: Settings, size: int) -> tuple[str, ...]:
    """The light that lacks most room, taken off, then the one that does so now, and so on."""
    out: list[str] = []
    for _ in range(min(size, len(layout.lights) - 1)):
        rest = _less(layout, out)
        short = lane_room(rest, settings, mark_needs(rest, settings), _GENEROUS_MM[1]).short_mm
        worst = max(range(len(short)), key=lambda k: short[k])
        out.append(rest.lights[worst].label)
    return tuple(out)


def _fewest_left_out(layout: Layout, settings: Settings, router: _Router) -> tuple[str, ...]:
    """The fewest lights found without which the rest, as drawn, keeps every rule and has a lane."""
    router.left = max(router.left, _FEWEST_CALLS // 2)
    for left_out in _in_the_way(layout, settings):
        rest = _less(layout, left_out)
        if rest.lights and router.lane(rest) is not None:
            return left_out
    return ()


def _less(layout: Layout, left_out: Sequence[str]) -> Layout:
    return replace(layout, lights=tuple(light for light in layout.lights if light.label not in left_out))


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
    worst = max(broken, key=lambda problem: abs((problem.limit_mm or 0.0) - (problem.measured_mm or 0.0)))
    return worst.name


def _shifts_mm(layout: Layout, moved: Layout) -> list[float]:
    return [math.dist(a, b) for a, b in zip(marks_of(layout), marks_of(moved), strict=True)]


def _total_mm(layout: Layout, moved: Layout) -> float:
    return math.fsum(_shifts_mm(layout, moved))


def _key(layout: Layout) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(round(float(value), 2) for value in place) for place in marks_of(layout))
