"""A pen that draws on a picture's pixels, with soft edges.

Each stroke is drawn FINER times larger into a mask of its own size, reduced, and laid on in its colour.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from PIL import Image, ImageDraw

from circuit.layout import Point
from vision.drawing.colours import Colour
from vision.drawing.lettering import MM_PER_POINT, typeface
from vision.drawing.pen import Pen, Stroke, Type
from vision.drawing.shapes import dashes

FINER = 2  # drawn so many times larger: edges have five shades
_LEVELS = 256  # of a mask of 8 bits
_ANCHORS = {"left": "ls", "middle": "ms", "right": "rs"}  # Pillow's names: side, then baseline
_RUN_POINTS = 16  # chosen: a window's outline may have thousands, of which a tile holds few
_TILE_PX, _FEW_TILES = 128, 16  # chosen: smaller tiles, or tiles of smaller boxes, cost more than they save
_Span = tuple[int, int, int, int]  # left, top, right, bottom
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
        wide = stroke.width * self._px_per_mm
        runs = [(run, _around(run, wide / 2)) for piece in pieces if len(piece) > 1 for run in _runs(piece)]

        def paint(draw: ImageDraw.ImageDraw, fine: _Fine, tile: _Span) -> None:
            for run, span in runs:
                if _meet(tile, span):
                    draw.line(fine(run), 255, max(1, round(wide * FINER)), joint="curve")

        spans = [_around(ends, wide / 2) for run, _ in runs for ends in pairwise(run)]
        self._lay(spans, stroke.colour, stroke.opacity, paint)

    def shape(self, outlines: Iterable[Sequence[Point]], fill: Colour, opacity: float = 1.0) -> None:
        shapes = [self._px(outline) for outline in outlines]

        def paint(draw: ImageDraw.ImageDraw, fine: _Fine, tile: _Span) -> None:
            for shape in shapes:
                draw.polygon(fine(shape), 255)

        points = [point for shape in shapes for point in shape]
        self._lay([_around(points, 0.0)] if points else [], fill, opacity, paint)

    def _text(self, x: float, baseline: float, text: str, set_in: Type) -> None:
        face = typeface(set_in.weight, max(1, round(set_in.size_pt * MM_PER_POINT * self._px_per_mm)))
        (at,) = self._px([(x, baseline)])
        self._draw.text(at, text, fill=set_in.colour, font=face, anchor=_ANCHORS[set_in.anchor])

    def _lay(
        self,
        spans: Sequence[_Span],
        colour: Colour,
        opacity: float,
        paint: Callable[[ImageDraw.ImageDraw, _Fine, _Span], None],
    ) -> None:
        """Draw a mask and lay the colour on through it, where the spans are. [px]"""
        for left, top, right, bottom in _tiles(spans, self._picture.size):

            def fine(outline: Iterable[Point], left: int = left, top: int = top) -> list[Point]:
                # Pillow puts a pixel's middle at whole numbers.
                return [((x - left) * FINER - 0.5, (y - top) * FINER - 0.5) for x, y in outline]

            mask = Image.new("L", ((right - left) * FINER, (bottom - top) * FINER))
            paint(ImageDraw.Draw(mask), fine, (left, top, right, bottom))
            mask = mask.reduce(FINER)
            if opacity < 1.0:
                mask = mask.point([round(level * opacity) for level in range(_LEVELS)])
            self._picture.paste(colour, (left, top), mask)


def _runs(line: Sequence[Point]) -> Iterator[Sequence[Point]]:
    """A line in short parts. Each shares a stretch with the next, so that no corner lies at an end of all of them: the
    parts paint just what the line does."""
    for start in range(0, max(1, len(line) - 2), _RUN_POINTS):
        yield line[start : start + _RUN_POINTS + 2]


def _around(points: Sequence[Point], beyond: float) -> _Span:
    xs, ys = zip(*points)
    reach = math.ceil(beyond) + 1
    return (
        math.floor(min(xs)) - reach,
        math.floor(min(ys)) - reach,
        math.ceil(max(xs)) + reach,
        math.ceil(max(ys)) + reach,
    )


def _tiles(spans: Sequence[_Span], size: tuple[int, int]) -> Iterator[_Span]:
    """The pixels in which spans lie, in parts that don't overlap: one box, or of a large one the tiles that any
    span touches. A card's edge touches a quarter of its box."""
    if not spans:
        return
    left, top = (max(0, min(span[axis] for span in spans)) for axis in (0, 1))
    right, bottom = (min(size[axis], max(span[axis + 2] for span in spans)) for axis in (0, 1))
    if right <= left or bottom <= top:
        return
    if (right - left) * (bottom - top) < _FEW_TILES * _TILE_PX**2:
        yield left, top, right, bottom
        return
    lefts, tops, rights, bottoms = np.array(spans).T
    for x in range(left, right, _TILE_PX):
        for y in range(top, bottom, _TILE_PX):
            tile = (x, y, min(right, x + _TILE_PX), min(bottom, y + _TILE_PX))
            if np.any((lefts < tile[2]) & (tile[0] < rights) & (tops < tile[3]) & (tile[1] < bottoms)):
                yield tile


def _meet(one: _Span, other: _Span) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
