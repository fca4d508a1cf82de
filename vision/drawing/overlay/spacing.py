"""Nearest distances at a glance: the card with a measured line between every two things that are near.

In:    the straightened card (or None), a layout, the distances as `Measure`s, `Settings`.
Out:   an RGB picture as wide as the overlay.
Fails: never; a figure for which there is no free place is left out of the picture (the lines of text
       that go with it hold them all).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from PIL import Image, ImageDraw

from circuit.layout import Layout, LightMark, Point, Traces
from circuit.lengths import format_length
from circuit.settings import Settings
from vision.drawing.overlay import marks
from vision.drawing.overlay.ink import Ink
from vision.drawing.overlay.panel import Panel, panel_for, style_for
from vision.drawing.overlay.paper import drawn, photographed
from vision.drawing.overlay.placement import Box
from vision.drawing.overlay.style import BLUE, INK, PAPER, VERMILION, WHITE, Colour, Style, typeface
from vision.drawing.overlay.text import draw_lines, line_height, wrap
from vision.straight_card import StraightCard

NEAR_MM = 20.0  # chosen: what is farther apart and keeps its limit needs no line
_TAPE_OPACITY = 0.25  # chosen: there, but behind the figures
_STEPS = 7  # places tried on either side of a line's middle
_TEXT = "Nearest distances"
_UNDER = "Between lights from centre to centre, else from the light's body, edge to edge, in {units}."
_UNDER_RED = " Thick lines with figures on a dark ground are nearer than they should be."


@dataclass(frozen=True, slots=True)
class Measure:
    """One distance: its two ends on the card, its length, whether its rule holds. [mm]"""

    from_mm: Point
    to_mm: Point
    length_mm: float
    kept: bool


def draw_spacing(
    straight: StraightCard | None,
    layout: Layout,
    traces: Traces | None,
    measures: Iterable[Measure],
    settings: Settings,
) -> Image.Image:
    """The picture; what is nearer than it should be is drawn first, so that its figure finds a place."""
    style = style_for(layout.card)
    panel = panel_for(layout.card, style)
    backdrop = drawn(layout, panel) if straight is None else photographed(straight, panel)
    under = Ink((panel.width_px, panel.height_px))
    if traces is not None:
        wide = traces.tape_width_mm * panel.px_per_mm
        under.line(panel.along(traces.positive), VERMILION, wide, _TAPE_OPACITY)
        under.line(panel.along(traces.negative), BLUE, wide, _TAPE_OPACITY)
    ink = Ink((panel.width_px, panel.height_px))
    if layout.window is not None:
        marks.draw_window(ink, panel, style, layout.window)
    if layout.battery is not None:
        battery = layout.battery
        marks.draw_cell(ink, panel, style, battery.centre, settings.cell.diameter_mm / 2, battery.sure)
    for light in layout.lights:
        marks.draw_light(ink, panel, style, light, settings.light, None)
    shown = shown_measures(measures)
    for measure in shown:
        _draw_line(ink, panel, style, measure)
    card = ink.laid_on(under.laid_on(Image.fromarray(backdrop.pixels)))
    for measure, box, text in place_figures(shown, layout, panel, style, settings):
        _draw_figure(card, box, text, measure.kept, style)
    return _with_heading(card, settings, style, any(not measure.kept for measure in shown))


def shown_measures(measures: Iterable[Measure]) -> list[Measure]:
    """Those worth a line, each pair of ends once; what breaks its rule first, then the nearest."""
    seen: set[frozenset[Point]] = set()
    shown = []
    for measure in sorted(measures, key=lambda one: (one.kept, one.length_mm)):
        ends = frozenset({_rounded(measure.from_mm), _rounded(measure.to_mm)})
        if ends in seen or (measure.kept and measure.length_mm > NEAR_MM):
            continue
        seen.add(ends)
        shown.append(measure)
    return shown


def place_figures(
    measures: Sequence[Measure], layout: Layout, panel: Panel, style: Style, settings: Settings
) -> list[tuple[Measure, Box, str]]:
    """A box for each figure beside its line's middle, clear of the pencil dots, of the boxes before it
    and inside the picture."""
    face = typeface("bold", style.px(34))
    dots = [_dot_box(light, panel) for light in layout.lights]
    placed: list[tuple[Measure, Box, str]] = []
    for measure in measures:
        text = format_length(measure.length_mm, settings.units).removesuffix(f" {settings.units}")
        wide, high = math.ceil(face.getlength(text)) + style.px(16), style.px(46)
        for x, y in _spots(panel.at(measure.from_mm), panel.at(measure.to_mm), max(wide, high)):
            left, top = round(x - wide / 2), round(y - high / 2)
            box = Box(left, top, left + wide, top + high)
            inside = left >= 0 and top >= 0 and box.right <= panel.width_px and box.bottom <= panel.height_px
            if inside and not any(box.overlaps(other) for other in (*dots, *(one[1] for one in placed))):
                placed.append((measure, box, text))
                break
    return placed


def _dot_box(light: LightMark, panel: Panel) -> Box:
    x, y = panel.at(light.centre)
    half = light.diameter_mm / 2 * panel.px_per_mm
    return Box(math.floor(x - half), math.floor(y - half), math.ceil(x + half), math.ceil(y + half))


def _spots(a: Point, b: Point, step: float) -> Iterable[Point]:
    """The line's middle, then places beside it, nearest first."""
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    run = math.dist(a, b)
    across = (0.0, -1.0) if run == 0 else (-(b[1] - a[1]) / run, (b[0] - a[0]) / run)
    yield middle
    for i in range(1, _STEPS + 1):
        for side in (1, -1):
            away = side * i * step * 0.55
            yield (middle[0] + across[0] * away, middle[1] + across[1] * away)


def _rounded(point: Point) -> Point:
    return (round(point[0], 2), round(point[1], 2))


def _colour(kept: bool) -> Colour:
    return INK if kept else VERMILION


def _draw_line(ink: Ink, panel: Panel, style: Style, measure: Measure) -> None:
    ends = [panel.at(measure.from_mm), panel.at(measure.to_mm)]
    wide = style.px(4 if measure.kept else 9)
    ink.line(ends, WHITE, wide + style.px(6), 0.8)
    ink.line(ends, _colour(measure.kept), wide)
    for end in ends:
        ink.disc(end, style.px(7), _colour(measure.kept))


def _draw_figure(card: Image.Image, box: Box, text: str, kept: bool, style: Style) -> None:
    draw = ImageDraw.Draw(card)
    draw.rounded_rectangle(
        (box.left, box.top, box.right - 1, box.bottom - 1),
        style.px(8),
        fill=PAPER if kept else INK,
        outline=_colour(kept),
        width=style.px(2),
    )
    draw.text(box.centre, text, fill=INK if kept else WHITE, font=typeface("bold", style.px(34)), anchor="mm")


def _with_heading(card: Image.Image, settings: Settings, style: Style, any_near: bool) -> Image.Image:
    heading, body = typeface("bold", style.heading), typeface("regular", style.label)
    words = _UNDER.format(units="millimetres" if settings.units == "mm" else "inches")
    lines = wrap(words + (_UNDER_RED if any_near else ""), body, style.width_px - 2 * style.margin)
    heading_bottom = style.px(44) + line_height(heading)
    top = heading_bottom + line_height(body) * len(lines) + style.px(12)
    sheet = Image.new("RGB", (style.width_px, top + card.height), PAPER)
    sheet.paste(card, (0, top))
    draw = ImageDraw.Draw(sheet)
    draw_lines(draw, (_TEXT,), style.margin, style.px(44), heading, INK)
    draw_lines(draw, lines, style.margin, heading_bottom, body, INK)
    return sheet
