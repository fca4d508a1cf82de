"""Say where on the card something is, as a crafter would look for it with a ruler."""

from __future__ import annotations

from circuit.layout import Card, Point
from circuit.lengths import format_length
from circuit.settings import Units


def place(x_mm: float, y_mm: float, card: Card, units: Units = "mm") -> str:
    """`near the top left, 31.0 mm from the left edge and 12.4 mm from the top`."""
    column = _third(x_mm / card.width_mm, ("left", "", "right"))
    row = _third(y_mm / card.height_mm, ("top", "", "bottom"))
    where = f"near the {row} {column}".replace("  ", " ").rstrip() if row or column else "in the middle"
    return f"{where}, {from_edges((x_mm, y_mm), card, units)}"


def from_edges(at: Point, card: Card, units: Units = "mm") -> str:
    """`31.0 mm from the left edge and 12.4 mm from the top`: from the two nearest edges, one across and one down."""
    x, y = at
    across = (x, "left") if x <= card.width_mm / 2 else (card.width_mm - x, "right")
    down = (y, "top") if y <= card.height_mm / 2 else (card.height_mm - y, "bottom")
    return (
        f"{format_length(across[0], units)} from the {across[1]} edge and "
        f"{format_length(down[0], units)} from the {down[1]}"
    )


def from_top_left(at: Point, units: Units = "mm") -> str:
    """`31.0 mm from the left edge and 12.4 mm from the top`, wherever on a card that is."""
    x, y = (format_length(value, units) for value in at)
    return f"{x} from the left edge and {y} from the top"


def _third(share: float, names: tuple[str, str, str]) -> str:
    return names[0] if share < 1 / 3 else names[2] if share > 2 / 3 else names[1]
