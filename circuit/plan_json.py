"""Plans and layouts as plain JSON values, and back.

In:    a `Plan`, or what `json.load` gave for a plan or layout file.
Out:   a dict that `json.dump` takes, or a `Plan` (a layout file gives one with no traces).
Fails: `LayoutFileError` naming the field, for anything that is not such a file.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from circuit.errors import LayoutFileError
from circuit.layout import (
    BatteryMark,
    Card,
    DrawnLine,
    Layout,
    LightMark,
    Move,
    Plan,
    Point,
    Polyline,
    Problem,
    Reading,
    Traces,
)

PLAN_SCHEMA = "pencilamp/plan/1"
LAYOUT_SCHEMA = "pencilamp/layout/1"
_OWN_KEYS = frozenset(
    "schema card reading lights battery window drawn_lines traces problems moves settings".split()
)
# Chosen: several times the largest card. A figure beyond it is a slip, and would only draw nonsense.
LARGEST_MM = 2000.0
_PLACES = 3  # a micrometre: far below what paper holds, and keeps the file readable


def plan_to_dict(plan: Plan, positive_sides_deg: Mapping[str, float] | None = None) -> dict[str, Any]:
    """The plan file's value. `positive_sides_deg` maps a light's label to the direction of its
    positive pads [deg]; lights without an entry get null."""
    sides = positive_sides_deg or {}
    layout = plan.layout
    result: dict[str, Any] = {
        "schema": PLAN_SCHEMA,
        "card": {
            "width_mm": _tidy(layout.card.width_mm),
            "height_mm": _tidy(layout.card.height_mm),
            "size": layout.card.size,
        },
        "reading": None if plan.reading is None else _reading_to_dict(plan.reading),
        "lights": [
            {
                "label": light.label,
                "x_mm": _tidy(light.x_mm),
                "y_mm": _tidy(light.y_mm),
                "diameter_mm": _tidy(light.diameter_mm),
                "uncertainty_mm": _tidy(light.uncertainty_mm),
                "sure": light.sure,
                "positive_side_deg": _tidy_or_none(sides.get(light.label)),
            }
            for light in layout.lights
        ],
        "battery": _battery_to_dict(layout.battery, plan.settings.get("cell")),
        "window": None if layout.window is None else _points_to_list(layout.window),
        "drawn_lines": [
            {
                "points": _points_to_list(line.points),
                "polarity": line.polarity,
                "uncertainty_mm": _tidy(line.uncertainty_mm),
            }
            for line in layout.drawn_lines
        ],
        "traces": None
        if plan.traces is None
        else {
            "tape_width_mm": _tidy(plan.traces.tape_width_mm),
            "gap_mm": _tidy(plan.traces.gap_mm),
            "positive": _points_to_list(plan.traces.positive),
            "negative": _points_to_list(plan.traces.negative),
        },
        "problems": [_problem_to_dict(problem) for problem in plan.problems],
        "moves": [
            {
                "about": move.about,
                "from_mm": _point_to_list(move.from_mm),
                "to_mm": _point_to_list(move.to_mm),
                "by_mm": _tidy(move.by_mm),
                "why": move.why,
            }
            for move in plan.moves
        ],
        "settings": dict(plan.settings),
    }
    result.update(plan.extras)
    return result


def plan_from_dict(value: object) -> Plan:
    """The plan or layout that a file holds. Marks without an uncertainty count as exact."""
    top = _mapping(value, "the file")
    schema = top.get("schema")
    if schema not in (PLAN_SCHEMA, LAYOUT_SCHEMA):
        raise LayoutFileError(
            f"This is not a plan or layout file: its schema is {schema!r}, not {PLAN_SCHEMA!r} or {LAYOUT_SCHEMA!r}."
        )
    try:
        layout = _layout_from(top)
        return Plan(
            layout=layout,
            traces=_traces_from(top.get("traces")),
            problems=tuple(
                _problem_from(item, f"problems[{i}]")
                for i, item in enumerate(_list(top.get("problems", []), "problems"))
            ),
            moves=tuple(
                _move_from(item, f"moves[{i}]") for i, item in enumerate(_list(top.get("moves", []), "moves"))
            ),
            reading=_reading_from(top.get("reading")),
            settings=dict(_mapping(top.get("settings") or {}, "settings")),
            extras={key: item for key, item in top.items() if key not in _OWN_KEYS},
        )
    except ValueError as error:  # a dataclass refused the value; its message names the field
        raise LayoutFileError(f"This file can't be used: {error}.") from error


def _layout_from(top: Mapping[str, Any]) -> Layout:
    card = _mapping(top.get("card"), "card")
    size = card.get("size")
    lights = []
    for index, item in enumerate(_list(top.get("lights", []), "lights")):
        where = f"lights[{index}]"
        light = _mapping(item, where)
        lights.append(
            LightMark(
                label=str(light.get("label", f"L{index + 1}")),
                x_mm=_millimetres(light, "x_mm", where),
                y_mm=_millimetres(light, "y_mm", where),
                diameter_mm=_millimetres(light, "diameter_mm", where, 3.0),
                uncertainty_mm=_number(light, "uncertainty_mm", where, 0.0),
                sure=_flag(light, "sure", where),
            )
        )
    battery = None
    if top.get("battery") is not None:
        mark = _mapping(top["battery"], "battery")
        battery = BatteryMark(
            x_mm=_millimetres(mark, "x_mm", "battery"),
            y_mm=_millimetres(mark, "y_mm", "battery"),
            diameter_mm=_millimetres(mark, "diameter_mm", "battery"),
            uncertainty_mm=_number(mark, "uncertainty_mm", "battery", 0.0),
            diameter_uncertainty_mm=_number(mark, "diameter_uncertainty_mm", "battery", 0.0),
            sure=_flag(mark, "sure", "battery"),
        )
    lines = []
    for index, item in enumerate(_list(top.get("drawn_lines") or [], "drawn_lines")):
        where = f"drawn_lines[{index}]"
        line = _mapping(item, where)
        polarity = line.get("polarity")
        if polarity not in (None, "positive", "negative"):
            raise LayoutFileError(f"{where}.polarity must be positive, negative or null, got {polarity!r}.")
        lines.append(
            DrawnLine(
                _points(line.get("points"), f"{where}.points"),
                polarity,
                _number(line, "uncertainty_mm", where, 0.0),
            )
        )
    return Layout(
        card=Card(
            _millimetres(card, "width_mm", "card"),
            _millimetres(card, "height_mm", "card"),
            None if size is None else str(size),
        ),
        lights=tuple(lights),
        battery=battery,
        window=None if top.get("window") is None else _points(top["window"], "window"),
        drawn_lines=tuple(lines),
    )


def _traces_from(value: object) -> Traces | None:
    if value is None:
        return None
    traces = _mapping(value, "traces")
    return Traces(
        positive=_points(traces.get("positive"), "traces.positive"),
        negative=_points(traces.get("negative"), "traces.negative"),
        tape_width_mm=_number(traces, "tape_width_mm", "traces", 2.5),
        gap_mm=_number(traces, "gap_mm", "traces", 2.5),
    )


def _problem_to_dict(problem: Problem) -> dict[str, Any]:
    return {
        "name": problem.name,
        "level": problem.level,
        "about": list(problem.about),
        "where_mm": _point_to_list(problem.where_mm),
        "measured_mm": _tidy_or_none(problem.measured_mm),
        "uncertainty_mm": _tidy(problem.uncertainty_mm),
        "limit_mm": _tidy_or_none(problem.limit_mm),
        "unit": problem.unit,
        "advice": problem.advice,
    }


def _problem_from(item: object, where: str) -> Problem:
    problem = _mapping(item, where)
    level = problem.get("level")
    if level not in ("must-fix", "look-again"):
        raise LayoutFileError(f"{where}.level must be must-fix or look-again, got {level!r}.")
    return Problem(
        name=str(problem.get("name")),
        level=level,
        about=tuple(str(name) for name in _list(problem.get("about", []), f"{where}.about")),
        where_mm=_point(problem.get("where_mm"), f"{where}.where_mm"),
        measured_mm=_number_or_none(problem, "measured_mm", where),
        uncertainty_mm=_number(problem, "uncertainty_mm", where, 0.0),
        limit_mm=_number_or_none(problem, "limit_mm", where),
        advice=str(problem.get("advice", "")),
        unit=str(problem.get("unit", "mm")),
    )


def _move_from(item: object, where: str) -> Move:
    move = _mapping(item, where)
    to_mm = _point(move.get("to_mm"), f"{where}.to_mm")
    from_mm = to_mm if move.get("from_mm") is None else _point(move["from_mm"], f"{where}.from_mm")
    return Move(str(move.get("about")), from_mm, to_mm, str(move.get("why", "")))


def _reading_to_dict(reading: Reading) -> dict[str, Any]:
    return {
        "photo": reading.photo,
        "square_kind": reading.square_kind,
        "square_side_mm": reading.square_side_mm,
        "uncertainty_mm": _tidy(reading.uncertainty_mm),
        "sure": reading.sure,
        "doubts": list(reading.doubts),
        "turn_deg": reading.turn_deg,
    }


def _reading_from(value: object) -> Reading | None:
    if value is None:
        return None
    reading = _mapping(value, "reading")
    kind = reading.get("square_kind")
    if kind not in (None, "coded", "plain"):
        raise LayoutFileError(f"reading.square_kind must be coded, plain or null, got {kind!r}.")
    return Reading(
        photo=str(reading.get("photo", "")),
        square_kind=kind,
        square_side_mm=_number_or_none(reading, "square_side_mm", "reading"),
        uncertainty_mm=_number(reading, "uncertainty_mm", "reading", 0.0),
        sure=_flag(reading, "sure", "reading"),
        doubts=tuple(str(doubt) for doubt in _list(reading.get("doubts", []), "reading.doubts")),
        turn_deg=int(_number(reading, "turn_deg", "reading", 0.0)),
    )


def _battery_to_dict(battery: BatteryMark | None, cell: str | None) -> dict[str, Any] | None:
    if battery is None:
        return None
    return {
        "x_mm": _tidy(battery.x_mm),
        "y_mm": _tidy(battery.y_mm),
        "diameter_mm": _tidy(battery.diameter_mm),
        "uncertainty_mm": _tidy(battery.uncertainty_mm),
        "diameter_uncertainty_mm": _tidy(battery.diameter_uncertainty_mm),
        "sure": battery.sure,
        "cell": cell,
    }


def _tidy(value: float) -> float:
    return round(float(value), _PLACES) + 0.0  # + 0.0 turns -0.0 into 0.0


def _tidy_or_none(value: float | None) -> float | None:
    return None if value is None else _tidy(value)


def _point_to_list(point: Point) -> list[float]:
    return [_tidy(point[0]), _tidy(point[1])]


def _points_to_list(points: Polyline) -> list[list[float]]:
    return [_point_to_list(point) for point in points]


def _mapping(value: object, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise LayoutFileError(f"This file can't be used: {where} should be an object in braces.")
    return value


def _list(value: object, where: str) -> Sequence[Any]:
    if not isinstance(value, list):
        raise LayoutFileError(f"This file can't be used: {where} should be a list in square brackets.")
    return value


def _as_number(value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise LayoutFileError(f"This file can't be used: {where} should be a number, not {value!r}.")
    return float(value)


def _number(record: Mapping[str, Any], key: str, where: str, default: float | None = None) -> float:
    if record.get(key) is None:
        if default is None:
            raise LayoutFileError(f"This file can't be used: {where}.{key} is missing.")
        return default
    return _as_number(record[key], f"{where}.{key}")


def _number_or_none(record: Mapping[str, Any], key: str, where: str) -> float | None:
    return None if record.get(key) is None else _as_number(record[key], f"{where}.{key}")


def _flag(record: Mapping[str, Any], key: str, where: str) -> bool:
    value = record.get(key, True)
    if not isinstance(value, bool):
        raise LayoutFileError(
            f"This file can't be used: {where}.{key} should be true or false, not {value!r}."
        )
    return value


def _place(value: float, where: str) -> float:
    if abs(value) > LARGEST_MM:
        raise LayoutFileError(
            f"This file can't be used: {where} is {value:g} mm, more than {LARGEST_MM:g} mm; cards are smaller."
        )
    return value


def _millimetres(record: Mapping[str, Any], key: str, where: str, default: float | None = None) -> float:
    return _place(_number(record, key, where, default), f"{where}.{key}")


def _point(value: object, where: str) -> Point:
    pair = _list(value, where)
    if len(pair) != 2:
        raise LayoutFileError(f"This file can't be used: {where} should be two numbers, x and y.")
    x, y = (_place(_as_number(part, f"{where}[{i}]"), f"{where}[{i}]") for i, part in enumerate(pair))
    return (x, y)


def _points(value: object, where: str) -> Polyline:
    return tuple(_point(item, f"{where}[{i}]") for i, item in enumerate(_list(value, where)))
