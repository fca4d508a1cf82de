"""The key: one small sample of each thing drawn on this card, painted by the same code as the card.

In:    a `Plan`, `Settings`, a `Style`.
Out:   pairs of a few words and a painter for the sample's box.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from PIL import Image

from circuit.layout import Card, DrawnLine, Layout, LightMark, Point
from circuit.plan import Plan
from circuit.settings import Settings
from vision.drawing.overlay import marks, tape
from vision.drawing.overlay.ink import Ink
from vision.drawing.overlay.panel import Panel
from vision.drawing.overlay.paper import Backdrop
from vision.drawing.overlay.placement import Box
from vision.drawing.overlay.style import FAINT_INK, MOVE, WINDOW, Style

Painter = Callable[[Image.Image, Box], None]
_TAPE_SHARE = 0.5  # of the sample's box
_BODY_SHARE = 0.8


def key_entries(plan: Plan, settings: Settings, style: Style) -> list[tuple[str, Painter]]:
    """What this card shows, in the order in which one meets it."""
    layout = plan.layout
    entries: list[tuple[str, Painter]] = []
    if plan.traces is not None:
        entries.append(("positive tape, plain", _tape_sample("positive", style)))
        entries.append(("negative tape, striped", _tape_sample("negative", style)))
    if layout.lights:
        if plan.traces is not None:
            words = f"{settings.light.name} light, its + end on the positive tape"
        else:
            words = f"{settings.light.name} light at its true size"
        entries.append((words, _light_sample(settings, style, plan.traces is not None)))
    if layout.battery is not None:
        entries.append((f"{settings.cell.name} cell, true size; dots: foam ring", _cell_sample(style)))
        if plan.traces is not None:
            entries.append(("paper flap, its tab shaded", _flap_sample(style)))
    if layout.window is not None:
        entries.append(("window in the front card", _line_sample(WINDOW, style, 4, (5, 9))))
    if layout.drawn_lines:
        entries.append(("your own pencilled lines", _drawn_sample(layout, style)))
    if plan.moves:
        entries.append(("where a mark would move to", _line_sample(MOVE, style, 5, (13, 8))))
    return entries


def _sampled(box: Box, draw: Callable[[Ink, Point, float], None]) -> Callable[[Image.Image], None]:
    def onto(picture: Image.Image) -> None:
        spot = (box.left, box.top, box.right, box.bottom)
        width, height = box.right - box.left, box.bottom - box.top
        ink = Ink((width, height))
        draw(ink, ((width - 1) / 2, (height - 1) / 2), min(width, height) / 2)
        picture.paste(ink.laid_on(picture.crop(spot)), spot[:2])

    return onto


def _tape_sample(name: str, style: Style) -> Painter:
    def paint(picture: Image.Image, box: Box) -> None:
        spot = (box.left, box.top, box.right, box.bottom)
        under = np.array(picture.crop(spot))
        middle = (under.shape[0] - 1) / 2
        line = [(0.0, middle), (under.shape[1] - 1.0, middle)]
        wide = under.shape[0] * _TAPE_SHARE
        bare = np.ones(under.shape[:2], dtype=np.float32)
        done = Image.fromarray(tape.painted(Backdrop(under, bare), {name: line}, wide, wide / 2.5))
        ink = Ink(done.size)
        marks.draw_signs(
            ink, [((under.shape[1] - 1) / 2, middle)], "+" if name == "positive" else "-", wide, style
        )
        picture.paste(ink.laid_on(done), spot[:2])

    return paint


def _light_sample(settings: Settings, style: Style, sided: bool) -> Painter:
    def paint(picture: Image.Image, box: Box) -> None:
        side = box.bottom - box.top
        part = settings.light
        scale = side * _BODY_SHARE / max(part.length_mm, part.width_mm)
        panel = Panel(side, side, 0, 0, scale, Card(side / scale, side / scale))
        light = LightMark("x", side / scale / 2, side / scale / 2)
        _sampled(
            box,
            lambda ink, _middle, _half: marks.draw_light(
                ink, panel, style, light, replace(part), 270.0 if sided else None
            ),
        )(picture)

    return paint


def _cell_sample(style: Style) -> Painter:
    def draw(ink: Ink, middle: Point, half: float) -> None:
        panel = Panel(1, 1, 0, 0, 1.0, Card(1.0, 1.0))
        at = (middle[0] + 0.5, middle[1] + 0.5)
        marks.draw_foam(ink, panel, style, at, half * 0.62, half * 0.95)
        marks.draw_cell(ink, panel, style, at, half * 0.62, True)

    return lambda picture, box: _sampled(box, draw)(picture)


def _flap_sample(style: Style) -> Painter:
    def draw(ink: Ink, middle: Point, half: float) -> None:
        left, right, top, bottom = (
            middle[0] - half * 0.9,
            middle[0] + half * 0.9,
            middle[1] - half * 0.6,
            middle[1] + half * 0.6,
        )
        fold = right - half * 0.45
        ink.polygon([(fold, top), (right, top), (right, bottom), (fold, bottom)], FAINT_INK, 0.3)
        for a, b in ((left, fold), (fold, right)):
            shape = [(a, top), (b, top), (b, bottom), (a, bottom), (a, top)]
            ink.dashed(shape, FAINT_INK, style.px(3), style.px(12), style.px(7))

    return lambda picture, box: _sampled(box, draw)(picture)


def _drawn_sample(layout: Layout, style: Style) -> Painter:
    """The maker's lines one below the other, each as it is drawn on the card."""
    polarities = list(dict.fromkeys(line.polarity for line in layout.drawn_lines))

    def draw(ink: Ink, middle: Point, half: float) -> None:
        panel = Panel(1, 1, 0, 0, 1.0, Card(1.0, 1.0))
        for i, polarity in enumerate(polarities):
            y = middle[1] + 0.5 + half * 0.5 * (i - (len(polarities) - 1) / 2)
            ends = ((middle[0] + 0.5 - half, y), (middle[0] + 0.5 + half, y))
            marks.draw_drawn_line(ink, panel, style, DrawnLine(ends, polarity))

    return lambda picture, box: _sampled(box, draw)(picture)


def _line_sample(
    colour: tuple[int, int, int], style: Style, width: int, dash: tuple[int, int] | None
) -> Painter:
    def draw(ink: Ink, middle: Point, half: float) -> None:
        line = [(middle[0] - half, middle[1]), (middle[0] + half, middle[1])]
        if dash is None:
            ink.line(line, colour, style.px(width))
        else:
            ink.dashed(line, colour, style.px(width), style.px(dash[0]), style.px(dash[1]))

    return lambda picture, box: _sampled(box, draw)(picture)
