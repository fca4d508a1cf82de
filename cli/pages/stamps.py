"""Small things that several pages carry: the check ruler, the coded square, the cut line, crosses."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from circuit.layout import Point
from circuit.lengths import MM_PER_INCH
from cli.pages.paper import Box
from cli.pages.pen import BLACK, GREY, HAIR_MM, INK, Pen
from cli.pages.type import BODY_PT, SMALL_PT, line_mm, wrapped
from vision.drawing.marker_bits import CELLS, marker_cells

RULER_MM = 100
RULER_IN = 4
RULER_HEIGHT_MM = 13.0
RULER_WORDS = (
    "Lay a ruler here: 100 mm or 4 in exactly? If not, print again at 100 %, “actual size”, "
    "with “fit to page” off."
)
_TICK_MM = {10: 3.2, 5: 2.4, 1: 1.5}
_EIGHTH_TICK_MM = {8: 3.2, 4: 2.4, 2: 1.9, 1: 1.3}
_NUMBER_PT = 7.0  # chosen
_WORDS_GAP_MM = 6.0


def draw_ruler(pen: Pen, left: float, top: float, room: float) -> None:
    """100 mm above a line and 4 in below it, with its sentence beside it. `room` is the full width."""
    middle = top + 6.5
    pen.line([(left, middle), (left + RULER_IN * MM_PER_INCH, middle)], INK, HAIR_MM)
    for step in range(RULER_MM + 1):
        tick = next(size for every, size in _TICK_MM.items() if step % every == 0)
        x = left + step
        pen.line([(x, middle), (x, middle - tick)], INK, HAIR_MM)
        if step % 10 == 0:
            pen.text(
                x,
                middle - 4.0,
                "0 mm" if step == 0 else str(step),
                _NUMBER_PT,
                anchor="middle" if step else "left",
            )
    for step in range(RULER_IN * 8 + 1):
        tick = next(size for every, size in _EIGHTH_TICK_MM.items() if step % every == 0)
        x = left + step * MM_PER_INCH / 8
        pen.line([(x, middle), (x, middle + tick)], INK, HAIR_MM)
        if step % 8 == 0:
            pen.text(
                x,
                middle + 5.9,
                f"{step // 8} in" if step == 0 else str(step // 8),
                _NUMBER_PT,
                anchor="middle" if step else "left",
            )
    words_left = left + RULER_IN * MM_PER_INCH + _WORDS_GAP_MM
    y = top + 3.6
    for line in wrapped(RULER_WORDS, SMALL_PT, left + room - words_left):
        pen.text(words_left, y, line, SMALL_PT)
        y += line_mm(SMALL_PT)


def draw_coded_square(pen: Pen, left: float, top: float, side_mm: int) -> None:
    """The marker whose number is its side, without its white margin."""
    cell = side_mm / CELLS
    pen.boxes(_dark_runs(left, top, side_mm, cell), BLACK)


def cut_box(square: Box, margin: float) -> Box:
    """Where the square is cut out, its white margin left on."""
    return square.inset(-margin)


def draw_cut_line(pen: Pen, box: Box) -> None:
    pen.line(box.corners, GREY, HAIR_MM, dash=(1.6, 1.2), closed=True)


def draw_cross(pen: Pen, centre: Point, arm: float, width: float = HAIR_MM) -> None:
    x, y = centre
    pen.line([(x - arm, y), (x + arm, y)], BLACK, width)
    pen.line([(x, y - arm), (x, y + arm)], BLACK, width)


def draw_number(pen: Pen, centre: Point, number: int) -> None:
    """A step's number on a dark disc."""
    radius = 3.2 if number < 10 else 3.6
    pen.circle(centre, radius, None, fill=INK)
    pen.text(
        centre[0], centre[1] + 1.35, str(number), BODY_PT, weight="bold", colour=(1, 1, 1), anchor="middle"
    )


def _dark_runs(left: float, top: float, side_mm: int, cell: float) -> Iterator[Box]:
    for row, dark in enumerate(marker_cells(side_mm)):
        column = 0
        for is_dark, group in groupby(dark.tolist()):
            count = len(list(group))
            if is_dark:
                yield Box(left + column * cell, top + row * cell, count * cell, cell)
            column += count
