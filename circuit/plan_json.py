"""Plans and layouts as plain JSON values, and back: the one place where a plan becomes a file's value.

In:    a `Plan`, or what `json.load` gave for a plan or layout file.
Out:   a dict that `json.dump` takes, or a `Plan` (a layout file gives one with no traces).
Fails: `LayoutFileError` naming the field, for anything that is not such a file.

Marks, traces, problems, moves and the reading must be right. What is worked out from them (lane, heights,
currents, glow ...) is a help to readers of the file: a part of it that does not fit, such as another
program's, is passed over and kept as it is among `Plan.others`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from circuit.asked import PlanAsked
from circuit.errors import LayoutFileError
from circuit.json_fields import FieldError, brief, list_of, mapping_of, plain, rounded, value_as
from circuit.layout import (
    BatteryMark,
    Branch,
    Card,
    Doubt,
    DrawnLine,
    Layout,
    LightMark,
    Move,
    MovesFound,
    Point,
    Polyline,
    Problem,
    Reading,
    Traces,
    as_said,
)
from circuit.plan import (
    Currents,
    Glow,
    Heights,
    LaneFacts,
    LightThatLasts,
    Plan,
    SavedSwitch,
    SeenMarks,
    Source,
)
from circuit.plan_limits import LARGEST_MM, require_modest, require_plain_outline
from circuit.remarks import remark_words
from circuit.settings import Units
from circuit.units_meant import require_millimetres

PLAN_SCHEMA = "pencilamp/plan/1"
LAYOUT_SCHEMA = "pencilamp/layout/1"
_NEEDED = frozenset(
    "schema card reading lights battery window window_uncertainty_mm drawn_lines traces branches problems moves "
    "settings".split()
)
_Texts = tuple[str, ...]
_Problems = tuple[Problem, ...]
# Key -> type of what a plan may hold besides; each is a field of `Plan` of that name.
_WORKED_OUT: Mapping[str, Any] = {
    "lane": LaneFacts,
    "stack": Heights,
    "switch": SavedSwitch,
    "electrics": Currents,
    "lifetime": LightThatLasts,
    "glow": Glow,
    "moves_found": MovesFound,
    "leave_out": _Texts,
    "branches_not_sought": bool,
    "alternatives": _Texts,
    "drawn_problems": _Problems,
    "corrected_from": _Texts,
}
_SEEN = {"crossed_out_mm": "crossed_out", "maybe_marks_mm": "maybe"}
_NOT_READ_BACK = ("positive_side_deg",)  # written for people and other programs; follows from the tapes
_SOURCE: Mapping[str, tuple[str, Any]] = {
    "made_from": ("name", str),
    "made_from_sha256": ("sha256", str),
    "asked": ("asked", PlanAsked),
}


def plan_to_dict(plan: Plan) -> dict[str, Any]:
    """The plan file's value. A light whose positive side is not known gets null for it."""
    layout = plan.layout
    result: dict[str, Any] = {
        "schema": PLAN_SCHEMA,
        "card": plain(layout.card),
        "reading": None if plan.reading is None else _reading_to_dict(plan, plan.reading),
        "lights": [
            {**plain(light), "positive_side_deg": plain(plan.sides_deg.get(light.label))}
            for light in layout.lights
        ],
        "battery": None
        if layout.battery is None
        else {**plain(layout.battery), "cell": plan.settings.get("cell")},
        "window": plain(layout.window),
        **({"window_uncertainty_mm": rounded(layout.window_uncertainty_mm)} if layout.window else {}),
        "drawn_lines": plain(layout.drawn_lines),
        "traces": None if plan.traces is None else plain(replace(plan.traces, branches=())),
        **({"branches": plain(plan.branches)} if plan.branches else {}),
        "problems": plain(plan.problems),
        "moves": [{**plain(move), "by_mm": rounded(move.by_mm)} for move in plan.moves],
        "settings": dict(plan.settings),
    }
    result.update({key: plain(value) for key in _WORKED_OUT if (value := getattr(plan, key))})
    result.update({key: plain(value) for key, name in _SEEN.items() if (value := getattr(plan.seen, name))})
    if plan.source is not None:
        said = {key: getattr(plan.source, name) for key, (name, _) in _SOURCE.items()}
        result.update({key: value for key, item in said.items() if (value := plain(item))})
    return {**plan.others, **result}


def plan_from_dict(value: object) -> Plan:
    """The plan or layout that a file holds. Marks without an uncertainty count as exact.

    Raises LayoutFileError, which names the field.
    """
    top = mapping_of(value)
    schema = top.get("schema")
    if schema not in (PLAN_SCHEMA, LAYOUT_SCHEMA):
        has = "it has no schema" if schema is None else f"its schema is {brief(schema)}"
        raise LayoutFileError(
            f'This is not a plan or layout file: {has}; a layout that you write by hand has "schema": '
            f'"{LAYOUT_SCHEMA}".'
        )
    require_modest(top)
    needed: dict[str, Any] = {
        "layout": _layout_from(top),
        "traces": _traces_from(top),
        "problems": _part(_Problems, top, "problems", []),
        "moves": tuple(_move_from(item, f"moves[{i}]") for i, item in enumerate(_items(top, "moves"))),
        "reading": _reading_from(top.get("reading")),
        "settings": dict(mapping_of(top.get("settings") or {}, "settings")),
        "sides_deg": _sides_from(top),
    }
    if schema == LAYOUT_SCHEMA:
        require_millimetres(needed["layout"])
    others = {key: item for key, item in top.items() if key not in _NEEDED}
    worked_out = {key: _taken(others, key, kind) for key, kind in _WORKED_OUT.items() if key in others}
    seen = {name: _taken(others, key, tuple[Point, ...]) for key, name in _SEEN.items() if key in others}
    try:
        return Plan(
            **needed,
            **_told(worked_out),
            seen=SeenMarks(**_told(seen)),
            source=_source_from(others),
            others=others,
        )
    except ValueError as error:
        raise LayoutFileError(f"This file can't be used: {error}.") from error


def unread_in_layout(top: Mapping[str, Any]) -> tuple[str, ...]:
    """What a layout that is good otherwise says and nothing reads, as a maker would call it. Nothing of a plan: what
    later programs put into one is theirs to know."""
    if top.get("schema") != LAYOUT_SCHEMA:
        return ()
    known = {*_NEEDED, *_WORKED_OUT, *_SEEN, *_SOURCE, *_NOT_READ_BACK}
    names = [key for key in top if key not in known]
    marks = [("a light's", LightMark, item) for item in _items(top, "lights")]
    for whose, kind, item in (*marks, ("the battery's", BatteryMark, top.get("battery") or {})):
        known = {*_NOT_READ_BACK, *(one.name for one in fields(kind))}
        names += [f"{whose} {key}" for key in item if key not in known]
    return tuple(dict.fromkeys(names))


def _traces_from(top: Mapping[str, Any]) -> Traces | None:
    """The traces with the branches that stand beside them in the file; branches of no lane are none."""
    traces: Traces | None = _part(Traces | None, top, "traces")
    branches: tuple[Branch, ...] = _part(tuple[Branch, ...], top, "branches", [])
    return traces if traces is None else replace(traces, branches=branches)


def _part(kind: Any, top: Mapping[str, Any], key: str, default: object = None) -> Any:
    value = top.get(key)
    return value_as(kind, default if value is None else value, key, most_mm=LARGEST_MM)


def _taken(others: dict[str, Any], key: str, kind: Any) -> Any:
    """That key's value, taken out of `others`; None, and it stays there, where it is something else."""
    try:
        value = value_as(kind, others[key], key, most_mm=LARGEST_MM)
    except FieldError:
        return None
    del others[key]
    return value


def _source_from(others: dict[str, Any]) -> Source | None:
    """Where the plan says from what it was made; what else it says of that has no meaning without."""
    if not others.get("made_from") or not isinstance(others["made_from"], str):
        return None
    said = {name: _taken(others, key, kind) for key, (name, kind) in _SOURCE.items() if key in others}
    return Source(**_told(said))


def _told(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


def _items(top: Mapping[str, Any], key: str) -> list[Any]:
    return [] if top.get(key) is None else list_of(top[key], key)


def _layout_from(top: Mapping[str, Any]) -> Layout:
    card = dict(mapping_of(top.get("card"), "card"))
    lights = [_labelled(item, f"lights[{i}]", f"L{i + 1}") for i, item in enumerate(_items(top, "lights"))]
    parts: dict[str, Any] = {
        "card": _part(Card, {"card": card}, "card"),
        "lights": _part(tuple[LightMark, ...], {"lights": lights}, "lights", []),
        "battery": _part(BatteryMark | None, top, "battery"),
        "window": _part(Polyline | None, top, "window"),
        "drawn_lines": _part(tuple[DrawnLine, ...], top, "drawn_lines", []),
        "window_uncertainty_mm": _part(float, top, "window_uncertainty_mm", 0.0),
    }
    require_plain_outline(parts["window"] or ())
    try:
        return Layout(**parts)
    except ValueError as error:
        raise LayoutFileError(f"This file can't be used: {error}.") from error


def _labelled(item: object, where: str, label: str) -> dict[str, Any]:
    """A light as the file has it, with its label as text: people write files by hand."""
    light = dict(mapping_of(item, where))
    return {**light, "label": str(light.get("label", label))}


def _move_from(item: object, where: str) -> Move:
    """A move; older files don't say from where."""
    move = mapping_of(item, where)
    from_mm = move.get("from_mm", move.get("to_mm"))
    read: Move = value_as(Move, {"why": "", **move, "from_mm": from_mm}, where, most_mm=LARGEST_MM)
    return read


def _reading_to_dict(plan: Plan, reading: Reading) -> dict[str, Any]:
    """The reading with its doubts as sentences, as people read them, and what each is about beside them."""
    units: Units = "in" if plan.settings.get("units") == "in" else "mm"
    sentences = [remark_words(doubt, plan.layout.card, units) for doubt in reading.doubts]
    return {**plain(reading), "doubts": sentences, "doubts_at": plain(reading.doubts)}


def _reading_from(value: object) -> Reading | None:
    """Older files, and other programs', give a doubt's sentence alone."""
    if value is None:
        return None
    record = mapping_of(value, "reading")
    sentences = value_as(_Texts, record.get("doubts") or [], "reading.doubts")
    try:
        doubts = value_as(tuple[Doubt, ...], record.get("doubts_at"), "reading.doubts_at", most_mm=LARGEST_MM)
    except FieldError:
        doubts = ()
    if len(doubts) != len(sentences):
        doubts = tuple(as_said(words) for words in sentences)
    plain_reading = {
        "photo": "",
        "square_kind": None,
        "square_side_mm": None,
        "uncertainty_mm": 0.0,
        "sure": True,
    }
    read: Reading = value_as(
        Reading, {**plain_reading, **record, "doubts": None}, "reading", most_mm=LARGEST_MM
    )
    return replace(read, doubts=doubts)


def _sides_from(top: Mapping[str, Any]) -> dict[str, float]:
    sides = {}
    for i, light in enumerate(_items(top, "lights")):
        side = value_as(float | None, light.get("positive_side_deg"), f"lights[{i}].positive_side_deg")
        if side is not None:
            sides[str(light.get("label", f"L{i + 1}"))] = side
    return sides
