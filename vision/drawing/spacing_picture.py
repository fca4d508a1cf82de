"""Nearest distances at a glance: the card with a measured line between every two things that are near.

In:    the straightened card (or None), a layout, the distances as `Measure`s, `Settings`.
Out:   an RGB picture as wide as the overlay.
Fails: never; a figure for which there is no free place is left out of the picture (the lines of text
       that go with it hold them all).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from PIL import Image

from circuit.joint import lanes_of
from circuit.layout import Layout, Point, Traces
from circuit.lengths import format_length
from circuit.settings import Settings
from vision.drawing.backdrop import drawn, photographed
from vision.drawing.box import Box, Placing
from vision.drawing.colours import INK, NEGATIVE, POSITIVE, SHEET, VERMILION, WHITE, Colour
from vision.drawing.draw_marks import draw_cell, draw_light, draw_window
from vision.drawing.labels import NoRoomError, Taken, place_tags
from vision.drawing.lettering import capitals_mm, width_mm
from vision.drawing.look import ON_PHOTO
from vision.drawing.panel import Panel, panel_for
from vision.drawing.pen import BOLD_MM, HAIR_MM, LINE_MM, Pen
from vision.drawing.picture_sheet import Heading, sheet_of
from vision.drawing.shapes import rounded_corners, tape_pieces
from vision.drawing.tags import Tag
from vision.straight_card import StraightCard

NEAR_MM = 20.0  # chosen: what is farther apart and keeps its limit needs no line
_TAPE_OPACITY = 0.25  # chosen: there, but behind the figures
# Chosen by eye. [mm, pt]
_FIGURE_PT, _FIGURE_HIGH_MM, _BESIDE_FIGURE_MM, _FIGURE_ROUND_MM = 8.0, 3.7, 1.3, 0.65
_NEAR_WIDE_MM, _END_MM = 0.75, 0.55
_APART_MM = 0.6  # from one figure to the next: two fractions side by side read as one
_FARTHEST_MM = 6.0  # from a line's middle to its figure
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
    panel = panel_for(layout.card)
    placing = panel.placing
    backdrop = drawn(layout, panel) if straight is None else photographed(straight, panel)
    card = Image.fromarray(backdrop.pixels)
    pen = panel.pen(card)
    if traces is not None:
        lanes = [((lane.positive, POSITIVE), (lane.negative, NEGATIVE)) for lane in lanes_of(traces)]
        for line, colour in (tape for lane in lanes for tape in lane):
            pieces = tape_pieces(line, traces.tape_width_mm)
            pen.shape([placing.along(piece) for piece in pieces], colour, _TAPE_OPACITY)
    if layout.window is not None:
        draw_window(pen, placing, layout.window, ON_PHOTO)
    if layout.battery is not None:
        battery = layout.battery
        draw_cell(pen, placing, battery.centre, settings.cell.diameter_mm, ON_PHOTO, sure=battery.sure)
    for light in layout.lights:
        draw_light(pen, placing, light.centre, settings.light, None, ON_PHOTO, sure=light.sure)
    shown = shown_measures(measures)
    for measure in shown:
        _draw_line(pen, placing, measure)
    for measure, box, text in place_figures(shown, layout, panel, settings):
        _draw_figure(pen, box, text, measure.kept)
    words = _UNDER.format(units="millimetres" if settings.units == "mm" else "inches")
    words += "" if all(measure.kept for measure in shown) else _UNDER_RED
    return sheet_of(card, panel.width_px, Heading(_TEXT, under=words)).image


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
    measures: Sequence[Measure], layout: Layout, panel: Panel, settings: Settings
) -> list[tuple[Measure, Box, str]]:
    """A box for each figure on or beside its line's middle, clear of the pencil dots, of the boxes before it
    and inside the picture."""
    placing = panel.placing
    taken = Taken(panel.area)
    for light in layout.lights:
        taken.take_disc(placing.at(light.centre), light.diameter_mm / 2 * placing.scale)
    placed: list[tuple[Measure, Box, str]] = []
    for measure in measures:
        text = format_length(measure.length_mm, settings.units).removesuffix(f" {settings.units}")
        (ax, ay), (bx, by) = placing.along((measure.from_mm, measure.to_mm))
        wide = width_mm(text, _FIGURE_PT, "bold") + _BESIDE_FIGURE_MM
        middle = ((ax + bx) / 2, (ay + by) / 2)
        tag = Tag(middle, wide + _APART_MM, _FIGURE_HIGH_MM + _APART_MM, _FARTHEST_MM)
        try:
            (where,) = place_tags([tag], taken)
        except NoRoomError:
            continue
        if where.leader is None:  # else so far off that nobody would know whose it is
            placed.append((measure, where.box.inset(_APART_MM / 2), text))
    return placed


def _rounded(point: Point) -> Point:
    return (round(point[0], 2), round(point[1], 2))


def _colour(kept: bool) -> Colour:
    return INK if kept else VERMILION


def _draw_line(pen: Pen, placing: Placing, measure: Measure) -> None:
    ends = placing.along((measure.from_mm, measure.to_mm))
    wide = LINE_MM if measure.kept else _NEAR_WIDE_MM
    pen.line(ends, WHITE, wide + BOLD_MM, opacity=ON_PHOTO.halo)
    pen.line(ends, _colour(measure.kept), wide)
    for end in ends:
        pen.circle(end, _END_MM, None, fill=_colour(measure.kept))


def _draw_figure(pen: Pen, box: Box, text: str, kept: bool) -> None:
    outline = rounded_corners(box, _FIGURE_ROUND_MM)
    pen.shape([outline], SHEET if kept else INK)
    pen.line(outline, _colour(kept), HAIR_MM, closed=True)
    (x, y), ink = box.centre, INK if kept else WHITE
    baseline = y + capitals_mm(_FIGURE_PT) / 2
    pen.text(x, baseline, text, _FIGURE_PT, weight="bold", colour=ink, anchor="middle")
