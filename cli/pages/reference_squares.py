"""The page of reference squares: coded ones, a plain one, a ruler to check the print by."""

from __future__ import annotations

from circuit.lengths import MM_PER_INCH, format_length
from circuit.settings import Units
from cli.pages.page import Page, render
from cli.pages.paper import LETTER, Paper
from cli.pages.stamps import (
    cut_box,
    draw_coded_square,
    draw_cut_line,
    place_ruler,
)
from vision.drawing.box import Box
from vision.drawing.colours import BLACK, FAINT_INK
from vision.drawing.draw_signs import draw_number
from vision.drawing.lettering import BODY_PT, LABEL_PT, line_mm, wrapped
from vision.drawing.marker_bits import CELLS
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import write_lines

CODED_SIDES_MM = (40, 30, 25, 20)
PLAIN_SIDE_MM = MM_PER_INCH
SPARE_SIDES_MM = (40, 30)  # squares get lost; these two serve most cards
_PLAIN_MARGIN_MM = 6.0  # chosen
# Chosen by eye. [mm]
_GAP_MM, _CAPTION_MM, _CAPTION_DOWN_MM = 7.0, 6.0, 4.6
_INDENT_MM, _NUMBER_AT_MM, _BETWEEN_MM = 11.0, (3.6, 2.3), 3.0

_SENTENCES = (
    "Print this page at 100 % (“actual size”) and check it with a ruler on the scale at its foot.",
    "Cut one square out along its dashed line, white margin and all, and lay it flat on the card or close "
    "beside it, clear of every pencil mark, with all of it in the picture.",
    "If the print came out a little too large or too small, measure the dark square from edge to edge and "
    "tell the program: pencilamp plan photo.jpg --printed 39.4mm.",
)


def square_page(paper: Paper = LETTER, units: Units = "mm") -> bytes:
    """One page with squares of 40, 30, 25 and 20 mm, and a plain one of an inch; the PDF's bytes."""
    page = Page(paper, "Reference squares", "one of them goes into every photo")
    inside = paper.inside

    y = inside.top + 2.0
    for number, sentence in enumerate(_SENTENCES, 1):
        lines = wrapped(sentence, BODY_PT, inside.width - _INDENT_MM)
        page.add(draw_number, (inside.left + _NUMBER_AT_MM[0], y + _NUMBER_AT_MM[1]), number)
        page.add(write_lines, lines, inside.left + _INDENT_MM, y)
        y += len(lines) * line_mm(BODY_PT) + _BETWEEN_MM

    y += _BETWEEN_MM
    for square in square_places(inside, y):
        page.add(_draw, square, units)
    place_ruler(page)
    return render([page], "", "Reference squares")


def square_places(inside: Box, top: float) -> list[Box]:
    """Where each dark square lies: the coded ones, the plain one, the spares; rows fill from the left."""
    places = []
    x, row_top, row_height = inside.left, top, 0.0
    for side in (*CODED_SIDES_MM, PLAIN_SIDE_MM, *SPARE_SIDES_MM):
        margin = _margin_of(side)
        outer = side + 2 * margin
        if x + outer > inside.right:
            x, row_top, row_height = inside.left, row_top + row_height + _CAPTION_MM + _GAP_MM, 0.0
        places.append(Box(x + margin, row_top + margin, side, side))
        x += outer + _GAP_MM
        row_height = max(row_height, outer)
    return places


def _margin_of(side: float) -> float:
    return _PLAIN_MARGIN_MM if side == PLAIN_SIDE_MM else side / CELLS


def _draw(pen: PagePen, square: Box, units: Units) -> None:
    cut = cut_box(square, _margin_of(square.width))
    if square.width == PLAIN_SIDE_MM:
        pen.shape([square.corners], BLACK)
        kind = "plain"
    else:
        draw_coded_square(pen, square.left, square.top, round(square.width))
        kind = "coded"
    draw_cut_line(pen, cut)
    # A coded square's side is its number, so it is told in millimetres to everyone.
    side = f"{square.width:g} mm" if units == "mm" or kind == "coded" else format_length(square.width, units)
    x, baseline = cut.centre[0], cut.bottom + _CAPTION_DOWN_MM
    pen.text(x, baseline, f"{kind}, {side}", LABEL_PT, colour=FAINT_INK, anchor="middle")
