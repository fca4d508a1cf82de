"""The checker: measures marks and traces against the table of rules, on its own.

In:    a layout, its two traces (from whoever: the router, the maker's pencil, a file) or None,
       the maker's settings.
Out:   problems in the table's order, each with measured value, uncertainty, limit, place, advice.
Fails: `UsageError` for a limit of the maker's own that no rule has. A poor layout is no failure.

It shares no geometry with the router: tape is built here as polygons, from the two centre lines
alone. How each rule is read is told at the top of the module that measures it.
"""

from __future__ import annotations

from collections.abc import Sequence

from circuit.check.finding import judge
from circuit.check.measures import MEASURES
from circuit.check.no_lane import no_lane_problem
from circuit.check.scene import Scene
from circuit.check.switch import weaker_tongue
from circuit.layout import Layout, Problem, Traces
from circuit.rules import RULES, require_known_limits
from circuit.settings import Settings

__all__ = ["check", "must_fix_on_card", "no_lane_problem", "weaker_tongue"]


def check(
    layout: Layout,
    traces: Traces | None,
    settings: Settings,
    *,
    drawn: bool = False,
) -> tuple[Problem, ...]:
    """Every rule that does not hold, or may not within what was read; empty when all is well.

    `traces` None: the mark rules alone. `drawn`: the maker pencilled the traces, so what they are
    held against carries the lines' uncertainty (`layout.drawn_lines`) and the marks'; routed traces
    are exact against the marks, because tape and lights go where the plan says.
    """
    require_known_limits(settings)
    scene = Scene(layout, traces, settings, drawn)
    problems: list[Problem] = []
    for rule in RULES:
        measure = MEASURES.get(rule.name)
        if measure is None or (rule.needs_traces and traces is None):
            continue
        judged = (judge(rule, finding, settings, drawn=drawn) for finding in measure(scene))
        problems += [problem for problem in judged if problem is not None]
    return tuple(problems)


def must_fix_on_card(problems: Sequence[Problem]) -> list[Problem]:
    """What other places for marks or tape could mend: the circle's size is another cell's or another circle's
    business."""
    return [one for one in problems if one.level == "must-fix" and one.name != "cell-mismatch"]
