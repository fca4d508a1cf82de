"""The plan drawn as lines: at true size on the 1:1 sheet, small on the build sheet.

In:    a `Build`, where the card lies on the page.
Out:   ink on the page; the labels lie where they cover nothing.

The two tapes are told apart three ways, since many print in black: by colour (Okabe and Ito's
vermilion and blue), by pattern (the negative is barred), by sign.
"""

from __future__ import annotations

import math

from circuit.layout import Point, Polyline
from circuit.rules import limit_of
from cli.pages.build_data import Build
from cli.pages.labels import Labels, nearest_on, ring_points
from cli.pages.lines import Placing, body_corners, box_around, creases, shortened_line, spots_along, tidy
from cli.pages.pen import BLACK, GREY, HAIR_MM, INK, PALE, WHITE, Colour, Pen
from cli.pages.stamps import draw_cross
from cli.pages.type import ASCENT, DESCENT, MM_PER_POINT, shortened, width_mm
from vision.drawing.fonts import Weight

# Okabe and Ito, "Color Universal Design", 2002/2008; the overlay uses the same two.
POSITIVE_INK: Colour = (0xD5 / 255, 0x5E / 255, 0x00 / 255)
NEGATIVE_INK: Colour = (0x00 / 255, 0x72 / 255, 0xB2 / 255)
POSITIVE_TINT: Colour = (0.99, 0.87, 0.77)  # chosen: light enough for a pencil line to show on it
TAPE_EDGE_MM = 0.3  # chosen: the dark rim that marks the tape's true edge
_BAR_MM = (0.5, 1.3)  # chosen: bar and space of the negative's pattern
_SIGN_EVERY_MM = 28.0  # chosen
_LEAST_RUN_FOR_SIGN_MM = 9.0  # chosen
_SIGN_CLEAR_MM = 5.5  # chosen: a body's half diagonal and the sign
CREASE_BEYOND_MM = 1.2  # chosen: sticks out of the tape so that it is seen once tape covers it
CROSS_ARM_MM = 2.0  # chosen
_BAND = 0.22  # chosen: share of the body's length that its dark positive edge takes
_MOST_NUMBERS_SMALL = 16  # chosen by eye: folds that still have room for their number in the small picture
_WIDEST_LABEL_MM = 16.0  # chosen: a layout file may name its lights at any length
LIGHT_PT, FOLD_PT, WORD_PT = 9.0, 6.5, 7.0  # chosen


def draw_plan(pen: Pen, build: Build, placing: Placing, labels: Labels, *, full: bool) -> None:
    """The whole card. `full`: with all that the 1:1 sheet carries; else the picture for the build sheet."""
    if full:
        draw_foam_border(pen, build, placing)
    draw_window(pen, build, placing, labels)
    draw_switch(pen, build, placing, labels, full=full)
    draw_tapes(pen, build, placing, labels)
    draw_cell(pen, build, placing, labels)
    draw_lights(pen, build, placing, labels, crosses=full)
    draw_outline(pen, build, placing)
    draw_labels(pen, build, placing, labels, full=full)


def draw_outline(pen: Pen, build: Build, placing: Placing) -> None:
    pen.line(placing.along(card_corners(build)), INK, HAIR_MM, closed=True)


def card_corners(build: Build) -> Polyline:
    card = build.plan.layout.card
    return ((0.0, 0.0), (card.width_mm, 0.0), (card.width_mm, card.height_mm), (0.0, card.height_mm))


def draw_foam_border(pen: Pen, build: Build, placing: Placing) -> None:
    card = build.plan.layout.card
    wide = limit_of(build.settings, "light-near-edge")
    inner_w, inner_h = card.width_mm - 2 * wide, card.height_mm - 2 * wide
    if inner_w <= 0 or inner_h <= 0:
        return
    pen.shape(placing.along(card_corners(build)), PALE)
    inner = ((wide, wide), (wide + inner_w, wide), (wide + inner_w, wide + inner_h), (wide, wide + inner_h))
    pen.shape(placing.along(inner), WHITE)


def draw_window(pen: Pen, build: Build, placing: Placing, labels: Labels) -> None:
    window = build.plan.layout.window
    if window is None:
        return
    points = placing.along(window)
    pen.line(points, INK, 0.25, dash=(0.4, 1.0), closed=True)
    labels.keep_off(points, 0.6, hard=False, closed=True)


def draw_switch(pen: Pen, build: Build, placing: Placing, labels: Labels, *, full: bool) -> None:
    """Flap, tab, hinge, foam; where clear tape goes over the negative tape comes with the tapes."""
    flap, battery = build.flap, build.plan.layout.battery
    if flap is None:
        if battery is not None:
            zone = build.settings.battery_zone_radius_mm * placing.scale
            pen.circle(placing.at(battery.centre), zone, GREY, HAIR_MM, dash=(0.8, 1.2))
        return
    if full:
        for strip in flap.foam:
            pen.shape(placing.along(strip), PALE)
    for outline in (flap.outline, flap.tab):
        pen.line(placing.along(outline), GREY, HAIR_MM, closed=True)
        labels.keep_off(placing.along(outline), HAIR_MM, hard=False, closed=True)
    pen.line(placing.along(flap.hinge), INK, 0.3, dash=(2.2, 1.0))
    zone = build.settings.battery_zone_radius_mm * placing.scale
    pen.circle(placing.at(flap.centre), zone, GREY, HAIR_MM, dash=(0.8, 1.2))


def draw_cell(pen: Pen, build: Build, placing: Placing, labels: Labels) -> None:
    battery = build.plan.layout.battery
    if battery is None:
        return
    centre = placing.at(battery.centre)
    radius = build.settings.cell.diameter_mm / 2 * placing.scale
    pen.circle(centre, radius, BLACK, 0.3)
    labels.keep_off(list(ring_points(centre, radius)), 0.6, hard=False, closed=True)


def draw_tapes(pen: Pen, build: Build, placing: Placing, labels: Labels) -> None:
    traces = build.plan.traces
    if traces is None:
        return
    wide = traces.tape_width_mm
    for line, positive in ((traces.negative, False), (traces.positive, True)):
        draw_tape(pen, line, wide, placing, positive=positive)
        for spot in spots_along(line, _SIGN_EVERY_MM, _LEAST_RUN_FOR_SIGN_MM):
            if all(math.dist(spot, light.centre) > _SIGN_CLEAR_MM for light in build.plan.layout.lights):
                draw_sign(pen, placing.at(spot), 0.42 * wide * placing.scale, positive=positive)
    for line in (traces.negative, traces.positive):
        labels.keep_off(placing.along(tidy(line)), wide * placing.scale)
        for crease in creases(line, wide):
            draw_crease(pen, crease.inner, crease.outer, placing)
    if build.flap is not None:
        cover = placing.along(build.flap.rim_cover)
        pen.line(cover, INK, HAIR_MM, dash=(0.5, 0.5), closed=True)


def draw_tape(pen: Pen, line: Polyline, width: float, placing: Placing, *, positive: bool) -> None:
    """One tape at its true width: a dark rim whose outer side is the tape's edge, a pattern."""
    scale = placing.scale
    edge = TAPE_EDGE_MM * max(scale, 0.6)
    ink = POSITIVE_INK if positive else NEGATIVE_INK
    outer = placing.along(tidy(line))
    inner = placing.along(shortened_line(line, TAPE_EDGE_MM))
    if len(outer) < 2:
        return
    wide = width * scale
    pen.line(outer, ink, wide)
    if wide > 2 * edge:
        pen.line(inner, POSITIVE_TINT if positive else WHITE, wide - 2 * edge)
        if not positive:
            pen.line(inner, ink, wide - 2 * edge, dash=[part * max(scale, 0.6) for part in _BAR_MM])


def draw_sign(pen: Pen, centre: Point, radius: float, *, positive: bool) -> None:
    """A plus or minus on a white disc."""
    x, y = centre
    arm = radius * 0.72
    ink = POSITIVE_INK if positive else NEGATIVE_INK
    pen.circle(centre, radius, None, fill=WHITE)
    pen.line([(x - arm, y), (x + arm, y)], ink, radius * 0.42)
    if positive:
        pen.line([(x, y - arm), (x, y + arm)], ink, radius * 0.42)


def draw_crease(pen: Pen, inner: Point, outer: Point, placing: Placing) -> None:
    a, b = placing.at(inner), placing.at(outer)
    size = max(math.dist(a, b), 1e-9)
    ux, uy = (b[0] - a[0]) / size, (b[1] - a[1]) / size
    more = CREASE_BEYOND_MM * placing.scale
    pen.line([(a[0] - ux * more, a[1] - uy * more), (b[0] + ux * more, b[1] + uy * more)], BLACK, 0.25)


def draw_lights(pen: Pen, build: Build, placing: Placing, labels: Labels, *, crosses: bool) -> None:
    """Bodies at true size with their positive edge dark; crosses to prick through at their centres."""
    part = build.settings.light
    for light in build.plan.layout.lights:
        centre = placing.at(light.centre)
        side = build.sides_deg.get(light.label)
        if side is None:
            reach = max(part.length_mm, part.width_mm) / 2
            pen.circle(centre, reach * placing.scale, INK, 0.25, dash=(0.8, 0.6))
            labels.keep_clear(
                box_around([(centre[0] - reach, centre[1] - reach), (centre[0] + reach, centre[1] + reach)])
            )
        else:
            draw_body(pen, build, light.centre, side, placing)
            body = body_corners(light.centre, part.length_mm, part.width_mm, side)
            labels.keep_clear(box_around(placing.along(body)))
        if crosses:
            draw_cross(pen, centre, CROSS_ARM_MM, 0.15)
            pen.circle(centre, 0.3, BLACK, 0.15, fill=WHITE)


def draw_body(pen: Pen, build: Build, centre: Point, side_deg: float, placing: Placing) -> None:
    part = build.settings.light
    corners = placing.along(body_corners(centre, part.length_mm, part.width_mm, side_deg))
    band = []
    for front, back in ((corners[0], corners[3]), (corners[1], corners[2])):
        band.append(
            (front, (front[0] + (back[0] - front[0]) * _BAND, front[1] + (back[1] - front[1]) * _BAND))
        )
    pen.shape([band[0][0], band[1][0], band[1][1], band[0][1]], BLACK)
    pen.line(corners, BLACK, 0.25, closed=True)


def draw_labels(pen: Pen, build: Build, placing: Placing, labels: Labels, *, full: bool) -> None:
    part = build.settings.light
    clear = (max(part.length_mm, part.width_mm) / 2 + 0.3) * placing.scale
    for light in build.plan.layout.lights:
        name = shortened(light.label if light.sure else f"{light.label}?", LIGHT_PT, _WIDEST_LABEL_MM, "bold")
        _label(pen, labels, placing.at(light.centre), clear, name, LIGHT_PT, "bold", INK, leader_mm=4.5)
    traces = build.plan.traces
    if traces is not None:
        folds = [
            (crease, f"{sign}{number}", ink)
            for line, sign, ink in (
                (traces.positive, "+", POSITIVE_INK),
                (traces.negative, "−", NEGATIVE_INK),
            )
            for number, crease in enumerate(creases(line, traces.tape_width_mm), 1)
        ]
        if not full and len(folds) > _MOST_NUMBERS_SMALL:
            folds = []  # too crowded to be read; the 1:1 sheet has them
        for crease, name, ink in folds:
            _label(pen, labels, placing.at(crease.outer), 0.8, name, FOLD_PT, "bold", ink, leader_mm=2.0)
    if not full:
        return
    if build.plan.layout.battery is not None:
        name = build.settings.cell.name
        _label(pen, labels, placing.at(_free_side_of_cell(build)), None, name, WORD_PT, "regular", INK)
    if build.plan.layout.window is not None:
        top = min(placing.along(build.plan.layout.window), key=lambda point: (point[1], point[0]))
        _label(pen, labels, top, 0.6, "window", WORD_PT, "regular", GREY)


def _free_side_of_cell(build: Build) -> Point:
    """In the cell, on the side where no tape comes in; its middle where there is no tape."""
    battery = build.plan.layout.battery
    assert battery is not None
    if build.flap is None:
        return battery.centre
    away = math.radians(build.flap.axis_deg + 180.0)
    reach = 0.55 * build.settings.cell.diameter_mm / 2
    return (battery.x_mm + reach * math.cos(away), battery.y_mm + reach * math.sin(away))


def _label(
    pen: Pen,
    labels: Labels,
    about: Point,
    clear: float | None,
    text: str,
    size_pt: float,
    weight: Weight,
    colour: Colour,
    leader_mm: float | None = None,
) -> None:
    """A word near a point, with a thin line to it where it had to go further off than `leader_mm`:
    nearer than that the eye joins them by itself. None: never a line."""
    size_mm = size_pt * MM_PER_POINT
    box = labels.place(about, clear, width_mm(text, size_pt, weight), (ASCENT + DESCENT) * size_mm)
    if labels.showing is not None and not labels.showing.holds(box):
        return
    end = nearest_on(box, about)
    away = math.dist(end, about)
    near = clear or 0.0
    if leader_mm is not None and away > near + leader_mm:
        start = (about[0] + (end[0] - about[0]) * near / away, about[1] + (end[1] - about[1]) * near / away)
        pen.line([start, end], GREY if weight != "bold" else colour, 0.12)
    pen.text(box.left, box.top + ASCENT * size_mm, text, size_pt, weight=weight, colour=colour)
