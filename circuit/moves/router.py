"""The router as moves are looked for with it: its work counted, and believed only when the checker agrees.

In:    any function that lays traces, the maker's settings, the card as it is drawn.
Out:   traces that keep every rule, and leave no doubt about a mark that was moved; or None.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Protocol

from circuit.check import check, must_fix_on_card
from circuit.layout import Layout, Traces
from circuit.settings import Settings

# How much work looking for moves may be, where routing a card of ten lights is 10, and of twice as many twice that
# (the quick look leaves roundabout links out of larger cards, and takes half a second on any that has no lane): chosen,
# so that it takes some two to three seconds of a processor.
_MOST_WORK = 60.0
_LEAST_WORK = 2.0  # what routing any card counts at least


class RoutedLike(Protocol):
    """What is needed of the router's answer."""

    @property
    def traces(self) -> Traces | None: ...


Route = Callable[[Layout, Settings], RoutedLike]


@dataclass
class Router:
    """The router, with how much work is `left` to it, of how much `at_first`, and what is kept `in_reserve` for the
    last steps of a search. `home` : the card as it is drawn."""

    route: Route
    settings: Settings
    home: Layout
    left: float = _MOST_WORK
    at_first: float = _MOST_WORK
    in_reserve: float = 0.0
    _seen: dict[Layout, Traces | None] = field(default_factory=dict)

    def can_route(self, lights: int) -> bool:
        """Is there work left for one more card of so many lights?"""
        return self.left - _work(lights) >= self.in_reserve

    def lane(self, layout: Layout) -> Traces | None:
        """Traces that the checker passes; None where there are none, or no work is left."""
        if layout in self._seen:
            return self._seen[layout]
        if not self.can_route(len(layout.lights)) or not self.keeps(layout, None):
            return None
        traces = self.any_lane(layout, self.settings)
        if traces is not None and not self.keeps(layout, traces):
            traces = None
        self._seen[layout] = traces
        return traces

    def any_lane(self, layout: Layout, settings: Settings) -> Traces | None:
        """What the router lays under other settings, unchecked; None where nothing, or no work is left."""
        if not self.can_route(len(layout.lights)):
            return None
        self.left -= _work(len(layout.lights))
        return self.route(layout, settings).traces

    def keeps(self, layout: Layout, traces: Traces | None) -> bool:
        """Do these traces keep every rule on this layout, with no doubt about a moved mark that was not there before?
        Without traces: do the marks?"""
        problems = check(layout, traces, self.settings)
        if must_fix_on_card(problems):
            return False
        doubtful = [problem for problem in problems if problem.level == "look-again"]
        moved = _moved(self.home, layout) if doubtful else frozenset()
        return not any(
            moved & set(problem.about) and (problem.name, problem.about) not in self._doubts_before
            for problem in doubtful
        )

    @cached_property
    def _doubts_before(self) -> frozenset[tuple[str, tuple[str, ...]]]:
        problems = check(self.home, None, self.settings)
        return frozenset(
            (problem.name, problem.about) for problem in problems if problem.level == "look-again"
        )


def _work(lights: int) -> float:
    return max(min(lights * lights / 10, lights), _LEAST_WORK)


def _moved(home: Layout, layout: Layout) -> frozenset[str]:
    """Labels of the lights, and "battery", that are not where they were."""
    places = {light.label: light.centre for light in home.lights}
    moved = {light.label for light in layout.lights if places.get(light.label) != light.centre}
    if home.battery and layout.battery and home.battery.centre != layout.battery.centre:
        moved.add("battery")
    return frozenset(moved)
