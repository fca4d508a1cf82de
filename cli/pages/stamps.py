"""Small things that several pages carry: the check ruler, the coded square, the cut line."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from circuit.lengths import MM_PER_INCH
from vision.drawing.box import Box
from vision.drawing.colours import BLACK, FAINT_INK, INK
from vision.drawing.lettering import SMALL_PT, TINY_PT, line_mm, wrapped
from vision.drawing.marker_bits import CELLS, marker_cells
from vision.drawing.page_pen import PagePen
from vision.drawing.pen import HAIR_MM, SHORT_DASH

RULER_MM = 100
RULER_IN = 4
RULER_HEIGHT_MM = 13.0
RULER_WORDS = (
    "Lay a ruler here: 100 mm or 4 in exactly? If not, print again at 100 %, “actual size”, "
    "with “fit to page” off."
)
_TICK_MM = {10: 3.2, 5: 2.4, 1: 1.5}
_EIGHTH_TICK_MM = {8: 3.2, 4: 2.4, 2: 1.9, 1: 1.3}
_WORDS_GAP_MM = 6.0


def draw_ruler(pen: PagePen, left: float, top: float, room: float) -> None:
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
                TINY_PT,
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
                TINY_PT,
                anchor="middle" if step else "left",
            )
    words_left = left + RULER_IN * MM_PER_INCH + _WORDS_GAP_MM
    y = top + 3.6
    for line in wrapped(RULER_WORDS, SMALL_PT, left + room - words_left):
        pen.text(words_left, y, line, SMALL_PT)
        y += line_mm(SMALL_PT)


def draw_coded_square(pen: PagePen, left: float, top: float, side_mm: int) -> None:
    """The marker whose number is its side, without its white margin."""
    cell = side_mm / CELLS
    pen.shape((box.corners for box in _dark_runs(left, top, side_mm, cell)), BLACK)


def cut_box(square: Box, margin: float) -> Box:
    """Where the square is cut out, its white margin left on."""
    return square.inset(-margin)


def draw_cut_line(pen: PagePen, box: Box) -> None:
    pen.line(box.corners, FAINT_INK, HAIR_MM, dash=SHORT_DASH, closed=True)


def _dark_runs(left: float, top: float, side_mm: int, cell: float) -> Iterator[Box]:
    for row, dark in enumerate(marker_cells(side_mm)):
        column = 0
        for is_dark, group in groupby(dark.tolist()):
            count = len(list(group))
            if is_dark:
                yield Box(left + column * cell, top + row * cell, count * cell, cell)
            column += count
