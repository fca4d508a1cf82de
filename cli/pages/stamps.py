"""Small things that several pages carry: the check ruler, the coded square, the cut line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby

from circuit.layout import Point
from circuit.lengths import MM_PER_INCH
from cli.pages.page import Page
from vision.drawing.box import Box
from vision.drawing.colours import BLACK, FAINT_INK
from vision.drawing.lettering import SMALL_PT, TINY_PT, capitals_mm, wrapped
from vision.drawing.marker_bits import CELLS, marker_cells
from vision.drawing.page_pen import PagePen
from vision.drawing.pen import HAIR_MM, SHORT_DASH
from vision.drawing.rows import write_lines

RULER_MM = 100
RULER_IN = 4
RULER_HEIGHT_MM = 13.0
RULER_WORDS = (
    "Lay a ruler here: 100 mm or 4 in exactly? If not, print again at 100 %, “actual size”, "
    "with “fit to page” off."
)
# Every so many steps a tick of that length; chosen by eye, as is what follows. [mm]
_TICKS_MM = {10: 3.2, 5: 2.4, 1: 1.5}
_EIGHTH_TICKS_MM = {8: 3.2, 4: 2.4, 2: 1.9, 1: 1.3}
_DOWN_MM = 6.5  # from the ruler's top to its line
_NUMBER_MM = 4.0  # from the line to the numbers
_WORDS_GAP_MM = 6.0


def draw_ruler(pen: PagePen, left: float, top: float, room: float) -> None:
    """100 mm above a line and 4 in below it, with its sentence beside it. `room` is the full width."""
    middle = top + _DOWN_MM
    long = RULER_IN * MM_PER_INCH
    pen.line([(left, middle), (left + long, middle)])
    _draw_scale(pen, (left, middle), RULER_MM, 1.0, 10, _TICKS_MM, -1, "mm")
    _draw_scale(pen, (left, middle), RULER_IN * 8, MM_PER_INCH / 8, 8, _EIGHTH_TICKS_MM, 1, "in")
    words_left = left + long + _WORDS_GAP_MM
    write_lines(pen, wrapped(RULER_WORDS, SMALL_PT, left + room - words_left), words_left, top, SMALL_PT)


def place_ruler(page: Page) -> None:
    """The check ruler at the page's foot."""
    inside = page.paper.inside
    page.add(draw_ruler, inside.left, inside.bottom - RULER_HEIGHT_MM, inside.width)


def _draw_scale(
    pen: PagePen,
    start: Point,
    count: int,
    step_mm: float,
    whole: int,
    ticks_mm: Mapping[int, float],
    side: int,
    unit: str,
) -> None:
    """Ticks at every step, above (`side` -1) or below the line, a number at every `whole` steps."""
    x, y = start
    baseline = y + side * _NUMBER_MM + (capitals_mm(TINY_PT) if side > 0 else 0.0)
    for step in range(count + 1):
        tick = next(size for every, size in ticks_mm.items() if step % every == 0)
        at = x + step * step_mm
        pen.line([(at, y), (at, y + side * tick)])
        if step == 0:
            pen.text(at, baseline, f"0 {unit}", TINY_PT)
        elif step % whole == 0:
            pen.text(at, baseline, str(step // (whole if unit == "in" else 1)), TINY_PT, anchor="middle")


def draw_coded_square(pen: PagePen, left: float, top: float, side_mm: int) -> None:
    """The marker whose number is its side, without its white margin."""
    cell = side_mm / CELLS
    pen.shape((box.corners for box in _dark_runs(left, top, side_mm, cell)), BLACK)


def cut_box(square: Box, margin: float) -> Box:
    """Where the square is cut out, its white margin left on."""
    return square.inset(-margin)


def draw_cut_line(pen: PagePen, box: Box) -> None:
    """Dashes to cut along."""
    pen.line(box.corners, FAINT_INK, HAIR_MM, dash=SHORT_DASH, closed=True)


def _dark_runs(left: float, top: float, side_mm: int, cell: float) -> Iterator[Box]:
    for row, dark in enumerate(marker_cells(side_mm)):
        column = 0
        for is_dark, group in groupby(dark.tolist()):
            count = len(list(group))
            if is_dark:
                yield Box(left + column * cell, top + row * cell, count * cell, cell)
            column += count
