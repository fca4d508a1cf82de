"""A pen that draws on a picture's pixels, with soft edges.

Each stroke is drawn FINER times larger into a mask of its own size, reduced, and laid on in its colour.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from PIL import Image, ImageDraw

from circuit.layout import Point
from vision.drawing.colours import Colour
from vision.drawing.lettering import MM_PER_POINT, typeface
from vision.drawing.pen import Pen, Stroke, Type
from vision.drawing.shapes import dashes

FINER = 2  # drawn so many times larger: edges have five shades
_LEVELS = 256  # of a mask of 8 bits
_ANCHORS = {"left": "ls", "middle": "ms", "right": "rs"}  # Pillow's names: side, then baseline
_Fine = Callable[[Iterable[Point]], list[Point]]


class PicturePen(Pen):
    """Draws onto `picture` itself, whose top-left corner is the sheet's."""

    def __init__(self, picture: Image.Image, px_per_mm: float) -> None:
        self._picture = picture
        self._draw = ImageDraw.Draw(picture)
        self._px_per_mm = px_per_mm

    def _px(self, points: Iterable[Point]) -> list[Point]:
        """As edge positions: a pixel's middle is half a pixel from its edges."""
        return [(x * self._px_per_mm, y * self._px_per_mm) for x, y in points]

    def _line(self, points: Sequence[Point], stroke: Stroke) -> None:
        at = self._px(points)
        if stroke.closed:
            at += at[:2]  # on past the first corner, so that it is joined like the others
        pieces = [at]
        if stroke.dash:
            pieces = dashes(at, *(part * self._px_per_mm for part in stroke.dash))
        pieces = [piece for piece in pieces if len(piece) > 1]
        wide = stroke.width * self._px_per_mm

        def paint(draw: ImageDraw.ImageDraw, fine: _Fine) -> None:
            for piece in pieces:
                draw.line(fine(piece), 255, max(1, round(wide * FINER)), joint="curve")

        self._lay(
            [point for piece in pieces for point in piece], wide / 2, stroke.colour, stroke.opacity, paint
        )

    def shape(self, outlines: Iterable[Sequence[Point]], fill: Colour, opacity: float = 1.0) -> None:
        shapes = [self._px(outline) for outline in outlines]

        def paint(draw: ImageDraw.ImageDraw, fine: _Fine) -> None:
            for shape in shapes:
                draw.polygon(fine(shape), 255)

        self._lay([point for shape in shapes for point in shape], 0.0, fill, opacity, paint)

    def _text(self, x: float, baseline: float, text: str, set_in: Type) -> None:
        face = typeface(set_in.weight, max(1, round(set_in.size_pt * MM_PER_POINT * self._px_per_mm)))
        (at,) = self._px([(x, baseline)])
        self._draw.text(at, text, fill=set_in.colour, font=face, anchor=_ANCHORS[set_in.anchor])

    def _lay(
        self,
        points: Sequence[Point],
        beyond: float,
        colour: Colour,
        opacity: float,
        paint: Callable[[ImageDraw.ImageDraw, _Fine], None],
    ) -> None:
        """Draw a mask round the points, `beyond` wider on all sides, and lay the colour on through it. [px]"""
        if not points:
            return
        reach = math.ceil(beyond) + 1
        xs, ys = zip(*points)
        left, top = max(0, math.floor(min(xs)) - reach), max(0, math.floor(min(ys)) - reach)
        right = min(self._picture.width, math.ceil(max(xs)) + reach)
        bottom = min(self._picture.height, math.ceil(max(ys)) + reach)
        if right <= left or bottom <= top:
            return

        def fine(outline: Iterable[Point]) -> list[Point]:
            # Pillow puts a pixel's middle at whole numbers.
            return [((x - left) * FINER - 0.5, (y - top) * FINER - 0.5) for x, y in outline]

        mask = Image.new("L", ((right - left) * FINER, (bottom - top) * FINER))
        paint(ImageDraw.Draw(mask), fine)
        mask = mask.reduce(FINER)
        if opacity < 1.0:
            mask = mask.point([round(level * opacity) for level in range(_LEVELS)])
        self._picture.paste(colour, (left, top), mask)
