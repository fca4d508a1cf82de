"""Two designs laid over each other, and what differs in words.

In:    two plans with their titles, where lights moved, and ready sentences.
Out:   an RGB picture as wide as a phone's screen asks for, as tall as its words need.
Fails: never; cards of two sizes share their top-left corner.

The first design is drawn in dark broken lines and open rings, the second in green full lines and filled
dots: they differ by pattern, not by colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PIL import Image

from circuit.joint import lines_of
from circuit.layout import Card, LightMark, Point
from circuit.plan import Plan
from vision.drawing.box import Box, Placing
from vision.drawing.colours import GREEN, INK, SHEET, WHITE, Colour
from vision.drawing.draw_signs import draw_arrow, draw_dot
from vision.drawing.labels import Taken, place_tags
from vision.drawing.lettering import HEAD_PT, capitals_mm, width_mm
from vision.drawing.panel import Panel, panel_for
from vision.drawing.pen import BOLD_MM, LINE_MM, Pen
from vision.drawing.picture_sheet import Heading, sheet_of
from vision.drawing.rows import Row
from vision.drawing.shapes import card_corners, circle_points, tape_pieces
from vision.drawing.tags import Tag, needs_leader

ARROW_FROM_MM = 1.0  # chosen: a shorter arrow would be all head
_CARD: Colour = (255, 253, 248)  # chosen
_FIRST, _SECOND = INK, GREEN
_BROKEN = (1.6, 1.1)  # chosen: the first design's dashes [mm]
_TAPE_OPACITY = 0.3  # chosen: either design shows where both lie
# Chosen by eye. [mm, pt]
_LABEL_PT = 8.0
_ARROW_MM, _HEAD_MM, _HEAD_HALO_MM = 0.4, 2.1, 0.65
_LEAST_DOT_MM, _RING_BEYOND_MM = 1.0, 0.55
# A line ends so far from its light's middle; a shorter one is left out.
_STAND_OFF_MM, _SHORT_LEADER_MM = 1.6, 2.2
_DOT_SHARE, _DOT_DOWN, _LINE_DOWN = 0.2, 0.32, 0.75  # of a sample's height
_SLIP_OPACITY = 0.8  # chosen: a label is read over lines, and they are still seen


@dataclass(frozen=True, slots=True)
class Shown:
    """One design as it is compared."""

    title: str
    plan: Plan


def draw_comparison(
    first: Shown, second: Shown, moved: Sequence[tuple[Point, Point]], sentences: Sequence[str]
) -> Image.Image:
    """`moved` holds a light's old and new place [mm]; `sentences` are listed under the picture."""
    cards = (first.plan.layout.card, second.plan.layout.card)
    frame = Card(max(card.width_mm for card in cards), max(card.height_mm for card in cards))
    panel = panel_for(frame)
    picture = _card_picture(first.plan, second.plan, moved, panel)
    both = f"{first.title} and {second.title}" if first.title != second.title else first.title
    rows = _rows(first, second, bool(moved), sentences)
    return sheet_of(picture, panel.width_px, Heading(both, HEAD_PT), rows).image


def _rows(first: Shown, second: Shown, arrows: bool, sentences: Sequence[str]) -> tuple[Row, ...]:
    rows = [
        Row(f"{first.title}: dark, broken lines, open rings", _first_sample),
        Row(f"{second.title}: green, full lines, filled dots", _second_sample),
    ]
    if arrows:
        rows.append(Row("a light that was moved", _arrow_sample))
    rows.append(Row("What differs" if sentences else "Nothing differs", title=True))
    rows += [Row(sentence, draw_dot) for sentence in sentences]
    return tuple(rows)


def _card_picture(
    first: Plan, second: Plan, moved: Sequence[tuple[Point, Point]], panel: Panel
) -> Image.Image:
    picture = Image.new("RGB", (panel.width_px, panel.height_px), SHEET)
    pen, placing = panel.pen(picture), panel.placing
    for plan in (first, second):
        pen.shape([placing.along(card_corners(plan.layout.card))], _CARD)
    if second.traces is not None:
        for line in lines_of(second.traces):
            pieces = tape_pieces(line, second.traces.tape_width_mm)
            pen.shape([placing.along(piece) for piece in pieces], _SECOND, _TAPE_OPACITY)
    _draw_outlines(pen, placing, second, is_first=False)
    _draw_outlines(pen, placing, first, is_first=True)
    for a, b in (placing.along(ends) for ends in moved):
        draw_arrow(pen, a, b, WHITE, _ARROW_MM + _HEAD_HALO_MM, _HEAD_MM + _HEAD_HALO_MM)
        draw_arrow(pen, a, b, INK, _ARROW_MM, _HEAD_MM)
    _draw_labels(pen, panel, first, second, moved)
    return picture


def _radius(light: LightMark, placing: Placing) -> float:
    return max(_LEAST_DOT_MM, light.diameter_mm / 2 * placing.scale)


def _draw_outlines(pen: Pen, placing: Placing, plan: Plan, *, is_first: bool) -> None:
    layout = plan.layout
    colour, width = (_FIRST, LINE_MM) if is_first else (_SECOND, BOLD_MM)
    dash = _BROKEN if is_first else ()
    thin = [card_corners(layout.card)] + ([layout.window] if layout.window is not None else [])
    for outline in thin:
        pen.line(placing.along(outline), colour, LINE_MM, dash=dash, closed=True)
    if plan.traces is not None:
        for line in lines_of(plan.traces):
            pen.line(placing.along(line), colour, width, dash=dash)
    if layout.battery is not None:
        battery = layout.battery
        ring = circle_points(placing.at(battery.centre), battery.diameter_mm / 2 * placing.scale)
        pen.line(ring, colour, width, dash=dash)
    for light in layout.lights:
        at, radius = placing.at(light.centre), _radius(light, placing)
        if is_first:
            pen.circle(at, radius + _RING_BEYOND_MM, _FIRST, LINE_MM)
        else:
            pen.circle(at, radius, None, fill=_SECOND)


@dataclass(frozen=True, slots=True)
class _Name:
    text: str
    colour: Colour
    at: Point


def _names(first: Plan, second: Plan) -> list[_Name]:
    """Each light's name; once where both designs have it in the same place, or two names would crowd one spot."""
    ours = [_Name(light.label, _FIRST, light.centre) for light in first.layout.lights]
    theirs = [
        _Name(light.label, _SECOND, light.centre)
        for light in second.layout.lights
        if not any(
            one.text == light.label and math.dist(one.at, light.centre) < ARROW_FROM_MM for one in ours
        )
    ]
    return [*ours, *theirs]


def _draw_labels(
    pen: Pen,
    panel: Panel,
    first: Plan,
    second: Plan,
    moved: Sequence[tuple[Point, Point]],
) -> None:
    """Names in their design's colour, beside their light and off all others, with a line where that does not tell."""
    placing, names = panel.placing, _names(first, second)
    taken, tags = Taken(panel.area), []
    for light in (*first.layout.lights, *second.layout.lights):
        taken.take_disc(placing.at(light.centre), _radius(light, placing) + _RING_BEYOND_MM + LINE_MM)
    for a, b in (placing.along(ends) for ends in moved):
        taken.take_line((a, b), _HEAD_MM)
    for name in names:
        others = [other.at for other in names if math.dist(other.at, name.at) >= ARROW_FROM_MM]
        size = (width_mm(name.text, _LABEL_PT, "bold") + 2 * LINE_MM, capitals_mm(_LABEL_PT) + 2 * LINE_MM)
        tags.append(Tag(placing.at(name.at), *size, _STAND_OFF_MM, tuple(placing.along(others))))
    for name, tag, where in zip(names, tags, place_tags(tags, taken, on_taken=True)):
        if where.leader is not None and needs_leader(tag, where, _SHORT_LEADER_MM):
            pen.line(where.leader, name.colour, LINE_MM)
        pen.shape([where.box.corners], _CARD, _SLIP_OPACITY)
        at = (where.box.left + LINE_MM, where.box.bottom - LINE_MM)
        pen.text(*at, name.text, _LABEL_PT, weight="bold", colour=name.colour)


def _first_sample(pen: Pen, box: Box) -> None:
    _draw_line_under(pen, box, _FIRST, LINE_MM, _BROKEN)
    pen.circle(_upper(box), _DOT_SHARE * box.height, _FIRST, LINE_MM)


def _second_sample(pen: Pen, box: Box) -> None:
    _draw_line_under(pen, box, _SECOND, BOLD_MM, ())
    pen.circle(_upper(box), _DOT_SHARE * box.height, None, fill=_SECOND)


def _arrow_sample(pen: Pen, box: Box) -> None:
    y = box.centre[1]
    draw_arrow(pen, (box.left, y), (box.right, y), INK, _ARROW_MM, _HEAD_MM)


def _upper(box: Box) -> Point:
    return (box.centre[0], box.top + _DOT_DOWN * box.height)


def _draw_line_under(pen: Pen, box: Box, colour: Colour, width: float, dash: Sequence[float]) -> None:
    y = box.top + _LINE_DOWN * box.height
    pen.line([(box.left, y), (box.right, y)], colour, width, dash=dash)
