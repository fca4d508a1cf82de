"""The flap as a pattern to cut out, its hinge on top, seen from the outer face, at true size."""

from __future__ import annotations

import math

from circuit.flap import Flap
from circuit.layout import Point, Polyline
from cli.pages.build_data import Build
from vision.drawing.box import Box, Placing
from vision.drawing.colours import FAINT_INK, INK, PALE, POSITIVE
from vision.drawing.draw_signs import draw_cross, draw_polarity
from vision.drawing.draw_tapes import draw_tape, sign_radius
from vision.drawing.lettering import SMALL_PT, line_mm, wrapped
from vision.drawing.look import ON_PAPER
from vision.drawing.page_pen import PagePen
from vision.drawing.pen import HAIR_MM

_WORDS_GAP_MM = 3.0
_LEAST_WORDS_MM = 26.0


def pattern_size(flap: Flap) -> tuple[float, float]:
    """Width and height of the pattern itself. [mm]"""
    return flap.side_mm, flap.side_mm + flap.tab_depth_mm


def draw_pattern(pen: PagePen, build: Build, left: float, top: float, room: float) -> None:
    """The pattern with its words at its right, wrapped into the rest of `room`."""
    flap, traces = build.flap, build.plan.traces
    if flap is None or traces is None:
        return
    width, height = pattern_size(flap)
    placing = Placing(left + width / 2, top + flap.tab_depth_mm + width / 2)

    def upright(line: Polyline) -> Polyline:
        return tuple(_upright(flap, point) for point in line)

    for strip in flap.foam:
        pen.shape([placing.along(upright(strip))], PALE)
    pattern = Box(left, top, width, height)
    with pen.clipped(pattern):
        # The way up over tab and flap, then on to the free end: one tape.
        on_it = _until_outside(upright(traces.positive), pattern, placing)
        tape = (*reversed(on_it), _upright(flap, flap.over[1]))
        draw_tape(pen, placing, tape, traces.tape_width_mm, ON_PAPER, positive=True)
    end = _upright(flap, flap.over[1])
    draw_polarity(pen, placing.at((end[0], end[1] - 6.0)), sign_radius(traces.tape_width_mm), positive=True)
    pen.circle(
        placing.at((0.0, 0.0)), build.settings.cell.diameter_mm / 2, FAINT_INK, HAIR_MM, dash=(0.8, 0.8)
    )
    draw_cross(pen, placing.at((0.0, 0.0)), 1.5)
    pen.line(pattern.corners, INK, 0.3, closed=True)
    pen.line(placing.along(upright(flap.hinge)), INK, 0.3, dash=(2.2, 1.0))

    words_left = left + width + _WORDS_GAP_MM
    words_room = room - width - _WORDS_GAP_MM
    if words_room < _LEAST_WORDS_MM:
        return
    free_end = top + height
    for at, text in (
        (top + flap.tab_depth_mm / 2, "tab: glue it to the card"),
        (top + flap.tab_depth_mm + 4.5, "hinge: crease along the dashes"),
        (placing.top, "tinted: foam goes under here"),
        (free_end - 5.0, "free end: the + tape goes round it and back under"),
    ):
        lines = wrapped(text, SMALL_PT, words_room)
        y = at - (len(lines) - 1) * line_mm(SMALL_PT) / 2 + 1.1
        for line in lines:
            pen.text(words_left, y, line, SMALL_PT, colour=POSITIVE if "free end" in text else INK)
            y += line_mm(SMALL_PT)


def _until_outside(line: Polyline, box: Box, placing: Placing) -> Polyline:
    """The line's points up to the first one outside the box: where it comes by again it lies on the card."""
    kept: list[Point] = []
    for point in line:
        kept.append(point)
        x, y = placing.at(point)
        if not box.holds(Box(x, y, 0.0, 0.0)):
            break
    return tuple(kept)


def _upright(flap: Flap, point: Point) -> Point:
    """Card millimetres turned about the cell's centre so that the hinge side is up."""
    angle = math.radians(-90.0 - flap.axis_deg)
    c, s = math.cos(angle), math.sin(angle)
    dx, dy = point[0] - flap.centre[0], point[1] - flap.centre[1]
    return (dx * c - dy * s, dx * s + dy * c)
