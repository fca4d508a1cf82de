"""Small pictures that people build from: the switch from the side, a fold in three steps.

In:    a pen, a place, a `Build`.
Out:   ink; each picture says how much room it takes.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Sequence

from circuit.layout import Point
from circuit.lengths import format_length
from circuit.switch import FOAM_STRIP_MM, Switch
from cli.pages.build_data import Build
from vision.drawing.colours import FAINT_INK, INK, NEGATIVE, PALE, POSITIVE, WHITE, Colour
from vision.drawing.draw_signs import draw_minus, draw_plus
from vision.drawing.lettering import TINY_PT
from vision.drawing.pen import HAIR_MM, Pen

# The side view: chosen so that a tenth of a millimetre shows and the whole fits a page's width.
WIDTHS, HEIGHTS = 2.0, 5.0
# Thicknesses as drawn; tape a little thicker than it is, to be seen.
_CARD_MM, _FLAP_MM, _TAPE_MM = 0.4, 0.3, 0.14
_ABOVE_MM, _BELOW_MM = 11.0, 11.5  # room for words over and under the picture
_WORDS_PT = TINY_PT
_RAMP_STEPS = 12
# Heights above the card as drawn: the dot under the negative tape; over it clear tape, and what lies upon both.
_DOT_TOP_MM, _CLEAR_TOP_MM, _LOW_MM = 0.1, 0.2, 0.12
_PAST_TAB_MM = 6.0  # how far card and tape are drawn past the tab
_SIGN_MM = 2.2  # the cell's signs: size, and how far their middle lies from its rim
# How far the tape stands off the free end: where it turns, where it lies thickest.
_ROUND_END_MM = (0.35, 0.6)
_CLEAR_MM = 0.08  # the clear tape under the lid
_MEETING_MM = 0.02  # what keeps the outer tape's end over the card, to be seen
_COPPER_AND_GLUE_MM = 0.3  # of both tapes and the lid's clear tape: what they take of the air over the cell
# Where words begin, as shares of the picture's width, row by row, so that none runs into the next.
_ROW_ABOVE, _ROW_BELOW = (0.0, 0.47, 0.72), (0.0, 0.51, 0.74)
_AIR_AT, _DOT_AT = 0.1, 0.2
# How far a pointer ends inside what it points to, by how thick that is drawn.
_INTO_MM = (0.05, 0.15, 0.2, 0.3)
_PAST_DOT_MM = 2.5  # beyond the dot, where clear tape lies alone
# Rows of words on the page: the upper one's foot, the lower one's, from one to the next, a pointer's begin at either.
_FIRST_ROW_MM, _LAST_ROW_MM, _ROW_MM, _UNDER_WORDS_MM, _OVER_WORDS_MM = 2.6, 10.2, 3.6, 0.8, 2.3
_POINTER_SHARE = 0.8  # of a hair line's width
_FOOT_MM = 0.35  # of the ramp, as drawn: above the covered negative tape


def side_view_size(switch: Switch) -> tuple[float, float]:
    """Width and height that the side view takes. [mm]"""
    along = switch.shape.half_mm + switch.shape.reach_mm + 8.0
    return along * WIDTHS, (switch.rise_mm + _FLAP_MM + 2 * _CARD_MM) * HEIGHTS + _ABOVE_MM + _BELOW_MM


def draw_side_view(pen: Pen, build: Build, left: float, top: float) -> None:
    """A cut along the two tapes, the hinge on the right: what lies on what, which face of the copper is bare."""
    switch = build.switch
    if switch is None:
        return
    half, reach, rise = switch.shape.half_mm, switch.shape.reach_mm, switch.rise_mm
    cell, radius = build.settings.cell, build.settings.cell.diameter_mm / 2
    ground = top + _ABOVE_MM + (rise + 2 * _FLAP_MM) * HEIGHTS

    def at(u: float, z: float) -> Point:
        return left + (u + half + 1.0) * WIDTHS, ground - z * HEIGHTS

    def slab(u0: float, u1: float, z0: float, z1: float, fill: Colour, rim: Colour | None = None) -> None:
        ring = [at(u0, z0), at(u1, z0), at(u1, z1), at(u0, z1)]
        pen.shape([ring], fill)
        if rim is not None:
            pen.line(ring, rim, HAIR_MM, closed=True)

    past = switch.end_run_mm - reach
    lid_end = switch.wrap_mm - half
    bare = switch.dot_mm / 2 + 0.5
    end = reach + _PAST_TAB_MM
    slab(-half - 1.0, end + 0.0, -_CARD_MM, 0.0, PALE, FAINT_INK)
    slab(-bare + 0.5, bare - 0.5, 0.0, _DOT_TOP_MM, WHITE, INK)
    slab(-past, end, _DOT_TOP_MM, _DOT_TOP_MM + _TAPE_MM, NEGATIVE)
    slab(bare, reach + 2.0, _DOT_TOP_MM + _TAPE_MM, _CLEAR_TOP_MM + _TAPE_MM, WHITE, INK)
    low = _LOW_MM + _TAPE_MM
    for u in (-half, half - FOAM_STRIP_MM):
        slab(u, u + FOAM_STRIP_MM, 0.0 if u < 0 else low + _DOT_TOP_MM, rise, PALE, INK)
    slab(-radius, radius, low, low + cell.height_mm, WHITE, INK)
    draw_plus(pen, at(-radius + _SIGN_MM, low + cell.height_mm - 0.5), _SIGN_MM, POSITIVE)
    draw_minus(pen, at(-radius + _SIGN_MM, low + 0.5), _SIGN_MM, NEGATIVE)
    # Lid, ramp and tab as one strip of card, the copper on its outer face and round the free end.
    slope = _ramp(switch)
    card = [(-half, rise), *slope, (reach, low + _DOT_TOP_MM)]
    _band(pen, at, card, 0.0, _FLAP_MM, WHITE, INK)
    outer = [(-half - _ROUND_END_MM[0], rise), *slope, (reach, low + _DOT_TOP_MM), (end, _MEETING_MM)]
    _band(pen, at, outer, _FLAP_MM, _FLAP_MM + _TAPE_MM, POSITIVE, None)
    slab(-half - _ROUND_END_MM[1], -half, rise - _TAPE_MM, rise + _FLAP_MM + _TAPE_MM, POSITIVE)
    slab(-half, lid_end, rise - _TAPE_MM, rise, POSITIVE)
    slab(-half, -bare, rise - _TAPE_MM - _CLEAR_MM, rise - _TAPE_MM, WHITE, INK)
    wide = side_view_size(switch)[0]
    for words, share, row, pointing in _side_words(build, switch, low):
        _pointed(pen, words, left + share * wide, row, at(*pointing), top, ground)


def _side_words(build: Build, switch: Switch, low: float) -> list[tuple[str, float, int, Point]]:
    """Words, where they begin as a share of the picture's width, their row (1 and 2 above, -1 and -2 below, 1 and -1
    nearest the edge of the picture's room), what they point to (u, z)."""
    half, reach, rise = switch.shape.half_mm, switch.shape.reach_mm, switch.rise_mm
    cell = build.settings.cell
    # An inch hides a tenth of a millimetre.
    air = format_length(max(rise - cell.height_mm - _COPPER_AND_GLUE_MM, 0.0), "mm")
    return [
        ("free end: + tape goes round", _ROW_ABOVE[0], 1, (-half, rise + _INTO_MM[2])),
        ("lid, + tape on top", _ROW_ABOVE[1], 1, (half - 2.0, rise + _INTO_MM[3])),
        (_ramp_words(switch), _ROW_ABOVE[2], 1, ((half + switch.shape.ramp_mm) / 2, rise / 2 + 0.5)),
        (f"+ copper faces down; air {air}", _AIR_AT, 2, (1.0, rise - _TAPE_MM)),
        ("foam frame", _ROW_BELOW[0], -2, (-half + 2.0, 1.0)),
        ("clear tape", _ROW_BELOW[1], -2, (switch.dot_mm / 2 + _PAST_DOT_MM, low + _INTO_MM[0])),
        ("tab, glued down", _ROW_BELOW[2], -2, (reach - 2.0, low + _INTO_MM[2])),
        ("paper dot; − copper faces up", _DOT_AT, -1, (-1.0, _INTO_MM[1])),
    ]


def _ramp_words(switch: Switch) -> str:
    return "upright: two creases" if switch.tongue == "upright" else "ramp: easy bend"


def _pointed(pen: Pen, words: str, begins: float, row: int, target: Point, top: float, ground: float) -> None:
    above = row > 0
    if above:
        y = top + _FIRST_ROW_MM + _ROW_MM * (row - 1)
    else:
        y = ground + _LAST_ROW_MM - _ROW_MM * (-1 - row)
    pen.text(begins, y, words, _WORDS_PT)
    start = (begins + 3.0, y + _UNDER_WORDS_MM if above else y - _OVER_WORDS_MM)
    pen.line([start, target], INK, HAIR_MM * _POINTER_SHARE)


def _ramp(switch: Switch) -> list[Point]:
    """The ramp's underside, (u, z), from the lid to the tab: two equal arcs, level at both ends; or upright."""
    from_u, to_u = switch.shape.half_mm, switch.shape.ramp_mm
    if switch.tongue == "upright":
        return [(from_u, switch.rise_mm), (to_u, _FOOT_MM)]
    found = []
    for i in range(_RAMP_STEPS + 1):
        share = i / _RAMP_STEPS
        # A smooth step: drawn at 5 to 2 an arc is no circle on paper anyway.
        down = share * share * (3 - 2 * share)
        found.append((from_u + share * (to_u - from_u), switch.rise_mm - down * (switch.rise_mm - _FOOT_MM)))
    return found


def _band(pen, at, line: Sequence[Point], low: float, high: float, fill: Colour, rim: Colour | None) -> None:  # type: ignore[no-untyped-def]
    """A strip along (u, z) points, from `low` to `high` above them."""
    ring = [at(u, z + low) for u, z in line] + [at(u, z + high) for u, z in reversed(line)]
    pen.shape([ring], fill)
    if rim is not None:
        pen.line(ring, rim, HAIR_MM, closed=True)
