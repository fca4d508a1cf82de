"""Smooth line art: shapes drawn twice as large with Pillow, then reduced, so that edges are soft.

Positions are panel pixels (pixel centres at integers); colours are RGB with an opacity of 0 to 1.
A shape drawn later replaces what it covers in the same layer: use one layer per see-through level.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from PIL import Image, ImageDraw

from circuit.layout import Point
from vision.drawing.overlay.style import Colour

FINER = 2  # drawn so many times larger
_CHORD_PX = 6.0  # chosen: a circle's straight pieces, too short to be seen


def circle_points(
    centre: Point, radius: float, start_deg: float = 0.0, span_deg: float = 360.0
) -> list[Point]:
    """Points round a circle or arc, first and last included."""
    count = max(12, math.ceil(radius * math.radians(abs(span_deg)) / _CHORD_PX))
    angles = (math.radians(start_deg + span_deg * i / count) for i in range(count + 1))
    return [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]


def dashes(points: Sequence[Point], dash: float, gap: float) -> list[list[Point]]:
    """Cut a line into dashes; the pattern runs on round corners."""
    pieces: list[list[Point]] = []
    drawing, left = True, dash
    piece = [points[0]] if points else []
    for a, b in pairwise(points):
        run = math.dist(a, b)
        done = 0.0
        while run - done > left:
            done += left
            spot = (a[0] + (b[0] - a[0]) * done / run, a[1] + (b[1] - a[1]) * done / run)
            if drawing:
                pieces.append([*piece, spot])
            piece = [spot]
            drawing = not drawing
            left = dash if drawing else gap
        left -= run - done
        if drawing:
            piece.append(b)
    if drawing and len(piece) > 1:
        pieces.append(piece)
    return pieces


class Ink:
    """One see-through layer of line art over a picture of the same size."""

    def __init__(self, size: tuple[int, int]) -> None:
        self._image = Image.new("RGBA", (size[0] * FINER, size[1] * FINER), (0, 0, 0, 0))
        self._draw = ImageDraw.Draw(self._image)

    def line(self, points: Iterable[Point], colour: Colour, width: float, opacity: float = 1.0) -> None:
        at = finer(points)
        if len(at) > 1:
            self._draw.line(at, _rgba(colour, opacity), max(1, round(width * FINER)), joint="curve")

    def dashed(
        self,
        points: Sequence[Point],
        colour: Colour,
        width: float,
        dash: float,
        gap: float,
        opacity: float = 1.0,
    ) -> None:
        for piece in dashes(points, dash, gap):
            self.line(piece, colour, width, opacity)

    def polygon(self, points: Iterable[Point], fill: Colour, opacity: float = 1.0) -> None:
        self._draw.polygon(finer(points), fill=_rgba(fill, opacity))

    def disc(self, centre: Point, radius: float, fill: Colour, opacity: float = 1.0) -> None:
        (x, y), r = finer([centre])[0], radius * FINER
        self._draw.ellipse((x - r, y - r, x + r, y + r), fill=_rgba(fill, opacity))

    def ring(self, centre: Point, radius: float, colour: Colour, width: float, opacity: float = 1.0) -> None:
        self.line(circle_points(centre, radius), colour, width, opacity)

    def plus(self, centre: Point, size: float, colour: Colour, width: float) -> None:
        self.minus(centre, size, colour, width)
        self._bar(centre, width, size, colour)

    def minus(self, centre: Point, size: float, colour: Colour, width: float) -> None:
        self._bar(centre, size, width, colour)

    def _bar(self, centre: Point, width: float, height: float, colour: Colour) -> None:
        (x, y) = finer([centre])[0]
        w, h = width * FINER / 2, height * FINER / 2
        self._draw.rectangle((x - w, y - h, x + w, y + h), fill=_rgba(colour, 1.0))

    def arrow(self, a: Point, b: Point, colour: Colour, width: float, head: float) -> None:
        """A shaft and a filled head whose tip is at `b`; a short arrow is all head."""
        run = math.dist(a, b)
        if run == 0:
            return
        ux, uy = (b[0] - a[0]) / run, (b[1] - a[1]) / run
        head = min(head, run)
        neck = (b[0] - ux * head, b[1] - uy * head)
        half = head * 0.5
        self.line([a, (neck[0] + ux, neck[1] + uy)], colour, width)
        self.polygon(
            [b, (neck[0] - uy * half, neck[1] + ux * half), (neck[0] + uy * half, neck[1] - ux * half)],
            colour,
        )

    def laid_on(self, picture: Image.Image) -> Image.Image:
        """A new RGB picture with this layer on top."""
        drawn = self._image.getbbox()
        out = picture.convert("RGB")
        if drawn is None:
            return out.copy() if out is picture else out
        # Only the part that has ink on it: most layers touch little of the card.
        left, top = drawn[0] // FINER, drawn[1] // FINER
        right, bottom = math.ceil(drawn[2] / FINER), math.ceil(drawn[3] / FINER)
        ink = self._image.crop((left * FINER, top * FINER, right * FINER, bottom * FINER)).reduce(FINER)
        under = out.crop((left, top, right, bottom)).convert("RGBA")
        out = out.copy() if out is picture else out
        out.paste(Image.alpha_composite(under, ink).convert("RGB"), (left, top))
        return out


def _rgba(colour: Colour, opacity: float) -> tuple[int, int, int, int]:
    return (*colour, round(255 * opacity))


def finer(points: Iterable[Point]) -> list[Point]:
    """Positions in a picture drawn FINER times larger."""
    # A pixel centre at integer x sits at (x + 0.5) * FINER - 0.5 in the larger picture.
    return [((x + 0.5) * FINER - 0.5, (y + 0.5) * FINER - 0.5) for x, y in points]
