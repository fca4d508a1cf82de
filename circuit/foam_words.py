"""Foam in words: layers as a maker types them, and heights as they are told.

In:    a text; or heights and layers.
Out:   layers; or words in the maker's units.
Fails: `UsageError` for a layer that is neither a length nor a foam of the parts list.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from circuit.errors import UsageError
from circuit.lengths import format_length, parse_length
from circuit.near_names import plain_name
from circuit.part_kinds import FoamPart
from circuit.parts import default_parts
from circuit.settings import Settings, Units
from circuit.stack import CARD_LAYER, Stack

_THICKEST_FOAM_MM = 20.0  # more would not close. Chosen


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
