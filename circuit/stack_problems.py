"""What is wrong with a closed card's heights: the switch stays on, won't close, lights touch the front.

In:    a `Stack`, the marks, the parts.
Out:   `Problem`s, each with what is measured and needed and which foam would do.
"""

from __future__ import annotations

from dataclasses import replace

from circuit.foam_words import foam_words, height_words
from circuit.layout import Layout, Point, Problem
from circuit.settings import Settings
from circuit.stack import CLEAR_OVER_LIGHT_MM, LEAST_AIR_MM, SAME_MM, Stack, most_air_mm
from circuit.switch import beside_limit_mm

# Foam differs from its name and gives under a hand; from memory, no source.
FOAM_UNCERTAINTY_SHARE = 0.05


def stack_problems(stack: Stack, layout: Layout, settings: Settings) -> tuple[Problem, ...]:
    """What is wrong with the heights, each with what is measured and needed and which foam would do.
    Empty without a battery circle or lights to speak of, or where no foam was named and one would do."""
    found = []
    if layout.battery is not None:
        found += _switch_problems(stack, layout.battery.centre, settings)
        found += _small_cell(layout.battery.centre, settings)
    if layout.lights and stack.heights.foam and stack.heights.over_lights_mm < CLEAR_OVER_LIGHT_MM - SAME_MM:
        found.append(_light_problem(stack, layout, settings))
    return tuple(found)


def _switch_problems(stack: Stack, where: Point, settings: Settings) -> list[Problem]:
    """At most one: the air under the lid is none, little or much."""
    if not stack.heights.foam:
        return [_no_foam(where, stack, settings)]
    cell, units, air = settings.cell, settings.units, stack.heights.gap_mm
    # What was named may be thinner than its name, or be pressed thinner.
    slack_mm = FOAM_UNCERTAINTY_SHARE * stack.heights.foam_mm
    left = f"{height_words(air, units)} of air is left under the lid"
    name, limit_mm, outcome = "", LEAST_AIR_MM, ""
    if air <= SAME_MM:
        name, outcome = "switch-stays-on", "the lid lies on the cell and the lights stay on"
    elif air < LEAST_AIR_MM - SAME_MM:
        name, outcome = "switch-may-stay-on", f"only {left}, so it may close by itself in the envelope"
    elif air > most_air_mm(settings) + SAME_MM:
        name, limit_mm = "switch-hard-to-close", most_air_mm(settings)
        outcome = f"{left}, so a press may not reach the cell"
    if not name:
        return []
    advice = (
        f"The foam is {height_words(stack.heights.foam_mm, units)} high and the {cell.name} "
        f"{height_words(cell.height_mm, units)}, with both tapes and the dot "
        f"{height_words(stack.heights.foam_mm - air, units)}: {outcome}. "
        f"{_span(stack, settings)} would do{_which(stack, settings)}"
    )
    problem = _of_battery(name, where, air, slack_mm, limit_mm, advice)
    return [replace(problem, level="must-fix") if name == "switch-stays-on" else problem]


def _small_cell(where: Point, settings: Settings) -> list[Problem]:
    """Whether both tapes find room inside the cell's rim, which is what makes a cell put in upside down harmless."""
    room_mm, needed_mm = beside_limit_mm(settings), settings.trace_offset_mm
    if room_mm >= needed_mm - SAME_MM:
        return []
    advice = (
        f"A {settings.cell.name} is too small for both tapes to keep clear of its rim: put in upside down, a "
        "press would short it. Write “+ up” beside its place, or use a narrower tape and gap, or a larger cell."
    )
    return [_of_battery("small-cell", where, room_mm, 0.0, round(needed_mm, 3), advice)]


def _no_foam(where: Point, stack: Stack, settings: Settings) -> Problem:
    cell = settings.cell
    advice = (
        f"No layers of the foams in the parts list come to {_span(stack, settings)}, which a {cell.name} of "
        f"{height_words(cell.height_mm, settings.units)} needs under these lights. Look for such a foam, or build "
        "it up with strips of card."
    )
    needed_mm = round(LEAST_AIR_MM + stack.heights.foam_mm - stack.heights.gap_mm, 3)
    return _of_battery("no-foam-fits", where, None, 0.0, needed_mm, advice)


def _of_battery(
    name: str, where: Point, measured: float | None, uncertainty: float, limit: float, advice: str
) -> Problem:
    """One to look at again."""
    figure = None if measured is None else round(measured, 3)
    return Problem(name, "look-again", ("battery",), where, figure, round(uncertainty, 3), limit, advice)


def _light_problem(stack: Stack, layout: Layout, settings: Settings) -> Problem:
    units = settings.units
    touching = stack.heights.over_lights_mm <= 0
    light_mm = stack.heights.foam_mm - stack.heights.over_lights_mm
    outcome = (
        "the front card can't lie flat over them"
        if touching
        else "a press beside one bends the front on to it"
    )
    return Problem(
        name="lights-touch-front",
        level="must-fix" if touching else "look-again",
        about=tuple(light.label for light in layout.lights),
        where_mm=layout.lights[0].centre,
        measured=round(stack.heights.over_lights_mm, 3),
        uncertainty=round(FOAM_UNCERTAINTY_SHARE * stack.heights.foam_mm, 3),
        limit=CLEAR_OVER_LIGHT_MM,
        advice=(
            f"The foam is {height_words(stack.heights.foam_mm, units)} high and the lights on their tape "
            f"{height_words(light_mm, units)}: {outcome}. "
            f"{height_words(light_mm + CLEAR_OVER_LIGHT_MM, units)} of foam or more clears them"
            f"{_which(stack, settings)}"
        ),
    )


def _span(stack: Stack, settings: Settings) -> str:
    below_mm = stack.heights.foam_mm - stack.heights.gap_mm  # cell, tapes and dot
    low = height_words(below_mm + LEAST_AIR_MM, settings.units)
    high = height_words(below_mm + most_air_mm(settings), settings.units)
    return f"{low} to {high} of foam"


def _which(stack: Stack, settings: Settings) -> str:
    """`, such as one layer of 3.2 mm and one of 0.8 mm.` or just the full stop."""
    return f", such as {foam_words(stack.would_do, settings)}." if stack.would_do else "."
