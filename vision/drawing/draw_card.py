"""The whole card: what lies under the tape, the tape, what lies over it.

In:    a pen, where the card lies on its sheet, a `Subject`, a look.
Out:   ink; words and labels come on top, from `labels` and whoever knows what they say.
Fails: never.
"""

from __future__ import annotations

import math

from circuit.layout import Card, Point
from circuit.rules import limit_of
from vision.drawing.box import Box, Placing
from vision.drawing.colours import DOUBT, FAINT_INK
from vision.drawing.draw_marks import (
    draw_card_edge,
    draw_cell,
    draw_cover,
    draw_drawn_line,
    draw_flap,
    draw_frame,
    draw_joint,
    draw_light,
    draw_move,
    draw_prick,
    draw_unclear,
    draw_window,
    draw_zone,
)
from vision.drawing.draw_signs import draw_trouble
from vision.drawing.draw_tapes import draw_crease, draw_tape, draw_tape_signs
from vision.drawing.look import Look
from vision.drawing.pen import Pen
from vision.drawing.shapes import creases, reach_of
from vision.drawing.subject import Subject

_MOST_CROSSES = 12  # chosen by eye: on a card of thirteen lights, 53 crosses hid lights and tapes alike
TROUBLE_MM = 3.0  # of the sheet; chosen: seen on a phone, and smaller than any callout


def draw_foam_border(pen: Pen, placing: Placing, subject: Subject, look: Look) -> None:
    """Foam round the card, in four strips; nothing on a card that has no room for it."""
    card = subject.plan.layout.card
    wide = limit_of(subject.settings, "light-near-edge")
    if min(card.width_mm, card.height_mm) > 2 * wide:
        look.tinted(pen, [placing.along(strip.corners) for strip in _border(card, wide)])


def draw_under_tape(pen: Pen, placing: Placing, subject: Subject, look: Look, *, foam: bool = True) -> None:
    """The front card's window, the switch and its foam, and the place that is kept free round the cell."""
    window, battery = subject.plan.layout.window, subject.plan.layout.battery
    if window is not None:
        draw_window(pen, placing, window, look)
    if battery is None:
        return
    if subject.switch is not None and foam:
        draw_frame(pen, placing, subject.switch, look)
    draw_zone(pen, placing, battery.centre, subject.settings.battery_zone_radius_mm)


def draw_tapes(pen: Pen, placing: Placing, subject: Subject, look: Look) -> None:
    """All tapes in full colour, those of branches over the lane's, their folds over them."""
    traces = subject.plan.traces
    if traces is None:
        return
    wide = traces.tape_width_mm
    for line, positive in subject.tapes_on_card:
        draw_tape(pen, placing, line, wide, look, positive=positive)
    for line, _ in subject.tapes_on_card:
        for crease in creases(line, wide):
            draw_crease(pen, placing, crease, look)


def draw_over_tape(pen: Pen, placing: Placing, subject: Subject, look: Look, *, pricks: bool = False) -> None:
    """Signs, joints, the maker's own lines, cell, lights (`pricks`: with crosses to prick through), the card's edge."""
    layout, settings = subject.plan.layout, subject.settings
    if subject.switch is not None and subject.plan.traces is not None:
        if pricks:
            draw_cover(pen, placing, subject.switch)
        draw_flap(pen, placing, subject.switch, subject.plan.traces.tape_width_mm, look)
    for line in layout.drawn_lines:
        draw_drawn_line(pen, placing, line, look)
    draw_tape_signs(pen, placing, subject)
    for joint in subject.joints:
        with pen.group("joint"):
            draw_joint(pen, placing, joint, look)
    if layout.battery is not None:
        battery = layout.battery
        with pen.group("cell", "battery"):
            draw_cell(pen, placing, battery.centre, settings.cell.diameter_mm, look, sure=battery.sure)
    for light in layout.lights:
        side = subject.side_deg(light.label)
        with pen.group("light", light.label):
            draw_light(pen, placing, light.centre, settings.light, side, look, sure=light.sure)
            if pricks:
                draw_prick(pen, placing.at(light.centre))
    draw_card_edge(pen, placing, layout.card, look)


def crossed_places(subject: Subject) -> tuple[Point, ...]:
    """Where the maker's own lines get a cross: not on a light, which would seem to be crossed out, and nowhere where
    there are so many that they would hide the traces."""
    plan, body = subject.plan, reach_of(subject.settings.light)
    places = tuple(
        problem.where_mm
        for problem in plan.drawn_problems
        if all(math.dist(problem.where_mm, light.centre) > body for light in plan.layout.lights)
    )
    return places if len(places) <= _MOST_CROSSES else ()


def draw_remarks(pen: Pen, placing: Placing, subject: Subject) -> None:
    """Faults of the maker's own lines; rings round what may be a mark and what is crossed out; where marks would
    move to. On photos alone: what is printed is to be built from."""
    plan = subject.plan
    for where_mm in crossed_places(subject):
        x, y = placing.at(where_mm)
        with pen.group("own-line"):
            draw_trouble(pen, Box(x - TROUBLE_MM / 2, y - TROUBLE_MM / 2, TROUBLE_MM, TROUBLE_MM))
    for where_mm, colour in (
        *((at, DOUBT) for at in plan.seen.maybe),
        *((at, FAINT_INK) for at in plan.seen.crossed_out),
    ):
        with pen.group("unclear"):
            draw_unclear(pen, placing, where_mm, colour)
    for move in plan.moves:
        with pen.group("move", move.about):
            draw_move(pen, placing, move, subject.settings, subject.side_deg(move.about))


def _border(card: Card, wide: float) -> tuple[Box, ...]:
    between = card.height_mm - 2 * wide
    return (
        Box(0.0, 0.0, card.width_mm, wide),
        Box(0.0, card.height_mm - wide, card.width_mm, wide),
        Box(0.0, wide, wide, between),
        Box(card.width_mm - wide, wide, wide, between),
    )
