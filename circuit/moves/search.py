"""Look for the smallest total shift that makes every mark rule hold and a lane possible.

In:    a layout, the router.
Out:   the card mended, with its lane, or None.
Fails: `UsageError` for a limit that no rule has.

The smallest shift that the mark rules ask for comes first; often that is all. Where no lane goes
through it, four sources of trial cards are drawn on, each trial routed and checked:

    as a lane nearly goes   a lane under loosened rules shows where neighbours need more room, and where
                            lights would have to lie to be on it
    with room               marks given the room that a lane asks for anywhere
    put on a lane           lights in the way left out, and put back on the lane through the others

What is found is taken back, mark by mark, as far as a lane still goes through. The least total wins; it
is the least that was found, which need not be the least there is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from circuit.layout import Layout, Traces
from circuit.moves.left_out import in_the_way, less
from circuit.moves.loosened import LENGTH_SHARES, loosened, needs_of_lane
from circuit.moves.needs import Needs, mark_needs
from circuit.moves.on_lane import put_back, snap
from circuit.moves.room import lane_room
from circuit.moves.router import Router
from circuit.moves.shift import marks_of, smallest_shift, with_marks

# A card that asks for more than this is a card to be drawn again, not to be mended: chosen. [mm]
_REASONABLE_TOTAL_MM = 60.0
_REASONABLE_MOVE_MM = 20.0
# Moving the battery moves the push switch away from its place on the front: worth it only where lights would
# have to move this many times as far: chosen.
_BATTERY_COSTS = 2.0
# How generous the room for a lane is made in turn: chosen, from what the router needed on random cards. [mm]
_GENEROUS_MM = (0.0, 1.0, 2.5)
# How much more than a nearly going lane lacks is asked for in turn: chosen.
_GENEROUS_SHARES = (1.0, 1.4)
# A move that works is good enough when it is this near to the least that the mark rules ask for: chosen. [mm]
_NEAR_LEAST_MM = 1.5
# Below this a shift is not worth asking the router whether it could be saved: chosen. [mm]
_WORTH_SAVING_MM = 0.5
# How much of a mark's shift is taken back, tried in turn: chosen.
_SHARES_BACK = (1.0, 0.5, 0.25)


@dataclass(frozen=True)
class Mended:
    """A card that keeps every rule, with its lane and how far its marks were moved in all."""

    layout: Layout
    traces: Traces
    total_mm: float


def mend(layout: Layout, router: Router, *, laid: bool) -> Mended | None:
    """The mended card; None where nothing within reason was found. `laid`: the card as drawn has a lane."""
    needs = mark_needs(layout, router.settings)
    base = shifted(layout, needs)
    if base is None:
        return None
    search = _Search(layout, base, needs, router)
    if base == layout and not laid:
        search.tried.add(_key(base))
    for look in (search.as_the_rules_ask, search.as_a_lane_nearly_goes, search.with_room, search.put_on_lane):
        look()
        if search.good_enough:
            return search.best
    search.take_back()
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

    def as_a_lane_nearly_goes(self) -> None:
        """What lanes under loosened rules teach, mildly loosened first."""
        settings = self.router.settings
        for share in LENGTH_SHARES:
            traces = self.router.any_lane(self.base, loosened(settings, share))
            if traces is None:
                continue
            on_it = snap(self.base, traces, settings)
            if on_it is not None:
                self._note(*on_it)
            for generous in _GENEROUS_SHARES:
                needs = needs_of_lane(self.base, traces, settings, self.needs, generous)
                if self._try(shifted(self.layout, needs, starts=1)):
                    break
            if self.good_enough:
                return

    def with_room(self) -> None:
        """Marks given the room that a lane asks for anywhere, a little more each time."""
        for generous in _GENEROUS_MM:
            needs = lane_room(self.base, self.router.settings, self.needs, generous).needs
            if self._try(shifted(self.layout, needs, starts=1)):
                return

    def put_on_lane(self) -> None:
        """Lights in the way put back on the lane through the others. Some calls are kept for later."""
        keep = self.router.left // 2 if self.best is not None else self.router.left // 4
        for left_out in in_the_way(self.base, self.router.settings):
            rest = less(self.base, left_out)
            if self.router.left <= keep or not rest.lights:
                return
            traces = self.router.lane(rest)
            back = None if traces is None else put_back(self.base, rest, traces, self.router.settings)
            if back is not None:
                self._note(*back)

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
