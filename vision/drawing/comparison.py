"""Two designs laid over each other, and what differs in words.

In:    two plans with their titles, where lights moved, and ready sentences.
Out:   an RGB picture as wide as a phone's screen asks for, as tall as its words need.
Fails: never; cards of two sizes share their top-left corner.

The first design is drawn in dark broken lines and open rings, the second in green full lines and filled
dots: they differ by pattern, not by colour alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PIL import Image, ImageDraw

from circuit.layout import Card, Point
from circuit.plan import Plan
from vision.drawing.overlay import glyphs
from vision.drawing.overlay.ink import Ink, circle_points
from vision.drawing.overlay.legend import Row, bottom_of, draw_rows, lay_rows
from vision.drawing.overlay.panel import Panel, panel_for, style_for
from vision.drawing.overlay.placement import Box
from vision.drawing.overlay.style import GREEN, INK, PAPER, WHITE, Colour, Style, typeface
from vision.drawing.overlay.text import draw_lines, line_height, wrap

ARROW_FROM_MM = 1.0  # chosen: a shorter arrow would be all head
_CARD: Colour = (255, 253, 248)  # chosen
_FIRST, _SECOND = INK, GREEN
_DASH, _DASH_GAP = 20, 14  # chosen [px at the base width]


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
    style = style_for(frame)
    panel = panel_for(frame, style)
    picture = _card_picture(first.plan, second.plan, moved, panel, style)
    heading = wrap(
        f"{first.title} and {second.title}" if first.title != second.title else first.title,
        typeface("bold", style.section),
        style.width_px - 2 * style.margin,
    )
    card_top = style.px(36) + line_height(typeface("bold", style.section)) * len(heading)
    rows_top = card_top + picture.height
    rows = lay_rows(_rows(first, second, bool(moved), sentences, style), style, rows_top)
    sheet = Image.new("RGB", (style.width_px, bottom_of(rows, rows_top) + style.margin), PAPER)
    sheet.paste(picture, (0, card_top))
    face = typeface("bold", style.section)
    draw_lines(ImageDraw.Draw(sheet), heading, style.margin, style.px(36), face, INK)
    draw_rows(sheet, rows, style)
    return sheet


def _rows(
    first: Shown, second: Shown, arrows: bool, sentences: Sequence[str], style: Style
) -> tuple[Row, ...]:
    rows = [
        Row(f"{first.title}: dark, broken lines, open rings", _swatch(style, first=True)),
        Row(f"{second.title}: green, full lines, filled dots", _swatch(style, first=False)),
    ]
    if arrows:
        rows.append(Row("a light that was moved", _arrow_swatch(style)))
    rows.append(Row("What differs" if sentences else "Nothing differs", title=True))
    rows += [Row(sentence, glyphs.draw_dot_for(style)) for sentence in sentences]
    return tuple(rows)


def _card_picture(
    first: Plan, second: Plan, moved: Sequence[tuple[Point, Point]], panel: Panel, style: Style
) -> Image.Image:
    size = (panel.width_px, panel.height_px)
    picture = Image.new("RGB", size, PAPER)
    left, top, _, _ = panel.card_box
    for card in sorted((first.layout.card, second.layout.card), key=lambda card: -card.height_mm):
        right, bottom = panel.at((card.width_mm, card.height_mm))
        ImageDraw.Draw(picture).rectangle((left, top, round(right), round(bottom)), fill=_CARD)
    ink = Ink(size)
    # Tape see-through and its own layer, so that either design shows where both lie.
    _tape(ink, second, panel, _SECOND, 0.30)
    picture = ink.laid_on(picture)
    ink = Ink(size)
    _outlines(ink, second, panel, style, first=False)
    _outlines(ink, first, panel, style, first=True)
    head = style.px(26)
    for a, b in moved:
        ink.arrow(panel.at(a), panel.at(b), WHITE, style.px(12), head + style.px(8))
        ink.arrow(panel.at(a), panel.at(b), INK, style.px(5), head)
    picture = ink.laid_on(picture)
    _labels(picture, first, second, panel, style)
    return picture


def _tape(ink: Ink, plan: Plan, panel: Panel, colour: Colour, opacity: float) -> None:
    if plan.traces is not None:
        for line in (plan.traces.positive, plan.traces.negative):
            ink.line(panel.along(line), colour, plan.traces.tape_width_mm * panel.px_per_mm, opacity)


def _outlines(ink: Ink, plan: Plan, panel: Panel, style: Style, *, first: bool) -> None:
    layout = plan.layout
    colour, width = (_FIRST, style.px(4)) if first else (_SECOND, style.px(6))

    def stroke(points: Sequence[Point], wide: float = width) -> None:
        if first:
            ink.dashed(points, colour, wide, style.px(_DASH), style.px(_DASH_GAP))
        else:
            ink.line(points, colour, wide)

    card = layout.card
    corners = [(0.0, 0.0), (card.width_mm, 0.0), (card.width_mm, card.height_mm), (0.0, card.height_mm)]
    stroke(panel.along([*corners, corners[0]]), style.px(3))
    if layout.window is not None:
        stroke(panel.along([*layout.window, layout.window[0]]), style.px(3))
    if plan.traces is not None:
        for line in (plan.traces.positive, plan.traces.negative):
            stroke(panel.along(line))
    if layout.battery is not None:
        battery = layout.battery
        stroke(circle_points(panel.at(battery.centre), battery.diameter_mm / 2 * panel.px_per_mm))
    for light in layout.lights:
        radius = max(style.px(12), light.diameter_mm / 2 * panel.px_per_mm)
        if first:
            ink.ring(panel.at(light.centre), radius + style.px(7), _FIRST, style.px(4))
        else:
            ink.disc(panel.at(light.centre), radius, _SECOND)


def _labels(picture: Image.Image, first: Plan, second: Plan, panel: Panel, style: Style) -> None:
    """The second design's labels below right of its dots, the first's above left of its rings."""
    draw = ImageDraw.Draw(picture)
    face = typeface("bold", style.px(34))
    for plan, colour, side, anchor in ((second, _SECOND, 1, "lt"), (first, _FIRST, -1, "rb")):
        for light in plan.layout.lights:
            x, y = panel.at(light.centre)
            off = style.px(20) + light.diameter_mm / 4 * panel.px_per_mm
            draw.text(
                (x + side * off, y + side * off), light.label, fill=colour, font=face, anchor=anchor,
                stroke_width=style.px(5), stroke_fill=_CARD,
            )  # fmt: skip


def _swatch(style: Style, *, first: bool) -> Callable[[Image.Image, Box], None]:
    def paint(picture: Image.Image, box: Box) -> None:
        high, wide = box.bottom - box.top, box.right - box.left
        ink = Ink((wide, high))
        line: list[Point] = [(0.0, high * 0.72), (float(wide), high * 0.72)]
        if first:
            ink.dashed(line, _FIRST, style.px(5), style.px(_DASH), style.px(_DASH_GAP))
            ink.ring((wide * 0.5, high * 0.32), high * 0.2, _FIRST, style.px(4))
        else:
            ink.line(line, _SECOND, style.px(7))
            ink.disc((wide * 0.5, high * 0.32), high * 0.2, _SECOND)
        _lay(picture, ink, box)

    return paint


def _arrow_swatch(style: Style) -> Callable[[Image.Image, Box], None]:
    def paint(picture: Image.Image, box: Box) -> None:
        wide, middle = box.right - box.left, (box.bottom - box.top) / 2
        ink = Ink((wide, box.bottom - box.top))
        ink.arrow((2.0, middle), (wide - 2.0, middle), INK, style.px(5), style.px(26))
        _lay(picture, ink, box)

    return paint


def _lay(picture: Image.Image, ink: Ink, box: Box) -> None:
    under = picture.crop((box.left, box.top, box.right, box.bottom))
    picture.paste(ink.laid_on(under), (box.left, box.top))
