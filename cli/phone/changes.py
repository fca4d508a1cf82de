"""What a maker changes about a card that was read: pure steps from one set of marks to the next.

In:    a plan, one change as plain JSON values (from a form or a drag).
Out:   the plan's marks with the change made; its traces and problems are then planned afresh.
Fails: `UsageError` with one sentence for a change that this card can't take.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from circuit.errors import UsageError
from circuit.layout import Layout, LightMark, Move, Point
from circuit.plan import Plan
from cli.phone.questions import Question, answered, questions_of

MOST_LIGHTS = 60  # chosen: three times what the largest card of the benchmarks holds
ADDED_DIAMETER_MM = 3.0  # chosen: the middle of the dots that people pencil
# A mark that is put somewhere with a ruler and a pencil: common practice, no source.
PENCILLED_UNCERTAINTY_MM = 0.5


@dataclass(frozen=True, slots=True)
class Changed:
    """The plan with a change made, and what to say of it."""

    plan: Plan
    said: str


def changed(plan: Plan, change: Mapping[str, Any]) -> Changed:
    """The plan with one change made to its marks. Raises UsageError."""
    kind = change.get("kind")
    if kind == "move":
        return _moved(plan, str(change.get("about")), _point(change.get("to"), plan))
    if kind == "add":
        return _added(plan, _point(change.get("to"), plan))
    if kind == "drop":
        return _dropped(plan, str(change.get("about")))
    if kind in ("yes", "no"):
        return _answered(plan, str(change.get("question")), yes=kind == "yes")
    if kind == "take-moves":
        return _moves_taken(plan)
    raise UsageError("This change is not one that can be made here.")


def _point(value: object, plan: Plan) -> Point:
    """A place on the card; what is a little outside is drawn in. Raises UsageError for no place at all."""
    card = plan.layout.card
    match value:
        case [int() | float() as x, int() | float() as y] if math.isfinite(x) and math.isfinite(y):
            return (round(min(max(x, 0.0), card.width_mm), 2), round(min(max(y, 0.0), card.height_mm), 2))
    raise UsageError("That is no place on the card; say how far from the left edge and from the top.")


def _light(layout: Layout, label: str) -> LightMark:
    try:
        return layout.light(label)
    except KeyError:
        raise UsageError(f"There is no light {label} on this card any more.") from None


def _with_light(layout: Layout, light: LightMark) -> Layout:
    return replace(layout, lights=tuple(light if one.label == light.label else one for one in layout.lights))


def _moved(plan: Plan, about: str, to: Point) -> Changed:
    return Changed(replace(plan, layout=_with_mark_at(plan.layout, about, to)), f"{_called(about)} moved.")


def _with_mark_at(layout: Layout, about: str, to: Point) -> Layout:
    x, y = to
    if about == "battery":
        if layout.battery is None:
            raise UsageError("There is no battery circle on this card.")
        battery = replace(layout.battery, x_mm=x, y_mm=y)
        return replace(layout, battery=battery)
    light = _light(layout, about)
    return _with_light(layout, replace(light, x_mm=x, y_mm=y))


def _added(plan: Plan, at: Point) -> Changed:
    layout, label = with_light_at(plan.layout, at, PENCILLED_UNCERTAINTY_MM)
    return Changed(replace(plan, layout=layout), f"{label} added.")


def with_light_at(layout: Layout, at: Point, uncertainty_mm: float) -> tuple[Layout, str]:
    """One light more, under the first label that is free, so that the others keep theirs."""
    if len(layout.lights) >= MOST_LIGHTS:
        raise UsageError(f"This card has {MOST_LIGHTS} lights; there is no room for more.")
    taken = {light.label for light in layout.lights}
    label = next(f"L{k}" for k in range(1, MOST_LIGHTS + 2) if f"L{k}" not in taken)
    light = LightMark(label, *at, ADDED_DIAMETER_MM, uncertainty_mm)
    return replace(layout, lights=(*layout.lights, light)), label


def _dropped(plan: Plan, label: str) -> Changed:
    _light(plan.layout, label)
    return Changed(replace(plan, layout=without_light(plan.layout, label)), f"{label} dropped.")


def without_light(layout: Layout, label: str) -> Layout:
    return replace(layout, lights=tuple(light for light in layout.lights if light.label != label))


def _answered(plan: Plan, question_id: str, *, yes: bool) -> Changed:
    question = next((one for one in questions_of(plan) if one.id == question_id), None)
    if question is None:
        raise UsageError("This question is answered already.")
    layout, said = plan.layout, "Thank you."
    if question.kind == "maybe" and yes:
        assert question.where_mm is not None
        bound = 0.0 if plan.reading is None else plan.reading.uncertainty_mm
        layout, label = with_light_at(layout, question.where_mm, bound)
        said = f"It is {label} now."
    elif question.kind == "light":
        layout, said = _light_answered(layout, question, yes=yes)
    elif question.kind == "battery" and layout.battery is not None:
        if not yes:
            raise UsageError(
                "Then drag the battery circle to its place under 'Mend', or photograph the card again."
            )
        layout = replace(layout, battery=replace(layout.battery, sure=True))
    return Changed(answered(replace(plan, layout=layout), question), said)


def _light_answered(layout: Layout, question: Question, *, yes: bool) -> tuple[Layout, str]:
    if not yes:
        return without_light(layout, question.about), f"{question.about} is not counted as a light any more."
    return _with_light(layout, replace(_light(layout, question.about), sure=True)), f"{question.about} it is."


def _moves_taken(plan: Plan) -> Changed:
    if not plan.moves:
        raise UsageError("There are no moves to take over.")
    layout = plan.layout
    for move in plan.moves:
        layout = _with_mark_at(layout, move.about, move.to_mm)
    return Changed(replace(plan, layout=layout), f"{_listed(plan.moves)} moved.")


def _listed(moves: Sequence[Move]) -> str:
    names = [_called(move.about) for move in moves]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _called(about: str) -> str:
    return "The battery" if about == "battery" else about
