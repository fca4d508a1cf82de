"""Look for the smallest total shift that makes every mark rule hold and a lane possible.

In:    a layout, the router.
Out:   the card mended, with its lane, or None.
Fails: `UsageError` for a limit that no rule has.

The smallest shift that the mark rules ask for comes first; nearly always that is all. Where no lane goes
through it, marks are tried elsewhere (`circuit.moves.trial_cards`), each trial routed and checked:

    freed         lights known to be dead ends, all but one, away from what crowds them
    put on a lane a light left out, and put back on the lane through the others
    nudged        the most crowded marks a little away from what crowds them, by more and more
    spread        lights that stand close, farther apart

What is found is taken back, mark by mark, as far as a lane still goes through, and made whole steps that can be told
and done. Where one or two lights broke a rule, all their places on the grid that are nearer
are looked through: then it is known to be the least. Else it is the least that was found.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from circuit.arrays import Floats
from circuit.layout import Layout, Traces
from circuit.moves.asked_shift import is_reasonable, shifted, total_mm
from circuit.moves.in_steps import WORTH_SAVING_MM, Mended, in_whole_steps, settled, with_less_to_do
from circuit.moves.left_out import in_the_way
from circuit.moves.needs import Needs, mark_needs
from circuit.moves.on_lane import put_back
from circuit.moves.router import Router
from circuit.moves.shift import marks_of, smallest_shift, with_marks
from circuit.moves.trial_cards import APART_MM, FREED_MM, freed, nudged, spread

# A move that works is good enough when it is this near to the least that the mark rules ask for: chosen. [mm]
_NEAR_LEAST_MM = 1.5
# Where so little mends a card, it is not looked for whether less does by spreading its lights: chosen. [mm]
_LITTLE_MM = 4.0
# How much of a mark's shift is taken back, tried in turn: chosen.
_SHARES_BACK = (1.0, 0.5, 0.25)
# What of the router's work is kept for setting on the grid, and what for nudging; what spreading has at least: chosen.
_SHARE_FOR_GRID = 0.25
_SHARE_FOR_NUDGES = 0.5
_SHARE_FOR_SPREADING = 0.35


def mend(
    layout: Layout,
    router: Router,
    *,
    laid: bool,
    dead_ends: Collection[str] = (),
    beyond_rules: bool = False,
) -> Mended | None:
    """The mended card; None where nothing within reason was found. `laid`: the card as drawn has a lane. `dead_ends` :
    labels of lights that could only be a lane's last. `beyond_rules` : the smallest shift that the mark rules ask for
    is known not to do."""
    needs = mark_needs(layout, router.settings)
    base = shifted(layout, needs)
    if base is None:
        return None
    search = _Search(layout, base, needs, router, dead_ends)
    if base == layout and not laid:
        search.tried.add(_key(base))
    router.in_reserve = _SHARE_FOR_GRID * router.at_first
    looks = (search.as_the_rules_ask, search.free, search.put_on_lane, search.nudge, search.spread)
    for look in looks[beyond_rules:]:
        look()
        if search.good_enough:
            break
    else:
        search.take_back()
    router.in_reserve = 0.0
    stepped = None if search.best is None else in_whole_steps(layout, router, search.best)
    return None if stepped is None else with_less_to_do(layout, needs, router, stepped)


@dataclass
class _Search:
    """The best card found so far, and what was tried. `base`: the smallest shift that the rules ask for."""

    layout: Layout
    base: Layout
    needs: Needs
    router: Router
    dead_ends: Collection[str] = ()
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

    def free(self) -> None:
        """Dead ends moved to where a lane may go on from them. The other looks have as much work left as before: one of
        them finds less now and then."""
        left = self.router.left
        self._as_little_as_helps(
            FREED_MM, lambda by_mm: freed(self.base, self.dead_ends, self.router.settings, by_mm)
        )
        self.router.left = left

    def nudge(self) -> None:
        """Single crowded marks moved away from what crowds them, from where the rules put them."""
        for trials in nudged(self.base, self.router.settings):
            before = self.best
            for trial in trials:
                if not self.router.can_route(len(self.base.lights)):
                    return
                self._try(trial)
            if self.best is not before:
                return

    def spread(self) -> None:
        """Lights that stand close moved apart, by as little as gives a lane."""
        if self.best is not None and self.best.total_mm <= _LITTLE_MM:
            return
        router = self.router
        router.left = max(router.left, router.in_reserve + _SHARE_FOR_SPREADING * router.at_first)
        self._as_little_as_helps(APART_MM, lambda apart_mm: [spread(self.base, self.needs, apart_mm)])

    def _as_little_as_helps(
        self, amounts: Sequence[float], cards: Callable[[float], Iterable[Layout | None]]
    ) -> None:
        """The cards of one amount after the other, until one of them is better; then of half a step less."""
        too_little = 0.0
        for amount in amounts:
            before = self.best
            for card in cards(amount):
                self._try(card)
            if self.best is not before:
                for card in cards((too_little + amount) / 2) if too_little else ():
                    self._try(card)
                return
            too_little = amount

    def take_back(self) -> None:
        """Each mark, the furthest moved first, all the way back to where the rules put it, or half of it."""
        if self.best is None:
            return
        start = marks_of(self.base)
        self._put_hardly_moved_back(start)
        sizes = np.hypot(*(marks_of(self.best.layout) - start).T)
        for k in np.argsort(-sizes, kind="stable"):
            for share in _SHARES_BACK:
                here = marks_of(self.best.layout)
                if math.dist(here[k], start[k]) * share < WORTH_SAVING_MM:
                    break
                here[k] += share * (start[k] - here[k])
                if self._try(with_marks(self.best.layout, here), self.best.traces):
                    break

    def _put_hardly_moved_back(self, start: Floats) -> None:
        """Marks that a crowd's spreading moved by a hair, which nobody would rub out for that; all at once, then one by
        one as far as the lane leaves them."""
        assert self.best is not None
        here = marks_of(self.best.layout)
        sizes = np.hypot(*(here - start).T)
        hardly = np.flatnonzero((sizes > 0) & (sizes < WORTH_SAVING_MM))
        here[hardly] = start[hardly]
        if not len(hardly) or self._settle(with_marks(self.best.layout, here)):
            return
        for k in hardly:
            here = marks_of(self.best.layout)
            here[k] = start[k]
            trial, traces = with_marks(self.best.layout, here), self.best.traces
            if self.router.keeps(trial, traces):
                self.best = Mended(trial, traces, total_mm(self.layout, trial))

    def _settle(self, trial: Layout) -> bool:
        """Take a trial card in place of the best, whatever it moves, if the best's lane or another goes through it."""
        assert self.best is not None
        found = settled(self.layout, self.router, self.best, trial)
        self.best = found or self.best
        return found is not None

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
        if not is_reasonable(self.layout, trial):
            return False
        return self.best is None or total_mm(self.layout, trial) < self.best.total_mm - WORTH_SAVING_MM / 2


def _key(layout: Layout) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(round(float(value), 2) for value in place) for place in marks_of(layout))
