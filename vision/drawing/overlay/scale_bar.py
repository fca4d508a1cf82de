"""A ruler at the card's own scale, under its left edge."""

from __future__ import annotations

from collections.abc import Mapping

from circuit.lengths import FINEST_INCH, MM_PER_INCH, format_length
from circuit.settings import Units
from vision.drawing.box import Placing
from vision.drawing.colours import INK
from vision.drawing.lettering import LABEL_PT, capitals_mm
from vision.drawing.pen import LINE_MM, Pen

# Chosen by eye.
_DOWN_MM = 2.1  # from its room's top to the bar
_TICK_MM, _SMALL_TICK_MM = 1.3, 0.8
_BEFORE_WORDS_MM = 1.6
# Round lengths and into how many parts each falls, the longest first. [mm]
_BARS: Mapping[Units, tuple[tuple[float, int], ...]] = {
    "mm": ((50.0, 5), (20.0, 4), (10.0, 2), (5.0, 5), (1.0, 1)),
    "in": (
        (2 * MM_PER_INCH, 4),
        (MM_PER_INCH, 4),
        (MM_PER_INCH / 2, 4),
        (MM_PER_INCH / 4, 2),
        (MM_PER_INCH / FINEST_INCH, 1),
    ),
}


def draw_scale_bar(pen: Pen, placing: Placing, card_width_mm: float, units: Units, top: float) -> None:
    """The bar, its ticks and its length; `top` is where its room begins. [mm]"""
    length_mm, parts = scale_length_mm(card_width_mm, units)
    long = length_mm * placing.scale
    left, y = placing.left, top + _DOWN_MM
    pen.line([(left, y), (left + long, y)], INK, LINE_MM)
    for i in range(parts + 1):
        x, tall = left + long * i / parts, _TICK_MM if i in (0, parts) else _SMALL_TICK_MM
        pen.line([(x, y - tall), (x, y + LINE_MM / 2)], INK, LINE_MM)
    said = format_length(length_mm, units).replace(".0 mm", " mm")
    pen.text(left + long + _BEFORE_WORDS_MM, y + capitals_mm(LABEL_PT) / 2, said, LABEL_PT)


def scale_length_mm(card_width_mm: float, units: Units) -> tuple[float, int]:
    """A round length for the scale bar, at most half the card's width, and its number of parts."""
    choices = _BARS[units]
    for length_mm, parts in choices:
        if length_mm <= card_width_mm / 2:
            return length_mm, parts
    return choices[-1]
