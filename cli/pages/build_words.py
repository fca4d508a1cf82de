"""The build sheet's words: steps, supplies, directions, for one very card.

In:    a `Build`.
Out:   plain text, its lengths in the maker's units.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.flap import Flap, lights_under
from circuit.layout import Move, Problem
from circuit.lengths import MM_PER_INCH, format_length
from circuit.rules import limit_of
from circuit.settings import Units
from circuit.stack import LEAST_OVER_CELL_MM, MOST_OVER_CELL_MM, foam_words, height_words
from circuit.tape_list import Run, Supplies, TapePath, foam_strip_mm, spare_lights
from circuit.telling import move_words
from cli.pages.build_data import Build

_SIDES = ("right", "bottom right", "bottom", "bottom left", "left", "top left", "top", "top right")
_WAYS = ("right", "down and right", "down", "down and left", "left", "up and left", "up", "up and right")


@dataclass(frozen=True, slots=True)
class Step:
    """One numbered step: what to do in a few words, and how."""

    heading: str
    text: str


def way(heading_deg: float) -> str:
    """A direction of going, as one says it of a card that lies before one."""
    return _WAYS[round(heading_deg / 45.0) % 8]


def side(direction_deg: float) -> str:
    """A side of something, seen from its middle."""
    return _SIDES[round(direction_deg / 45.0) % 8]


def turning(turn_deg: float) -> str:
    return "right" if turn_deg > 0 else "left"


def long_length(mm: float, units: Units) -> str:
    """A length to buy, rounded up: metres to a tenth, or feet and inches; short ones to 5 mm or 1 in."""
    if units == "mm":
        if mm < 1000.0:
            return f"{math.ceil(mm / 5.0 - 1e-9) * 5} mm"
        return f"{math.ceil(mm / 100.0 - 1e-9) / 10:.1f} m"
    inches = math.ceil(mm / MM_PER_INCH - 1e-9)
    feet, rest = divmod(inches, 12)
    if feet < 3:
        return f"{inches} in"
    return f"{feet} ft {rest} in" if rest else f"{feet} ft"


def then_words(run: Run) -> str:
    """What comes at a run's end."""
    if run.then is None:
        return "end: snip off"
    if run.then.kind == "round the free end":
        return "round the free end"
    verb = "fold" if run.then.kind == "fold" else "ease round"
    return f"{verb} {turning(run.then.turn_deg)} {abs(run.then.turn_deg):.0f}°"


def place_words(run: Run) -> str:
    """Where a run lies, when it is not simply on the card."""
    return {
        "card": "",
        "flap": "over the flap, down the tab, on",
        "under the flap": "under the flap, outwards",
    }[run.place]


def problem_words(problem: Problem) -> str:
    """A problem's advice, led by whom it is about unless it names them itself."""
    if not problem.about or any(name in problem.advice for name in problem.about):
        return problem.advice
    return f"{', '.join(problem.about)}: {problem.advice}"


def move_line(move: Move, units: Units) -> str:
    return f"Suggested: {move_words(move, units)}."


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


def supply_lines(build: Build, needs: Supplies) -> list[str]:
    """The list of what to have at hand, for all copies."""
    units, settings, flap, tapes = build.settings.units, build.settings, build.flap, build.tapes
    lines = []
    if tapes is not None:
        each = f" ({format_length(tapes.strip_mm, units)} a card)" if needs.copies > 1 else ""
        lines.append(
            f"copper tape, {height_words(needs.strip_width_mm, units)} wide: {long_length(needs.tape_mm, units)}{each}"
        )
    kinds = light_kinds(build)
    for kind, labels in kinds.items():
        count = needs.copies * len(labels)
        spare = "" if not count else f", and {spare_lights(count)} to spare"
        lines.append(f"{settings.light.name} {'light' if count == 1 else 'lights'}, {kind}: {count}{spare}")
    lines.append(f"{settings.cell.name} {'cell' if needs.cells == 1 else 'cells'}: {needs.cells}")
    each_layer = "" if len(build.foam) == 1 else " of each"
    if build.foam:
        lines.append(f"foam in strips: {foam_words(build.foam, settings)}")
    if flap is not None:
        width, height = flap.side_mm, flap.side_mm + flap.tab_depth_mm
        pieces = "a piece" if needs.copies == 1 else f"{needs.copies} pieces"
        lines.append(
            f"thin card for the flap: {pieces} of {format_length(width, units)} x {format_length(height, units)}"
        )
        lines.append(
            f"foam at the cell: {long_length(needs.flap_foam_mm, units)}{each_layer}, "
            f"{format_length(needs.flap_foam_width_mm, units)} wide"
        )
    lines.append(
        f"foam round the card: {long_length(needs.border_foam_mm, units)}{each_layer}, "
        f"{format_length(needs.border_foam_width_mm, units)} wide"
    )
    if flap is not None:
        lines.append(f"clear tape: {long_length(needs.clear_tape_mm, units)}")
    return lines


def steps(build: Build) -> list[Step]:
    """From the printed sheet to the closed card; none without traces."""
    if build.plan.traces is None or build.tapes is None:
        return []
    found = [_prick(), _cut(build), _negative(build)]
    if build.flap is not None:
        found += [_rim(build, build.flap), _flap(build, build.flap)]
    found.append(_positive(build))
    if build.flap is not None:
        found.append(_foam(build, build.flap))
    found += [_test(build), _fix(), _close(build)]
    return found


def _prick() -> Step:
    return Step(
        "Prick the places through",
        "Print the card at true size. Lay it on the back card, edge on edge, and prick through every light's "
        "cross, the folds and the cell's middle.",
    )


def _cut(build: Build) -> Step:
    assert build.tapes is not None
    units = build.settings.units
    return Step(
        f"Cut one strip of {format_length(build.tapes.strip_mm, units)}",
        f"From tape {height_words(build.tapes.strip_width_mm, units)} wide. Split it lengthwise into two of "
        f"{height_words(build.tapes.strip_width_mm / 2, units)}: one for −, one for +. "
        "The folds and a little to hold it by are counted in.",
    )


def _follow(path: TapePath, sign: str) -> str:
    folds = {0: "no fold", 1: "one fold"}.get(path.folds, f"{path.folds} folds")
    return f"Follow the {sign} list: {folds}. Crease each fold hard and rub the tape down."


def _negative(build: Build) -> Step:
    assert build.tapes is not None and build.plan.traces is not None
    path = build.tapes.negative
    where = "Start"
    if build.plan.layout.battery is not None:
        away = math.dist(build.plan.layout.battery.centre, build.plan.traces.negative[0])
        where = f"Start under the cell, {format_length(away, build.settings.units)} from its middle,"
    return Step(
        "Lay the − tape",
        f"{where} and go {way(path.runs[0].heading_deg)}. {_follow(path, '−')}",
    )


def _rim(build: Build, flap: Flap) -> Step:
    a, b, c = flap.rim_cover[0], flap.rim_cover[1], flap.rim_cover[2]
    units = build.settings.units
    return Step(
        "Cover the − tape at the cell's rim",
        f"Stick clear tape, {format_length(math.dist(a, b), units)} x {format_length(math.dist(b, c), units)}, over "
        "the dotted box. The rim is +, so this keeps it off the − tape; the − tape under the middle stays bare.",
    )


def _flap(build: Build, flap: Flap) -> Step:
    card = build.plan.layout.card
    outside = any(
        not (0 <= x <= card.width_mm and 0 <= y <= card.height_mm) for x, y in (*flap.outline, *flap.tab)
    )
    covered = lights_under(flap, build.plan.layout.lights, build.settings)
    trim = " Trim it where it would stick out of the card." if outside else ""
    if covered:
        trim += f" Trim it, and the foam under it, clear of {', '.join(covered)}."
    return Step(
        "Make the flap",
        "Cut it out of thin card by the pattern, crease it along the dashes and glue its tab to the card at the "
        f"{side(flap.axis_deg)} of the cell, over the − tape.{trim}",
    )


def _positive(build: Build) -> Step:
    assert build.tapes is not None
    path = build.tapes.positive
    if build.flap is None:
        return Step("Lay the + tape", f"Start at the cell. {_follow(path, '+')}")
    first = format_length(path.runs[0].length_mm, build.settings.units)
    return Step(
        "Lay the + tape",
        f"Start under the flap, over the cell's middle, glue side to the paper: {first} to the free end, round it, "
        f"back along the flap's outer face and down the tab. {_follow(path, '+')}",
    )


def _foam(build: Build, flap: Flap) -> Step:
    settings, cell = build.settings, build.settings.cell
    wide = format_length(foam_strip_mm(flap), settings.units)
    low = height_words(cell.height_mm + LEAST_OVER_CELL_MM, settings.units)
    high = height_words(cell.height_mm + MOST_OVER_CELL_MM, settings.units)
    return Step(
        "Put foam round the cell's place",
        f"On the three sides without the hinge, in strips {wide} wide, {low} to {high} high. The cell is "
        f"{height_words(cell.height_mm, settings.units)}: the flap must touch it only under a finger.",
    )


def _test(build: Build) -> Step:
    return Step(
        "Test before you fix anything",
        f"Put the {build.settings.cell.name} in, + face up. Hold each light on its cross, its + side as in the list, "
        "and press the flap. If it stays dark turn it round; still dark, rub the tape down again.",
    )


def _fix() -> Step:
    return Step(
        "Take the cell out and fix the lights",
        "Each light bridges both tapes, its + side on the + tape. Fix it in the way your tape and lights ask for, "
        "then put the cell back and test once more.",
    )


def _close(build: Build) -> Step:
    wide = format_length(limit_of(build.settings, "light-near-edge"), build.settings.units)
    where = ", its window over the lights" if build.plan.layout.window is not None else ""
    return Step(
        "Close the card",
        f"Stick foam {wide} wide round the card, as high as the foam at the cell. Lay the front on{where}, and mark "
        "where to press.",
    )
