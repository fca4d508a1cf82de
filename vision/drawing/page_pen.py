"""A pen that draws on one page of a PDF; fonts are embedded, the same strokes give the same bytes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from circuit.layout import Point
from vision.drawing.box import Box
from vision.drawing.colours import Colour
from vision.drawing.fonts import Weight, font_path
from vision.drawing.lettering import MM_PER_POINT, width_mm
from vision.drawing.pen import Pen, Stroke, Type

PT_PER_MM = 1 / MM_PER_POINT
_SHIFT = {"left": 0.0, "middle": 0.5, "right": 1.0}
_NON_ZERO = 1  # the PDF library's name for it: pieces of a shape may lap over each other


@lru_cache
def _font_name(weight: Weight) -> str:
    """The name that the PDF library knows this weight by; registers it at first use."""
    name = f"pages-{weight}"
    pdfmetrics.registerFont(TTFont(name, str(font_path(weight))))
    return name


class PagePen(Pen):
    """`canvas` is the PDF library's; `height_mm` is the page's."""

    def __init__(self, canvas: Any, height_mm: float) -> None:
        self._canvas = canvas
        self._height_mm = height_mm

    def _xy(self, x: float, y: float) -> tuple[float, float]:
        return x * PT_PER_MM, (self._height_mm - y) * PT_PER_MM

    def _path(self, outlines: Iterable[Iterable[Point]], *, closed: bool) -> Any:
        path = self._canvas.beginPath()
        for points in outlines:
            for index, (x, y) in enumerate(points):
                (path.lineTo if index else path.moveTo)(*self._xy(x, y))
            if closed:
                path.close()
        return path

    def _take(self, stroke: Stroke) -> None:
        self._canvas.setStrokeColorRGB(*_share(stroke.colour))
        self._canvas.setLineWidth(stroke.width * PT_PER_MM)
        self._canvas.setDash([part * PT_PER_MM for part in stroke.dash])

    def _circle(self, centre: Point, radius: float, stroke: Stroke | None, fill: Colour | None) -> None:
        if stroke is not None:
            self._take(stroke)
        if fill is not None:
            self._canvas.setFillColorRGB(*_share(fill))
        shown = {"stroke": int(stroke is not None), "fill": int(fill is not None)}
        self._canvas.circle(*self._xy(*centre), radius * PT_PER_MM, **shown)

    def _line(self, points: Sequence[Point], stroke: Stroke) -> None:
        self._take(stroke)
        with self._seen_through(stroke.opacity):
            self._canvas.drawPath(self._path([points], closed=stroke.closed), stroke=1, fill=0)

    def shape(self, outlines: Iterable[Sequence[Point]], fill: Colour, opacity: float = 1.0) -> None:
        self._canvas.setFillColorRGB(*_share(fill))
        with self._seen_through(opacity):
            self._canvas.drawPath(self._path(outlines, closed=True), stroke=0, fill=1, fillMode=_NON_ZERO)

    def _text(self, x: float, baseline: float, text: str, set_in: Type) -> None:
        self._canvas.setFillColorRGB(*_share(set_in.colour))
        self._canvas.setFont(_font_name(set_in.weight), set_in.size_pt)
        left = x - _SHIFT[set_in.anchor] * width_mm(text, set_in.size_pt, set_in.weight)
        self._canvas.drawString(*self._xy(left, baseline), text)

    @contextmanager
    def clipped(self, box: Box) -> Iterator[None]:
        """Nothing drawn meanwhile shows outside the box."""
        self._canvas.saveState()
        self._canvas.clipPath(self._path([box.corners], closed=True), stroke=0, fill=0)
        try:
            yield
        finally:
            self._canvas.restoreState()

    @contextmanager
    def _seen_through(self, opacity: float) -> Iterator[None]:
        if opacity < 1.0:
            self._canvas.setStrokeAlpha(opacity)
            self._canvas.setFillAlpha(opacity)
        yield
        if opacity < 1.0:
            self._canvas.setStrokeAlpha(1.0)
            self._canvas.setFillAlpha(1.0)


def _share(colour: Colour) -> tuple[float, ...]:
    return tuple(part / 255 for part in colour)
