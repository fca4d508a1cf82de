"""The flap as a pattern to cut out, flat, its tongue on top, seen from the outer face, at true size.

    +-- tab ---+     dashed lines: where the ramp begins and ends; it bends there easily, uncreased (an upright one
    |          |     is creased there)
    |   ramp   |
   /------------\\
   |    lid      |   the + tape runs from the tab to the free end, round it and back under the lid
   \\____________/
"""

from __future__ import annotations

from circuit.layout import Polyline
from circuit.switch import Switch
from cli.pages.build_data import Build
from vision.drawing.box import Placing
from vision.drawing.colours import FAINT_INK, INK, PALE, POSITIVE
from vision.drawing.draw_signs import draw_cross, draw_polarity
from vision.drawing.draw_tapes import draw_tape, sign_radius
from vision.drawing.lettering import SMALL_PT, line_mm, wrapped
from vision.drawing.look import ON_PAPER
from vision.drawing.page_pen import PagePen
from vision.drawing.pen import HAIR_MM, LINE_MM, LONG_DASH, SHORT_DASH

_WORDS_GAP_MM = 3.0
_LEAST_WORDS_MM = 26.0
_FROM_END_MM = (6.0, 5.0)  # chosen by eye: up from the free end, the tape's sign and the end's words
_CROSS_MM = 1.5  # chosen: half of the cross on the lid's middle
_CAPITAL_MM = 1.1  # half a capital's height in small type: brings words level with what they tell of


def pattern_size(switch: Switch) -> tuple[float, float]:
    """Width and height of the pattern itself. [mm]"""
    return 2 * switch.shape.half_mm, 2 * switch.shape.half_mm + switch.tongue_flat_mm


def pattern_outline(switch: Switch) -> Polyline:
    """Its outline about the lid's middle, the tongue up, y down. [mm]"""
    shape, top = switch.shape, switch.shape.half_mm + switch.tongue_flat_mm
    # From above the tongue reaches to `reach_mm`; flat it is longer by the ramp's slope.
    return tuple((v, -(top if u >= shape.reach_mm else u)) for u, v in shape.outline)


def draw_pattern(pen: PagePen, build: Build, left: float, top: float, room: float) -> None:
    """The pattern with its words at its right, wrapped into the rest of `room`."""
    switch, traces = build.switch, build.plan.traces
    if switch is None or traces is None:
        return
    width, height = pattern_size(switch)
    half, tongue = switch.shape.half_mm, switch.tongue_flat_mm
    placing = Placing(left + half, top + tongue + half)
    outline = placing.along(pattern_outline(switch))
    beside = switch.tape_across_mm
    tab = tongue - switch.ramp_flat_mm
    wide = switch.shape.tongue_mm / 2
    pen.shape(
        [
            placing.along(
                (
                    (-wide, -half - tongue),
                    (wide, -half - tongue),
                    (wide, tab - half - tongue),
                    (-wide, tab - half - tongue),
                )
            )
        ],
        PALE,
    )
    line = ((beside, -half - tongue), (beside, half))
    draw_tape(pen, placing, line, traces.tape_width_mm, ON_PAPER, positive=True)
    draw_polarity(
        pen, placing.at((beside, half - _FROM_END_MM[0])), sign_radius(traces.tape_width_mm), positive=True
    )
    pen.circle(
        placing.at((0.0, 0.0)), build.settings.cell.diameter_mm / 2, FAINT_INK, HAIR_MM, dash=SHORT_DASH
    )
    draw_cross(pen, placing.at((0.0, 0.0)), _CROSS_MM)
    end = half - switch.wrap_mm  # under the lid, up from the free end
    pen.line(placing.along(((beside - 2.0, end), (beside + 2.0, end))), POSITIVE, LINE_MM)
    for y in (-half, -half - switch.ramp_flat_mm):
        pen.line(placing.along(((-wide, y), (wide, y))), INK, LINE_MM, dash=LONG_DASH)
    pen.line(outline, INK, LINE_MM, closed=True)

    words_left = left + width + _WORDS_GAP_MM
    words_room = room - width - _WORDS_GAP_MM
    if words_room < _LEAST_WORDS_MM:
        return
    free_end = top + height
    for at, text in (
        (top + tab / 2, "tab: its underside is glued to the card"),
        (top + tab + switch.ramp_flat_mm / 2 + 3.0, _ramp_words(switch)),
        (placing.at((0.0, end))[1], "line across it: so far the + tape comes back under the lid"),
        (free_end - _FROM_END_MM[1], "free end: the + tape goes round it"),
    ):
        lines = wrapped(text, SMALL_PT, words_room)
        y = at - (len(lines) - 1) * line_mm(SMALL_PT) / 2 + _CAPITAL_MM
        for row in lines:
            pen.text(words_left, y, row, SMALL_PT, colour=POSITIVE if "+ tape" in text else INK)
            y += line_mm(SMALL_PT)


def _ramp_words(switch: Switch) -> str:
    if switch.tongue == "upright":
        return "crease both broken lines: this part stands upright at the foam"
    return "ramp: bends easily up to the foam, no crease"
