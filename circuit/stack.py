"""How high everything stands between the two cards: does the switch stay open, does it close, what fits.

In:    the parts, the foam layers that the maker uses (or none: then the ones that would do).
Out:   a `Stack` of heights, and problems.
Fails: ValueError for a foam height that is not above 0.

    front card   ==================================================
                        | + tape on the lid, the lid's card      |####|
                 |####| |============ lid ==========| |####|     |####|  foam border: one layer of card
    foam frame   |####|     + tape, air to press shut |####|     |####|  higher than the frame, since the
                 |####|  +--------- cell --------+    |####|     |####|  lid stands on that
    back card    ==================================================
                         ^ - tape on a paper dot

The air is the foam less the cell, both tapes and the dot. A layer of card may make up a height that foam alone
doesn't.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

from circuit.errors import UsageError
from circuit.layout import Layout, Point, Problem
from circuit.lengths import format_length, parse_length
from circuit.part_kinds import FoamPart, LightPart, Parts, plain_name
from circuit.parts import default_parts
from circuit.plan import Heights
from circuit.settings import Settings, Units
from circuit.switch import beside_limit_mm

# Air under the lid: less may close by itself in an envelope, more may not close under a finger. Worked out for a
# lid of thin card over the frame's opening, not yet tried on paper; a small lid is stiffer. Chosen.
LEAST_AIR_MM = 0.3
MOST_AIR_MM = 0.8
MOST_AIR_SMALL_MM = 0.6
_SMALL_CELL_MM = 20.0  # a cell less than this across
_MOST_CARD_LAYERS = 2  # of card between foam: chosen
CARD_LAYER = "card"
CLEAR_OVER_LIGHT_MM = 0.3  # so that a press beside a light doesn't bend the front on to it. Chosen
# Foam differs from its name and gives under a hand; from memory, no source.
FOAM_UNCERTAINTY_SHARE = 0.05
_MOST_LAYERS = 4  # more are not straight any more. Chosen
_THICKEST_FOAM_MM = 20.0  # more would not close. Chosen
_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True)
class StackSettings:
    """Thicknesses of what is neither cell, light nor foam. [mm]"""

    card_stock_mm: float = 0.3  # printers' chart: 110 lb cover
    flap_stock_mm: float = 0.3
    tape_mm: float = 0.1  # whole copper tape with its glue: a school-workshop equipment sheet
    dot_mm: float = 0.1  # the paper dot: writing paper of 80 g/m2; common practice, no source


@dataclass(frozen=True, slots=True)
class Stack:
    """The closed card's heights, and the foam layers that fit this cell and these lights, fewest first; none
    where none does."""

    heights: Heights
    would_do: tuple[FoamPart, ...]


def thicknesses(layout: Layout, settings: Settings, parts: Parts | None = None) -> StackSettings:
    """What the parts list says of this card's stock and of the tape; the flap is cut from card like the front."""
    stock_mm = (parts or default_parts()).stock_mm(layout.card.size)
    return StackSettings(stock_mm, stock_mm, settings.tape.thickness_mm)


def stack_of(
    settings: Settings,
    foam: Sequence[FoamPart] | None = None,
    lights: Iterable[LightPart] = (),
    foams: Iterable[FoamPart] | None = None,
    thickness: StackSettings | None = None,
) -> Stack:
    """The heights with those foam layers; with the ones that would do where none are given.

    `lights`: parts other than the settings' that stand on the card. `foams`: what there is to choose
    from; the program's parts list by default.

    Raises ValueError for foam without a height.
    """
    thickness = thickness or StackSettings()
    light_mm = max([settings.light.height_mm, *(light.height_mm for light in lights)])
    would_do = foam_that_fits(settings, light_mm, foams, thickness)
    layers = tuple(would_do if foam is None else foam)
    foam_mm = math.fsum(layer.thickness_mm for layer in layers)
    if foam is not None and not 0 < foam_mm < math.inf:
        raise ValueError(f"foam needs a height above 0, got {foam_mm}")
    over_cell = foam_mm - settings.cell.height_mm
    heights = Heights(
        foam=layers,
        foam_chosen_here=foam is None,
        foam_mm=foam_mm,
        over_cell_mm=over_cell,
        gap_mm=over_cell - _under_air_mm(thickness),
        over_lights_mm=foam_mm + thickness.flap_stock_mm - light_mm - thickness.tape_mm,
        flap_bulge_mm=thickness.flap_stock_mm + thickness.tape_mm,
        card_mm=2 * thickness.card_stock_mm + foam_mm + thickness.flap_stock_mm,
        would_do=tuple(layer.name for layer in would_do),
    )
    return Stack(heights, would_do)


def _under_air_mm(thickness: StackSettings) -> float:
    """What stands between card and lid besides the cell: both tapes, the dot."""
    return 2 * thickness.tape_mm + thickness.dot_mm


def most_air_mm(settings: Settings) -> float:
    """The most air under the lid through which a press still reaches the cell. [mm]"""
    return MOST_AIR_SMALL_MM if settings.cell.diameter_mm < _SMALL_CELL_MM else MOST_AIR_MM


def foam_that_fits(
    settings: Settings,
    light_mm: float,
    foams: Iterable[FoamPart] | None = None,
    thickness: StackSettings | None = None,
) -> tuple[FoamPart, ...]:
    """The fewest layers whose height suits cell and lights, thickest first; the middle of the air's
    span where several do. Layers of card only where foam alone does not do. Empty: no four layers do."""
    thickness = thickness or StackSettings()
    on_hand = tuple(default_parts().foams.values() if foams is None else foams)
    for cards in range(_MOST_CARD_LAYERS + 1):
        extra = (FoamPart(CARD_LAYER, thickness.card_stock_mm),) * cards
        for count in range(1, _MOST_LAYERS + 1):
            all_layers = [(*layers, *extra) for layers in combinations_with_replacement(on_hand, count)]
            fitting = [layers for layers in all_layers if _fits(layers, settings, light_mm, thickness)]
            if fitting:
                middle = (LEAST_AIR_MM + most_air_mm(settings)) / 2
                best = min(fitting, key=lambda layers: abs(_air_mm(layers, settings, thickness) - middle))
                return tuple(sorted(best, key=lambda layer: -layer.thickness_mm))
    return ()


def _air_mm(layers: Sequence[FoamPart], settings: Settings, thickness: StackSettings) -> float:
    foam_mm = math.fsum(layer.thickness_mm for layer in layers)
    return foam_mm - settings.cell.height_mm - _under_air_mm(thickness)


def _fits(layers: Sequence[FoamPart], settings: Settings, light_mm: float, thickness: StackSettings) -> bool:
    air = _air_mm(layers, settings, thickness)
    over_lights = air + settings.cell.height_mm + _under_air_mm(thickness) + thickness.flap_stock_mm
    over_lights -= light_mm + thickness.tape_mm
    in_span = LEAST_AIR_MM - _SAME_MM <= air <= most_air_mm(settings) + _SAME_MM
    return in_span and over_lights >= CLEAR_OVER_LIGHT_MM - _SAME_MM


def foam_layers(text: str, foams: Iterable[FoamPart] | None = None) -> tuple[FoamPart, ...]:
    """Layers as a maker types them: `3.2mm + 0.8mm`, `2 x 1/16in`, `thick foam + thin foam`.

    Raises UsageError for a layer that is neither a length nor a foam of the parts list.
    """
    on_hand = tuple(default_parts().foams.values() if foams is None else foams)
    layers: list[FoamPart] = []
    for item in text.split("+"):
        match = re.fullmatch(r"\s*(?:(\d)\s*[x×*]\s*)?(.+?)\s*", item)
        named = (
            []
            if match is None
            else [foam for foam in on_hand if plain_name(foam.name) == plain_name(match[2])]
        )
        if match is None:
            raise UsageError(
                f"{text!r} is not a list of foam layers; write it like 3.2mm + 0.8mm or 2 x 1.6mm."
            )
        if named:
            layer = named[0]
        else:
            try:
                height_mm = parse_length(match[2])
            except ValueError:
                known = ", ".join(foam.name for foam in on_hand) or "none"
                raise UsageError(
                    f"{match[2]!r} is neither a height nor a foam in the parts list ({known}); write it like "
                    "3.2mm + 0.8mm or 2 x 1.6mm."
                ) from None
            if not 0 < height_mm <= _THICKEST_FOAM_MM:
                raise UsageError(
                    f"A foam layer of {height_mm:g} mm can't be right; it should be above 0 and at most "
                    f"{_THICKEST_FOAM_MM:g} mm."
                )
            layer = FoamPart(format_length(height_mm), height_mm)
        layers += [layer] * int(match[1] or 1)
    if not layers:
        raise UsageError(f"{text!r} names no layer of foam; write it like 3.2mm + 0.8mm or 2 x 1.6mm.")
    return tuple(layers)


def stack_problems(stack: Stack, layout: Layout, settings: Settings) -> tuple[Problem, ...]:
    """What is wrong with the heights, each with what is measured and needed and which foam would do.
    Empty without a battery circle or lights to speak of, or where no foam was named and one would do."""
    found = []
    if layout.battery is not None:
        found += _switch_problems(stack, layout.battery.centre, settings)
        found += _small_cell(layout.battery.centre, settings)
    if layout.lights and stack.heights.foam and stack.heights.over_lights_mm < CLEAR_OVER_LIGHT_MM - _SAME_MM:
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
    if air <= _SAME_MM:
        name, outcome = "switch-stays-on", "the lid lies on the cell and the lights stay on"
    elif air < LEAST_AIR_MM - _SAME_MM:
        name, outcome = "switch-may-stay-on", f"only {left}, so it may close by itself in the envelope"
    elif air > most_air_mm(settings) + _SAME_MM:
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
    if room_mm >= needed_mm - _SAME_MM:
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


def foam_words(layers: Sequence[FoamPart], settings: Settings) -> str:
    """`one layer of 3.2 mm foam and one of 0.8 mm foam`: sizes, since names differ from shop to shop."""
    counts: dict[FoamPart, int] = {}
    for layer in layers:
        counts[layer] = counts.get(layer, 0) + 1
    words = ("one", "two", "three", "four")
    texts = []
    for index, (layer, count) in enumerate(counts.items()):
        number = words[count - 1] if count <= len(words) else str(count)
        noun = "" if index else (" layer" if count == 1 else " layers")
        high = (
            "card" if layer.name == CARD_LAYER else f"{height_words(layer.thickness_mm, settings.units)} foam"
        )
        texts.append(f"{number}{noun} of {high}")
    if len(texts) > 2:
        texts = [", ".join(texts[:-1]), texts[-1]]
    return " and ".join(texts) or "no foam"


def height_words(mm: float, units: Units) -> str:
    """`3.2 mm`; for inches `3.2 mm (1/8 in)`: here a tenth of a millimetre decides, which a 32nd of an inch hides."""
    plain = format_length(mm, "mm")
    return plain if units == "mm" else f"{plain} ({format_length(mm, units)})"


def stack_note(stack: Stack, settings: Settings) -> str:
    """The heights in two plain sentences for the summary."""
    heights, units = stack.heights, settings.units
    if not heights.foam:
        return ""
    thick = height_words(heights.card_mm, units)
    first = (
        f"For a {settings.cell.name}, take {foam_words(heights.foam, settings)}"
        if heights.foam_chosen_here
        else f"With {foam_words(heights.foam, settings)}, the foam is {height_words(heights.foam_mm, units)} high"
    )
    return (
        f"{first}; the finished card is about {thick} thick with its front, which often costs more to post: ask the "
        "carrier."
    )
