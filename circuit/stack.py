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
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

from circuit.layout import Layout
from circuit.part_kinds import FoamPart, LightPart, Parts
from circuit.parts import default_parts
from circuit.plan import Heights
from circuit.settings import Settings

# Air under the lid: less may close by itself in an envelope, more may not close under a finger. Worked out for a
# lid of thin card over the frame's opening, not yet tried on paper; a small lid is stiffer. Chosen.
LEAST_AIR_MM = 0.3
MOST_AIR_MM = 0.8
MOST_AIR_SMALL_MM = 0.6
_SMALL_CELL_MM = 20.0  # a cell less than this across
_MOST_CARD_LAYERS = 2  # of card between foam: chosen
CARD_LAYER = "card"
CLEAR_OVER_LIGHT_MM = 0.3  # so that a press beside a light doesn't bend the front on to it. Chosen
_MOST_LAYERS = 4  # more are not straight any more. Chosen
SAME_MM = 1e-6


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
    in_span = LEAST_AIR_MM - SAME_MM <= air <= most_air_mm(settings) + SAME_MM
    return in_span and over_lights >= CLEAR_OVER_LIGHT_MM - SAME_MM
