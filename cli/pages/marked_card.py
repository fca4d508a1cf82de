"""The marks alone, to print on card stock: a back card that is marked already, and a square to go with it.

In:    a plan, the parts, the paper.
Out:   PDF bytes of one page. Cut out along the lines, card and square can be photographed and read again:
       dots, battery circle and window are drawn as a maker pencils them, and nothing else is on the card.
Fails: UsageError for a card that does not fit on the paper.
"""

from __future__ import annotations

from dataclasses import dataclass

from circuit.errors import UsageError
from circuit.lengths import limit_length
from circuit.plan import Plan
from circuit.settings import Settings
from cli.pages.build_data import Build, build_of
from cli.pages.page import Page, render
from cli.pages.paper import Paper, paper_for
from cli.pages.stamps import RULER_HEIGHT_MM, cut_box, draw_coded_square, draw_cut_line, place_ruler
from vision.drawing.box import Box, Placing
from vision.drawing.colours import BLACK, FAINT_INK
from vision.drawing.lettering import BODY_PT, line_mm, wrapped
from vision.drawing.marker_bits import CELLS
from vision.drawing.page_pen import PagePen
from vision.drawing.pen import HAIR_MM
from vision.drawing.rows import write_lines

SQUARE_MM = 30  # chosen: the largest that lies beside a card of a quarter Letter on A4
PENCIL_MM = 0.5  # chosen: a soft pencil's line
_GAP_MM = 5.0
_OVER_RULER_MM = 1.2  # chosen: air between card and ruler
_TITLE = "Marked back card"
_WORDS = (
    "Print at 100 % on card stock and cut along the inside of the line: the back card, marked and ready for tape. "
    "Cut the square out too, lay it beside the card, and a photo of both can be read again."
)


def marks_pages(plan: Plan, settings: Settings, paper: Paper | None = None) -> bytes:
    """One page with the card and its marks at true size and a coded reference square. Raises UsageError for a card
    that does not fit on the paper."""
    build = build_of(plan, settings)
    places = marks_places(build, paper or paper_for(plan.layout.card, settings))
    page = Page(places.paper, _TITLE, "print at 100 %, “actual size”")
    page.add(write_lines, wrapped(_WORDS, BODY_PT, places.words.width), places.words.left, places.words.top)
    page.add(draw_marks, build, places.card)
    page.add(_draw_square, places.square)
    place_ruler(page)
    return render([page], build.name, _TITLE)


@dataclass(frozen=True, slots=True)
class MarksPlaces:
    """How the paper lies, and where on it the card, the dark square and the words are."""

    paper: Paper
    card: Box
    square: Box
    words: Box


def marks_places(build: Build, paper: Paper) -> MarksPlaces:
    """The first that fits: words on top, the square beside or below the card; else both in a column beside it."""
    card, units = build.plan.layout.card, build.settings.units
    outer = SQUARE_MM * (1 + 2 / CELLS)
    for lying in (paper, paper.turned):
        inside = lying.inside
        bottom = inside.bottom - RULER_HEIGHT_MM - _OVER_RULER_MM
        above = len(wrapped(_WORDS, BODY_PT, inside.width)) * line_mm(BODY_PT) + 4.0
        beside = inside.width - card.width_mm - _GAP_MM
        if card.width_mm > inside.width:
            continue
        top = inside.top + above
        place = Box(inside.left, top, card.width_mm, card.height_mm)
        words = Box(inside.left, inside.top, inside.width, above)
        if place.bottom <= bottom and beside >= outer:
            return MarksPlaces(lying, place, _square_in(place.right + _GAP_MM, top), words)
        if place.bottom + _GAP_MM + outer <= bottom:
            return MarksPlaces(lying, place, _square_in(inside.left, place.bottom + _GAP_MM), words)
        place = Box(inside.left, inside.top, card.width_mm, card.height_mm)
        if place.bottom <= bottom and beside >= outer:
            x = place.right + _GAP_MM
            words = Box(x, inside.top + outer + _GAP_MM, beside, bottom - inside.top - outer - _GAP_MM)
            return MarksPlaces(lying, place, _square_in(x, inside.top), words)
    raise UsageError(
        f"A card of {limit_length(card.width_mm, units)} x {limit_length(card.height_mm, units)} does not fit on "
        f"{paper.name} with its square. "
        "Use the 1:1 sheet, which comes in parts."
    )


def _square_in(left: float, top: float) -> Box:
    """The dark square whose white margin's corner is there."""
    margin = SQUARE_MM / CELLS
    return Box(left + margin, top + margin, SQUARE_MM, SQUARE_MM)


def draw_marks(pen: PagePen, build: Build, box: Box) -> None:
    """The card's outline to cut along, and on it what a maker would pencil, black enough to be read from a photo."""
    layout = build.plan.layout
    placing = Placing(box.left, box.top)
    # The line's inner side is the card's edge: cut along it, nothing dark is left on the card that a photo
    # could take for its edge.
    cut = box.inset(-HAIR_MM / 2)
    pen.line(cut.corners, FAINT_INK, HAIR_MM, closed=True)
    if layout.window is not None:
        pen.line(placing.along(layout.window), BLACK, PENCIL_MM, closed=True)
    if layout.battery is not None:
        pen.circle(placing.at(layout.battery.centre), layout.battery.diameter_mm / 2, BLACK, PENCIL_MM)
    for light in layout.lights:
        pen.circle(placing.at(light.centre), light.diameter_mm / 2, None, fill=BLACK)


def _draw_square(pen: PagePen, square: Box) -> None:
    draw_coded_square(pen, square.left, square.top, SQUARE_MM)
    draw_cut_line(pen, cut_box(square, SQUARE_MM / CELLS))
