"""A small picture of one light on both tapes: from above, which end is which; from the side, what holds it down.

In:    a pen, a place, a `Build`.
Out:   ink, at most `LIGHT_MM` in size.
Fails: never.
"""

from __future__ import annotations

from circuit.layout import Point
from circuit.supplies import light_tape_mm
from cli.pages.build_data import Build
from vision.drawing.colours import FAINT_INK, INK, NEGATIVE, PALE, POSITIVE, WHITE, Colour
from vision.drawing.draw_signs import draw_minus, draw_plus
from vision.drawing.lettering import TINY_PT, line_mm, wrapped
from vision.drawing.pen import DOTS, HAIR_MM, LINE_MM, Pen

LIGHT_MM = (73.0, 17.5)  # width and height that it takes
_ABOVE_MM = 18.5  # of the width: the picture from above
_WORDS_MM, _SIDE_MM, _GAP_MM = 28.5, 22.5, 1.7  # the words, the picture from the side, between them
_TAPE_OPACITY = 0.35
# Heights as drawn in the side picture, so that thin things show.
_CARD_MM, _COPPER_MM, _BODY_MM, _CLEAR_MM = 1.0, 0.7, 3.0, 0.35
_FIRST_LINE_MM = 2.6  # from the figure's top to the first line's foot
_SIGN_MM, _SIGN_AT_MM = 2.4, 2.2  # a sign's width at most; its middle from the tape's end
_DIE_SHARE = 0.6  # of the body's half: the round window over the light's chip
_SLACK_MM = (0.6, 0.4)  # how far clear tape stands off: where it leaves the card, where it climbs the body
_CUT_SHARE = 0.22  # of the light's body: the corner that marks its negative end
_WORDS = "Mostly the − end is marked: a cut corner, a line, a green dot. No mark? The way round that lights is right."
_HELD = "Clear tape holds it down: stuck to the card all round."


def draw_light_figure(pen: Pen, build: Build, left: float, top: float) -> None:
    """Both pictures with their words."""
    _draw_from_above(pen, build, left, top)
    x = left + _ABOVE_MM + _GAP_MM
    for row, line in enumerate(wrapped(_WORDS, TINY_PT, _WORDS_MM)):
        pen.text(x, top + _FIRST_LINE_MM + row * line_mm(TINY_PT), line, TINY_PT)
    _draw_from_the_side(pen, build, x + _WORDS_MM + _GAP_MM, top + 1.0)


def _draw_from_above(pen: Pen, build: Build, left: float, top: float) -> None:
    settings = build.settings
    clear_along, clear_across = light_tape_mm(settings)
    scale = LIGHT_MM[1] / (clear_across + 0.5)
    x, y = left + _ABOVE_MM / 2, top + LIGHT_MM[1] / 2
    tape = settings.tape_width_mm * scale
    for side, ink, sign in ((-1.0, POSITIVE, draw_plus), (1.0, NEGATIVE, draw_minus)):
        at = y + side * settings.trace_offset_mm * scale
        pen.shape([_box(left, at - tape / 2, left + _ABOVE_MM, at + tape / 2)], ink, _TAPE_OPACITY)
        sign(pen, (left + _SIGN_AT_MM, at), min(tape, _SIGN_MM), ink)
    half, wide = settings.light.length_mm / 2 * scale, settings.light.width_mm / 2 * scale
    cut = _CUT_SHARE * 2 * min(half, wide)
    corner = (x + wide, y + half)
    body = [(x - wide, y - half), (x + wide, y - half), (corner[0], corner[1] - cut)]
    body += [(corner[0] - cut, corner[1]), (x - wide, y + half)]
    pen.shape([body], WHITE)
    pen.line(body, INK, LINE_MM, closed=True)
    pen.circle((x, y), _DIE_SHARE * min(half, wide), FAINT_INK, HAIR_MM)
    held = _box(
        x - clear_along / 2 * scale,
        y - clear_across / 2 * scale,
        x + clear_along / 2 * scale,
        y + clear_across / 2 * scale,
    )
    pen.line(held, INK, HAIR_MM, dash=DOTS, closed=True)
    # From the marked corner to the words.
    pen.line([(corner[0], corner[1]), (left + _ABOVE_MM + 1.0, top + LIGHT_MM[1] - 3.0)], INK, HAIR_MM)


def _draw_from_the_side(pen: Pen, build: Build, left: float, top: float) -> None:
    """A cut across the lane: the light lies on the two tapes, the clear tape over it and down to the card."""
    settings = build.settings
    across = light_tape_mm(settings)[1]
    scale = _SIDE_MM / (across + 2.0)
    x = left + _SIDE_MM / 2
    ground = top + _BODY_MM + _COPPER_MM + 2.0
    low, high = ground - _COPPER_MM, ground - _COPPER_MM - _BODY_MM

    def bar(from_mm: float, to_mm: float, y0: float, y1: float, fill: Colour, rim: Colour) -> None:
        ring = _box(x + from_mm * scale, y0, x + to_mm * scale, y1)
        pen.shape([ring], fill)
        pen.line(ring, rim, HAIR_MM, closed=True)

    bar(-across / 2 - 1.0, across / 2 + 1.0, ground, ground + _CARD_MM, PALE, FAINT_INK)
    offset, tape, half = settings.trace_offset_mm, settings.tape_width_mm, settings.light.length_mm / 2
    for side, ink in ((-1.0, POSITIVE), (1.0, NEGATIVE)):
        bar(side * offset - tape / 2, side * offset + tape / 2, low, ground, ink, ink)
    bar(-half, half, high, low, WHITE, INK)
    lane = offset + tape / 2
    over = [
        (-across / 2, ground),
        (-lane - _SLACK_MM[0], ground),
        (-half - _SLACK_MM[1], high),
        (-half, high - _CLEAR_MM),
    ]
    over += [(-u, y) for u, y in reversed(over)]
    pen.line([(x + u * scale, y - _CLEAR_MM) for u, y in over], INK, LINE_MM)
    for row, line in enumerate(wrapped(_HELD, TINY_PT, _SIDE_MM)):
        pen.text(left, ground + 4.0 + row * line_mm(TINY_PT), line, TINY_PT)


def _box(x0: float, y0: float, x1: float, y1: float) -> list[Point]:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
