"""Decide where every label, callout, question mark and leader goes on the card's panel.

In:    a `Subject` and the panel.
Out:   `Annotations`, pure data: boxes, rings, leaders in the panel's sheet millimetres.
Fails: `NoRoomError` when the panel has no free place left for one of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from circuit.layout import Point
from vision.drawing.backdrop import Backdrop
from vision.drawing.box import Box, Placing
from vision.drawing.draw_marks import UNCLEAR_MM
from vision.drawing.labels import place_tags
from vision.drawing.lettering import LABEL_PT, shortened, width_mm
from vision.drawing.look import ON_PHOTO
from vision.drawing.occupied import occupied
from vision.drawing.overlay.explained import listed_problems
from vision.drawing.panel import CALLOUT_MM, Panel
from vision.drawing.rings import body_mm, rings_at
from vision.drawing.subject import Subject
from vision.drawing.tags import Tag, needs_leader

Kind = Literal["label", "must-fix", "look-again", "doubt"]
_LONGEST_LABEL_MM = 15.0  # chosen: a light's name on the card; the rows below say it in full
_LEFT_OUT = "left out"
_SEEN_PENCIL = 0.25  # chosen: this much darker than paper is pencil, not grain
_AIR_MM = 0.4  # chosen: round every tag, so that two never touch
# Chosen by eye.
_LABEL_HIGH_MM, _LABEL_BESIDE_MM = 4.0, 1.8  # a label's slip; what is left and right of its words, together
_QUESTION_MM = (4.5, 5.0)
_SHORT_LEADER_MM = 2.2  # a label nearer than that needs no line to its mark


@dataclass(frozen=True, slots=True)
class NotedTag:
    """One thing to draw over the card."""

    kind: Kind
    text: str
    box: Box


@dataclass(frozen=True, slots=True)
class Annotations:
    """`rings`: centre and radius of the spots that callouts speak of."""

    tags: tuple[NotedTag, ...] = ()
    leaders: tuple[tuple[Point, Point], ...] = ()
    rings: tuple[tuple[Point, float], ...] = ()


@dataclass(frozen=True, slots=True)
class _Wanted:
    kind: Kind
    text: str
    tag: Tag
    leader_beyond: float  # a leader shorter than this is left out


def annotate(subject: Subject, panel: Panel, backdrop: Backdrop) -> Annotations:
    """Place labels, then callouts, then question marks, each as near its mark as there is room."""
    placing = panel.placing
    busy = (1 - backdrop.bare > _SEEN_PENCIL).astype(np.float32)
    taken = occupied(subject, placing, panel.area, ON_PHOTO, busy)
    rings = rings_at([problem.where_mm for _, problem in listed_problems(subject.plan)], subject, placing)
    for at, radius in rings:
        taken.take_disc(at, radius + _AIR_MM)
    wanted = [
        *_labels(subject, placing),
        *_callouts(subject, rings),
        *_doubts(subject, placing),
        *_left_out(subject, placing),
    ]
    placed = place_tags([one.tag for one in wanted], taken)
    return Annotations(
        tuple(NotedTag(one.kind, one.text, where.box.inset(_AIR_MM)) for one, where in zip(wanted, placed)),
        tuple(
            where.leader
            for one, where in zip(wanted, placed)
            if where.leader is not None and needs_leader(one.tag, where, one.leader_beyond)
        ),
        rings,
    )


def _labels(subject: Subject, placing: Placing) -> list[_Wanted]:
    body = body_mm(subject, placing)
    marks = _labelled(subject, placing)
    return [
        _label(
            shortened(light.label, LABEL_PT, _LONGEST_LABEL_MM, "bold") or "?",
            placing.at(light.centre),
            body,
            marks,
        )
        for light in subject.plan.layout.lights
    ]


def _left_out(subject: Subject, placing: Placing) -> list[_Wanted]:
    radius, marks = UNCLEAR_MM * placing.scale, _labelled(subject, placing)
    return [_label(_LEFT_OUT, placing.at(at), radius, marks) for at in subject.plan.seen.crossed_out]


def _labelled(subject: Subject, placing: Placing) -> list[Point]:
    """What labels speak of: a label must not seem to be another's."""
    lights = (light.centre for light in subject.plan.layout.lights)
    return placing.along([*lights, *subject.plan.seen.crossed_out])


def _label(text: str, at: Point, stand_off: float, marks: Sequence[Point]) -> _Wanted:
    wide = width_mm(text, LABEL_PT, "bold") + _LABEL_BESIDE_MM
    tag = replace(
        _tag(at, wide, _LABEL_HIGH_MM, stand_off), others=tuple(mark for mark in marks if mark != at)
    )
    return _Wanted("label", text, tag, _SHORT_LEADER_MM)


def _callouts(subject: Subject, rings: tuple[tuple[Point, float], ...]) -> list[_Wanted]:
    return [
        _Wanted(problem.level, str(number), _tag(at, CALLOUT_MM, CALLOUT_MM, radius), 0.0)
        for (number, problem), (at, radius) in zip(listed_problems(subject.plan), rings)
    ]


def _doubts(subject: Subject, placing: Placing) -> list[_Wanted]:
    layout = subject.plan.layout
    places = []
    for name in subject.plan.unsure_marks:
        if name == "battery" and layout.battery is not None:
            places.append((layout.battery.centre, subject.settings.cell.diameter_mm / 2 * placing.scale))
        else:
            places.append((layout.light(name).centre, body_mm(subject, placing)))
    places += [(at, UNCLEAR_MM * placing.scale) for at in subject.plan.seen.maybe]
    return [_Wanted("doubt", "?", _tag(placing.at(at), *_QUESTION_MM, reach), 0.0) for at, reach in places]


def _tag(at: Point, width: float, height: float, stand_off: float) -> Tag:
    return Tag(at, width + 2 * _AIR_MM, height + 2 * _AIR_MM, stand_off)
