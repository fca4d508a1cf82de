"""A layout's marks as a maker pencils them, for a plan that has no photo.

In:    a pen, where the card lies, the layout.
Out:   ink; the same layout gives the same strokes.
Fails: never.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from circuit.layout import Layout, Point
from circuit.polyline import between
from vision.drawing.box import Placing
from vision.drawing.colours import Colour
from vision.drawing.pen import Pen
from vision.drawing.shapes import arc_points, circle_points

# Chosen by eye, after pencilled cards.
_GRAPHITE: Colour = (92, 90, 92)
_PENCIL_MM, _FINE_PENCIL_MM = 0.45, 0.34  # a soft pencil's line, a lighter hand's
_FIRM, _LIGHT, _FILLED = 0.87, 0.7, 0.75  # opacity
_RING_DEG = (-70.0, 372.0)  # a circle drawn by hand overshoots its start
_TREMOR_MM, _TREMOR_STEP_MM = 0.1, 2.0  # how far a hand strays, and from one point to the next
_TREMOR_STEPS = (0.61, 0.37)  # of two sine waves, in x and y, per point [rad]
_TREMOR_STARTS = (0.13, 0.17)  # where they begin, by the line's first point [rad/mm]
_DISC, _SCRIBBLE, _STROKES_PER_LINE = (
    0.96,
    0.9,
    2.2,
)  # a dot's disc and strokes, over its radius; strokes over width


def draw_pencil(pen: Pen, placing: Placing, layout: Layout) -> None:
    """Dots filled in, the battery circle, the window, the maker's own lines."""
    for light in layout.lights:
        _draw_dot(pen, placing.at(light.centre), light.diameter_mm / 2 * placing.scale)
    if layout.battery is not None:
        centre, radius = placing.at(layout.battery.centre), layout.battery.diameter_mm / 2 * placing.scale
        ring = arc_points(centre, radius, *_RING_DEG, chord=_TREMOR_STEP_MM / 2)
        pen.line(_wobbling(ring), _GRAPHITE, _PENCIL_MM, opacity=_FIRM)
    lines = [line.points for line in layout.drawn_lines]
    if layout.window:
        lines.append((*layout.window, layout.window[0]))
    for line in lines:
        pen.line(_wobbling(_dense(placing.along(line))), _GRAPHITE, _FINE_PENCIL_MM, opacity=_LIGHT)


def _draw_dot(pen: Pen, centre: Point, radius: float) -> None:
    """A soft disc, scribbled over."""
    pen.shape([circle_points(centre, radius * _DISC)], _GRAPHITE, _FILLED)
    turns = max(3, round(radius / _PENCIL_MM * _STROKES_PER_LINE))
    zigzag: list[Point] = []
    for i in range(turns + 1):
        across = -1 + 2 * i / turns
        reach = math.sqrt(1 - across * across) * radius * _DISC
        zigzag.append((centre[0] + across * radius * _SCRIBBLE, centre[1] + (reach if i % 2 else -reach)))
    pen.line(zigzag, _GRAPHITE, _FINE_PENCIL_MM, opacity=_FIRM)
    pen.line(circle_points(centre, radius * _DISC), _GRAPHITE, _FINE_PENCIL_MM, opacity=_FIRM)


def _dense(points: Sequence[Point]) -> list[Point]:
    """With points at equal steps, for a hand to stray at."""
    out: list[Point] = []
    for a, b in pairwise(points):
        count = max(1, math.ceil(math.dist(a, b) / _TREMOR_STEP_MM))
        out += [between(a, b, i / count) for i in range(count)]
    return [*out, points[-1]]


def _wobbling(points: Sequence[Point]) -> list[Point]:
    """A hand's slow tremor: two sine waves along the line, the same for the same points."""
    start_x, start_y = (start * part for start, part in zip(_TREMOR_STARTS, points[0]))
    return [
        (
            x + _TREMOR_MM * math.sin(_TREMOR_STEPS[0] * i + start_x),
            y + _TREMOR_MM * math.sin(_TREMOR_STEPS[1] * i + start_y),
        )
        for i, (x, y) in enumerate(points)
    ]
