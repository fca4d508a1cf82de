"""Two designs laid over each other, and what differs in words.

In:    two plans with their titles, where lights moved, and ready sentences.
Out:   an RGB picture as wide as a phone's screen asks for, as tall as its words need.
Fails: never; cards of two sizes share their top-left corner.

The first design is drawn in dark broken lines and open rings, the second in green full lines and filled
dots: they differ by pattern, not by colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PIL import Image

from circuit.joint import lines_of
from circuit.layout import Card, Point
from circuit.plan import Plan
from vision.drawing.box import Box, Placing
from vision.drawing.colours import GREEN, INK, SHEET, WHITE, Colour
from vision.drawing.draw_signs import draw_arrow, draw_dot
from vision.drawing.lettering import HEAD_PT, capitals_mm, width_mm
from vision.drawing.panel import Panel, panel_for
from vision.drawing.pen import BOLD_MM, LINE_MM, Anchor, Pen
from vision.drawing.picture_sheet import Heading, sheet_of
from vision.drawing.rows import Row
from vision.drawing.shapes import card_corners, circle_points, tape_pieces

ARROW_FROM_MM = 1.0  # chosen: a shorter arrow would be all head
_CARD: Colour = (255, 253, 248)  # chosen
_FIRST, _SECOND = INK, GREEN
_BROKEN = (1.6, 1.1)  # chosen: the first design's dashes [mm]
_TAPE_OPACITY = 0.3  # chosen: either design shows where both lie
# Chosen by eye. [mm, pt]
_LABEL_PT = 8.0
_ARROW_MM, _HEAD_MM, _HEAD_HALO_MM = 0.4, 2.1, 0.65
_LEAST_DOT_MM, _RING_BEYOND_MM = 1.0, 0.55
_LABEL_OFF_MM = 1.6
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
    _draw_labels(pen, placing, first, second)
    return picture


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
        at, radius = placing.at(light.centre), max(_LEAST_DOT_MM, light.diameter_mm / 2 * placing.scale)
        if is_first:
            pen.circle(at, radius + _RING_BEYOND_MM, _FIRST, LINE_MM)
        else:
            pen.circle(at, radius, None, fill=_SECOND)


def _draw_labels(pen: Pen, placing: Placing, first: Plan, second: Plan) -> None:
    """The second design's labels below right of its dots, the first's above left of its rings."""
    sides: tuple[tuple[Plan, Colour, int, Anchor], ...] = (
        (second, _SECOND, 1, "left"),
        (first, _FIRST, -1, "right"),
    )
    for plan, colour, side, anchor in sides:
        for light in plan.layout.lights:
            x, y = placing.at(light.centre)
            off = side * (_LABEL_OFF_MM + light.diameter_mm / 4 * placing.scale)
            down = capitals_mm(_LABEL_PT) if side > 0 else 0.0
            at = (x + off, y + off + down)
            wide = width_mm(light.label, _LABEL_PT, "bold")
            left = at[0] if side > 0 else at[0] - wide
            slip = Box(left, at[1] - capitals_mm(_LABEL_PT), wide, capitals_mm(_LABEL_PT)).inset(-LINE_MM)
            pen.shape([slip.corners], _CARD, _SLIP_OPACITY)
            pen.text(*at, light.label, _LABEL_PT, weight="bold", colour=colour, anchor=anchor)


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
