"""The build sheet's numbered steps, for one very card: each can be done with what the ones before it left.

In:    a `Build`.
Out:   headings and plain text, lengths in the maker's units.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.lengths import format_length
from circuit.rules import limit_of
from circuit.stack import foam_words, height_words
from circuit.switch import CORNER_CUT_MM, COVER_BESIDE_TAPE_MM, COVER_PAST_TAB_MM, Switch
from circuit.tape_list import TapePath
from cli.pages.build_data import Build
from cli.pages.build_words import side, way


@dataclass(frozen=True, slots=True)
class Step:
    """One numbered step: what to do in a few words, and how."""

    heading: str
    text: str


def steps(build: Build) -> list[Step]:
    """From the printed sheet to the closed card; none without traces."""
    if build.plan.traces is None or build.tapes is None:
        return []
    if build.switch is None:
        return [_prick(), _cut(build), _negative(build), _positive(build), _fix(build)]
    return [
        _prick(),
        _cut(build),
        _flap(build, build.switch),
        _dot(build, build.switch),
        _negative(build),
        _cover(build, build.switch),
        _frame(build, build.switch),
        _tab(build, build.switch),
        _try(build),
        _fix(build),
        _close(build, build.switch),
    ]


def bare_mm(switch: Switch) -> tuple[float, float]:
    """Bare copper under the cell: from the negative tape's end to where the clear tape begins; and of the positive
    tape under the lid, likewise. [mm]"""
    card = math.dist(switch.bare_mm[0], switch.bare_mm[1])
    return card, math.dist(switch.contact_mm[0], switch.contact_mm[1])


def clear_strip_mm(tape_width_mm: float) -> float:
    return tape_width_mm + 2 * COVER_BESIDE_TAPE_MM


def _prick() -> Step:
    return Step(
        "Prick the places through",
        "Print the card at true size. Lay it on the back card, edge on edge, and prick through every light's cross, "
        "the folds and the cell's middle. Draw round the cell there.",
    )


def _cut(build: Build) -> Step:
    assert build.tapes is not None
    units = build.settings.units
    return Step(
        f"Cut one strip of {format_length(build.tapes.strip_mm, units)}",
        f"From copper tape {height_words(build.tapes.strip_width_mm, units)} wide. Split it lengthwise into two of "
        f"{height_words(build.tapes.strip_width_mm / 2, units)}: one for −, one for +.",
    )


def _flap(build: Build, switch: Switch) -> Step:
    units = build.settings.units
    under, bare, past, wide = (
        format_length(length, units)
        for length in (
            switch.wrap_mm,
            bare_mm(switch)[1],
            switch.wrap_mm - switch.shape.half_mm,
            clear_strip_mm(build.settings.tape_width_mm),
        )
    )
    return Step(
        "Tape the flap, flat on the table",
        f"Cut it out of thin card by the pattern{_creased(switch)} and turn it over. On its underside stick one end of "
        f"the + tape, {under} of it: from {past} past the lid's middle to the free end. Go round the free end and "
        "along the outer face over lid, ramp and tab; let the rest hang. On the underside put clear tape, "
        f"{wide} wide, over "
        f"the + tape from the free end on; its last {bare} stay bare.",
    )


def _creased(switch: Switch) -> str:
    if switch.tongue == "bent":
        return ""
    return ", crease the tongue at both broken lines (down at the lid, out at its foot), lay it flat again"


def _dot(build: Build, switch: Switch) -> Step:
    units = build.settings.units
    return Step(
        "Glue a paper dot at the cell's middle",
        f"A round of thin paper, {format_length(switch.dot_mm, units)} across. It lifts the bare copper, so that the "
        "cell rests on copper and not on the clear tape.",
    )


def _follow(path: TapePath, sign: str) -> str:
    folds = {0: "no fold", 1: "one fold"}.get(path.folds, f"{path.folds} folds")
    return f"Follow the {sign} list: {folds}{', creased hard' if path.folds else ''}."


def _negative(build: Build) -> Step:
    assert build.tapes is not None and build.plan.traces is not None
    path = build.tapes.negative
    where = "Start"
    if build.switch is not None:
        past = format_length(build.switch.end_run_mm - build.switch.shape.reach_mm, build.settings.units)
        where = f"On the card, over the dot, copper up. Start {past} beyond the cell's middle"
    return Step("Lay the − tape", f"{where} and go {way(path.runs[0].heading_deg)}. {_follow(path, '−')}")


def _cover(build: Build, switch: Switch) -> Step:
    units = build.settings.units
    return Step(
        "Cover the − tape with clear tape",
        f"A strip {format_length(clear_strip_mm(build.settings.tape_width_mm), units)} x "
        f"{format_length(math.dist(switch.cover_mm[0], switch.cover_mm[1]), units)}, over the dotted box: from "
        f"beside the dot to {format_length(COVER_PAST_TAB_MM, units)} past the tab's place, never under a light. The "
        f"cell's rim is +, so it must not reach the − tape; the first {format_length(bare_mm(switch)[0], units)} "
        "under the cell stay bare.",
    )


def _frame(build: Build, switch: Switch) -> Step:
    units = build.settings.units
    inner = format_length(math.dist(switch.opening_mm[0], switch.opening_mm[1]), units)
    foam = foam_words(build.foam, build.settings) if build.foam else "foam"
    return Step(
        "Stick the foam frame to the card",
        f"Round the cell's place, on all four sides, so that it can't slide out: {foam}; two strips of "
        f"{format_length(2 * switch.shape.half_mm, units)}, two of {inner} between them, {inner} x {inner} free "
        f"inside; cut {format_length(CORNER_CUT_MM, units)} off the corners like the lid's. It crosses the covered − "
        "tape. Leave its upper liner on.",
    )


def _tab(build: Build, switch: Switch) -> Step:
    assert build.tapes is not None
    down = (
        "Stand the tongue upright against the foam"
        if switch.tongue == "upright"
        else "Let the ramp come down in an easy bend"
    )
    return Step(
        "Glue the tab to the card, then lay the + tape",
        f"Lay the lid on the frame, taped outer face up. {down} and glue the tab's "
        f"underside to the card at the {side(switch.hinge_deg)} of the cell, over the covered − tape. Then lay the + "
        f"tape on from the tab. {_follow(build.tapes.positive, '+')} Rub both tapes down.",
    )


def _positive(build: Build) -> Step:
    assert build.tapes is not None
    return Step("Lay the + tape", f"Start at the cell. {_follow(build.tapes.positive, '+')}")


def _try(build: Build) -> Step:
    cell = build.settings.cell.name
    return Step(
        "Try each light before you fix it",
        f"Lift the lid, put the {cell} into the frame with its + face up, lay the lid down. Lay each light on its "
        "cross, its + side as in the list, hold it there and press the lid's middle: it must light. Dark: turn it "
        "round, rub the tapes, look under 'What you see'. Then take the cell out; a loop of sticky tape lifts it.",
    )


def _fix(build: Build) -> Step:
    back = "" if build.switch is None else " Then put the cell back, + face up, and try them all again."
    return Step(
        "With the cell out, fix the lights",
        "Each light bridges both tapes, its + side on the + tape, bare copper under both its ends. Fix it in the "
        f"way your tape and lights ask for.{back}",
    )


def _close(build: Build, switch: Switch) -> Step:
    wide = format_length(limit_of(build.settings, "light-near-edge"), build.settings.units)
    where = ", its window over the lights" if build.plan.layout.window is not None else ""
    return Step(
        "Close the lid and the card",
        "Pull the frame's liner and press the lid down all round: the cell can't come out. (Left on, you can change "
        f"the cell later, but a child can get at it too.) Stick foam {wide} wide round the card, one layer of card "
        f"higher than the frame, none where they would meet. Lay the front on{where}, mark where to press. For the "
        "post, first lay a paper strip over the cell and out at a side, the liner left on under it: it is pulled on "
        "arrival.",
    )
