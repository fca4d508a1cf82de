"""A pen that draws on one page of a PDF; the PDF library stays in here and in `pages_pdf`.

Fonts are embedded; the same strokes give the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from functools import lru_cache
from typing import Any

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from circuit.layout import Point
from vision.drawing.box import Box
from vision.drawing.colours import INK, Colour
from vision.drawing.fonts import Weight, font_path
from vision.drawing.lettering import MM_PER_POINT, printable
from vision.drawing.pen import HAIR_MM, Anchor

PT_PER_MM = 1 / MM_PER_POINT
_SHIFT = {"left": 0.0, "middle": 0.5, "right": 1.0}


@lru_cache
def _font_name(weight: Weight) -> str:
    """The name that the PDF library knows this weight by; registers it at first use."""
    name = f"pages-{weight}"
    pdfmetrics.registerFont(TTFont(name, str(font_path(weight))))
    return name


class PagePen:
    """`canvas` is the PDF library's; `height_mm` is the page's."""

    def __init__(self, canvas: Any, height_mm: float) -> None:
        self._canvas = canvas
        self._height_mm = height_mm

    def _xy(self, x: float, y: float) -> tuple[float, float]:
        return x * PT_PER_MM, (self._height_mm - y) * PT_PER_MM

    def _path(self, outlines: Iterable[Iterable[Point]], closed: bool) -> Any:
        path = self._canvas.beginPath()
        for points in outlines:
            for index, (x, y) in enumerate(points):
                (path.lineTo if index else path.moveTo)(*self._xy(x, y))
            if closed:
                path.close()
        return path

    def _stroke(self, colour: Colour, width: float, dash: Sequence[float], opacity: float) -> None:
        self._canvas.setStrokeColorRGB(*(part / 255 for part in colour))
        self._canvas.setLineWidth(width * PT_PER_MM)
        self._canvas.setDash([part * PT_PER_MM for part in dash])
        if opacity < 1.0:
            self._canvas.setStrokeAlpha(opacity)

    def _fill(self, colour: Colour, opacity: float = 1.0) -> None:
        self._canvas.setFillColorRGB(*(part / 255 for part in colour))
        if opacity < 1.0:
            self._canvas.setFillAlpha(opacity)

    def _solid_again(self, opacity: float) -> None:
        if opacity < 1.0:
            self._canvas.setStrokeAlpha(1.0)
            self._canvas.setFillAlpha(1.0)

    def line(
        self,
        points: Iterable[Point],
        colour: Colour = INK,
        width: float = HAIR_MM,
        *,
        dash: Sequence[float] = (),
        closed: bool = False,
        opacity: float = 1.0,
    ) -> None:
        self._stroke(colour, width, dash, opacity)
        self._canvas.drawPath(self._path([points], closed), stroke=1, fill=0)
        self._solid_again(opacity)

    def shape(self, outlines: Iterable[Sequence[Point]], fill: Colour, opacity: float = 1.0) -> None:
        self._fill(fill, opacity)
        self._canvas.drawPath(self._path(outlines, closed=True), stroke=0, fill=1, fillMode=_NON_ZERO)
        self._solid_again(opacity)

    def circle(
        self,
        centre: Point,
        radius: float,
        colour: Colour | None = INK,
        width: float = HAIR_MM,
        *,
        fill: Colour | None = None,
        dash: Sequence[float] = (),
        opacity: float = 1.0,
    ) -> None:
        if colour is not None:
            self._stroke(colour, width, dash, opacity)
        if fill is not None:
            self._fill(fill, opacity)
        x, y = self._xy(*centre)
        self._canvas.circle(x, y, radius * PT_PER_MM, stroke=colour is not None, fill=fill is not None)
        self._solid_again(opacity)

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
        text = printable(text, weight)
        if not text:
            return
        name = _font_name(weight)
        wide = pdfmetrics.stringWidth(text, name, size_pt) * MM_PER_POINT
        self._fill(colour)
        self._canvas.setFont(name, size_pt)
        self._canvas.drawString(*self._xy(x - _SHIFT[anchor] * wide, baseline), text)

    def group(self, kind: str, about: str = "") -> AbstractContextManager[None]:
        """Nothing to tap here."""
        return nullcontext()

    @contextmanager
    def clipped(self, box: Box) -> Iterator[None]:
        """Nothing drawn meanwhile shows outside the box."""
        self._canvas.saveState()
        self._canvas.clipPath(self._path([box.corners], closed=True), stroke=0, fill=0)
        try:
            yield
        finally:
            self._canvas.restoreState()


_NON_ZERO = 1  # the PDF library's name for it: pieces of a shape may lap over each other
