"""Look for the smallest total shift that makes every mark rule hold and a lane possible.

In:    a layout, the router.
Out:   the card mended, with its lane, or None.
Fails: `UsageError` for a limit that no rule has.

The smallest shift that the mark rules ask for comes first; nearly always that is all. Where no lane goes
through it, single marks are tried elsewhere, each trial routed and checked:

    put on a lane a light left out, and put back on the lane through the others
    nudged        the most crowded marks a little away from what crowds them, by more and more

What is found is taken back, mark by mark, as far as a lane still goes through, and set on a grid no finer
than the reading is sure. Where one or two lights broke a rule, all their places on the grid that are nearer
are looked through: then it is known to be the least. Else it is the least that was found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from circuit.layout import Layout, Traces
from circuit.moves.left_out import crowded_first, in_the_way
from circuit.moves.needs import Needs, mark_needs
from circuit.moves.on_grid import EACH_MARK_MM, grid_mm, lights_to_move, nearest_cards, places_about
from circuit.moves.on_lane import put_back
from circuit.moves.router import Router
from circuit.moves.shift import least_and_missing, marks_of, smallest_shift, with_marks

# A card that asks for more than this is a card to be drawn again, not to be mended: chosen. [mm]
_REASONABLE_TOTAL_MM = 60.0
_REASONABLE_MOVE_MM = 20.0
# Moving the battery moves the push switch away from its place on the front: worth it only where lights would
# have to move this many times as far: chosen.
_BATTERY_COSTS = 2.0
# How far the most crowded marks are nudged in turn, how many of them, and how far aside of straight away: chosen.
_NUDGES_MM = (1.0, 2.0, 4.0, 7.0)
_NUDGED_MARKS = 3
_ASIDE_DEG = (0.0, 60.0, -60.0)
# A move that works is good enough when it is this near to the least that the mark rules ask for: chosen. [mm]
_NEAR_LEAST_MM = 1.5
# Below this a shift is not worth asking the router whether it could be saved: chosen. [mm]
_WORTH_SAVING_MM = 0.5
# How much of a mark's shift is taken back, tried in turn: chosen.
_SHARES_BACK = (1.0, 0.5, 0.25)
# What of the router's work is kept for setting on the grid, and what for nudging: chosen.
_SHARE_FOR_GRID = 0.25
_SHARE_FOR_NUDGES = 0.5
# Cards nearer than the one found that may have no lane before the search for the least is given up: chosen.
_MOST_WITHOUT_LANE = 2
_EXACT_MM = 2e-3  # a total that is this near to what the rules ask for at least is the least


@dataclass(frozen=True)
class Mended:
    """A card that keeps every rule, with its lane and how far its marks were moved in all. `least` : no smaller move on
    the grid mends it, all marks that break no rule staying where they are."""

    layout: Layout
    traces: Traces
    total_mm: float
    least: bool = False


def mend(layout: Layout, router: Router, *, laid: bool, beyond_rules: bool = False) -> Mended | None:
    """The mended card; None where nothing within reason was found. `laid`: the card as drawn has a lane.
    `beyond_rules` : the smallest shift that the mark rules ask for is known not to do."""
    needs = mark_needs(layout, router.settings)
    base = shifted(layout, needs)
    if base is None:
        return None
    search = _Search(layout, base, needs, router)
    if base == layout and not laid:
        search.tried.add(_key(base))
    router.in_reserve = _SHARE_FOR_GRID * router.at_first
    looks = (search.as_the_rules_ask, search.put_on_lane, search.nudge)
    for look in looks[beyond_rules:]:
        look()
        if search.good_enough:
            break
    else:
        search.take_back()
    router.in_reserve = 0.0
    search.set_on_grid()
    search.look_for_less()
    return search.best


def shifted(layout: Layout, needs: Needs, starts: int = 4) -> Layout | None:
    """The smallest reasonable shift: of lights alone, or with the battery where that saves much."""
    lights_only = smallest_shift(layout, needs, starts=starts)
    if lights_only == layout:
        return layout
    if lights_only is not None and not _reasonable(layout, lights_only):
        lights_only = None
    if lights_only is not None and not _battery_could_help(layout, needs):
        return lights_only
    both = smallest_shift(layout, needs, move_battery=True, starts=starts)
    if both is None or not _reasonable(layout, both):
        return lights_only
    if lights_only is None or total_mm(layout, lights_only) > _BATTERY_COSTS * total_mm(layout, both):
        return both
    return lights_only


def total_mm(layout: Layout, moved: Layout) -> float:
    """How far all marks together were moved."""
    return math.fsum(_shifts_mm(layout, moved))


@dataclass
class _Search:
    """The best card found so far, and what was tried. `base`: the smallest shift that the rules ask for."""

    layout: Layout
    base: Layout
    needs: Needs
    router: Router
    best: Mended | None = None
    tried: set[tuple[tuple[float, ...], ...]] = field(default_factory=set)

    @property
    def good_enough(self) -> bool:
        least = total_mm(self.layout, self.base)
        return self.best is not None and self.best.total_mm <= least + _NEAR_LEAST_MM

    def as_the_rules_ask(self) -> None:
        """The smallest shift, and the same with the other mark moved where either could be."""
        self._try(self.base)
        if self.best is None and self.base != self.layout:
            self._try(smallest_shift(self.layout, self.needs, later_first=False))

    def put_on_lane(self) -> None:
        """Lights in the way put back on the lane through the others. Some work is kept for nudging."""
        enough = self.router.left - _SHARE_FOR_NUDGES * (self.router.left - self.router.in_reserve)
        for left_out in in_the_way(self.base, self.router.settings):
            rest = self.base.without(left_out)
            if self.router.left <= enough or not rest.lights:
                return
            traces = self.router.lane(rest)
            back = None if traces is None else put_back(self.base, rest, traces, self.router.settings)
            if back is not None:
                self._note(*back)

    def nudge(self) -> None:
        """Single crowded marks moved away from what crowds them, from where the rules put them."""
        crowded = crowded_first(self.base, self.router.settings)[:_NUDGED_MARKS]
        for by_mm in _NUDGES_MM:
            before = self.best
            for k, away in crowded:
                for aside in np.radians(_ASIDE_DEG):
                    if not self.router.can_route(len(self.base.lights)):
                        return
                    marks = marks_of(self.base)
                    turn = np.array([[math.cos(aside), -math.sin(aside)], [math.sin(aside), math.cos(aside)]])
                    marks[k] += by_mm * (turn @ away)
                    self._try(with_marks(self.base, marks))
            if self.best is not before:
                return

    def take_back(self) -> None:
        """Each mark, the furthest moved first, all the way back to where the rules put it, or half of it."""
        if self.best is None:
            return
        start = marks_of(self.base)
        sizes = np.hypot(*(marks_of(self.best.layout) - start).T)
        for k in np.argsort(-sizes, kind="stable"):
            for share in _SHARES_BACK:
                here = marks_of(self.best.layout)
                if math.dist(here[k], start[k]) * share < _WORTH_SAVING_MM:
                    break
                here[k] += share * (start[k] - here[k])
                if self._try(with_marks(self.best.layout, here), self.best.traces):
                    break

    def set_on_grid(self) -> None:
        """Moved marks on whole steps of what the reading is sure of, where a lane still goes through; a step nearer to
        home before one farther away. Exact marks keep their places. Where one finds no place, nothing is mended."""
        if self.best is None:
            return
        home = marks_of(self.layout)
        for k in sorted(self._moved()):
            step = grid_mm(self.layout, k)
            if step == 0:
                continue
            for place in places_about(marks_of(self.best.layout)[k], home[k], step):
                marks = marks_of(self.best.layout)
                marks[k] = place
                if self._settle(with_marks(self.best.layout, marks)):
                    break
            else:
                self.best = None
                return

    def look_for_less(self) -> None:
        """Every card that is less to do on the grid (`EACH_MARK_MM`), where one or two lights broke a rule; and whether
        there is none."""
        if self.best is None:
            return
        least, _ = least_and_missing(self.layout, self.needs, marks_of(self.layout))
        if len(self._moved()) == 1 and self.best.total_mm <= least + _EXACT_MM:
            self.best = replace(self.best, least=True)
            return
        to_do_mm = self.best.total_mm + EACH_MARK_MM * len(self._moved())
        lights = lights_to_move(self.layout, self.needs)
        if lights is None:
            return
        cards = nearest_cards(self.layout, self.needs, lights, to_do_mm - _EXACT_MM)
        if cards is None:
            return
        without_lane = 0
        for _, trial in cards:
            if not self.router.keeps(trial, None):
                continue
            if self._settle(trial):
                break
            without_lane += 1
            if without_lane == _MOST_WITHOUT_LANE:
                return
        self.best = replace(self.best, least=without_lane == 0 and self._moved() <= set(lights))

    def _moved(self) -> set[int]:
        """The marks that the best card moves."""
        assert self.best is not None
        shift = marks_of(self.best.layout) - marks_of(self.layout)
        return {int(k) for k in np.flatnonzero(np.hypot(*shift.T) > 0)}

    def _settle(self, trial: Layout) -> bool:
        """Take a trial card in place of the best, whatever it moves, if the best's lane or another goes through it."""
        assert self.best is not None
        likely = self.best.traces
        traces = likely if self.router.keeps(trial, likely) else self.router.lane(trial)
        if traces is not None:
            self.best = Mended(trial, traces, total_mm(self.layout, trial))
        return traces is not None

    def _try(self, trial: Layout | None, likely: Traces | None = None) -> bool:
        """Route a trial card if it could be the best; `likely` traces are tried before the router is asked."""
        if trial is None or not self._could_win(trial) or _key(trial) in self.tried:
            return False
        self.tried.add(_key(trial))
        traces = (
            likely if likely is not None and self.router.keeps(trial, likely) else self.router.lane(trial)
        )
        if traces is None:
            return False
        self.best = Mended(trial, traces, total_mm(self.layout, trial))
        return True

    def _note(self, moved: Layout, traces: Traces) -> None:
        """A card with traces that came without asking the router for it."""
        if self._could_win(moved) and self.router.keeps(moved, traces):
            self.best = Mended(moved, traces, total_mm(self.layout, moved))

    def _could_win(self, trial: Layout) -> bool:
        if not _reasonable(self.layout, trial):
            return False
        return self.best is None or total_mm(self.layout, trial) < self.best.total_mm - _WORTH_SAVING_MM / 2


def _battery_could_help(layout: Layout, needs: Needs) -> bool:
    """Is a light short of distance to the battery at all?"""
    battery = layout.battery
    return battery is not None and any(
        math.dist(light.centre, battery.centre) < need
        for light, need in zip(layout.lights, needs.zone, strict=True)
    )


def _reasonable(layout: Layout, moved: Layout) -> bool:
    return (
        total_mm(layout, moved) <= _REASONABLE_TOTAL_MM
        and max(_shifts_mm(layout, moved)) <= _REASONABLE_MOVE_MM
    )


def _shifts_mm(layout: Layout, moved: Layout) -> list[float]:
    return [math.dist(a, b) for a, b in zip(marks_of(layout), marks_of(moved), strict=True)]


def _key(layout: Layout) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(round(float(value), 2) for value in place) for place in marks_of(layout))
