"""How a tape turns a corner, in three small pictures with their words: folded in one piece, or cut and lapped.

In:    a pen, the place, which of the two.
Out:   ink.
Fails: never.
"""

from __future__ import annotations

from circuit.layout import Point
from circuit.settings import Corners
from vision.drawing.colours import INK, POSITIVE, POSITIVE_TINT, WHITE, Colour
from vision.drawing.draw_signs import draw_arrow
from vision.drawing.lettering import TINY_PT, line_mm, wrapped
from vision.drawing.pen import HAIR_MM, LINE_MM, SHORT_DASH, Pen

TITLES = {"folded": "A fold", "lapped": "A lap"}
_WORDS = {
    "folded": (
        "1 Lay it past the corner.",
        "2 Fold it straight back on itself: glue side up.",
        "3 Fold it over along the slant: copper up again. Rub hard.",
    ),
    "lapped": (
        "1 Lay it to the corner's far side. Cut it.",
        "2 Fold the next end under by its width: copper below.",
        "3 Copper on copper. Clear tape over it. Rub hard.",
    ),
}
# Chosen by eye. [mm]
_WIDE_MM, _HIGH_MM, _GAP_MM, _TAPE_MM = 22.5, 15.0, 3.0, 5.0
_CORNER_MM, _DOWN_MM = 14.0, 1.0  # where it turns; how far the tape lies under the picture's top
_WORDS_DOWN_MM, _WORDS_HIGH_MM = 2.5, 10.5  # the words' first line, and all of them
_HEAD_MM, _SHOWING_MM = 2.0, 1.0  # an arrow's head; how far a turned end looks out from under


def corner_size() -> tuple[float, float]:
    """Width and height of the three pictures with their words. [mm]"""
    return 3 * _WIDE_MM + 2 * _GAP_MM, _HIGH_MM + _WORDS_HIGH_MM


def corner_words(corners: Corners) -> tuple[list[str], ...]:
    """What stands under each picture, in lines."""
    return tuple(list(wrapped(text, TINY_PT, _WIDE_MM + 1.0)) for text in _WORDS[corners])


def draw_corner_steps(pen: Pen, corners: Corners, left: float, top: float) -> None:
    """A right angle to the right, copper up before and after."""
    for number, lines in enumerate(corner_words(corners)):
        x = left + number * (_WIDE_MM + _GAP_MM)
        (_draw_fold if corners == "folded" else _draw_lap)(pen, number, x, top + _DOWN_MM)
        for row, line in enumerate(lines):
            pen.text(x, top + _HIGH_MM + _WORDS_DOWN_MM + row * line_mm(TINY_PT), line, TINY_PT)


def _draw_fold(pen: Pen, number: int, x: float, y: float) -> None:
    past, middle = x + _CORNER_MM + _TAPE_MM, y + _TAPE_MM / 2
    if number == 0:
        _piece(pen, (x, y), (x + _WIDE_MM, y + _TAPE_MM), POSITIVE_TINT)
        _arrow(pen, (x + 2.0, middle), (x + 9.0, middle))
    elif number == 1:
        _piece(pen, (x, y), (past, y + _TAPE_MM), POSITIVE_TINT)
        _piece(pen, (x + 4.0, y + _SHOWING_MM), (past, y + _TAPE_MM), WHITE)
        _arrow(pen, (x + 17.0, middle + 0.5), (x + 8.0, middle + 0.5))
    else:
        _piece(pen, (x, y), (past, y + _TAPE_MM), POSITIVE_TINT)
        _draw_down(pen, x, y)
    slant = [(x + _CORNER_MM, y + _TAPE_MM), (past, y)]
    pen.line(slant, INK, HAIR_MM, dash=SHORT_DASH if number == 0 else ())


def _draw_lap(pen: Pen, number: int, x: float, y: float) -> None:
    past, middle = x + _CORNER_MM + _TAPE_MM, y + _TAPE_MM / 2
    if number == 1:  # the next piece, lying, its end under it
        _piece(pen, (x, y + _SHOWING_MM), (x + _TAPE_MM, y + _TAPE_MM + _SHOWING_MM), POSITIVE_TINT)
        _piece(pen, (x, y), (past, y + _TAPE_MM), POSITIVE_TINT)
        _arrow(pen, (x + 10.0, middle), (x + 2.0, middle))
        return
    _piece(pen, (x, y), (past, y + _TAPE_MM), POSITIVE_TINT)
    if number == 0:
        _arrow(pen, (x + 2.0, middle), (x + 9.0, middle))
        pen.line([(past, y - _DOWN_MM), (past, y + _TAPE_MM + 2.0)], INK, HAIR_MM, dash=SHORT_DASH)
    else:
        _draw_down(pen, x, y)


def _draw_down(pen: Pen, x: float, y: float) -> None:
    """The tape after the corner, and its way."""
    foot, middle = y - _DOWN_MM + _HIGH_MM, x + _CORNER_MM + _TAPE_MM / 2
    _piece(pen, (x + _CORNER_MM, y), (x + _CORNER_MM + _TAPE_MM, foot - 0.5), POSITIVE_TINT)
    _arrow(pen, (middle, y + _TAPE_MM + 2.0), (middle, foot - 2.0))


def _piece(pen: Pen, one: Point, other: Point, fill: Colour) -> None:
    ring = [one, (other[0], one[1]), other, (one[0], other[1])]
    pen.shape([ring], fill)
    pen.line(ring, POSITIVE, LINE_MM, closed=True)


def _arrow(pen: Pen, start: Point, end: Point) -> None:
    draw_arrow(pen, start, end, INK, LINE_MM, _HEAD_MM)
