"""From the marks of one card to its whole plan: lay, check, mend, and the numbers behind it.

In:    a `Layout`, `Settings`, what the maker uses besides (`PlanChoices`).
Out:   a `PlannedCard`: the plan as drawn and, where marks should move, the plan with them moved.
Fails: `UsageError` for settings that name no rule; never for a poor card: what is wrong with a card
       is a problem in its plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

from circuit.electrics import (
    CardElectrics,
    current_note,
    currents_of,
)
from circuit.foam_words import stack_note
from circuit.glow import glow_of
from circuit.layout import Layout, Reading, Traces
from circuit.lengths import format_length
from circuit.moves import suggest_moves
from circuit.orientation import positive_sides_deg
from circuit.parts import default_parts
from circuit.plan import LaneFacts, Plan, SavedSwitch, record_of
from circuit.route import Routed, lay_traces
from circuit.settings import Settings, Units
from circuit.settings_json import settings_to_dict
from circuit.stack import Stack
from circuit.switch import switch_on
from circuit.telling import other_ways, own_lines
from circuit.worked_out import PlanChoices, WorkedOut, problems_of, solved_circuit, work_out

_Route = Callable[[Layout, Settings], Routed]
LookingFor = Callable[[Literal["moves", "branches"]], AbstractContextManager[None]]


@dataclass(frozen=True, slots=True)
class PlannedCard:
    """The plan of one card.

    corrected : the same card with the suggested moves made, routed and checked; None where nothing
        need move or nothing within reason mends it.
    electrics : the circuit solved, cell fresh, for who draws it lit. None for a card without lights.
    notes : ready sentences that a maker needs at the table. details : those for who wants to know more.
    """

    plan: Plan
    corrected: Plan | None
    electrics: CardElectrics | None
    notes: tuple[str, ...]
    details: tuple[str, ...]


def plan_card(
    layout: Layout, settings: Settings, choices: PlanChoices | None = None, reading: Reading | None = None
) -> PlannedCard:
    """Plan one card. The traces are measured by the checker, which does not know how they were laid."""
    return with_moves(plan_as_drawn(layout, settings, choices, reading))


@dataclass(frozen=True, slots=True)
class DrawnCard:
    """A card planned as it is drawn, before moves are looked for: `planned` can be shown already."""

    planned: PlannedCard
    settings: Settings
    choices: PlanChoices
    found: WorkedOut

    @property
    def asks_for_moves(self) -> bool:
        """Is something wrong that moves might mend? Looking for them can take seconds."""
        return bool(self.planned.plan.must_fix)


def plan_as_drawn(
    layout: Layout, settings: Settings, choices: PlanChoices | None = None, reading: Reading | None = None
) -> DrawnCard:
    """The first half of `plan_card`: everything but moves."""
    choices = choices or PlanChoices()
    found = work_out(layout, settings, choices)
    return DrawnCard(_planned(layout, settings, choices, found, reading), settings, choices, found)


def with_moves(drawn: DrawnCard, looking_for: LookingFor = lambda _: nullcontext()) -> PlannedCard:
    """The second half of `plan_card`: the same plan with the smallest moves that mend it, where it needs any; and where
    no single lane passes all lights and the moves are not small, with branches, so that a maker can choose between the
    two. `looking_for` is entered with each of them while it is looked for."""
    if not drawn.asks_for_moves:
        return drawn.planned
    layout, settings, found = drawn.planned.plan.layout, drawn.settings, drawn.found
    quick = _remembering(partial(lay_traces, quick=True), settings)
    with looking_for("moves"):
        soon = partial(lay_traces, give_up_soon=True)  # it tries many cards, most of them without a lane
        advice = suggest_moves(
            layout,
            settings,
            found.routed,
            route=soon,
            quick_route=quick,
            dead_ends=found.routed.dead_ends,
        )
    found = replace(found, advice=advice)
    if found.routed.traces is None:
        from circuit.branches import can_branch  # few cards need it

        if can_branch(layout, settings):
            if advice.little and drawn.choices.effort == 1:
                found = replace(found, branches_not_sought=True)
            else:
                with looking_for("branches"):
                    found = _branched(layout, settings, drawn.choices, found, quick)
    return _planned(layout, settings, drawn.choices, found, drawn.planned.plan.reading)


def _remembering(route: _Route, settings: Settings) -> _Route:
    """The same router, which routes no card twice with these settings: moves and branches try the same cards."""
    known: dict[Layout, Routed] = {}

    def remembered(layout: Layout, own: Settings) -> Routed:
        if own != settings:
            return route(layout, own)
        if layout not in known:
            known[layout] = route(layout, own)
        return known[layout]

    return remembered


def _branched(
    layout: Layout, settings: Settings, choices: PlanChoices, found: WorkedOut, quick: _Route
) -> WorkedOut:
    """The card laid with branches; as it was where that gives nothing clean."""
    from circuit.branches import lay_branches

    laid = lay_branches(
        layout,
        settings,
        route=lay_traces,
        quick_route=quick,
        dead_ends=found.routed.dead_ends,
        hopeful=choices.effort > 1,
    )
    if laid is None:
        return found
    branched, routed = laid
    return replace(
        found,
        routed=replace(routed, traces=branched.traces),
        problems=problems_of(layout, branched.traces, settings, choices, found.stack),
        lit=solved_circuit(layout, branched.traces, settings, choices),
    )


def _planned(
    layout: Layout, settings: Settings, choices: PlanChoices, found: WorkedOut, reading: Reading | None
) -> PlannedCard:
    plan = _plan_of(layout, settings, choices, found, reading)
    return PlannedCard(
        plan=plan,
        corrected=_corrected(plan, settings, choices, found),
        electrics=found.lit.fresh if found.lit else None,
        notes=_notes(plan, settings, found),
        details=_details(settings, found),
    )


def plan_again(
    plan: Plan, layout: Layout, settings: Settings, choices: PlanChoices | None = None, *, moves: bool = True
) -> PlannedCard:
    """Plan a card anew with its marks changed, or for other parts: nothing is read again, and what was seen and
    doubted on the photo stays as it was. Without `moves` none are looked for."""
    drawn = plan_as_drawn(layout, settings, choices, plan.reading)
    planned = with_moves(drawn) if moves else drawn.planned
    whole = replace(planned.plan, seen=plan.seen, source=plan.source, others=plan.others)
    return replace(planned, plan=whole)


def _plan_of(
    layout: Layout, settings: Settings, choices: PlanChoices, found: WorkedOut, reading: Reading | None
) -> Plan:
    lit, traces = found.lit, found.routed.traces
    foams = tuple((choices.parts or default_parts()).foams.values())
    return Plan(
        layout=layout,
        traces=traces,
        problems=found.problems,
        moves=found.advice.moves,
        reading=reading,
        settings=settings_to_dict(settings),
        sides_deg=_sides(layout, traces, settings),
        lane=record_of(LaneFacts, found.routed),
        stack=found.stack.heights,
        switch=_switch_facts(layout, traces, settings, found.stack),
        electrics=currents_of(lit.fresh, lit.half_used, lit.contact) if lit else None,
        lifetime=lit.life if lit else None,
        glow=glow_of(layout, lit.fresh, settings, found.stack.heights.foam_mm, foams) if lit else None,
        moves_found=found.advice.found,
        leave_out=found.advice.leave_out,
        branches_not_sought=found.branches_not_sought,
        alternatives=found.advice.alternatives,
        drawn_problems=found.drawn_problems,
    )


def _switch_facts(
    layout: Layout, traces: Traces | None, settings: Settings, stack: Stack
) -> SavedSwitch | None:
    switch = switch_on(layout, traces, settings, stack.heights.foam_mm if stack.heights.foam else None)
    return None if switch is None else record_of(SavedSwitch, switch)


def nearness_sentence(routed: Routed, units: Units) -> str:
    """How near the lane is to the shortest possible, in plain words; empty where no lane passes all lights."""
    if routed.traces is None or routed.traces.branches or routed.lower_bound_mm <= 0:
        return ""
    lane = format_length(routed.midline_mm, units)
    bound = format_length(routed.lower_bound_mm, units)
    saved = format_length(routed.midline_mm - routed.lower_bound_mm, units)
    shortest = (
        f"the shortest line from the battery circle through all lights is {bound}"
        if routed.bound_is_exact
        else f"no line from the battery circle through all lights can be shorter than {bound}"
    )
    return f"The lane is {lane} long; {shortest}, so another one could save {saved} at most."


def _corrected(plan: Plan, settings: Settings, choices: PlanChoices, found: WorkedOut) -> Plan | None:
    advice = found.advice
    if not advice.moves or advice.moved_layout is None or advice.moved_traces is None:
        return None
    return Plan(
        layout=advice.moved_layout,
        traces=advice.moved_traces,
        problems=problems_of(advice.moved_layout, advice.moved_traces, settings, choices, found.stack),
        reading=plan.reading,
        settings=plan.settings,
        sides_deg=_sides(advice.moved_layout, advice.moved_traces, settings),
        switch=_switch_facts(advice.moved_layout, advice.moved_traces, settings, found.stack),
        corrected_from=tuple(move.about for move in advice.moves),
    )


def _sides(layout: Layout, traces: Traces | None, settings: Settings) -> Mapping[str, float]:
    return {} if traces is None else positive_sides_deg(layout, traces, settings)


def _notes(plan: Plan, settings: Settings, found: WorkedOut) -> tuple[str, ...]:
    life = found.lit.life if found.lit else None
    notes = (
        *other_ways(plan),
        own_lines(plan),
        stack_note(found.stack, settings),
        life.sentence if life else "",
    )
    return tuple(note for note in notes if note)


def _details(settings: Settings, found: WorkedOut) -> tuple[str, ...]:
    details = [nearness_sentence(found.routed, settings.units)]
    if found.lit is not None:
        details.append(current_note(found.lit.fresh, found.lit.half_used, settings))
        details.append(found.lit.contact.sentence if found.lit.contact else "")
    return tuple(detail for detail in details if detail)
