"""What the views show of a plan, as plain values for the templates: words, places, the picture.

In:    a planned card, the maker's settings, the plan of the marks as they are on the paper.
Out:   a JSON value; every sentence is ready to be read.
Fails: never.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from circuit.cautions import caution_lines
from circuit.check.marks import cells_that_fit
from circuit.layout import Point
from circuit.lengths import format_length, limit_length
from circuit.parts import default_parts
from circuit.plan import Plan
from circuit.rules import limit_of
from circuit.settings import Settings
from circuit.telling import (
    how_small,
    joint_or_moves,
    move_words,
    numbered_problems,
    sentence,
    strip_words,
    verdict,
)
from circuit.whereabouts import place
from cli.phone.on_paper import paper_steps
from cli.phone.questions import questions_of
from vision.drawing.on_screen import plan_svg
from vision.drawing.screen_tags import BATTERY_NAME

if TYPE_CHECKING:
    from circuit.plan_card import PlannedCard


def view_of(planned: PlannedCard, settings: Settings, read: Plan) -> dict[str, Any]:
    """All that the page shows of a planned card, as JSON, in the maker's units. `read`: as the photo gave it."""
    plan, units = planned.plan, settings.units
    layout = plan.layout
    return {
        "verdict": verdict(plan),
        "tone": _tone(plan),
        "card": [layout.card.width_mm, layout.card.height_mm],
        "about_card": _about(plan, settings),
        "problems": [
            {
                "number": number,
                "level": problem.level,
                "rule": problem.name,
                "text": problem.advice,
                "where": list(problem.where_mm),
                "about": list(problem.about),
            }
            for number, problem in numbered_problems(plan)
        ],
        "cells": _cells(plan, settings),
        "tape": _whole_tape(settings),
        "moves": [
            {"about": move.about, "text": sentence(move_words(move, units)), "to": list(move.to_mm)}
            for move in plan.moves
        ],
        "moves_are": how_small(plan, units),
        "questions": [
            {
                "id": question.id,
                "kind": question.kind,
                "about": question.about,
                "where": None if question.where_mm is None else list(question.where_mm),
                "says": question.says,
                "asks": list(question.asks),
            }
            for question in questions_of(plan, units)
        ],
        "marks": _marks(plan, settings),
        "choice": joint_or_moves(plan, units),
        "notes": [*planned.notes, *planned.details],
        "cautions": list(caution_lines(settings)),
        "drawn": _drawn(plan),
        "paper": list(paper_steps(read.layout, layout, units)),
        "limits": _limits(settings),
        "units": units,
        "svg": plan_svg(plan, settings),
    }


def _tone(plan: Plan) -> str:
    """Which sign stands before the verdict."""
    if plan.must_fix:
        return "fix"
    if plan.problems or not plan.layout.lights:
        return "look"
    return "doubt" if plan.reading and plan.reading.doubtful else "ready"


def _cells(plan: Plan, settings: Settings) -> list[str]:
    """The cells that would mend a circle that is not the chosen one's."""
    battery = plan.layout.battery
    if battery is None or not any(problem.name == "cell-mismatch" for problem in plan.problems):
        return []
    return [cell.name for cell in cells_that_fit(battery, settings) if cell.name != settings.cell.name]


def _whole_tape(settings: Settings) -> dict[str, str] | None:
    """That the strip is twice as wide as it was likely meant, and the trace that was."""
    tape = default_parts().tape_of_width(settings.tape_width_mm)
    if tape is None:
        return None
    half_mm, words = tape.width_mm / 2, strip_words(settings.tape_width_mm, settings.units)
    half = limit_length(half_mm, settings.units)
    return {"text": f"{words}, each trace is {half} wide.", "trace": f"{half_mm:g}mm", "half": half}


def _about(plan: Plan, settings: Settings) -> str:
    count, card, units = len(plan.layout.lights), plan.layout.card, settings.units
    width, height = (format_length(mm, units) for mm in (card.width_mm, card.height_mm))
    size = f"{width.removesuffix(f' {units}')} × {height}".replace(" ", "\N{NO-BREAK SPACE}")
    lights = f"{count} light" if count == 1 else f"{count} lights"
    return f"{lights} · {settings.cell.name} · {size}"


def _drawn(plan: Plan) -> str:
    """What the picture shows, for who can't see it; the lists beside it say the rest."""
    count = len(plan.layout.lights)
    parts = ["1 light" if count == 1 else f"{count} lights"]
    parts += [] if plan.layout.battery is None else ["the battery circle"]
    parts += (
        ["no tape, since none could be laid"]
        if plan.traces is None
        else ["the positive and the negative tape"]
    )
    parts += (
        ["a branch joined to it" if len(plan.branches) == 1 else "branches joined to it"]
        if plan.branches
        else []
    )
    parts += [] if plan.layout.window is None else ["the window"]
    parts += [f"{len(plan.problems)} problems, listed below"] if plan.problems else []
    parts += [f"arrows for {len(plan.moves)} suggested moves"] if plan.moves else []
    return ", ".join(parts)


def _marks(plan: Plan, settings: Settings) -> list[dict[str, Any]]:
    layout, units = plan.layout, settings.units
    marks = [_mark(light.label, light.label, light.centre, light.sure) for light in layout.lights]
    if layout.battery is not None:
        marks.append(_mark("battery", BATTERY_NAME, layout.battery.centre, layout.battery.sure))
    places = [tuple(mark["at"]) for mark in marks]
    for mark in marks:
        x, y = mark["at"]
        others = [math.dist((x, y), other) for other in places if other != (x, y)]
        mark["nearest_mm"] = round(min(others, default=layout.card.width_mm), 2)
        mark["where"] = place(x, y, layout.card, units)
    return marks


def _mark(about: str, name: str, at: Point, sure: bool) -> dict[str, Any]:
    return {"about": about, "name": name, "at": [round(at[0], 2), round(at[1], 2)], "sure": sure}


def _limits(settings: Settings) -> dict[str, float]:
    """What the drag tells distances against. [mm]"""
    return {
        "lights": limit_of(settings, "lights-too-close"),
        "edge": limit_of(settings, "light-near-edge"),
        "half_light": min(settings.light.length_mm, settings.light.width_mm) / 2,
        "zone": settings.battery_zone_radius_mm,
        "cell": settings.cell.diameter_mm / 2,
    }
