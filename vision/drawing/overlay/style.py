"""Colours, sizes and lettering of the overlay: paper and ink, and two tapes that anyone can tell apart.

Every size is stated for a sheet 1440 px wide and grows with the sheet, so that the picture reads
the same on a phone whatever the card.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from PIL import ImageFont

from vision.drawing.fonts import Weight, font_path

Colour = tuple[int, int, int]

# Okabe and Ito, "Color Universal Design", 2002/2008: colours that stay apart for every common
# kind of colour vision. The two traces also differ by pattern and by sign.
VERMILION: Colour = (0xD5, 0x5E, 0x00)
BLUE: Colour = (0x00, 0x72, 0xB2)
GREEN: Colour = (0x00, 0x9E, 0x73)
YELLOW: Colour = (0xF0, 0xE4, 0x42)
PURPLE: Colour = (0xCC, 0x79, 0xA7)

PAPER: Colour = (248, 245, 237)  # chosen: the sheet that the card lies on
INK: Colour = (38, 34, 31)  # chosen
FAINT_INK: Colour = (112, 105, 98)  # chosen
WHITE: Colour = (255, 255, 255)

POSITIVE = VERMILION
NEGATIVE = BLUE
MOVE = GREEN
DOUBT = PURPLE
WINDOW = (132, 60, 108)  # chosen: a darker neighbour of PURPLE, drawn dotted

BASE_WIDTH_PX = 1440  # chosen: about 400 px of a phone at its usual 3.6 px per px
WIDEST_PX = 2160  # chosen: a 300 mm card still gets more than 6 px per mm
LEAST_PX_PER_MM = 6.0  # chosen: a 2.5 mm tape is then 15 px wide
MOST_PX_PER_MM = 14.0  # chosen: a small card does not fill the phone
TALLEST_CARD = 1.4  # chosen: height of the card's picture over the sheet's width


@dataclass(frozen=True, slots=True)
class Style:
    """All sizes for one sheet width. [px]"""

    width_px: int = BASE_WIDTH_PX

    def px(self, at_base: float) -> int:
        """A size stated for the base width, for this width; never under 1."""
        return max(1, round(at_base * self.width_px / BASE_WIDTH_PX))

    @property
    def margin(self) -> int:
        return self.px(56)

    @property
    def heading(self) -> int:
        return self.px(82)

    @property
    def section(self) -> int:
        return self.px(50)

    @property
    def body(self) -> int:
        # Capitals and all, a line is 1/30 of the sheet's width, or 13 px on a 400 px phone.
        return self.px(46)

    @property
    def label(self) -> int:
        return self.px(40)

    @property
    def callout(self) -> int:
        """Side of a numbered callout's box."""
        return self.px(68)

    @property
    def gutter(self) -> int:
        """Free strip round the card, wide enough for one callout."""
        return self.callout + self.px(24)


@lru_cache(maxsize=64)
def typeface(weight: Weight, size_px: int) -> ImageFont.FreeTypeFont:
    """The package's own typeface. Basic layout: the same picture with and without libraqm."""
    return ImageFont.truetype(str(font_path(weight)), size_px, layout_engine=ImageFont.Layout.BASIC)
