"""The plan as an SVG that lies on the photo of the straightened card: crisp at any zoom, small, and free of scripts.

In:    a plan, its settings.
Out:   the content of an <svg> whose units are card millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from circuit.layout import LightMark, Point
from circuit.plan import Plan
from circuit.settings import Settings
from cli.phone.questions import maybe_marks

_POSITIVE, _NEGATIVE, _INK, _MOVE = "#d55e00", "#0072b2", "#26221f", "#009e73"


def plan_svg(plan: Plan, settings: Settings) -> str:
    parts: list[str] = []
    if plan.traces is not None:
        wide = plan.traces.tape_width_mm
        parts += _tape(plan.traces.negative, wide, _NEGATIVE, barred=True)
        parts += _tape(plan.traces.positive, wide, _POSITIVE, barred=False)
    layout = plan.layout
    if layout.window is not None:
        parts.append(_path([*layout.window, layout.window[0]], "#843c6c", 0.4, dash="0.5 1"))
    if layout.battery is not None:
        x, y = layout.battery.centre
        zone, cell = settings.battery_zone_radius_mm, settings.cell.diameter_mm / 2
        parts.append(_circle((x, y), zone, "#706962", 0.25, dash="0.8 0.8"))
        parts.append(_circle((x, y), cell, _INK, 0.4, dash="2.6 1"))
    for light in layout.lights:
        parts += _light(light, settings, plan.sides_deg.get(light.label))
    for place in maybe_marks(plan):
        parts.append(_circle(place, 3.2, "#a2457f", 0.5, dash="1.2 0.8"))
    for move in plan.moves:
        parts.append(_path([move.from_mm, move.to_mm], "#ffffff", 1.1))
        parts.append(_path([move.from_mm, move.to_mm], _MOVE, 0.6))
        parts.append(_circle(move.to_mm, 0.9, "#ffffff", 0.3, fill=_MOVE))
    return "".join(parts)


def _tape(line: Iterable[Point], wide: float, colour: str, *, barred: bool) -> list[str]:
    points = list(line)
    parts = [
        _path(points, "#ffffff", wide + 0.5, more='stroke-opacity=".7"'),
        _path(points, colour, wide, more='stroke-opacity=".78"'),
    ]
    if barred:
        parts.append(_path(points, "#ffffff", wide, dash="0.5 1.3", more='stroke-opacity=".45"'))
    return parts


def _light(light: LightMark, settings: Settings, side_deg: float | None) -> list[str]:
    part = settings.light
    long, wide = part.length_mm, part.width_mm
    turn = "" if side_deg is None else f" rotate({side_deg:.1f})"
    ends = ""
    if side_deg is not None:
        band = long * 0.22
        end = f'y="{-wide / 2:.2f}" width="{band:.2f}" height="{wide:.2f}"'
        ends = (
            f'<rect x="{long / 2 - band:.2f}" {end} fill="{_POSITIVE}"/>'
            f'<rect x="{-long / 2:.2f}" {end} fill="{_NEGATIVE}"/>'
        )
    return [
        f'<g transform="translate({light.x_mm:.2f} {light.y_mm:.2f}){turn}">'
        f'<rect x="{-long / 2:.2f}" y="{-wide / 2:.2f}" width="{long:.2f}" height="{wide:.2f}" fill="#fff" '
        f'fill-opacity=".75" stroke="{_INK}" stroke-width=".35"/>{ends}</g>'
    ]


def _path(points: Iterable[Point], colour: str, wide: float, dash: str = "", more: str = "") -> str:
    steps = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="M{steps}" fill="none" stroke="{colour}" stroke-width="{wide:.2f}"{dashed} {more}/>'


def _circle(at: Point, radius: float, colour: str, wide: float, dash: str = "", fill: str = "none") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    assert math.isfinite(radius)
    return (
        f'<circle cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{radius:.2f}" fill="{fill}" stroke="{colour}" '
        f'stroke-width="{wide:.2f}"{dashed}/>'
    )
