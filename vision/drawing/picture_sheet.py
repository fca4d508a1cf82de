"""A picture on its sheet: a heading above it, rows of words below it.

In:    the picture, its scale, words.
Out:   a `PictureSheet`: the sheet as an RGB picture, as wide as the picture's own sheet and as tall as its words need.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PIL import Image

from vision.drawing.box import Box
from vision.drawing.colours import FAINT_INK, SHEET
from vision.drawing.lettering import LABEL_PT, TITLE_PT, line_mm, wrapped
from vision.drawing.pen import SHEET_MM, Sign
from vision.drawing.picture_pen import PicturePen
from vision.drawing.rows import ON_PICTURE, Row, bottom_of, draw_rows, lay_rows, write_lines

MARGIN_MM = 4.5  # chosen: left and right of a picture's words
ROOM_MM = SHEET_MM - 2 * MARGIN_MM
# Chosen by eye. [mm]
_TOP_MM = 3.6  # above the heading
_AIR_MM = 1.0  # between the words and the picture
_SIGN_MM, _AFTER_SIGN_MM = 6.8, 2.1  # the sign before the heading


@dataclass(frozen=True, slots=True)
class Heading:
    """`sign` stands before the words, `under` below them in fainter ink."""

    text: str
    size_pt: float = TITLE_PT
    under: str = ""
    sign: Sign | None = None


@dataclass(frozen=True, slots=True)
class PictureSheet:
    """`top_px` is where the picture begins; `foot_mm` is the top of the room kept free below it."""

    image: Image.Image
    pen: PicturePen
    top_px: int
    foot_mm: float


def sheet_of(
    picture: Image.Image, width_px: int, heading: Heading, rows: Sequence[Row] = (), *, foot_mm: float = 0.0
) -> PictureSheet:
    """Lay the picture, not wider than the sheet, in its middle; `foot_mm` is kept free between it and the rows."""
    px_per_mm = width_px / SHEET_MM
    indent = _SIGN_MM + _AFTER_SIGN_MM if heading.sign else 0.0
    lines = wrapped(heading.text, heading.size_pt, ROOM_MM - indent, "bold")
    under = wrapped(heading.under, LABEL_PT, ROOM_MM)
    under_top = _TOP_MM + line_mm(heading.size_pt) * len(lines)
    top_px = round((under_top + line_mm(LABEL_PT) * len(under) + _AIR_MM) * px_per_mm)
    foot_top = (top_px + picture.height) / px_per_mm
    placed = lay_rows(rows, ON_PICTURE, MARGIN_MM, foot_top + foot_mm, ROOM_MM)
    bottom = bottom_of(placed, foot_top + foot_mm) + (MARGIN_MM if placed else 0.0)

    image = Image.new("RGB", (width_px, round(bottom * px_per_mm)), SHEET)
    image.paste(picture, ((width_px - picture.width) // 2, top_px))
    pen = PicturePen(image, px_per_mm)
    if heading.sign:
        heading.sign(
            pen, Box(MARGIN_MM, _TOP_MM + (line_mm(heading.size_pt) - _SIGN_MM) / 2, _SIGN_MM, _SIGN_MM)
        )
    write_lines(pen, lines, MARGIN_MM + indent, _TOP_MM, heading.size_pt, weight="bold")
    write_lines(pen, under, MARGIN_MM, under_top, LABEL_PT, colour=FAINT_INK)
    draw_rows(pen, placed)
    return PictureSheet(image, pen, top_px, foot_top)
