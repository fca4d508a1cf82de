"""Decide where every label, callout, question mark and leader goes on the card's panel.

In:    the plan and the panel.
Out:   `Annotations`, pure data: boxes, rings, leaders in panel pixels.
Fails: `NoRoomError` when the panel has no free place left for one of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from circuit import telling
from circuit.layout import Point
from circuit.plan import Plan
from circuit.settings import Settings
from vision.drawing.overlay import marks, tape
from vision.drawing.overlay.ink import circle_points
from vision.drawing.overlay.panel import Panel
from vision.drawing.overlay.paper import Backdrop
from vision.drawing.overlay.placement import Box, Ground, Placed, Tag, place_tags
from vision.drawing.overlay.style import Style, typeface
from vision.drawing.overlay.text import shorten

Kind = Literal["label", "must-fix", "look-again", "doubt"]
_AT_A_MARK_MM = 1.5  # chosen: a problem this near a light's centre is about the light as a whole
_LONGEST_LABEL_PX = 190  # chosen: a light's name on the card; the legend says it in full
_LEFT_OUT = "left out"
UNCLEAR_MM = 3.5  # chosen: ring round a mark that is not taken for a light
_SEEN_PENCIL = 0.25  # chosen: this much darker than paper is pencil, not grain


@dataclass(frozen=True, slots=True)
class NotedTag:
    """One thing to draw over the card."""

    kind: Kind
    text: str
    box: Box


@dataclass(frozen=True, slots=True)
class Annotations:
    """`rings`: centre and radius of the spots that callouts speak of. [px]"""

    tags: tuple[NotedTag, ...]
    leaders: tuple[tuple[Point, Point], ...]
    rings: tuple[tuple[Point, float], ...]


@dataclass(frozen=True, slots=True)
class _Wanted:
    kind: Kind
    text: str
    tag: Tag
    leader_beyond: float  # a leader shorter than this is left out


def annotate(
    plan: Plan,
    settings: Settings,
    panel: Panel,
    style: Style,
    backdrop: Backdrop,
) -> Annotations:
    """Place labels, then callouts, then question marks, each as near its mark as there is room."""
    ground = occupied(plan, settings, panel, style, backdrop)
    rings = _rings(plan, settings, panel, style)
    for at, radius in rings:
        ground.take_disc(at, radius + style.px(4))
    wanted = [
        *_labels(plan, settings, panel, style),
        *_callouts(plan, rings, style),
        *_doubts(plan, settings, panel, style),
        *_left_out(plan, panel, style),
    ]
    placed = place_tags([one.tag for one in wanted], ground)
    return Annotations(
        tuple(NotedTag(one.kind, one.text, _inner(where, style)) for one, where in zip(wanted, placed)),
        tuple(
            where.leader
            for one, where in zip(wanted, placed)
            if where.leader is not None and math.dist(*where.leader) > one.leader_beyond
        ),
        rings,
    )


def occupied(
    plan: Plan,
    settings: Settings,
    panel: Panel,
    style: Style,
    backdrop: Backdrop,
) -> Ground:
    """The ground with every mark, trace, body, arrow and outline taken."""
    left, top, right, bottom = panel.card_box
    busy = np.zeros((panel.height_px, panel.width_px), dtype=np.float32)
    busy[top:bottom, left:right] = backdrop.bare[top:bottom, left:right] < 1 - _SEEN_PENCIL
    ground = Ground(panel.width_px, panel.height_px, busy)
    layout, size = plan.layout, (panel.width_px, panel.height_px)
    if plan.traces is not None:
        for line in (plan.traces.positive, plan.traces.negative):
            ground.take(tape.coverage(size, panel.along(line), plan.traces.tape_width_mm * panel.px_per_mm))
    for light in layout.lights:
        deg = plan.sides_deg.get(light.label, 0.0)
        ground.take_polygon(panel.along(marks.body_corners(light.centre, settings.light, deg)))
        ground.take_disc(panel.at(light.centre), light.diameter_mm / 2 * panel.px_per_mm)
    if layout.battery is not None:
        radius = max(layout.battery.diameter_mm, settings.cell.diameter_mm) / 2 * panel.px_per_mm
        ground.take_disc(panel.at(layout.battery.centre), radius + style.px(6))
    if layout.window is not None:
        ground.take_line(panel.along([*layout.window, layout.window[0]]), style.px(10))
    for drawn in layout.drawn_lines:
        ground.take_line(panel.along(drawn.points), style.px(10))
    for where_mm in (*plan.seen.maybe, *plan.seen.crossed_out):
        ground.take_disc(panel.at(where_mm), UNCLEAR_MM * panel.px_per_mm)
    for move in plan.moves:
        a, b = panel.at(move.from_mm), panel.at(move.to_mm)
        ground.take_line([a, b], style.px(30))
        if move.about == "battery":
            ground.take_line(circle_points(b, settings.cell.diameter_mm / 2 * panel.px_per_mm), style.px(10))
        else:
            deg = plan.sides_deg.get(move.about, 0.0)
            ground.take_polygon(panel.along(marks.body_corners(move.to_mm, settings.light, deg)))
    return ground


def _rings(plan: Plan, settings: Settings, panel: Panel, style: Style) -> tuple[tuple[Point, float], ...]:
    """A small ring at each problem's place, or one round the whole body where it is about a light."""
    body = math.hypot(settings.light.length_mm, settings.light.width_mm) / 2 * panel.px_per_mm + style.px(6)
    rings = []
    for _, problem in telling.numbered_problems(plan):
        near = [
            light
            for light in plan.layout.lights
            if math.dist(light.centre, problem.where_mm) <= _AT_A_MARK_MM
        ]
        if near:
            rings.append((panel.at(near[0].centre), body))
        else:
            rings.append((_kept_on(panel, problem.where_mm), float(style.px(13))))
    return tuple(rings)


def _kept_on(panel: Panel, where_mm: Point) -> Point:
    """The place, or the nearest one on the card for a place beside it."""
    return panel.at(
        (min(max(where_mm[0], 0.0), panel.card.width_mm), min(max(where_mm[1], 0.0), panel.card.height_mm))
    )


def _labels(plan: Plan, settings: Settings, panel: Panel, style: Style) -> list[_Wanted]:
    face = typeface("bold", style.label)
    body = max(settings.light.length_mm, settings.light.width_mm) / 2 * panel.px_per_mm
    wanted = []
    for light in plan.layout.lights:
        text = shorten(light.label, face, style.px(_LONGEST_LABEL_PX)) or "?"
        wide = math.ceil(face.getlength(text)) + style.px(22)
        tag = _tag(panel.at(light.centre), wide, style.px(50), body, style)
        wanted.append(_Wanted("label", text, tag, style.px(20)))
    return wanted


def _callouts(plan: Plan, rings: tuple[tuple[Point, float], ...], style: Style) -> list[_Wanted]:
    return [
        _Wanted(problem.level, str(number), _tag(at, style.callout, style.callout, radius, style), 0.0)
        for (number, problem), (at, radius) in zip(telling.numbered_problems(plan), rings)
    ]


def _doubts(plan: Plan, settings: Settings, panel: Panel, style: Style) -> list[_Wanted]:
    wanted = []
    for name in plan.unsure_marks:
        if name == "battery" and plan.layout.battery is not None:
            at = panel.at(plan.layout.battery.centre)
            radius = settings.cell.diameter_mm / 2 * panel.px_per_mm
        else:
            at = panel.at(plan.layout.light(name).centre)
            radius = max(settings.light.length_mm, settings.light.width_mm) / 2 * panel.px_per_mm
        wanted.append(_Wanted("doubt", "?", _tag(at, style.px(56), style.px(62), radius, style), 0.0))
    for where_mm in plan.seen.maybe:
        at, radius = panel.at(where_mm), UNCLEAR_MM * panel.px_per_mm
        wanted.append(_Wanted("doubt", "?", _tag(at, style.px(56), style.px(62), radius, style), 0.0))
    return wanted


def _left_out(plan: Plan, panel: Panel, style: Style) -> list[_Wanted]:
    wide = math.ceil(typeface("bold", style.label).getlength(_LEFT_OUT)) + style.px(22)
    radius = UNCLEAR_MM * panel.px_per_mm
    return [
        _Wanted("label", _LEFT_OUT, _tag(panel.at(at), wide, style.px(50), radius, style), style.px(20))
        for at in plan.seen.crossed_out
    ]


def _tag(at: Point, width: int, height: int, stand_off: float, style: Style) -> Tag:
    """With some air round it, so that two tags never touch."""
    air = 2 * style.px(5)
    return Tag(at, width + air, height + air, stand_off)


def _inner(placed: Placed, style: Style) -> Box:
    air = style.px(5)
    box = placed.box
    return Box(box.left + air, box.top + air, box.right - air, box.bottom - air)
