"""A layout written by hand in other units than millimetres, told in one sentence instead of by all that is wrong then.

In:    a `Layout` as its file gives it.
Out:   nothing.
Fails: `LayoutFileError`, which names the unit that was likely meant and one length as it ought to stand.
"""

from __future__ import annotations

from circuit.errors import LayoutFileError
from circuit.layout import Layout
from circuit.lengths import MM_PER_INCH

# No coin cell is so small, and no card so that a cell with its foam fits on it: chosen. [mm]
_LEAST_CIRCLE_MM = 4.0
_LEAST_CARD_MM = 40.0
# Coin cells are 12 mm across or more: a circle of at least so many is one in centimetres. Below, it is one in inches.
_LEAST_CIRCLE_CM = 1.15


def require_millimetres(layout: Layout) -> None:
    """Raises LayoutFileError for a battery circle or a card that can't be in millimetres."""
    card, battery = layout.card, layout.battery
    sides = max(card.width_mm, card.height_mm)
    if battery is not None and battery.diameter_mm < _LEAST_CIRCLE_MM:
        in_cm = battery.diameter_mm >= _LEAST_CIRCLE_CM
        unit, short, mm = ("centimetres", "cm", 10.0) if in_cm else ("inches", "in", MM_PER_INCH)
        written = battery.diameter_mm
        seen = f"the battery's diameter_mm is {written:g}, smaller than any coin cell"
    elif sides < _LEAST_CARD_MM:
        unit, short, mm, written = "centimetres or inches", "cm", 10.0, card.width_mm
        seen = f"the card is {card.width_mm:g} by {card.height_mm:g}, smaller than any card with a cell on it"
    else:
        return
    raise LayoutFileError(
        f"These look like {unit}: {seen}. Write every length in the file in millimetres, for {written:g} {short} "
        f"{round(written * mm, 1):g}."
    )
