"""What two plans differ in: marks in millimetres, tape, parts, rules.

In:    two plans; for the same card read twice, or for two variations of a design.
Out:   ready sentences.
Fails: never; plans that agree give no sentence.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from circuit.joint import lines_of
from circuit.layout import BatteryMark, LightMark, Point, Polyline, Problem
from circuit.lengths import format_length, format_shift
from circuit.plan import Plan
from circuit.polyline import length
from circuit.same_lights import SameLights, same_lights
from circuit.settings import Units
from circuit.spaced_anew import RowSpacedAnew, whole_row_gap_mm
from circuit.telling import amount, counted, doubts, listed, sentence, verdict
from circuit.whereabouts import from_top_left

LEAST_MM = 0.05  # lengths are shown to a tenth: less shows as nothing
_WITH_PLACES = 2  # chosen
_CARD_MM = 0.3  # chosen: below what scissors do
_WINDOW_MM = 1.0  # chosen: a pencil outline is no closer
_PARTS = (("light", "lights' size"), ("colour", "lights' colour"), ("cell", "cell"))
_LENGTHS = (("tape_width_mm", "a trace's width"), ("gap_mm", "gap between the traces"))


def differences(before: Plan, after: Plan, units: Units = "mm") -> tuple[str, ...]:
    """Sentences on what `after` has otherwise than `before`, the card first, the rules last."""
    lights = same_lights(before, after)
    return (
        *_card(before, after, units),
        *_parts(before.settings, after.settings, units),
        *_lights(lights, units),
        *_battery(before.layout.battery, after.layout.battery, units),
        *_window(before.layout.window, after.layout.window, units),
        *_traces(before, after, units),
        *(_numbers(before, after) if lights.strangers else _problems(before, after, lights, units)),
        *_doubts(before, after, units),
    )


def _card(before: Plan, after: Plan, units: Units) -> tuple[str, ...]:
    a, b = before.layout.card, after.layout.card
    if max(abs(a.width_mm - b.width_mm), abs(a.height_mm - b.height_mm)) < _CARD_MM:
        return ()
    sizes = [f"{format_length(c.width_mm, units)} x {format_length(c.height_mm, units)}" for c in (b, a)]
    return (f"The card is {sizes[0]}, was {sizes[1]}.",)


def _parts(before: Mapping[str, Any], after: Mapping[str, Any], units: Units) -> tuple[str, ...]:
    said = []
    for key, name in _PARTS:
        if before.get(key) != after.get(key):
            said.append(f"The {name} is {after.get(key, 'not told')}, was {before.get(key, 'not told')}.")
    for key, name in _LENGTHS:
        was, now = before.get(key), after.get(key)
        if isinstance(was, int | float) and isinstance(now, int | float) and abs(now - was) >= LEAST_MM:
            said.append(f"The {name} is {format_length(now, units)}, was {format_length(was, units)}.")
    was_limits, now_limits = before.get("limits") or {}, after.get("limits") or {}
    if was_limits != now_limits:
        names = sorted(
            name for name in {*was_limits, *now_limits} if was_limits.get(name) != now_limits.get(name)
        )
        said.append(f"Limits of your own differ: {', '.join(names)}.")
    return tuple(said)


def _lights(lights: SameLights, units: Units) -> tuple[str, ...]:
    if lights.strangers:
        all_were = [*(a for a, _ in lights.pairs), *lights.gone]
        all_are = [*(b for _, b in lights.pairs), *lights.new]
        was, now = whole_row_gap_mm(all_were), whole_row_gap_mm(all_are)
        told = f"The lights lie elsewhere: {counted(len(all_were), 'light')} before, {len(all_are)} now"
        if was is not None and now is not None:
            gaps = f"{format_length(was, units)} from one to the next before, {format_length(now, units)} now"
            told += f", in a row both times, {gaps}"
        return (f"{told}.",)
    in_rows = {a.label for row in lights.rows for a in row.before}
    alone = [(a, b) for a, b in lights.pairs if a.label not in in_rows]
    moved = [(a, b) for a, b in alone if _shows(a.centre, b.centre, units)]
    said = [_row(row, units) for row in lights.rows]
    said += [f"{_named(a, b)} {_shifted(a, b, units)}." for a, b in moved]
    still = len(alone) - len(moved)
    if said and still:
        where = "lies where it was" if still == 1 else "lie where they were"
        said.append(f"{counted(still, 'light')} {where}.")
    gone, new = _told_apart(lights.gone, lights.new)
    said += _told(gone, "is gone, which lay at", "are gone", units)
    said += _told(new, "is new, at", "are new", units)
    return tuple(said)


def _row(row: RowSpacedAnew, units: Units) -> str:
    """That a row of lights is spaced anew, in place of where each of its lights went."""
    was, now = (format_length(gap_mm, units) for gap_mm in row.gaps_mm)
    ends, ends_before = (f"{lights[0].label} to {lights[-1].label}" for lights in (row.after, row.before))
    how = "wider" if row.gaps_mm[1] > row.gaps_mm[0] else "narrower"
    said = f"The row of {len(row.after)} lights from {ends}{'' if ends == ends_before else f' (was {ends_before})'}"
    said += f" is spaced {how}: {now} from one to the next, was {was}"
    before, after = row.middles_mm
    if math.dist(before, after) > row.uncertainty_mm and _shows(before, after, units):
        said += f"; its middle lies {format_shift(before, after, units, further='further ')}"
    return f"{said}."


def _told_apart(
    gone: tuple[LightMark, ...], new: tuple[LightMark, ...]
) -> tuple[tuple[LightMark, ...], tuple[LightMark, ...]]:
    """The same lights, those that share a label but are not the same renamed `the former L1` and `another L1`."""
    both = {light.label for light in gone} & {light.label for light in new}

    def renamed(lights: tuple[LightMark, ...], word: str) -> tuple[LightMark, ...]:
        return tuple(
            replace(light, label=f"{word} {light.label}") if light.label in both else light
            for light in lights
        )

    return renamed(gone, "the former"), renamed(new, "another")


def _told(lights: tuple[LightMark, ...], one: str, many: str, units: Units) -> list[str]:
    """A few with their places; of more the labels do, since the picture shows where."""
    if len(lights) > _WITH_PLACES:
        return [sentence(f"{listed(light.label for light in lights)} {many}")]
    return [sentence(f"{light.label} {one} {from_top_left(light.centre, units)}") for light in lights]


def _battery(a: BatteryMark | None, b: BatteryMark | None, units: Units) -> tuple[str, ...]:
    if a is None or b is None:
        if a is b:
            return ()
        return ("There is a battery circle now.",) if a is None else ("There is no battery circle any more.",)
    said = []
    if _shows(a.centre, b.centre, units):
        said.append(f"The battery circle {_shifted(a, b, units)}.")
    if abs(a.diameter_mm - b.diameter_mm) >= max(
        LEAST_MM, math.hypot(a.diameter_uncertainty_mm, b.diameter_uncertainty_mm)
    ):
        said.append(
            f"The battery circle is {format_length(b.diameter_mm, units)} across, "
            f"was {format_length(a.diameter_mm, units)}."
        )
    return tuple(said)


def _window(a: Polyline | None, b: Polyline | None, units: Units) -> tuple[str, ...]:
    if a is None or b is None:
        if a is b:
            return ()
        return ("There is a window outline now.",) if a is None else ("There is no window outline any more.",)
    from shapely import LinearRing

    off_mm = LinearRing(a).hausdorff_distance(LinearRing(b))
    if off_mm < _WINDOW_MM:
        return ()
    return (f"The window's outline differs by up to {format_length(off_mm, units)}.",)


def _traces(before: Plan, after: Plan, units: Units) -> tuple[str, ...]:
    a, b = before.traces, after.traces
    if a is None or b is None:
        if a is b:
            return ()
        return ("Traces can be laid now.",) if a is None else ("No traces can be laid any more.",)
    said = []
    was, now = (sum(length(line) for line in lines_of(t)) for t in (a, b))
    if abs(now - was) >= LEAST_MM:
        longer = "longer" if now > was else "shorter"
        said.append(
            f"The traces are {format_length(abs(now - was), units)} {longer}: {format_length(now, units)} in all, "
            f"were {format_length(was, units)}."
        )
    joints = [len(t.branches) for t in (b, a)]
    if joints[0] != joints[1]:
        said.append(f"It has {counted(joints[0], 'joint')}, had {joints[1]}.")
    folds = [sum(len(line) - 2 for line in lines_of(t)) for t in (b, a)]
    if folds[0] != folds[1]:
        said.append(f"They have {counted(folds[0], 'fold')} in all, had {folds[1]}.")
    return tuple(said)


def _problems(before: Plan, after: Plan, lights: SameLights, units: Units) -> tuple[str, ...]:
    now_called = {a.label: b.label for a, b in lights.pairs}
    was = _by_kind(before, now_called)
    now = _by_kind(after, {})
    said = [
        f"New, {_weight(problem)}: {problem.advice}"
        for key, problems in now.items()
        for problem in problems[len(was.get(key, [])) :]
    ]
    said += [
        f"No longer so: {problem.advice}"
        for key, problems in was.items()
        for problem in problems[len(now.get(key, [])) :]
    ]
    for key in was.keys() & now.keys():
        for a, b in zip(was[key], now[key], strict=False):
            said += _changed(a, b, units)
    return tuple(said)


def _numbers(before: Plan, after: Plan) -> tuple[str, ...]:
    """How much is wrong with each of two cards whose lights have nothing to do with each other."""
    was, now = (verdict(replace(plan, corrected_from=())) for plan in (before, after))
    return () if was == now else (f"{now}; before: {was[:1].lower()}{was[1:]}.",)


def _by_kind(plan: Plan, now_called: Mapping[str, str]) -> dict[tuple[str, frozenset[str]], list[Problem]]:
    found: dict[tuple[str, frozenset[str]], list[Problem]] = {}
    for problem in plan.problems:
        about = frozenset(now_called.get(name, name) for name in problem.about)
        found.setdefault((problem.name, about), []).append(problem)
    return found


def _changed(a: Problem, b: Problem, units: Units) -> tuple[str, ...]:
    if a.level != b.level:
        return (f"Now {_weight(b)}, before {_weight(a)}: {b.advice}",)
    if a.measured is None or b.measured is None or a.unit != b.unit or b.unit not in ("mm", "deg"):
        return ()
    least = LEAST_MM if b.unit == "mm" else 0.5
    if abs(a.measured - b.measured) < least:
        return ()
    if min(a.measured, b.measured) < 0:  # one thing inside another: no length that a maker would know
        return (f"Still so, but otherwise than before: {b.advice}",)
    shown = [amount(value, b.unit, units) for value in (b.measured, a.measured)]
    return (f"Still so, {shown[0]} instead of {shown[1]}: {b.advice}",)


def _weight(problem: Problem) -> str:
    """What is to be done about a problem, as the lists of a plan are headed."""
    return "to fix" if problem.level == "must-fix" else "to look at again"


def _doubts(before: Plan, after: Plan, units: Units) -> tuple[str, ...]:
    was, now = doubts(before, units), doubts(after, units)
    return tuple(
        [f"A new doubt: {doubt}" for doubt in now if doubt not in was]
        + [f"No longer in doubt: {doubt}" for doubt in was if doubt not in now]
    )


def _shows(a: Point, b: Point, units: Units) -> bool:
    """Is it told as more than nothing that a mark lies at `b` in place of `a`?"""
    most_mm = max(abs(b[0] - a[0]), abs(b[1] - a[1]))
    return math.dist(a, b) >= LEAST_MM and format_length(most_mm, units) != format_length(0.0, units)


def _shifted(a: LightMark | BatteryMark, b: LightMark | BatteryMark, units: Units) -> str:
    return f"lies {format_shift(a.centre, b.centre, units, further='further ')}{_within(a, b, units)}"


def _within(a: LightMark | BatteryMark, b: LightMark | BatteryMark, units: Units) -> str:
    """That a mark may well not have moved at all."""
    unsure_mm = math.hypot(a.uncertainty_mm, b.uncertainty_mm)
    if math.dist(a.centre, b.centre) > unsure_mm:
        return ""
    return f", less than the {format_length(unsure_mm, units)} that both readings may be off"


def _named(a: LightMark, b: LightMark) -> str:
    return b.label if a.label == b.label else f"{b.label} (was {a.label})"
