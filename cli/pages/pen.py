"""Drawing in page millimetres, from the top-left corner, y down; the PDF library stays in here.

In:    pages as lists of drawing steps.
Out:   the bytes of one PDF: pages of exact size, fonts embedded, the same bytes for the same steps.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Concatenate, Literal, ParamSpec

from reportlab.pdfgen.canvas import Canvas

from circuit.layout import Point
from cli.pages.paper import FOOTER_MM, HEADING_MM, MARGIN_MM, Box, Paper
from cli.pages.type import (
    ASCENT,
    DESCENT,
    MM_PER_POINT,
    SMALL_PT,
    TITLE_PT,
    font_name,
    printable,
    shortened,
    width_mm,
)
from vision.drawing.fonts import Weight

Colour = tuple[float, float, float]
Anchor = Literal["left", "middle", "right"]
PT_PER_MM = 1 / MM_PER_POINT

BLACK: Colour = (0.0, 0.0, 0.0)
INK: Colour = (0.13, 0.12, 0.11)  # chosen: softer than black for words
GREY: Colour = (0.42, 0.40, 0.38)  # chosen: still 5.5 : 1 on white
PALE: Colour = (0.90, 0.89, 0.87)  # chosen: a tint that a mono printer still shows
WHITE: Colour = (1.0, 1.0, 1.0)
HAIR_MM = 0.2  # chosen: the thinnest line that every desk printer draws

P = ParamSpec("P")
DrawStep = Callable[["Pen"], None]


class Pen:
    """One page's drawing surface."""

    def __init__(self, canvas: Any, paper: Paper) -> None:
        self._canvas = canvas
        self.paper = paper

    def _xy(self, x: float, y: float) -> tuple[float, float]:
        return x * PT_PER_MM, (self.paper.height_mm - y) * PT_PER_MM

    def _path(self, points: Iterable[Point], closed: bool) -> Any:
        path = self._canvas.beginPath()
        for index, (x, y) in enumerate(points):
            (path.lineTo if index else path.moveTo)(*self._xy(x, y))
        if closed:
            path.close()
        return path

    def _style(self, colour: Colour, width: float, dash: Sequence[float], square_joins: bool) -> None:
        self._canvas.setStrokeColorRGB(*colour)
        self._canvas.setLineWidth(width * PT_PER_MM)
        self._canvas.setDash([d * PT_PER_MM for d in dash])
        self._canvas.setLineCap(0)
        self._canvas.setLineJoin(0 if square_joins else 1)

    def line(
        self,
        points: Iterable[Point],
        colour: Colour = INK,
        width: float = HAIR_MM,
        *,
        dash: Sequence[float] = (),
        closed: bool = False,
        square_joins: bool = True,
    ) -> None:
        """A line along the points, `width` across [mm]; its ends are cut off square."""
        self._style(colour, width, dash, square_joins)
        self._canvas.drawPath(self._path(points, closed), stroke=1, fill=0)

    def shape(self, points: Iterable[Point], fill: Colour) -> None:
        """A filled outline."""
        self._canvas.setFillColorRGB(*fill)
        self._canvas.drawPath(self._path(points, closed=True), stroke=0, fill=1)

    def boxes(self, boxes: Iterable[Box], fill: Colour) -> None:
        """Several filled boxes as one shape: no hairlines show where they touch."""
        path = self._canvas.beginPath()
        for box in boxes:
            x, y = self._xy(box.left, box.bottom)
            path.rect(x, y, box.width * PT_PER_MM, box.height * PT_PER_MM)
        self._canvas.setFillColorRGB(*fill)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def circle(
        self,
        centre: Point,
        radius: float,
        colour: Colour | None = INK,
        width: float = HAIR_MM,
        *,
        fill: Colour | None = None,
        dash: Sequence[float] = (),
    ) -> None:
        if colour is not None:
            self._style(colour, width, dash, square_joins=True)
        if fill is not None:
            self._canvas.setFillColorRGB(*fill)
        x, y = self._xy(*centre)
        self._canvas.circle(x, y, radius * PT_PER_MM, stroke=colour is not None, fill=fill is not None)

    def text(
        self,
        x: float,
        baseline: float,
        text: str,
        size_pt: float,
        *,
        weight: Weight = "regular",
        colour: Colour = INK,
        anchor: Anchor = "left",
    ) -> None:
        """One line of text whose baseline is at that height; signs the typeface lacks become `?`."""
        text = printable(text, weight)
        if not text:
            return
        shift = {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor]
        self._canvas.setFillColorRGB(*colour)
        self._canvas.setFont(font_name(weight), size_pt)
        self._canvas.drawString(*self._xy(x - shift * width_mm(text, size_pt, weight), baseline), text)

    @contextmanager
    def clipped(self, box: Box) -> Iterator[None]:
        """Nothing drawn meanwhile shows outside the box."""
        self._canvas.saveState()
        path = self._canvas.beginPath()
        x, y = self._xy(box.left, box.bottom)
        path.rect(x, y, box.width * PT_PER_MM, box.height * PT_PER_MM)
        self._canvas.clipPath(path, stroke=0, fill=0)
        try:
            yield
        finally:
            self._canvas.restoreState()


def text_box(x: float, baseline: float, text: str, size_pt: float, weight: Weight = "regular") -> Box:
    """The room that a line of text takes when it starts at x."""
    size_mm = size_pt * MM_PER_POINT
    return Box(x, baseline - ASCENT * size_mm, width_mm(text, size_pt, weight), (ASCENT + DESCENT) * size_mm)


@dataclass(slots=True)
class Page:
    """One page to be: its paper as it lies, and what is drawn on it in order."""

    paper: Paper
    title: str
    aside: str = ""
    steps: list[DrawStep] = field(default_factory=list)

    def add(self, step: Callable[Concatenate[Pen, P], None], *args: P.args, **kwargs: P.kwargs) -> None:
        """Have `step` called with the pen and these arguments when the page is drawn."""
        self.steps.append(lambda pen: step(pen, *args, **kwargs))


def render(pages: Sequence[Page], name: str, subject: str) -> bytes:
    """The PDF's bytes; `name` is the card's, for the foot of each page."""
    buffer = io.BytesIO()
    # invariant: the library writes no date and no random id.
    canvas = Canvas(buffer, invariant=1, pageCompression=1)
    canvas.setTitle(printable(f"{subject}: {name}" if name else subject))
    canvas.setCreator("Pencilamp")
    canvas.setAuthor("")
    canvas.setSubject("")
    # Asks the viewer's print window for 100 % instead of "fit to page".
    canvas.setViewerPreference("PrintScaling", "None")
    for number, page in enumerate(pages, 1):
        canvas.setPageSize((page.paper.width_mm * PT_PER_MM, page.paper.height_mm * PT_PER_MM))
        pen = Pen(canvas, page.paper)
        _frame(pen, page, name, number, len(pages))
        for step in page.steps:
            step(pen)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _frame(pen: Pen, page: Page, name: str, number: int, count: int) -> None:
    left, right = MARGIN_MM, page.paper.width_mm - MARGIN_MM
    aside = shortened(page.aside, SMALL_PT, (right - left) / 2)
    aside_mm = width_mm(aside, SMALL_PT)
    title = shortened(page.title, TITLE_PT, right - left - aside_mm - 4.0, "bold")
    pen.text(left, MARGIN_MM + 7.0, title, TITLE_PT, weight="bold")
    pen.text(right, MARGIN_MM + 7.0, aside, SMALL_PT, colour=GREY, anchor="right")
    rule = MARGIN_MM + HEADING_MM - 4.5
    pen.line([(left, rule), (right, rule)], INK, 0.4)
    foot = page.paper.height_mm - MARGIN_MM - FOOTER_MM / 2 + 2.5
    half = (right - left) / 2 - 4.0
    pen.text(
        left,
        foot,
        shortened(f"Pencilamp · {name}" if name else "Pencilamp", SMALL_PT, half),
        SMALL_PT,
        colour=GREY,
    )
    pen.text(
        right, foot, f"{page.paper.name} · page {number} of {count}", SMALL_PT, colour=GREY, anchor="right"
    )
