"""What a number of copies takes: tape, lights, cells, foam, clear tape.

In:    how many copies, the card, its tapes and switch, the parts.
Out:   numbers only; the words and their units are the pages' business.
Fails: ValueError for no copies at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.layout import Card, Polyline
from circuit.rules import limit_of
from circuit.settings import Settings
from circuit.switch import COVER_BESIDE_TAPE_MM, FOAM_STRIP_MM, Switch
from circuit.tape_list import TapeList

LIGHTS_PER_SPARE = 10  # chosen: small lights get lost; common practice, no source


@dataclass(frozen=True, slots=True)
class Supplies:
    """What a number of copies takes. Foam is for one layer."""

    copies: int
    strip_width_mm: float
    tape_mm: float
    lights: int
    cells: int
    frame_foam_mm: float
    frame_foam_width_mm: float
    border_foam_mm: float
    border_foam_width_mm: float
    clear_tape_mm: float


def supplies(
    copies: int, card: Card, lights: int, tapes: TapeList | None, switch: Switch | None, settings: Settings
) -> Supplies:
    """What `copies` cards take; tape is 0 while there are no traces. Raises ValueError for no copies."""
    if copies < 1:
        raise ValueError(f"copies must be 1 or more, got {copies}")
    border_mm = limit_of(settings, "light-near-edge")
    around_mm = 2 * (card.width_mm + card.height_mm) - 4 * border_mm
    # The frame's four strips: two as long as the lid, two between them.
    foam_mm = 0.0 if switch is None else 4 * (2 * switch.shape.half_mm - FOAM_STRIP_MM)
    covers = () if switch is None else (switch.cover_mm, switch.lid_cover_mm)
    # One strip as wide as at the switch serves all joints: their pieces' longer sides, one after the other.
    pieces = () if tapes is None else [max(branch.clear_mm) for branch in tapes.branches]
    return Supplies(
        copies=copies,
        strip_width_mm=2 * settings.tape_width_mm,
        tape_mm=0.0 if tapes is None else copies * sum(tapes.strips_mm),
        lights=copies * lights,
        cells=copies,
        frame_foam_mm=copies * foam_mm,
        frame_foam_width_mm=0.0 if switch is None else FOAM_STRIP_MM,
        border_foam_mm=copies * max(around_mm, 0.0),
        border_foam_width_mm=border_mm,
        clear_tape_mm=copies * (sum(map(_longest_side, covers)) + math.fsum(pieces)),
    )


def light_tape_mm(settings: Settings) -> tuple[float, float]:
    """The clear tape that holds a light down: along the lane and across it, so that it sticks on the card all round
    tapes and light. [mm]"""
    lane = settings.gap_mm + 2 * settings.tape_width_mm
    across = max(lane, settings.light.length_mm) + 2 * COVER_BESIDE_TAPE_MM
    return settings.light.width_mm + 2 * COVER_BESIDE_TAPE_MM, across


def spare_lights(count: int) -> int:
    """How many more to have at hand."""
    return math.ceil(count / LIGHTS_PER_SPARE)


def _longest_side(box: Polyline) -> float:
    return max(math.dist(box[0], box[1]), math.dist(box[1], box[2]))
