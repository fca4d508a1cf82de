"""A pen that draws on a picture's pixels, with soft edges.

Each stroke is drawn FINER times larger into a mask of its own size, reduced, and laid on in its colour.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager, nullcontext

from PIL import Image, ImageDraw

from circuit.layout import Point
from vision.drawing.colours import INK, Colour
from vision.drawing.fonts import Weight
from vision.drawing.lettering import MM_PER_POINT, printable, typeface
from vision.drawing.pen import HAIR_MM, Anchor
from vision.drawing.shapes import circle_points, dashes

FINER = 2  # drawn so many times larger: edges have five shades
_ANCHORS = {"left": "ls", "middle": "ms", "right": "rs"}  # Pillow's names: side, then baseline
_CHORD_PX = 6.0  # chosen: a circle's straight pieces, too short to be seen


class PicturePen:
    """Draws onto `picture` itself; `corner_px` is the pixel whose top-left corner is the sheet's."""

    def __init__(
        self, picture: Image.Image, px_per_mm: float, corner_px: tuple[float, float] = (0.0, 0.0)
    ) -> None:
        self._picture = picture
        self._draw = ImageDraw.Draw(picture)
        self.px_per_mm = px_per_mm
        self._corner = corner_px

    def _px(self, points: Iterable[Point]) -> list[Point]:
        """As edge positions: a pixel's middle is half a pixel from its edges."""
        s, (left, top) = self.px_per_mm, self._corner
        return [(left + x * s, top + y * s) for x, y in points]

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
        at = self._px(points)
        if closed and at:
            # On past the first corner, so that it is joined like the others.
            at += at[:2]
        width_px = width * self.px_per_mm
        pieces = dashes(at, *(part * self.px_per_mm for part in dash)) if dash else [at]
        pieces = [piece for piece in pieces if len(piece) > 1]
        thick = max(1, round(width_px * FINER))

        def paint(draw: ImageDraw.ImageDraw, fine: Callable[[Iterable[Point]], list[Point]]) -> None:
            for piece in pieces:
                draw.line(fine(piece), 255, thick, joint="curve")

        self._lay([point for piece in pieces for point in piece], width_px / 2, colour, opacity, paint)

    def shape(self, outlines: Iterable[Sequence[Point]], fill: Colour, opacity: float = 1.0) -> None:
        shapes = [self._px(outline) for outline in outlines]

        def paint(draw: ImageDraw.ImageDraw, fine: Callable[[Iterable[Point]], list[Point]]) -> None:
            for shape in shapes:
                draw.polygon(fine(shape), 255)

        self._lay([point for shape in shapes for point in shape], 0.0, fill, opacity, paint)

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
        ring = circle_points(centre, radius, chord=_CHORD_PX / self.px_per_mm)
        if fill is not None:
            self.shape([ring], fill, opacity)
        if colour is not None:
            self.line(ring, colour, width, dash=dash, opacity=opacity)

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
        face = typeface(weight, max(1, round(size_pt * MM_PER_POINT * self.px_per_mm)))
        (at,) = self._px([(x, baseline)])
        self._draw.text(at, printable(text, weight), fill=colour, font=face, anchor=_ANCHORS[anchor])

    def group(self, kind: str, about: str = "") -> AbstractContextManager[None]:
        """Nothing to tap here."""
        return nullcontext()

    def _lay(
        self,
        points: Sequence[Point],
        beyond: float,
        colour: Colour,
        opacity: float,
        paint: Callable[[ImageDraw.ImageDraw, Callable[[Iterable[Point]], list[Point]]], None],
    ) -> None:
        """Draw a mask round the points, `beyond` wider on all sides, and lay the colour on through it. [px]"""
        if not points:
            return
        reach = math.ceil(beyond) + 1
        left = max(0, math.floor(min(x for x, _ in points)) - reach)
        top = max(0, math.floor(min(y for _, y in points)) - reach)
        right = min(self._picture.width, math.ceil(max(x for x, _ in points)) + reach)
        bottom = min(self._picture.height, math.ceil(max(y for _, y in points)) + reach)
        if right <= left or bottom <= top:
            return

        def fine(outline: Iterable[Point]) -> list[Point]:
            # Pillow puts a pixel's middle at whole numbers.
            return [((x - left) * FINER - 0.5, (y - top) * FINER - 0.5) for x, y in outline]

        mask = Image.new("L", ((right - left) * FINER, (bottom - top) * FINER))
        paint(ImageDraw.Draw(mask), fine)
        mask = mask.reduce(FINER)
        if opacity < 1.0:
            mask = mask.point([round(level * opacity) for level in range(256)])
        self._picture.paste(colour, (left, top), mask)
