"""Other parts with which a card can be laid as it is drawn: a smaller cell, narrower tape, smaller lights.

In:    a layout that can't be laid, the maker's settings, the router.
Out:   one sentence for each kind of part that helps; empty where none does.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from circuit.check import check
from circuit.check.marks import PENCIL_MM
from circuit.layout import BatteryMark, Layout, Problem
from circuit.lengths import format_length
from circuit.moves.router import Router
from circuit.parts import default_parts
from circuit.rules import limit_of
from circuit.settings import Settings

# Narrower than this a tape is hard to split and fold by hand: common practice, no source. [mm]
_NARROWEST_TAPE_MM = 2.0
# Of the router's work, for other parts where moves used it up: chosen, enough for a card of six lights.
_SHARE_AFTER_MOVES = 0.25


def other_parts(layout: Layout, settings: Settings, router: Router) -> tuple[str, ...]:
    """A sentence for each change of parts that was routed and passed the checker; the mildest of its kind."""
    router.left = max(router.left, _SHARE_AFTER_MOVES * router.at_first)
    found: list[str] = []
    told: set[str] = set()
    for kind, sentence, changed, trial in _changes(layout, settings):
        if kind in told or _wrong(check(trial, None, changed)):
            continue
        traces = router.any_lane(trial, changed)
        if traces is not None and not _wrong(check(trial, traces, changed)):
            told.add(kind)
            found.append(sentence)
    return tuple(found)


def _changes(layout: Layout, settings: Settings) -> Iterator[tuple[str, str, Settings, Layout]]:
    """Kind, what would be said, settings, layout: mild changes first within a kind."""
    battery = layout.battery
    if battery is not None:
        cells = {part.diameter_mm: part for part in default_parts().cells.values()}
        smaller = sorted((d for d in cells if d < settings.cell.diameter_mm), reverse=True)
        for diameter in smaller[:2]:
            cell = cells[diameter]
            yield (
                "cell",
                f"With a {cell.name} cell in the same place, all lights stay where they are.",
                replace(settings, cell=cell),
                replace(layout, battery=_circle_for(battery, diameter)),
            )
    if settings.tape_width_mm > _NARROWEST_TAPE_MM:
        tape = format_length(_NARROWEST_TAPE_MM, settings.units)
        yield (
            "tape",
            f"With tape split {tape} wide, all marks stay where they are.",
            replace(settings, tape_width_mm=_NARROWEST_TAPE_MM),
            layout,
        )
    lights = sorted(default_parts().lights.values(), key=lambda part: -part.length_mm)
    for part in lights:
        colour = default_parts().colours.get(settings.light.colour)
        light = part if colour is None else part.in_colour(colour)
        if light.length_mm >= settings.light.length_mm:
            continue
        gap = min(settings.gap_mm, limit_of(settings, "traces-too-close"))
        if light.length_mm <= gap:
            continue
        gap_text = format_length(gap, settings.units)
        yield (
            "light",
            f"With smaller lights ({part.name}) and a gap of {gap_text} under them, all marks stay where they are.",
            replace(settings, light=light, gap_mm=gap),
            layout,
        )
        break  # the next size down, no more: smaller ones are harder to place by hand


def _circle_for(battery: BatteryMark, diameter_mm: float) -> BatteryMark:
    """The circle as it would be drawn round that cell."""
    return replace(battery, diameter_mm=diameter_mm + PENCIL_MM, diameter_uncertainty_mm=0.0)


def _wrong(problems: tuple[Problem, ...]) -> bool:
    return any(problem.level == "must-fix" for problem in problems)
