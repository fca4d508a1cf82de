"""The parts at true size: lights with their positive side, the cell, foam ring and flap, window, moves.

In:    the plan's marks, the panel, ink layers to draw on.
Out:   drawing on the layers; `body_corners` is also what callouts keep clear of.
Fails: never; a light whose positive side is not known is drawn upright, without signs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from circuit.flap import Flap
from circuit.layout import DrawnLine, LightMark, Move, Point, Polyline
from circuit.parts import LightPart
from circuit.settings import Settings
from vision.drawing.overlay.ink import Ink, circle_points
from vision.drawing.overlay.panel import Panel
from vision.drawing.overlay.style import (
    DOUBT,
    FAINT_INK,
    INK,
    MOVE,
    NEGATIVE,
    POSITIVE,
    WHITE,
    WINDOW,
    Colour,
    Style,
)

_SIGN_FITS_PX = 34  # chosen: a body less than this across has no room for a legible sign
_END_SHARE = 0.26  # chosen: each pad end of a body is marked over this share of its length


def body_corners(
    centre: Point, part: LightPart, positive_deg: float, along: tuple[float, float] = (-1, 1)
) -> Polyline:
    """Corners of a light's body [mm]; `along` cuts out the part from -1 (negative end) to 1 (positive end)."""
    ux, uy = math.cos(math.radians(positive_deg)), math.sin(math.radians(positive_deg))
    half_l, half_w = part.length_mm / 2, part.width_mm / 2
    return tuple(
        (centre[0] + ux * half_l * a - uy * half_w * b, centre[1] + uy * half_l * a + ux * half_w * b)
        for a, b in ((along[0], -1), (along[1], -1), (along[1], 1), (along[0], 1))
    )


def draw_flap(ink: Ink, panel: Panel, style: Style, flap: Flap) -> None:
    """Light paper over the cell, dashed outline, and the tab with its fold."""
    ink.polygon(panel.along(flap.outline), WHITE, 0.22)
    ink.polygon(panel.along(flap.tab), FAINT_INK, 0.16)
    for shape in (flap.outline, flap.tab):
        closed = panel.along([*shape, shape[0]])
        ink.dashed(closed, FAINT_INK, style.px(3), style.px(16), style.px(9), 0.85)


def draw_foam(ink: Ink, panel: Panel, style: Style, centre: Point, cell_mm: float, zone_mm: float) -> None:
    """The foam ring as a dotted band round the cell."""
    at, scale = panel.at(centre), panel.px_per_mm
    inner, outer = cell_mm * scale, zone_mm * scale
    ink.disc(at, outer, FAINT_INK, 0.15)
    ink.disc(at, inner, WHITE, 0.22)
    ink.dashed(circle_points(at, outer), FAINT_INK, style.px(3), style.px(4), style.px(8), 0.8)


def draw_cell(ink: Ink, panel: Panel, style: Style, centre: Point, cell_mm: float, sure: bool) -> None:
    """The cell at its true size, dashed over a white halo so that it shows on tape and paper."""
    ring = circle_points(panel.at(centre), cell_mm * panel.px_per_mm)
    ink.dashed(ring, WHITE, style.px(8), style.px(26), style.px(12), 0.7)
    ink.dashed(ring, INK if sure else DOUBT, style.px(4), style.px(26), style.px(12))


def draw_window(ink: Ink, panel: Panel, style: Style, window: Polyline) -> None:
    closed = panel.along([*window, window[0]])
    ink.line(closed, WHITE, style.px(7), 0.55)
    ink.dashed(closed, WINDOW, style.px(4), style.px(5), style.px(9))


def draw_drawn_line(ink: Ink, panel: Panel, style: Style, line: DrawnLine) -> None:
    """What the maker pencilled, as a thin line in its polarity's colour."""
    colour = {"positive": POSITIVE, "negative": NEGATIVE, None: INK}[line.polarity]
    points = panel.along(line.points)
    ink.line(points, WHITE, style.px(8), 0.75)
    if line.polarity == "negative":
        ink.dashed(points, colour, style.px(4), style.px(18), style.px(8))
    else:
        ink.line(points, colour, style.px(4))


def draw_light(
    ink: Ink, panel: Panel, style: Style, light: LightMark, part: LightPart, positive_deg: float | None
) -> None:
    """The body's outline, see-through in the middle where the pencil dot is, with its two pad ends."""
    deg = 0.0 if positive_deg is None else positive_deg
    body = panel.along(body_corners(light.centre, part, deg))
    closed = [*body, body[0], body[1]]
    across_px = min(part.length_mm, part.width_mm) * panel.px_per_mm
    ink.line(closed, WHITE, style.px(8), 0.8)
    ink.polygon(body, WHITE, 0.3)
    if positive_deg is not None:
        inner = 1 - 2 * _END_SHARE
        for sign, along, colour in (("+", (inner, 1.0), POSITIVE), ("-", (-1.0, -inner), NEGATIVE)):
            end = body_corners(light.centre, part, deg, along)
            ink.polygon(panel.along(end), colour)
            if across_px >= style.px(_SIGN_FITS_PX):
                middle = panel.at((sum(x for x, _ in end) / 4, sum(y for _, y in end) / 4))
                depth = part.length_mm * _END_SHARE * panel.px_per_mm
                size = max(style.px(11), min(depth, 0.55 * part.width_mm * panel.px_per_mm))
                (ink.plus if sign == "+" else ink.minus)(middle, size, WHITE, max(style.px(3), size * 0.24))
            elif sign == "+":
                # Too small a body for a sign in it: one beside its positive end instead.
                out = 1 + 2 * style.px(11) / (part.length_mm * panel.px_per_mm)
                beside = body_corners(light.centre, part, deg, (out, out))
                at = ((beside[0][0] + beside[2][0]) / 2, (beside[0][1] + beside[2][1]) / 2)
                draw_signs(ink, [panel.at(at)], "+", 2 * style.px(11), style)
    wide = min(style.px(4), max(2.0, 0.07 * across_px))
    if light.sure:
        ink.line(closed, INK, wide)
    else:
        ink.dashed(closed, DOUBT, wide + style.px(1), style.px(10), style.px(6))


def draw_signs(ink: Ink, places_px: Sequence[Point], sign: str, tape_px: float, style: Style) -> None:
    """A white sign on a round spot of the tape's own colour."""
    colour: Colour = POSITIVE if sign == "+" else NEGATIVE
    radius = max(style.px(9), min(0.46 * tape_px, style.px(26)))
    for at in places_px:
        ink.disc(at, radius, colour)
        (ink.plus if sign == "+" else ink.minus)(at, radius * 1.25, WHITE, max(2.0, radius * 0.3))


def draw_unclear(
    ink: Ink, panel: Panel, style: Style, where_mm: Point, radius_mm: float, colour: Colour
) -> None:
    """A dotted ring round something that is not taken for a light."""
    ring = circle_points(panel.at(where_mm), radius_mm * panel.px_per_mm)
    ink.line(ring, WHITE, style.px(7), 0.7)
    ink.dashed(ring, colour, style.px(4), style.px(8), style.px(6))


def draw_move(
    ink: Ink, panel: Panel, style: Style, move: Move, settings: Settings, positive_deg: float | None
) -> None:
    """The mark's ghost at its new place, and an arrow to it from the old one."""
    if move.about == "battery":
        ghost = circle_points(panel.at(move.to_mm), settings.cell.diameter_mm / 2 * panel.px_per_mm)
    else:
        corners = panel.along(body_corners(move.to_mm, settings.light, positive_deg or 0.0))
        ghost = [*corners, corners[0]]
    ink.line(ghost, WHITE, style.px(8), 0.8)
    ink.dashed(ghost, MOVE, style.px(5), style.px(13), style.px(8))
    a, b = panel.at(move.from_mm), panel.at(move.to_mm)
    ink.line([a, b], WHITE, style.px(14), 0.8)
    ink.arrow(a, b, MOVE, style.px(7), style.px(28))
