"""The small signs that tie a drawing to its words: callouts, labels, question marks, ticks, arrows, plus and minus.

In:    a pen, a box or a point.
Out:   ink there; callouts differ by shape and by colour.
Fails: never.
"""

from __future__ import annotations

import math

from circuit.layout import Level, Point
from vision.drawing.box import Box
from vision.drawing.colours import (
    BLACK,
    DOUBT,
    FAINT_INK,
    GREEN,
    INK,
    LOOK_AGAIN,
    MOVE,
    SHEET,
    WHITE,
    YELLOW,
    Colour,
    polarity_colour,
)
from vision.drawing.lettering import BODY_PT, LABEL_PT, capitals_mm
from vision.drawing.pen import BOLD_MM, HAIR_MM, Pen, Sign
from vision.drawing.shapes import octagon, rounded_corners

# Shares of a sign's own size, chosen by eye.
_BAR_SHARE = 0.28  # a plus's stroke over its size
_ON_DISC = 0.62  # half a plus over its disc's radius
_HEAD_WIDE = 0.5  # half an arrow's head over its length
_TICK = ((0.12, 0.55), (0.4, 0.82), (0.9, 0.16))  # a tick's three points
_TROUBLE_SHARE, _TROUBLE_HALO = 0.3, 2.5  # chosen: half an X over its box; white under it over its line
_CROSSED_SHARE = 0.34  # half an X over its box
_MOVE_SHARE = 0.88  # a move's arrow over its box
# Sizes, chosen by eye. [mm]
_DIRECTION_MM, _DIRECTION_HEAD_MM = 3.8, 1.8
_MOVE_WIDE_MM, _MOVE_HEAD_MM = 0.65, 2.4
_STEP_MM = (3.2, 3.6)  # radius of a step's disc: for one figure, for two
_DOT_MM = 0.65
_RIM_MM = 0.16  # white round a callout, and the rims of labels
_LABEL_ROUND_MM, _QUESTION_ROUND_MM = 0.8, 1.45  # chosen: corners, by which the two are told apart
_USUAL_MM = 5.5  # the box that what follows is stated for; in another box all grows or shrinks with it
_QUESTION_PT, _LONG_NUMBER_PT = 12.0, 7.0  # chosen: what fits their signs
_TICK_MM = 0.85  # chosen: as heavy as the heading beside it


def draw_plus(pen: Pen, centre: Point, size: float, colour: Colour) -> None:
    """A plus, `size` across. [mm]"""
    draw_minus(pen, centre, size, colour)
    x, y = centre
    pen.line([(x, y - size / 2), (x, y + size / 2)], colour, size * _BAR_SHARE)


def draw_minus(pen: Pen, centre: Point, size: float, colour: Colour) -> None:
    """A minus, `size` across. [mm]"""
    x, y = centre
    pen.line([(x - size / 2, y), (x + size / 2, y)], colour, size * _BAR_SHARE)


def draw_polarity(pen: Pen, centre: Point, radius: float, *, positive: bool) -> None:
    """A white sign on a round spot of the tape's own colour."""
    pen.circle(centre, radius, None, fill=polarity_colour(positive))
    (draw_plus if positive else draw_minus)(pen, centre, 2 * radius * _ON_DISC, WHITE)


def draw_cross(pen: Pen, centre: Point, arm: float, width: float = HAIR_MM) -> None:
    """Two thin black lines, `arm` long from their crossing. [mm]"""
    x, y = centre
    pen.line([(x - arm, y), (x + arm, y)], BLACK, width)
    pen.line([(x, y - arm), (x, y + arm)], BLACK, width)


def draw_arrow(pen: Pen, a: Point, b: Point, colour: Colour, width: float, head: float) -> None:
    """A shaft and a filled head whose tip is at `b`; a short arrow is all head."""
    run = math.dist(a, b)
    if run == 0:
        return
    ux, uy = (b[0] - a[0]) / run, (b[1] - a[1]) / run
    head = min(head, run)
    neck = (b[0] - ux * head, b[1] - uy * head)
    half = head * _HEAD_WIDE
    pen.line([a, (neck[0] + ux * width / 4, neck[1] + uy * width / 4)], colour, width)
    pen.shape(
        [[b, (neck[0] - uy * half, neck[1] + ux * half), (neck[0] + uy * half, neck[1] - ux * half)]], colour
    )


def draw_direction(pen: Pen, centre: Point, heading_deg: float, colour: Colour) -> None:
    """An arrow about a point."""
    x, y = centre
    c, s = (part(math.radians(heading_deg)) * _DIRECTION_MM / 2 for part in (math.cos, math.sin))
    draw_arrow(pen, (x - c, y - s), (x + c, y + s), colour, BOLD_MM, _DIRECTION_HEAD_MM)


def draw_callout(pen: Pen, box: Box, text: str, level: Level) -> None:
    """Must fix: a dark octagon with a yellow number. Look again: a pale circle with a dark one."""
    radius = min(box.width, box.height) / 2
    if level == "must-fix":
        pen.shape([octagon(box.centre, radius)], WHITE)
        pen.shape([octagon(box.centre, radius - _RIM_MM)], INK)
    else:
        pen.circle(box.centre, radius - HAIR_MM, INK, 2 * HAIR_MM, fill=LOOK_AGAIN)
    size_pt = LABEL_PT if len(text) < 3 else _LONG_NUMBER_PT
    _write(pen, box.centre, text, YELLOW if level == "must-fix" else INK, size_pt * _grown(box))


def draw_number(pen: Pen, centre: Point, number: int) -> None:
    """A step's number on a dark disc."""
    pen.circle(centre, _STEP_MM[number >= 10], None, fill=INK)
    _write(pen, centre, str(number), WHITE, BODY_PT)


def draw_label(pen: Pen, box: Box, text: str) -> None:
    """A light's name on a slip of paper."""
    _slip(pen, box, SHEET, INK, _LABEL_ROUND_MM)
    _write(pen, box.centre, text, INK, LABEL_PT)


def draw_question(pen: Pen, box: Box) -> None:
    """The mark of a doubt."""
    _slip(pen, box, DOUBT, WHITE, _QUESTION_ROUND_MM)
    _write(pen, box.centre, "?", INK, _QUESTION_PT * _grown(box))


def draw_tick(pen: Pen, box: Box) -> None:
    """Nothing to fix."""
    points = [(box.left + box.width * x, box.top + box.height * y) for x, y in _TICK]
    pen.line(points, GREEN, _TICK_MM * _grown(box))


def draw_struck_out(pen: Pen, box: Box) -> None:
    """A dot with an X through it."""
    (x, y), reach = box.centre, min(box.width, box.height) * _CROSSED_SHARE
    pen.circle((x, y), reach / 2, None, fill=FAINT_INK)
    for side in (-1, 1):
        pen.line([(x - reach, y - side * reach), (x + reach, y + side * reach)], FAINT_INK, BOLD_MM)


def draw_trouble(pen: Pen, box: Box) -> None:
    """An X where one of the maker's own lines would be at fault; white under it, so that it shows on any tape."""
    (x, y), reach = box.centre, min(box.width, box.height) * _TROUBLE_SHARE
    for colour, wide in ((WHITE, _TROUBLE_HALO * BOLD_MM), (INK, BOLD_MM)):
        for side in (-1, 1):
            pen.line([(x - reach, y - side * reach), (x + reach, y + side * reach)], colour, wide)


def draw_dot(pen: Pen, box: Box) -> None:
    """For a sentence that has no place on the card."""
    pen.circle(box.centre, _DOT_MM, None, fill=INK)


def callout_sign(text: str, level: Level) -> Sign:
    """A callout that says that text, to be drawn into any box."""
    return lambda pen, box: draw_callout(pen, box, text, level)


def move_sign(way: Point) -> Sign:
    """An arrow that points where the mark should go."""

    def draw(pen: Pen, box: Box) -> None:
        long = min(box.width, box.height) * _MOVE_SHARE
        x, y = box.centre
        run = math.hypot(*way) or 1.0
        ux, uy = way[0] / run * long / 2, way[1] / run * long / 2
        draw_arrow(pen, (x - ux, y - uy), (x + ux, y + uy), MOVE, _MOVE_WIDE_MM, _MOVE_HEAD_MM)

    return draw


def _grown(box: Box) -> float:
    return min(box.width, box.height) / _USUAL_MM


def _slip(pen: Pen, box: Box, fill: Colour, rim: Colour, radius: float) -> None:
    outline = rounded_corners(box.inset(_RIM_MM / 2), radius)
    pen.shape([outline], fill)
    pen.line(outline, rim, _RIM_MM, closed=True)


def _write(pen: Pen, centre: Point, text: str, colour: Colour, size_pt: float) -> None:
    """Capitals and digits centred on their own height, not on the line's."""
    baseline = centre[1] + capitals_mm(size_pt) / 2
    pen.text(centre[0], baseline, text, size_pt, weight="bold", colour=colour, anchor="middle")
