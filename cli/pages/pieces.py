"""The pieces that are cut for one switch, as lengths: the same in the steps, the supplies and the teacher's list.

In:    a `Switch`, the parts.
Out:   `Pieces`, in millimetres.
Fails: never.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.layout import Polyline
from circuit.lengths import format_length
from circuit.settings import Settings, Units
from circuit.switch import COVER_BESIDE_TAPE_MM, Switch

Size = tuple[float, float]  # width, length


@dataclass(frozen=True, slots=True)
class Pieces:
    """flap_mm : the flat card that the flap is cut from. foam_mm : the frame's long strips and its short ones.
    cover_mm, lid_cover_mm : clear tape over the − tape and under the lid. bare_on_card_mm, bare_under_lid_mm : copper
    that they leave bare, along the tape."""

    flap_mm: Size
    foam_mm: Size
    cover_mm: Size
    lid_cover_mm: Size
    bare_on_card_mm: float
    bare_under_lid_mm: float


def pieces_of(settings: Settings, switch: Switch) -> Pieces:
    """All of them for this switch."""
    lid = 2 * switch.shape.half_mm
    wide = settings.tape_width_mm + 2 * COVER_BESIDE_TAPE_MM
    return Pieces(
        flap_mm=(lid, lid + switch.tongue_flat_mm),
        foam_mm=(lid, 2 * switch.shape.inside_mm),
        cover_mm=(wide, _along(switch.cover_mm)),
        lid_cover_mm=(wide, _along(switch.lid_cover_mm)),
        bare_on_card_mm=_along(switch.bare_mm),
        bare_under_lid_mm=_along(switch.contact_mm),
    )


def by(size: Size, units: Units) -> str:
    """`6.5 x 18.1 mm`, `1/4 x 23/32 in`: the unit once where both are told in it."""
    first, second = (format_length(length, units) for length in size)
    unit = f" {units}"
    return f"{first.removesuffix(unit)} x {second}" if second.endswith(unit) else f"{first} x {second}"


def _along(box: Polyline) -> float:
    """A switch's boxes have their corners in this order: the first side runs along the tape."""
    return math.dist(box[0], box[1])
