"""The doubts of a reading as questions at their place, and a plan without the one that was answered.

In:    a plan.
Out:   `Question`s, each with an id that stays the same while its mark does.
Fails: never.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import Literal

from circuit.layout import Point
from circuit.plan import Plan

Kind = Literal["maybe", "light", "battery", "other"]
_TENTHS = 10


@dataclass(frozen=True, slots=True)
class Question:
    """maybe: a mark that was left out. light, battery: one that was taken, unsurely. other: anything else, to be
    looked at. `about` is the mark's label; `where_mm` is None where the doubt has no place."""

    id: str
    kind: Kind
    about: str
    where_mm: Point | None
    says: str


def questions_of(plan: Plan) -> tuple[Question, ...]:
    layout = plan.layout
    found = [
        Question(_maybe_id(place), "maybe", "", place, "A mark that I left out, but that may be a light.")
        for place in maybe_marks(plan)
    ]
    found += [
        Question(
            f"light-{light.label}",
            "light",
            light.label,
            light.centre,
            f"I'm not sure that {light.label} is a light.",
        )
        for light in layout.lights
        if not light.sure
    ]
    if layout.battery is not None and not layout.battery.sure:
        says = "I'm not sure that this is the battery circle."
        found.append(Question("battery", "battery", "battery", layout.battery.centre, says))
    found += [
        Question(_doubt_id(doubt), "other", "", None, doubt)
        for doubt in (plan.reading.doubts if plan.reading else ())
    ]
    return tuple(found)


def answered(plan: Plan, question: Question) -> Plan:
    """The plan without that question; what the answer does to the marks is another's business."""
    if question.kind == "maybe":
        plan = _with_maybe(
            plan, tuple(place for place in maybe_marks(plan) if _maybe_id(place) != question.id)
        )
    if plan.reading is None:
        return plan
    doubts = tuple(doubt for doubt in plan.reading.doubts if _doubt_id(doubt) != question.id)
    plan = replace(plan, reading=replace(plan.reading, doubts=doubts))
    assert plan.reading is not None
    return plan if questions_of(plan) else replace(plan, reading=replace(plan.reading, sure=True))


def maybe_marks(plan: Plan) -> tuple[Point, ...]:
    """Places of marks that were left out but could be lights."""
    return plan.seen.maybe


def _with_maybe(plan: Plan, places: tuple[Point, ...]) -> Plan:
    return replace(plan, seen=replace(plan.seen, maybe=places))


def _maybe_id(place: Point) -> str:
    return f"maybe-{round(place[0] * _TENTHS)}-{round(place[1] * _TENTHS)}"


def _doubt_id(doubt: str) -> str:
    return f"doubt-{hashlib.sha256(doubt.encode()).hexdigest()[:12]}"
