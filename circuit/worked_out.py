"""All that is worked out of one card, for the plan file and for the sentences.

In:    a `Layout`, `Settings`, what the maker uses besides (`PlanChoices`).
Out:   `WorkedOut`: the lane, what is wrong, heights, the circuit solved; moves are looked for later.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from circuit.asked import PRESS_S
from circuit.check import check, no_lane_problem, weaker_tongue
from circuit.electrics import (
    HALF_USED,
    CardElectrics,
    bench_of,
    contact_loss,
    electrics_problems,
    lifetime,
)
from circuit.layout import DrawnLine, Layout, Problem, Traces
from circuit.moves import Advice
from circuit.part_kinds import FoamPart, LightPart, Parts
from circuit.plan import LightThatLasts, LostByContact
from circuit.route import Routed, lay_traces
from circuit.settings import Settings
from circuit.stack import Stack, stack_of, thicknesses
from circuit.stack_problems import stack_problems


@dataclass(frozen=True, slots=True)
class PlanChoices:
    """What a plan rests on besides marks and settings.

    foam : the layers that the maker uses, None: the ones that would do.
    lights : label -> part, for lights that are not `settings.light`.
    effort : how long the router looks, 1 is the everyday search.
    press_s : seconds of one press, for how many there are in a cell.
    """

    foam: tuple[FoamPart, ...] | None = None
    lights: Mapping[str, LightPart] = field(default_factory=dict)
    effort: int = 1
    press_s: float = PRESS_S
    parts: Parts | None = None


@dataclass(frozen=True, slots=True)
class SolvedCircuit:
    """The circuit of a card with lights, worked out once for all that is told of it."""

    fresh: CardElectrics
    half_used: CardElectrics
    life: LightThatLasts | None
    contact: LostByContact | None


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """All that was worked out of one card, for the plan file and for the sentences. `branches_not_sought` : though no
    single lane passes all lights, since small moves mend it."""

    routed: Routed
    problems: tuple[Problem, ...]
    advice: Advice
    drawn_problems: tuple[Problem, ...]
    stack: Stack
    lit: SolvedCircuit | None
    branches_not_sought: bool = False


def work_out(layout: Layout, settings: Settings, choices: PlanChoices) -> WorkedOut:
    """Lay the card as it is drawn, measure it and solve its circuit; nothing is moved. Raises
    UsageError for a limit that no rule has."""
    routed = lay_traces(layout, settings, effort=choices.effort)
    stack = stack_of(
        settings,
        choices.foam,
        choices.lights.values(),
        None if choices.parts is None else choices.parts.foams.values(),
        thicknesses(layout, settings, choices.parts),
    )
    unlaid = () if routed.traces else (no_lane_problem(layout, routed.blocked),)
    problems = problems_of(layout, routed.traces, settings, choices, stack, unlaid)
    return WorkedOut(
        routed=routed,
        problems=problems,
        advice=Advice(),
        drawn_problems=_drawn_problems(layout, settings),
        stack=stack,
        lit=solved_circuit(layout, routed.traces, settings, choices),
    )


def solved_circuit(
    layout: Layout, traces: Traces | None, settings: Settings, choices: PlanChoices
) -> SolvedCircuit | None:
    """The circuit with a fresh and a half-used cell; None for a card without lights."""
    if not layout.lights:
        return None
    bench = bench_of(layout, traces, settings, choices.lights)
    return SolvedCircuit(
        fresh=bench.solve(),
        half_used=bench.solve(state=HALF_USED),
        life=lifetime(bench, choices.press_s),
        contact=contact_loss(bench),
    )


def problems_of(
    layout: Layout,
    traces: Traces | None,
    settings: Settings,
    choices: PlanChoices,
    stack: Stack,
    unlaid: tuple[Problem, ...] = (),
) -> tuple[Problem, ...]:
    """All that is wrong, what must be fixed first. `unlaid`: what is known of a card that no lane passes."""
    found = (
        *check(layout, traces, settings),
        *weaker_tongue(layout, traces, settings),
        *unlaid,
        *electrics_problems(bench_of(layout, traces, settings, choices.lights)),
        *stack_problems(stack, layout, settings),
    )
    # Stable: within a level the table's order stays.
    return tuple(sorted(found, key=lambda problem: problem.level != "must-fix"))


def _drawn_problems(layout: Layout, settings: Settings) -> tuple[Problem, ...]:
    """The rules, held against the two lines that the maker pencilled."""
    traces = drawn_traces(layout.drawn_lines, settings)
    if traces is None:
        return ()
    of_marks = check(layout, None, settings)  # told of already, with or without the lines
    return tuple(
        problem for problem in check(layout, traces, settings, drawn=True) if problem not in of_marks
    )


def drawn_traces(lines: tuple[DrawnLine, ...], settings: Settings) -> Traces | None:
    """The two pencilled lines as tape; None unless there are two.

    Where it could not be told which is positive, the first counts as positive: no rule but the
    labels in its advice depends on it.
    """
    if len(lines) != 2:
        return None
    first, second = lines
    if first.polarity == "negative" or second.polarity == "positive":
        first, second = second, first
    return Traces(first.points, second.points, settings.tape_width_mm, settings.gap_mm)
