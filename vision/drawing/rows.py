"""Rows of a small sign and words beside it: what a picture says below its card, what a page's key says.

In:    rows, a style, the room's left, top and width.
Out:   `lay_rows` gives each row its boxes and lines before anything is drawn; `draw_rows` draws them.
Fails: never; long sentences make the rows taller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vision.drawing.box import Box
from vision.drawing.colours import FAINT_INK, INK, Colour
from vision.drawing.fonts import Weight
from vision.drawing.lettering import (
    BODY_PT,
    HEAD_PT,
    LABEL_PT,
    SMALL_PT,
    baseline_mm,
    line_mm,
    wrapped,
)
from vision.drawing.pen import Pen, Sign


@dataclass(frozen=True, slots=True)
class Row:
    """One sentence, or a section's title; `quiet` lines follow in fainter ink."""

    text: str
    sign: Sign | None = None
    quiet: str = ""
    title: bool = False
    half: bool = False  # takes half the width; two of them share a line


@dataclass(frozen=True, slots=True)
class RowStyle:
    """Sizes. [mm, pt]"""

    sign_width: float
    sign_height: float
    after_sign: float
    body_pt: float
    half_pt: float
    between: float
    before_title: float


# Chosen by eye: signs as large as the callouts on the card; a page's are as wide as a piece of tape needs.
ON_PICTURE = RowStyle(5.5, 5.5, 1.9, BODY_PT, LABEL_PT, 1.3, 1.8)
ON_PAGE = RowStyle(9.0, 5.4, 2.0, SMALL_PT, SMALL_PT, 1.0, 2.0)
_AFTER_HALF_MM = 1.3  # chosen: between the words of one column and the signs of the next


@dataclass(frozen=True, slots=True)
class PlacedRow:
    """`lines`, then `quiet_lines`, fit the text box."""

    row: Row
    lines: tuple[str, ...]
    quiet_lines: tuple[str, ...]
    sign_box: Box | None
    text_box: Box
    size_pt: float

    @property
    def bottom(self) -> float:
        """Where the row ends. [mm]"""
        return max(self.text_box.bottom, self.sign_box.bottom if self.sign_box else 0.0)


def lay_rows(
    rows: Sequence[Row], style: RowStyle, left: float, top: float, width: float
) -> tuple[PlacedRow, ...]:
    """Boxes for all rows from `top` down; none overlap."""
    placed: list[PlacedRow] = []
    y = top
    i = 0
    while i < len(rows):
        row = rows[i]
        pair = [row]
        if row.half and i + 1 < len(rows) and rows[i + 1].half:
            pair.append(rows[i + 1])
        if row.title and placed:
            y += style.before_title
        column = width / 2 if row.half else width
        laid = [_lay_row(one, style, left + column * k, column, y) for k, one in enumerate(pair)]
        placed += laid
        y = max(one.bottom for one in laid) + style.between
        i += len(pair)
    return tuple(placed)


def bottom_of(placed: Sequence[PlacedRow], top: float) -> float:
    """Where the rows end; `top` when there are none."""
    return max((row.bottom for row in placed), default=top)


def draw_rows(pen: Pen, placed: Sequence[PlacedRow]) -> None:
    """Signs, sentences and what is said in fainter ink."""
    for one in placed:
        if one.row.sign is not None and one.sign_box is not None:
            one.row.sign(pen, one.sign_box)
        weight: Weight = "bold" if one.row.title else "regular"
        top = one.text_box.top
        write_lines(pen, one.lines, one.text_box.left, top, one.size_pt, weight=weight)
        top += line_mm(one.size_pt) * len(one.lines)
        write_lines(pen, one.quiet_lines, one.text_box.left, top, one.size_pt, colour=FAINT_INK)


def write_lines(
    pen: Pen,
    lines: Sequence[str],
    left: float,
    top: float,
    size_pt: float = BODY_PT,
    *,
    weight: Weight = "regular",
    colour: Colour = INK,
) -> None:
    """Set lines under one another; `top` is where the first one's box begins."""
    for i, line in enumerate(lines):
        baseline = top + i * line_mm(size_pt) + baseline_mm(size_pt)
        pen.text(left, baseline, line, size_pt, weight=weight, colour=colour)


def _lay_row(row: Row, style: RowStyle, left: float, width: float, top: float) -> PlacedRow:
    size_pt = HEAD_PT if row.title else style.half_pt if row.half else style.body_pt
    indent = 0.0 if row.sign is None else style.sign_width + style.after_sign
    room = width - indent - (_AFTER_HALF_MM if row.half else 0.0)
    lines = wrapped(row.text, size_pt, room, "bold" if row.title else "regular")
    quiet = wrapped(row.quiet, size_pt, room)
    high = line_mm(size_pt) * (len(lines) + len(quiet))
    if row.sign is None:
        return PlacedRow(row, lines, quiet, None, Box(left + indent, top, room, high), size_pt)
    sign_box = Box(left, top, style.sign_width, style.sign_height)
    # Few lines stand level with the middle of their sign.
    down = max(0.0, (style.sign_height - high) / 2)
    return PlacedRow(row, lines, quiet, sign_box, Box(left + indent, top + down, room, high), size_pt)
