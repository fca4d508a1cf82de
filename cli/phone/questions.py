"""The doubts of a reading as questions at their place, and a plan without the one that was answered.

In:    a plan.
Out:   `Question`s, each with an id that stays the same while its mark does.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from circuit.layout import Doubt, Point
from circuit.plan import Plan
from circuit.remarks import remark_words
from circuit.settings import Units

Kind = Literal["maybe", "light", "battery", "size", "photo", "other"]
_TENTHS = 10
# What only another size, or another photo, settles: looking at the card does not.
_SIZE = frozenset(("two-sizes", "near-size", "no-known-size"))
_SQUARE = frozenset(("square-and-size", "square-off-scale"))
_PHOTO = frozenset(("bent", "edges-faint", "not-flat", "places-uncertain", "glare", "thing-on-card"))


@dataclass(frozen=True, slots=True)
class Question:
    """maybe: a mark that was left out. light, battery: one that was taken, unsurely. size: what the card or the square
    measures. photo: what another photo would show. other: anything else, to be looked at. `about` is the mark's label;
    `where_mm` is None where the doubt has no place. `asks`: which of `cli.phone.wishes` would settle a size."""

    id: str
    kind: Kind
    about: str
    where_mm: Point | None
    says: str
    asks: tuple[str, ...] = ()


def questions_of(plan: Plan, units: Units = "mm") -> tuple[Question, ...]:
    """Each doubt once, at its mark where it is about one; an unsure mark without a doubt of its own as well."""
    doubts = plan.reading.doubts if plan.reading is not None else ()

    def says(about: str, where_mm: Point, otherwise: str) -> str:
        found = [one for one in doubts if one.where_mm == where_mm or (about and one.about == about)]
        return remark_words(found[0], plan.layout.card, units) if found else otherwise

    layout = plan.layout
    found = [
        Question(
            _maybe_id(at), "maybe", "", at, says("", at, "A mark that I left out, but that may be a light.")
        )
        for at in plan.seen.maybe
    ]
    unsure = {light.label: light.centre for light in layout.lights if not light.sure}
    found += [
        Question(
            f"light-{label}", "light", label, at, says(label, at, f"I'm not sure that {label} is a light.")
        )
        for label, at in unsure.items()
    ]
    if layout.battery is not None and not layout.battery.sure:
        at = layout.battery.centre
        told = says("battery", at, "I'm not sure that this is the battery circle.")
        found.append(Question("battery", "battery", "battery", at, told))
    asked = {question.says for question in found}
    side = "square" if plan.reading is not None and plan.reading.square_kind == "plain" else "printed"
    for doubt in doubts:
        text = remark_words(doubt, layout.card, units)
        if text not in asked:
            kind, asks = _settled_by(doubt, side)
            found.append(Question(_doubt_id(doubt), kind, doubt.about, doubt.where_mm, text, asks))
    return tuple(found)


def _settled_by(doubt: Doubt, side: str) -> tuple[Kind, tuple[str, ...]]:
    key = doubt.says.key
    if key in _SIZE:
        return "size", ("card",)
    if key in _SQUARE:
        return "size", ("card", side)
    return ("photo" if key in _PHOTO else "other"), ()


def answered(plan: Plan, question: Question) -> Plan:
    """The plan without that question; what the answer does to the marks is another's business."""
    if question.kind == "maybe":
        left = tuple(place for place in plan.seen.maybe if _maybe_id(place) != question.id)
        plan = replace(plan, seen=replace(plan.seen, maybe=left))
    if plan.reading is None:
        return plan
    doubts = tuple(doubt for doubt in plan.reading.doubts if not _is_about(doubt, question))
    plan = replace(plan, reading=replace(plan.reading, doubts=doubts))
    assert plan.reading is not None
    return plan if questions_of(plan) else replace(plan, reading=replace(plan.reading, sure=True))


def _maybe_id(place: Point) -> str:
    return f"maybe-{round(place[0] * _TENTHS)}-{round(place[1] * _TENTHS)}"


def _is_about(doubt: Doubt, question: Question) -> bool:
    """Whether that question, once answered, settles this doubt."""
    if question.kind in ("size", "photo", "other"):
        return _doubt_id(doubt) == question.id
    if doubt.about in (question.about, "") and doubt.where_mm is not None:
        return doubt.where_mm == question.where_mm
    return bool(question.about) and doubt.about == question.about


def _doubt_id(doubt: Doubt) -> str:
    at = () if doubt.where_mm is None else (f"{round(value * _TENTHS)}" for value in doubt.where_mm)
    return "-".join(("doubt", doubt.about, doubt.says.key, *at))
