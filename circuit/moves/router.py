"""The router as moves are looked for with it: counted, and believed only when the checker agrees.

In:    any function that lays traces, the maker's settings.
Out:   traces that keep every rule, or None.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from circuit.check import check
from circuit.layout import Layout, Problem, Traces
from circuit.settings import Settings

# How often the router may be asked for a card of one light, at least, and at most: chosen, to stay within a few
# seconds; a card of more lights takes it longer.
_CALLS_FOR_ONE_LIGHT = 150
_FEWEST_CALLS = 12
_MOST_CALLS = 24


class RoutedLike(Protocol):
    """What is needed of the router's answer."""

    @property
    def traces(self) -> Traces | None: ...


Route = Callable[[Layout, Settings], RoutedLike]


@dataclass
class Router:
    """The router, with how often it may still be asked (`left`), of how often `at_first`."""

    route: Route
    settings: Settings
    left: int
    at_first: int = 0
    _seen: dict[Layout, Traces | None] = field(default_factory=dict)

    @classmethod
    def for_card(cls, route: Route, settings: Settings, lights: int) -> Router:
        """With as many calls as a card of so many lights is worth."""
        calls = max(_FEWEST_CALLS, min(_MOST_CALLS, _CALLS_FOR_ONE_LIGHT // max(lights, 1)))
        return cls(route, settings, calls, calls)

    def lane(self, layout: Layout) -> Traces | None:
        """Traces that the checker passes; None where there are none, or no calls are left."""
        if layout in self._seen:
            return self._seen[layout]
        if self.left <= 0 or must_fix(check(layout, None, self.settings)):
            return None
        traces = self.any_lane(layout, self.settings)
        if traces is not None and not self.keeps(layout, traces):
            traces = None
        self._seen[layout] = traces
        return traces

    def any_lane(self, layout: Layout, settings: Settings) -> Traces | None:
        """What the router lays under other settings, unchecked; None where nothing, or no calls are left."""
        if self.left <= 0:
            return None
        self.left -= 1
        return self.route(layout, settings).traces

    def keeps(self, layout: Layout, traces: Traces) -> bool:
        """Do these traces keep every rule on this layout?"""
        return not must_fix(check(layout, traces, self.settings))


def must_fix(problems: Sequence[Problem]) -> list[Problem]:
    """What moving marks has to mend: the circle's size is another cell's or another circle's business."""
    return [
        problem for problem in problems if problem.level == "must-fix" and problem.name != "cell-mismatch"
    ]
