"""The build sheet's words: supplies, runs, directions, for one very card.

In:    a `Build`.
Out:   plain text, its lengths in the maker's units.
"""

from __future__ import annotations

from circuit.foam_words import foam_words, height_words
from circuit.layout import Problem
from circuit.lengths import format_length, long_length
from circuit.plan import Plan
from circuit.settings import Corners, Units
from circuit.supplies import Supplies, light_tape_mm, spare_lights
from circuit.tape_list import Run
from circuit.telling import CORNER_WORDS, counted, listed, move_words, new_place, units_of_moves
from cli.pages.build_data import Build
from cli.pages.pieces import by, pieces_of

_SIDES = ("right", "bottom right", "bottom", "bottom left", "left", "top left", "top", "top right")
_WAYS = ("right", "down and right", "down", "down and left", "left", "up and left", "up", "up and right")

_EIGHTH_DEG = 45.0  # of a turn, one for each word


def way(heading_deg: float) -> str:
    """A direction of going, as one says it of a card that lies before one."""
    return _WAYS[round(heading_deg / _EIGHTH_DEG) % 8]


def side(direction_deg: float) -> str:
    """A side of something, seen from its middle."""
    return _SIDES[round(direction_deg / _EIGHTH_DEG) % 8]


def turning(turn_deg: float) -> str:
    """The hand to which a turn goes, for degrees that count clockwise."""
    return "right" if turn_deg > 0 else "left"


def then_words(run: Run, corners: Corners) -> str:
    """What comes at a run's end."""
    if run.then is None:
        return "end: snip off"
    if run.then.kind == "round the free end":
        return "round the free end"
    verb = CORNER_WORDS[corners] if run.then.kind == "fold" else "ease round"
    return f"{verb} {turning(run.then.turn_deg)} {abs(run.then.turn_deg):.0f}°"


def place_words(run: Run) -> str:
    """Where a run lies, when it is not simply on the card."""
    return {
        "card": "",
        "flap": "over lid, ramp and tab, on",
        "under the lid": "under the lid, outwards",
    }[run.place]


def problem_words(problem: Problem) -> str:
    """A problem's advice, led by whom it is about unless it names them itself."""
    if not problem.about or any(name in problem.advice for name in problem.about):
        return problem.advice
    return f"{', '.join(problem.about)}: {problem.advice}"


def move_lines(plan: Plan, units: Units, most: int) -> list[str]:
    """The first moves from the old mark, each with its new place from the card's two nearest edges."""
    units = units_of_moves(plan, units)
    return [
        f"Suggested: {move_words(move, units)}, {new_place(move, plan.layout.card, units)}."
        for move in plan.moves[:most]
    ]


def light_kinds(build: Build) -> dict[str, list[str]]:
    """Colour -> labels of the lights that have it, the most usual one first."""
    kinds: dict[str, list[str]] = {}
    for light in build.plan.layout.lights:
        kinds.setdefault(build.colours.get(light.label, build.settings.light.colour), []).append(light.label)
    return dict(sorted(kinds.items(), key=lambda item: -len(item[1])))


def colour_words(build: Build) -> str:
    """Which light has which colour; empty where all are alike."""
    kinds = light_kinds(build)
    if len(kinds) < 2:
        return ""
    usual, *others = kinds
    named = "; ".join(f"{', '.join(kinds[kind])}: {kind}" for kind in others)
    return f"{named}; all others: {usual}."


def branch_name(build: Build, number: int) -> str:
    """`the branch`, or `branch 2` where there are more of them."""
    return "the branch" if len(build.plan.branches) < 2 else f"branch {number}"


def strips_words(build: Build) -> str:
    """`one strip of 300.0 mm`, `one strip of 300.0 mm and one of 85.0 mm`."""
    assert build.tapes is not None
    first, *others = (format_length(strip_mm, build.settings.units) for strip_mm in build.tapes.strips_mm)
    return listed([f"one strip of {first}", *(f"one of {other}" for other in others)])


def supply_lines(build: Build, needs: Supplies) -> list[str]:
    """The list of what to have at hand, for all copies."""
    units, settings, switch, tapes = build.settings.units, build.settings, build.switch, build.tapes
    lines = []
    if tapes is not None:
        many = needs.copies > 1 or len(tapes.strips_mm) > 1
        each = f" ({strips_words(build)}{' a card' if needs.copies > 1 else ''})" if many else ""
        lines.append(
            f"copper tape, {height_words(needs.strip_width_mm, units)} wide: {long_length(needs.tape_mm, units)}{each}"
        )
    kinds = light_kinds(build)
    for kind, labels in kinds.items():
        count = needs.copies * len(labels)
        spare = "" if not count else f", and {spare_lights(count)} to spare"
        lines.append(f"{settings.light.name} {'light' if count == 1 else 'lights'}, {kind}: {count}{spare}")
    lines.append(f"{settings.cell.name} {'cell' if needs.cells == 1 else 'cells'}: {needs.cells}")
    lines.append(_foam_line(build, needs))
    border = f"{format_length(needs.border_foam_width_mm, units)} wide, one layer under the card's foam"
    if build.plan.branches:
        joints = counted(needs.copies * len(build.plan.branches), "joint")
        lines.append(f"for {joints}: conductive glue, if you have it")
    if switch is None:
        return [*lines, f"thin card: strips {border}", *_clear_at_joints(build, needs)]
    pieces = pieces_of(settings, switch)
    flaps = "a piece" if needs.copies == 1 else f"{needs.copies} pieces"
    lines.append(f"thin card: {flaps} of {by(pieces.flap_mm, units)} for the flap; strips {border}")
    over = f", {counted(needs.lights, 'piece')} of {by(light_tape_mm(settings), units)} over the lights"
    lines.append(
        f"clear tape: {long_length(needs.clear_tape_mm, units)} cut {format_length(pieces.cover_mm[0], units)} wide"
        f"{over if needs.lights else ''}"
    )
    lines.append("thin paper for the dot; needle, scissors, ruler, glue stick")
    return lines


def _clear_at_joints(build: Build, needs: Supplies) -> list[str]:
    """Clear tape for a card that has no switch to say it with."""
    return (
        [f"clear tape: {long_length(needs.clear_tape_mm, build.settings.units)}"]
        if build.plan.branches
        else []
    )


def _foam_line(build: Build, needs: Supplies) -> str:
    units, each = build.settings.units, "" if len(build.foam) == 1 else " of each"
    kinds = f", {foam_words(build.foam, build.settings)}" if build.foam else ""
    round_card = (
        f"{long_length(needs.border_foam_mm, units)}{each} round the card, "
        f"{format_length(needs.border_foam_width_mm, units)} wide"
    )
    if build.switch is None:
        return f"foam{kinds}: {round_card}"
    wide = format_length(needs.frame_foam_width_mm, units)
    return f"foam{kinds}: {long_length(needs.frame_foam_mm, units)}{each} round the cell, {wide} wide; {round_card}"
