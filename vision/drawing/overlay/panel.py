"""Where the card lies in the picture: the panel, the card's rectangle in it, millimetres to pixels.

+-------------------------- panel ---+
|   gutter: free for callouts        |
|   +--- card --------------+        |
|   |                       |        |
|   +-----------------------+        |
+------------------------------------+
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from circuit.layout import Card, Point
from vision.drawing.overlay.style import (
    BASE_WIDTH_PX,
    LEAST_PX_PER_MM,
    MOST_PX_PER_MM,
    TALLEST_CARD,
    WIDEST_PX,
    Style,
)


@dataclass(frozen=True, slots=True)
class Panel:
    """`left_px`, `top_px`: the card's corner as an edge position, so that a pixel centre is 0.5 less."""

    width_px: int
    height_px: int
    left_px: int
    top_px: int
    px_per_mm: float
    card: Card

    def at(self, point_mm: Point) -> Point:
        """Pixel position of a card point (pixel centres at integers)."""
        return (
            self.left_px + point_mm[0] * self.px_per_mm - 0.5,
            self.top_px + point_mm[1] * self.px_per_mm - 0.5,
        )

    def along(self, points_mm: Iterable[Point]) -> list[Point]:
        return [self.at(point) for point in points_mm]

    @property
    def card_box(self) -> tuple[int, int, int, int]:
        """Left, top, right, bottom of the card; right and bottom exclusive."""
        return (
            self.left_px,
            self.top_px,
            self.left_px + math.ceil(self.card.width_mm * self.px_per_mm),
            self.top_px + math.ceil(self.card.height_mm * self.px_per_mm),
        )


def style_for(card: Card) -> Style:
    """A big card gets a wider sheet, and larger letters with it, so that its tape does not shrink to a hair."""
    base = Style()
    needed = max(card.width_mm, card.height_mm / TALLEST_CARD) * LEAST_PX_PER_MM
    return Style(min(WIDEST_PX, max(BASE_WIDTH_PX, math.ceil(needed * BASE_WIDTH_PX / _room(base, 1)))))


def panel_for(card: Card, style: Style, gutters: int = 1) -> Panel:
    """The panel for a card; `gutters` is how many rows of callouts fit beside the card."""
    gutter = style.gutter * gutters
    scale = min(
        _room(style, gutters) / card.width_mm,
        TALLEST_CARD * style.width_px / card.height_mm,
        MOST_PX_PER_MM * style.width_px / BASE_WIDTH_PX,
    )
    card_width = math.ceil(card.width_mm * scale)
    card_height = math.ceil(card.height_mm * scale)
    return Panel(
        width_px=style.width_px,
        height_px=card_height + 2 * gutter,
        left_px=(style.width_px - card_width) // 2,
        top_px=gutter,
        px_per_mm=scale,
        card=card,
    )


def _room(style: Style, gutters: int) -> int:
    return style.width_px - 2 * gutters * style.gutter
