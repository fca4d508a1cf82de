"""Where the card lies in its picture: the panel, the card's rectangle in it, millimetres to pixels.

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

from PIL import Image

from circuit.layout import Card, Point
from vision.drawing.box import Box, Placing
from vision.drawing.pen import SHEET_MM
from vision.drawing.picture_pen import PicturePen

# Goes into the PNG as a text of that name: the picture's rows that show the card, from and up to.
CARD_ROWS = "pencilamp-card-rows"
BASE_WIDTH_PX = 1440  # chosen: about 400 px of a phone at its usual 3.6 px per px
_WIDEST_PX = 2160  # chosen: a 300 mm card still gets more than 6 px per mm
_LEAST_PX_PER_MM = 6.0  # chosen: a 2.5 mm tape is then 15 px wide
_MOST_ENLARGED = 1.13  # chosen: sheet mm per card mm, so that a small card does not fill the phone
_TALLEST_CARD = 1.4  # chosen: height of the card's picture over the sheet's width
CALLOUT_MM = 5.5  # chosen: side of a numbered callout
_GUTTER_MM = 7.4  # free strip round the card, wide enough for one callout and air


@dataclass(frozen=True, slots=True)
class Panel:
    """`left_px`, `top_px`: the card's corner as an edge position, so that a pixel centre is 0.5 less.
    `px_per_mm` is of the card, `sheet_px_per_mm` of the sheet."""

    width_px: int
    height_px: int
    left_px: int
    top_px: int
    px_per_mm: float
    card: Card

    @property
    def sheet_px_per_mm(self) -> float:
        """Pixels to a millimetre of the sheet."""
        return self.width_px / SHEET_MM

    @property
    def placing(self) -> Placing:
        """The card in the panel's own sheet millimetres."""
        s = self.sheet_px_per_mm
        return Placing(self.left_px / s, self.top_px / s, self.px_per_mm / s)

    @property
    def area(self) -> Box:
        """The whole panel in sheet millimetres."""
        return Box(0.0, 0.0, SHEET_MM, self.height_px / self.sheet_px_per_mm)

    def pen(self, picture: Image.Image) -> PicturePen:
        """A pen that draws on a picture of the panel's size."""
        return PicturePen(picture, self.sheet_px_per_mm)

    def at(self, point_mm: Point) -> Point:
        """Pixel position of a card point (pixel centres at integers)."""
        return (
            self.left_px + point_mm[0] * self.px_per_mm - 0.5,
            self.top_px + point_mm[1] * self.px_per_mm - 0.5,
        )

    def along(self, points_mm: Iterable[Point]) -> list[Point]:
        """Pixel positions of several card points."""
        return [self.at(point) for point in points_mm]

    @property
    def card_box(self) -> tuple[int, int, int, int]:
        """Left, top, right, bottom of the card in pixels; right and bottom exclusive."""
        return (
            self.left_px,
            self.top_px,
            self.left_px + math.ceil(self.card.width_mm * self.px_per_mm),
            self.top_px + math.ceil(self.card.height_mm * self.px_per_mm),
        )


def panel_for(card: Card, gutters: int = 1) -> Panel:
    """The panel for a card; `gutters` is how many rows of callouts fit beside the card."""
    width = _width_px(card)
    gutter = round(_GUTTER_MM * width / SHEET_MM) * gutters
    scale = min(
        (width - 2 * gutter) / card.width_mm,
        _TALLEST_CARD * width / card.height_mm,
        _MOST_ENLARGED * width / SHEET_MM,
    )
    card_width, card_height = math.ceil(card.width_mm * scale), math.ceil(card.height_mm * scale)
    return Panel(
        width_px=width,
        height_px=card_height + 2 * gutter,
        left_px=(width - card_width) // 2,
        top_px=gutter,
        px_per_mm=scale,
        card=card,
    )


def _width_px(card: Card) -> int:
    """A big card gets a wider picture, and larger letters with it, so that its tape does not shrink to a hair."""
    needed = max(card.width_mm, card.height_mm / _TALLEST_CARD) * _LEAST_PX_PER_MM
    room = 1 - 2 * _GUTTER_MM / SHEET_MM
    return min(_WIDEST_PX, max(BASE_WIDTH_PX, math.ceil(needed / room)))
