"""Say where on the card something is, as a crafter would look for it with a ruler."""

from __future__ import annotations

from circuit.layout import Card
from circuit.lengths import format_length
from circuit.settings import Units


def place(x_mm: float, y_mm: float, card: Card, units: Units = "mm") -> str:
    """`near the top left, 31.0 mm from the left edge and 12.4 mm from the top`."""
    column = _third(x_mm / card.width_mm, ("left", "", "right"))
    row = _third(y_mm / card.height_mm, ("top", "", "bottom"))
    where = f"near the {row} {column}".replace("  ", " ").rstrip() if row or column else "in the middle"
    across = (
        f"{format_length(x_mm, units)} from the left edge"
        if x_mm <= card.width_mm / 2
        else f"{format_length(card.width_mm - x_mm, units)} from the right edge"
    )
    down = (
        f"{format_length(y_mm, units)} from the top"
        if y_mm <= card.height_mm / 2
        else f"{format_length(card.height_mm - y_mm, units)} from the bottom"
    )
    return f"{where}, {across} and {down}"


def _third(share: float, names: tuple[str, str, str]) -> str:
    return names[0] if share < 1 / 3 else names[2] if share > 2 / 3 else names[1]
