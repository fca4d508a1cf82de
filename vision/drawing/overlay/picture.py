"""Put the overlay together: heading, the card with everything on it, scale bar, rows of words.

In:    the straightened card (or None), a `Plan`, `Settings`.
Out:   an RGB picture, as wide as a phone's screen asks for and as tall as its words need.
Fails: never.
"""

from __future__ import annotations

import math

import numpy as np
from PIL import Image

from circuit import telling
from circuit.plan import Plan
from circuit.settings import Settings
from vision.drawing.backdrop import Backdrop, drawn, photographed
from vision.drawing.colours import INK, WHITE
from vision.drawing.draw_card import draw_over_tape, draw_remarks, draw_under_tape
from vision.drawing.draw_signs import (
    callout_sign,
    draw_callout,
    draw_label,
    draw_question,
    draw_tick,
    move_sign,
)
from vision.drawing.labels import NoRoomError
from vision.drawing.look import ON_PHOTO
from vision.drawing.overlay.annotate import Annotations, annotate
from vision.drawing.overlay.explained import explaining_rows, subtitle
from vision.drawing.overlay.photo_tape import painted
from vision.drawing.overlay.scale_bar import draw_scale_bar
from vision.drawing.panel import CARD_ROWS, Panel, panel_for
from vision.drawing.pen import LINE_MM, Pen, Sign
from vision.drawing.picture_sheet import Heading, sheet_of
from vision.drawing.shapes import circle_points
from vision.drawing.subject import Subject, subject_of
from vision.straight_card import StraightCard

_MOST_GUTTERS = 5  # chosen: five rows of callouts round the card hold more than anyone would read
# Chosen by eye.
_ROUND_CARD_MM = 1.9  # of the panel kept beyond what lies on it
_BAR_ROW_MM = 7.2  # the scale bar's room
_LEADER_HALO_MM = 0.75  # white beside leaders, under all of them


def draw_overlay(
    straight: StraightCard | None,
    plan: Plan,
    settings: Settings,
    title: str = "",
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
    title : str
        In place of the plan's verdict, where the picture is of something else.
    """
    subject = subject_of(plan, settings)
    notes = Annotations()
    for gutters in range(1, _MOST_GUTTERS + 1):
        panel = panel_for(plan.layout.card, gutters)
        backdrop = drawn(plan.layout, panel) if straight is None else photographed(straight, panel)
        try:
            notes = annotate(subject, panel, backdrop)
        except NoRoomError:
            continue
        break
    card = card_picture(subject, panel, backdrop)
    _draw_annotations(panel.pen(card), notes)
    return _sheet(subject, panel, _trimmed(card, panel, notes), title)


def card_picture(subject: Subject, panel: Panel, backdrop: Backdrop) -> Image.Image:
    """The panel with the card and all that is drawn on it, without labels."""
    plan, placing = subject.plan, panel.placing
    picture = Image.fromarray(backdrop.pixels)
    draw_under_tape(panel.pen(picture), placing, subject, ON_PHOTO)
    if plan.traces is not None:
        lines = [(panel.along(line), positive) for line, positive in subject.tapes_on_card]
        wide = plan.traces.tape_width_mm * panel.px_per_mm
        under = Backdrop(np.asarray(picture), backdrop.bare)
        picture = Image.fromarray(painted(under, lines, wide, panel.px_per_mm))
    pen = panel.pen(picture)
    draw_over_tape(pen, placing, subject, ON_PHOTO)
    draw_remarks(pen, placing, subject)
    return picture


def _draw_annotations(pen: Pen, notes: Annotations) -> None:
    for at, radius in notes.rings:
        ON_PHOTO.stroke(pen, circle_points(at, radius), INK, LINE_MM)
    for leader in notes.leaders:
        pen.line(leader, WHITE, _LEADER_HALO_MM, opacity=ON_PHOTO.halo)
    for leader in notes.leaders:
        pen.line(leader, INK)
    for tag in notes.tags:
        if tag.kind == "label":
            draw_label(pen, tag.box, tag.text)
        elif tag.kind == "doubt":
            draw_question(pen, tag.box)
        else:
            draw_callout(pen, tag.box, tag.text, tag.kind)


def _trimmed(card: Image.Image, panel: Panel, notes: Annotations) -> Image.Image:
    """The panel without the rows of its gutters that nothing was put on."""
    s = panel.sheet_px_per_mm
    _, card_top, _, card_bottom = panel.card_box
    top = min([tag.box.top for tag in notes.tags] + [card_top / s]) - _ROUND_CARD_MM
    bottom = max([tag.box.bottom for tag in notes.tags] + [card_bottom / s]) + _ROUND_CARD_MM
    return card.crop((0, max(0, math.floor(top * s)), card.width, min(card.height, math.ceil(bottom * s))))


def _sheet(subject: Subject, panel: Panel, card: Image.Image, title: str) -> Image.Image:
    plan, settings = subject.plan, subject.settings
    heading = Heading(
        title or telling.verdict(plan), under=subtitle(plan, settings), sign=verdict_sign_of(plan)
    )
    sheet = sheet_of(card, panel.width_px, heading, explaining_rows(subject), foot_mm=_BAR_ROW_MM)
    draw_scale_bar(sheet.pen, panel.placing, panel.card.width_mm, settings.units, sheet.foot_mm)
    sheet.image.info[CARD_ROWS] = f"{sheet.top_px} {sheet.top_px + card.height}"
    return sheet.image


def verdict_sign_of(plan: Plan) -> Sign | None:
    """The sign before the heading; None where there is nothing to judge yet."""
    if plan.corrected_from:
        return move_sign((1.0, 0.0))
    if plan.problems:
        return callout_sign("!", "must-fix" if plan.must_fix else "look-again")
    if plan.doubtful:
        return draw_question
    return draw_tick if telling.verdict(plan) == telling.READY else None
