"""What a maker changes about a card that was read: pure steps from one plan's marks to the next.

In:    a plan, one change as plain JSON values (from a form or a drag).
Out:   the plan with its marks changed; traces and problems are then planned afresh.
Fails: `UsageError` with one sentence for a change that this card can't take.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from circuit.errors import UsageError
from circuit.layout import Layout, Point
from circuit.mark_changes import with_light_at, with_mark_at, with_moves, without_light
from circuit.plan import Plan
from circuit.plan_limits import MOST_LIGHTS
from circuit.telling import listed, sentence
from cli.phone.questions import Question, answered, questions_of

# A mark that is put somewhere with a ruler and a pencil: common practice, no source.
PENCILLED_UNCERTAINTY_MM = 0.5


@dataclass(frozen=True, slots=True)
class Changed:
    """The plan with a change made, and what to say of it."""

    plan: Plan
    said: str


def changed(plan: Plan, change: Mapping[str, Any]) -> Changed:
    """The plan with one change made to its marks. Raises UsageError."""
    about = str(change.get("about"))
    match change.get("kind"):
        case "move":
            layout = with_mark_at(plan.layout, about, _point(change.get("to"), plan.layout))
            return Changed(replace(_sure_of(plan, about), layout=_sure(layout, about)), _moved(about))
        case "add":
            return _added(plan, _point(change.get("to"), plan.layout))
        case "drop":
            return Changed(replace(plan, layout=without_light(plan.layout, about)), f"{about} dropped.")
        case "yes" | "no" as answer:
            return _answered(plan, str(change.get("question")), yes=answer == "yes")
        case "take-moves":
            return _moves_taken(plan)
    raise UsageError("This change is not one that can be made here.")


def _point(value: object, layout: Layout) -> Point:
    """A place on the card; what is a little outside is drawn in. Raises UsageError for no place at all."""
    card = layout.card
    match value:
        case [int() | float() as x, int() | float() as y] if math.isfinite(x) and math.isfinite(y):
            return (round(min(max(x, 0.0), card.width_mm), 2), round(min(max(y, 0.0), card.height_mm), 2))
    raise UsageError("That is no place on the card; say how far from the left edge and from the top.")


def _added(plan: Plan, at: Point, uncertainty_mm: float = PENCILLED_UNCERTAINTY_MM) -> Changed:
    if len(plan.layout.lights) >= MOST_LIGHTS:
        raise UsageError(f"This card has {MOST_LIGHTS} lights; there is no room for more.")
    layout, label = with_light_at(plan.layout, at, uncertainty_mm)
    return Changed(replace(plan, layout=layout), f"{label} added.")


def _answered(plan: Plan, question_id: str, *, yes: bool) -> Changed:
    question = next((one for one in questions_of(plan) if one.id == question_id), None)
    if question is None:
        raise UsageError("This question is answered already.")
    done = Changed(plan, "Thank you.")
    if question.kind == "maybe" and yes and question.where_mm is not None:
        bound = plan.reading.uncertainty_mm if plan.reading else PENCILLED_UNCERTAINTY_MM
        done = _added(plan, question.where_mm, bound)
    elif question.kind == "light":
        done = _light_answered(plan, question, yes=yes)
    elif question.kind == "battery" and plan.layout.battery is not None:
        if not yes:
            raise UsageError(
                "Then drag the battery circle to its place under 'Mend', or photograph the card again."
            )
        done = Changed(replace(plan, layout=_sure(plan.layout, "battery")), "Thank you.")
    return Changed(answered(done.plan, question), done.said)


def _light_answered(plan: Plan, question: Question, *, yes: bool) -> Changed:
    label, layout = question.about, plan.layout
    if not yes:
        left = without_light(layout, label)
        return Changed(replace(plan, layout=left), f"{label} is not counted as a light any more.")
    return Changed(replace(plan, layout=_sure(layout, label)), f"{label} it is.")


def _sure(layout: Layout, about: str) -> Layout:
    """The layout with one mark that is beyond doubt."""
    if about == "battery":
        battery = layout.battery
        return layout if battery is None else replace(layout, battery=replace(battery, sure=True))
    lights = tuple(replace(light, sure=light.sure or light.label == about) for light in layout.lights)
    return replace(layout, lights=lights)


def _sure_of(plan: Plan, about: str) -> Plan:
    """The plan without a question about a mark: who puts it somewhere says what it is."""
    asked = [one for one in questions_of(plan) if one.kind in ("light", "battery") and one.about == about]
    return answered(plan, asked[0]) if asked else plan


def _moves_taken(plan: Plan) -> Changed:
    if not plan.moves:
        raise UsageError("There are no moves to take over.")
    layout = with_moves(plan.layout, plan.moves)
    return Changed(replace(plan, layout=layout), _moved(*(move.about for move in plan.moves)))


def _moved(*marks: str) -> str:
    return sentence(f"{listed(marks)} moved")
