"""The small signs that tie the picture to its legend: callouts, labels, question marks, swatches.

In:    a Pillow drawing, a box, a style.
Out:   drawing in that box; callouts differ by shape and by colour.
Fails: never.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from PIL import Image, ImageDraw

from circuit.layout import Level, Point
from vision.drawing.overlay.ink import Ink
from vision.drawing.overlay.placement import Box
from vision.drawing.overlay.style import (
    DOUBT,
    FAINT_INK,
    GREEN,
    INK,
    MOVE,
    PAPER,
    WHITE,
    YELLOW,
    Colour,
    Style,
    typeface,
)

_LOOK: Colour = (255, 247, 205)  # chosen: pale, so that the dark must-fix callout comes first


def draw_callout(picture: Image.Image, box: Box, text: str, level: Level, style: Style) -> None:
    """Must fix: a dark octagon with a yellow number. Look again: a pale circle with a dark one."""
    ink = _ink_for(picture, box)
    radius = min(box.right - box.left, box.bottom - box.top) / 2 - 1
    centre = _local(box)
    if level == "must-fix":
        ink.polygon(_octagon(centre, radius + 1), WHITE)
        ink.polygon(_octagon(centre, radius - style.px(2)), INK)
    else:
        ink.disc(centre, radius, INK)
        ink.disc(centre, radius - style.px(4), _LOOK)
    _lay(picture, ink, box)
    size = style.px(40) if len(text) < 3 else style.px(30)
    _write(picture, box, text, YELLOW if level == "must-fix" else INK, size)


def draw_label(picture: Image.Image, box: Box, text: str, style: Style) -> None:
    """A light's name on a slip of paper."""
    draw = ImageDraw.Draw(picture)
    draw.rounded_rectangle(
        (box.left, box.top, box.right - 1, box.bottom - 1),
        style.px(10),
        fill=PAPER,
        outline=INK,
        width=style.px(2),
    )
    _write(picture, box, text, INK, style.label)


def draw_question(picture: Image.Image, box: Box, style: Style) -> None:
    """The mark of a doubt."""
    draw = ImageDraw.Draw(picture)
    draw.rounded_rectangle(
        (box.left, box.top, box.right - 1, box.bottom - 1),
        style.px(18),
        fill=DOUBT,
        outline=WHITE,
        width=style.px(3),
    )
    _write(picture, box, "?", INK, style.px(46))


def draw_tick(picture: Image.Image, box: Box, style: Style) -> None:
    """Nothing to fix."""
    ink = _ink_for(picture, box)
    w, h = box.right - box.left, box.bottom - box.top
    ink.line([(w * 0.12, h * 0.55), (w * 0.4, h * 0.82), (w * 0.9, h * 0.16)], GREEN, style.px(13))
    _lay(picture, ink, box)


def draw_struck_out(picture: Image.Image, box: Box, style: Style) -> None:
    """A dot with an X through it."""
    ink = _ink_for(picture, box)
    (x, y), reach = _local(box), min(box.right - box.left, box.bottom - box.top) * 0.34
    ink.disc((x, y), reach * 0.5, FAINT_INK)
    for side in (-1, 1):
        ink.line([(x - reach, y - side * reach), (x + reach, y + side * reach)], FAINT_INK, style.px(5))
    _lay(picture, ink, box)


def draw_dot_for(style: Style) -> Callable[[Image.Image, Box], None]:
    """A painter of a plain dot, for a sentence that has no place on the card."""

    def paint(picture: Image.Image, box: Box) -> None:
        ink = _ink_for(picture, box)
        ink.disc(_local(box), style.px(8), INK)
        _lay(picture, ink, box)

    return paint


def draw_move_sign(picture: Image.Image, box: Box, style: Style, way: Point) -> None:
    """An arrow that points where the mark should go."""
    ink = _ink_for(picture, box)
    x, y = _local(box)
    run = math.hypot(*way) or 1.0
    reach = min(box.right - box.left, box.bottom - box.top) * 0.44
    ux, uy = way[0] / run * reach, way[1] / run * reach
    ink.arrow((x - ux, y - uy), (x + ux, y + uy), MOVE, style.px(8), style.px(30))
    _lay(picture, ink, box)


def _write(picture: Image.Image, box: Box, text: str, colour: Colour, size: int) -> None:
    face = typeface("bold", size)
    x, y = box.centre
    # Capitals and digits centred on their own height, not on the line's.
    ImageDraw.Draw(picture).text((x, y + 0.36 * size), text, fill=colour, font=face, anchor="ms")


def _octagon(centre: Point, radius: float) -> list[Point]:
    outer = radius / math.cos(math.radians(22.5))
    angles = [math.radians(22.5 + 45 * i) for i in range(8)]
    return [(centre[0] + outer * math.cos(a), centre[1] + outer * math.sin(a)) for a in angles]


def _ink_for(picture: Image.Image, box: Box) -> Ink:
    return Ink((box.right - box.left, box.bottom - box.top))


def _local(box: Box) -> Point:
    return ((box.right - box.left - 1) / 2, (box.bottom - box.top - 1) / 2)


def _lay(picture: Image.Image, ink: Ink, box: Box) -> None:
    spot = (box.left, box.top, box.right, box.bottom)
    picture.paste(ink.laid_on(picture.crop(spot)), spot[:2])
