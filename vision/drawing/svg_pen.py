"""A pen that writes an SVG, to be shown crisp at any size and tapped at.

In:    strokes in sheet millimetres; names of the groups they belong to.
Out:   the text of what stands inside an <svg> element (SVG 1.1) whose user units are millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from xml.sax.saxutils import escape, quoteattr

from circuit.layout import Point
from vision.drawing.colours import Colour
from vision.drawing.lettering import MM_PER_POINT
from vision.drawing.pen import Pen, Stroke, Type

_ANCHORS = {"left": "start", "middle": "middle", "right": "end"}
_WEIGHTS = {"regular": "normal", "bold": "bold"}
_FAMILY = "Open Sans, system-ui, sans-serif"  # the package's own where a page offers it


class SvgPen(Pen):
    """Collects strokes; `content` gives them as text."""

    def __init__(self) -> None:
        self._parts: list[str] = []

    def content(self) -> str:
        """What stands inside the <svg> element, whose user units must be sheet millimetres."""
        return "".join(self._parts)

    @contextmanager
    def group(self, kind: str, about: str = "", opacity: float = 1.0) -> Iterator[None]:
        """What is drawn meanwhile is one thing: class `kind`, and `about` as its data-about; seen through as one."""
        named = f" data-about={quoteattr(about)}" if about else ""
        self._parts.append(f"<g class={quoteattr(kind)}{named}{_seen(opacity)}>")
        try:
            yield
        finally:
            self._parts.append("</g>")

    def _line(self, points: Sequence[Point], stroke: Stroke) -> None:
        self._parts.append(f'<path d="{_path(points, closed=stroke.closed)}" fill="none"{_stroke(stroke)}/>')

    def _circle(self, centre: Point, radius: float, stroke: Stroke | None, fill: Colour | None) -> None:
        x, y, r = (_number(value) for value in (*centre, radius))
        filled = "none" if fill is None else _hex(fill)
        drawn = "" if stroke is None else _stroke(stroke)
        self._parts.append(f'<circle cx="{x}" cy="{y}" r="{r}" fill="{filled}"{drawn}/>')

    def shape(self, outlines: Iterable[Sequence[Point]], fill: Colour, opacity: float = 1.0) -> None:
        path = "".join(_path(outline, closed=True) for outline in outlines)
        self._parts.append(f'<path d="{path}" fill="{_hex(fill)}"{_seen(opacity)}/>')

    def _text(self, x: float, baseline: float, text: str, set_in: Type) -> None:
        self._parts.append(
            f'<text x="{_number(x)}" y="{_number(baseline)}" font-family="{_FAMILY}" '
            f'font-size="{_number(set_in.size_pt * MM_PER_POINT)}" font-weight="{_WEIGHTS[set_in.weight]}" '
            f'fill="{_hex(set_in.colour)}" text-anchor="{_ANCHORS[set_in.anchor]}">{escape(text)}</text>'
        )


def _path(points: Iterable[Point], *, closed: bool) -> str:
    steps = " ".join(f"{_number(x)},{_number(y)}" for x, y in points)
    return f"M{steps}{'Z' if closed else ''}" if steps else ""


def _stroke(stroke: Stroke) -> str:
    dashed = f' stroke-dasharray="{" ".join(map(_number, stroke.dash))}"' if stroke.dash else ""
    width = _number(stroke.width)
    return f' stroke="{_hex(stroke.colour)}" stroke-width="{width}"{dashed}{_seen(stroke.opacity)}'


def _seen(opacity: float) -> str:
    return f' opacity="{_number(opacity)}"' if opacity < 1.0 else ""


def _hex(colour: Colour) -> str:
    return "#" + "".join(f"{part:02x}" for part in colour)


def _number(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")  # a micrometre is finer than any screen
