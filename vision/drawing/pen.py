"""What every pen can do, whatever it draws on: a picture's pixels, a printed page, an SVG.

All lengths are sheet millimetres, from the sheet's top-left corner, x right, y down. A page's sheet is its paper;
a picture's sheet counts as SHEET_MM wide, so that lines and letters that suit paper suit a phone as well.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from typing import Literal

from circuit.layout import Point
from vision.drawing.box import Box
from vision.drawing.colours import INK, Colour
from vision.drawing.fonts import Weight
from vision.drawing.lettering import printable
from vision.drawing.shapes import circle_points

SHEET_MM = 116.0  # chosen: body type is then 1/31 of the width, 13 px on a phone 400 px wide

Anchor = Literal["left", "middle", "right"]
Dash = tuple[float, float]  # drawn and left out; () draws it all

# Line widths. [mm]
HAIR_MM = 0.2  # chosen: the thinnest line that every desk printer draws
LINE_MM = 0.3  # chosen: what one looks for first
BOLD_MM = 0.4  # chosen: strokes of the small signs

# Dashes, drawn and left out. [mm] Chosen by eye, to be told apart from one another.
LONG_DASH: Dash = (2.1, 1.0)
SHORT_DASH: Dash = (1.3, 0.7)
DOTS: Dash = (0.4, 0.9)


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn; its ends are cut off square."""

    colour: Colour
    width: float
    dash: tuple[float, ...]
    closed: bool
    opacity: float


@dataclass(frozen=True, slots=True)
class Type:
    """How a line of text is set."""

    size_pt: float
    weight: Weight
    colour: Colour
    anchor: Anchor


class Pen(ABC):
    """One sheet's drawing surface; what is drawn later lies on top. A maker fills in the three abstract methods."""

    @abstractmethod
    def shape(self, outlines: Iterable[Sequence[Point]], fill: Colour, opacity: float = 1.0) -> None:
        """Several filled outlines that turn the same way, as one shape: nothing shows where they meet."""

    @abstractmethod
    def _line(self, points: Sequence[Point], stroke: Stroke) -> None: ...

    @abstractmethod
    def _text(self, x: float, baseline: float, text: str, set_in: Type) -> None: ...

    def _circle(self, centre: Point, radius: float, stroke: Stroke | None, fill: Colour | None) -> None:
        """For makers that know no circles of their own."""
        ring = circle_points(centre, radius)[:-1]
        if fill is not None:
            self.shape([ring], fill)
        if stroke is not None:
            self._line(ring, stroke)

    def group(self, kind: str, about: str = "") -> AbstractContextManager[None]:
        """What is drawn meanwhile is one thing of that kind, about that mark: for pens whose drawings can be tapped."""
        return nullcontext()

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
        """A line along the points; `closed` goes on to the first of them."""
        self._line(list(points), Stroke(colour, width, tuple(dash), closed, opacity))

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
        """A ring, a disc or both."""
        stroke = None if colour is None else Stroke(colour, width, tuple(dash), closed=True, opacity=1.0)
        self._circle(centre, radius, stroke, fill)

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
        shown = printable(text, weight)
        if shown:
            self._text(x, baseline, shown, Type(size_pt, weight, colour, anchor))


# Draws a small sign or sample into a box.
Sign = Callable[[Pen, Box], None]
