"""Put the overlay together: heading, the card with everything on it, scale bar, legend.

In:    the straightened card (or None), a `Plan`, `Settings`.
Out:   an RGB picture, as wide as a phone's screen asks for and as tall as its words need.
Fails: never.
"""

from __future__ import annotations

import math

import numpy as np
from PIL import Image, ImageDraw

from circuit import telling
from circuit.flap import Flap, flap_of
from circuit.layout import Point
from circuit.orientation import hinge_deg
from circuit.plan import Plan
from circuit.settings import Settings
from vision.drawing.overlay import glyphs, legend, marks, tape, words
from vision.drawing.overlay.annotate import UNCLEAR_MM, Annotations, annotate
from vision.drawing.overlay.ink import Ink
from vision.drawing.overlay.panel import Panel, panel_for, style_for
from vision.drawing.overlay.paper import Backdrop, drawn, photographed
from vision.drawing.overlay.placement import Box, NoRoomError
from vision.drawing.overlay.style import DOUBT, FAINT_INK, INK, PAPER, WHITE, Style, typeface
from vision.drawing.overlay.text import draw_lines, line_height, wrap
from vision.straight_card import StraightCard

# Goes into the PNG as a text of that name: the picture's rows that show the card, from and up to.
CARD_ROWS = "pencilamp-card-rows"
_MOST_GUTTERS = 5  # chosen: five rows of callouts round the card hold more than anyone would read


def draw_overlay(
    straight: StraightCard | None,
    plan: Plan,
    settings: Settings,
) -> Image.Image:
    """The overlay as a picture.

    Parameters
    ----------
    straight : StraightCard or None
        None when the plan came from a layout file: a paper card is drawn, with the marks pencilled in.
    plan : Plan
        Its layout's card gives the frame. Lights without a positive side are drawn without signs.
    settings : Settings
        Parts drawn at their true size, and the units of every length.
    """
    style = style_for(plan.layout.card)
    for gutters in range(1, _MOST_GUTTERS + 1):
        panel = panel_for(plan.layout.card, style, gutters)
        backdrop = drawn(plan.layout, panel) if straight is None else photographed(straight, panel)
        flap = _flap(plan, settings)
        try:
            notes = annotate(plan, settings, panel, style, backdrop)
        except NoRoomError:
            continue
        break
    else:
        notes = Annotations((), (), ())
    card = _card_picture(plan, settings, panel, style, backdrop, flap)
    _draw_annotations(card, notes, style)
    return _sheet(plan, settings, style, panel, _trimmed(card, panel, notes, style))


def _flap(plan: Plan, settings: Settings) -> Flap | None:
    if plan.layout.battery is None or plan.traces is None:
        return None
    towards_hinge = hinge_deg(plan.layout, plan.traces)
    if towards_hinge is None:
        return None
    return flap_of(plan.layout.battery, plan.traces, towards_hinge, settings, plan.layout.lights)


def _card_picture(
    plan: Plan,
    settings: Settings,
    panel: Panel,
    style: Style,
    backdrop: Backdrop,
    flap: Flap | None,
) -> Image.Image:
    layout, size = plan.layout, (panel.width_px, panel.height_px)
    picture = Image.fromarray(backdrop.pixels)
    if layout.battery is not None:
        ink = Ink(size)
        if flap is not None:
            marks.draw_flap(ink, panel, style, flap)
        cell_mm, zone_mm = settings.cell.diameter_mm / 2, settings.battery_zone_radius_mm
        marks.draw_foam(ink, panel, style, layout.battery.centre, cell_mm, zone_mm)
        picture = ink.laid_on(picture)
    if plan.traces is not None:
        lines = {"positive": panel.along(plan.traces.positive), "negative": panel.along(plan.traces.negative)}
        wide = plan.traces.tape_width_mm * panel.px_per_mm
        picture = Image.fromarray(
            tape.painted(Backdrop(np.array(picture), backdrop.bare), lines, wide, panel.px_per_mm)
        )
    ink = Ink(size)
    _card_edge(ink, panel, style)
    if layout.window is not None:
        marks.draw_window(ink, panel, style, layout.window)
    for line in layout.drawn_lines:
        marks.draw_drawn_line(ink, panel, style, line)
    if plan.traces is not None:
        _trace_signs(ink, plan, settings, panel, style)
    if layout.battery is not None:
        battery = layout.battery
        marks.draw_cell(ink, panel, style, battery.centre, settings.cell.diameter_mm / 2, battery.sure)
    for light in layout.lights:
        marks.draw_light(ink, panel, style, light, settings.light, plan.sides_deg.get(light.label))
    for where_mm in plan.seen.maybe:
        marks.draw_unclear(ink, panel, style, where_mm, UNCLEAR_MM, DOUBT)
    for where_mm in plan.seen.crossed_out:
        marks.draw_unclear(ink, panel, style, where_mm, UNCLEAR_MM, FAINT_INK)
    for move in plan.moves:
        marks.draw_move(ink, panel, style, move, settings, plan.sides_deg.get(move.about))
    return ink.laid_on(picture)


def _card_edge(ink: Ink, panel: Panel, style: Style) -> None:
    left, top, right, bottom = panel.card_box
    corners: list[Point] = [
        (left - 1, top - 1),
        (right, top - 1),
        (right, bottom),
        (left - 1, bottom),
        (left - 1, top - 1),
    ]
    ink.line(corners, WHITE, style.px(5), 0.9)
    ink.line(corners, FAINT_INK, style.px(2))


def _trace_signs(ink: Ink, plan: Plan, settings: Settings, panel: Panel, style: Style) -> None:
    assert plan.traces is not None
    tape_mm = plan.traces.tape_width_mm
    clear_of = [light.centre for light in plan.layout.lights]
    reach = math.hypot(settings.light.length_mm, settings.light.width_mm) / 2 + tape_mm / 2
    for line, sign in ((plan.traces.positive, "+"), (plan.traces.negative, "-")):
        places = tape.sign_places(line, tape.SIGN_EVERY_MM, clear_of, reach, tape_mm * 1.2)
        marks.draw_signs(ink, panel.along(places), sign, tape_mm * panel.px_per_mm, style)


def _draw_annotations(card: Image.Image, notes: Annotations, style: Style) -> None:
    ink = Ink(card.size)
    for ring, radius in notes.rings:
        ink.ring(ring, radius, WHITE, style.px(9), 0.8)
        ink.ring(ring, radius, INK, style.px(4))
    for leader in notes.leaders:
        ink.line(leader, WHITE, style.px(9), 0.75)
    for leader in notes.leaders:
        ink.line(leader, INK, style.px(3))
    card.paste(ink.laid_on(card))
    for tag in notes.tags:
        if tag.kind == "label":
            glyphs.draw_label(card, tag.box, tag.text, style)
        elif tag.kind == "doubt":
            glyphs.draw_question(card, tag.box, style)
        else:
            glyphs.draw_callout(card, tag.box, tag.text, tag.kind, style)


def _trimmed(card: Image.Image, panel: Panel, notes: Annotations, style: Style) -> Image.Image:
    """The panel without the rows of its gutters that nothing was put on."""
    air = style.px(24)
    _, top, _, bottom = panel.card_box
    tops = [tag.box.top for tag in notes.tags] + [top]
    bottoms = [tag.box.bottom for tag in notes.tags] + [bottom]
    return card.crop((0, max(0, min(tops) - air), card.width, min(card.height, max(bottoms) + air)))


def _sheet(plan: Plan, settings: Settings, style: Style, panel: Panel, card: Image.Image) -> Image.Image:
    heading = wrap(telling.verdict(plan), typeface("bold", style.heading), _room(plan, style))
    under = wrap(
        words.subtitle(plan, settings), typeface("regular", style.label), style.width_px - 2 * style.margin
    )
    heading_bottom = style.px(44) + line_height(typeface("bold", style.heading)) * len(heading)
    card_top = heading_bottom + line_height(typeface("regular", style.label)) * len(under) + style.px(12)
    bar_top = card_top + card.height
    rows_top = bar_top + style.px(90)
    rows = legend.lay_rows(legend.legend_rows(plan, settings, style), style, rows_top)
    height = legend.bottom_of(rows, rows_top) + style.margin

    sheet = Image.new("RGB", (style.width_px, height), PAPER)
    sheet.paste(card, (0, card_top))
    draw = ImageDraw.Draw(sheet)
    _verdict_sign(sheet, plan, style, heading_bottom)
    left = style.width_px - style.margin - _room(plan, style)
    draw_lines(draw, heading, left, style.px(44), typeface("bold", style.heading), INK)
    draw_lines(draw, under, style.margin, heading_bottom, typeface("regular", style.label), FAINT_INK)
    _scale_bar(sheet, panel, settings, style, bar_top)
    legend.draw_rows(sheet, rows, style)
    sheet.info[CARD_ROWS] = f"{card_top} {bar_top}"
    return sheet


def _room(plan: Plan, style: Style) -> int:
    """Width of the heading beside its sign."""
    return style.width_px - 2 * style.margin - (style.px(110) if _has_sign(plan) else 0)


def _has_sign(plan: Plan) -> bool:
    return (
        bool(plan.problems or plan.doubtful or plan.corrected_from) or telling.verdict(plan) == telling.READY
    )


def _verdict_sign(sheet: Image.Image, plan: Plan, style: Style, bottom: int) -> None:
    if not _has_sign(plan):
        return
    side = style.px(84)
    top = style.px(44) + (line_height(typeface("bold", style.heading)) - side) // 2
    box = Box(style.margin, top, style.margin + side, top + side)
    if plan.corrected_from:
        glyphs.draw_move_sign(sheet, box, style, (1.0, 0.0))
    elif plan.must_fix:
        glyphs.draw_callout(sheet, box, "!", "must-fix", style)
    elif plan.problems:
        glyphs.draw_callout(sheet, box, "!", "look-again", style)
    elif plan.doubtful:
        glyphs.draw_question(sheet, box, style)
    else:
        glyphs.draw_tick(sheet, box, style)


def _scale_bar(sheet: Image.Image, panel: Panel, settings: Settings, style: Style, top: int) -> None:
    """A ruler at the card's own scale, under its left edge."""
    length_mm, parts = words.scale_length_mm(panel.card.width_mm, settings.units)
    long = length_mm * panel.px_per_mm
    ink = Ink((sheet.width, style.px(70)))
    left, middle = float(min(panel.left_px, style.margin * 2)), style.px(26)
    ink.line([(left, middle), (left + long, middle)], INK, style.px(4))
    for i in range(parts + 1):
        x, tall = left + long * i / parts, style.px(16) if i in (0, parts) else style.px(10)
        ink.line([(x, middle - tall), (x, middle + style.px(2))], INK, style.px(4))
    spot = (0, top, sheet.width, top + style.px(70))
    sheet.paste(ink.laid_on(sheet.crop(spot)), spot[:2])
    face = typeface("regular", style.label)
    words_at = (left + long + style.px(20), top + middle + 0.25 * style.label)
    ImageDraw.Draw(sheet).text(
        words_at, words.round_length(length_mm, settings.units), fill=INK, font=face, anchor="ls"
    )
