"""Where names and numbers lie on a phone's picture of a card: none over another, a tape or a mark.

In:    a plan, its settings, what of the card's surroundings the picture shows, the spots that numbers speak of.
Out:   for each mark and each spot where its tag's middle lies and the line that leads there, in card millimetres.
Fails: never: what finds no free place lies where it covers least.

A page shows tags at one size of letters however large the picture is. They are placed for the smallest picture and
held by their middles, so that they only go further apart on a larger one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from circuit.layout import Point
from circuit.plan import Plan
from circuit.settings import Settings
from vision.drawing.box import Box, Placing
from vision.drawing.labels import place_tags
from vision.drawing.lettering import MM_PER_POINT, width_mm
from vision.drawing.look import ON_PHOTO
from vision.drawing.occupied import occupied
from vision.drawing.pen import SHEET_MM
from vision.drawing.rings import body_mm, rings_at
from vision.drawing.subject import Subject, subject_of
from vision.drawing.tags import Tag

BATTERY_NAME = "Battery"
# The style sheet's: the picture on a phone of 360 pixels, the narrowest in use (common practice, no source); the size
# of letters, the least that is read at arm's length; what a name has around it; a number's side. [CSS px]
_PICTURE_PX, _LETTER_PX, _BESIDE_PX, _LABEL_HIGH_PX, SPOT_PX = 326.0, 14.0, 8.0, 19.0, 26.0
# Phones set the page in a typeface of their own: wider than ours by so much, measured on DejaVu Sans, the widest of the
# usual ones.
_WIDER = 1.2
_MM_PER_PX = SHEET_MM / _PICTURE_PX


@dataclass(frozen=True, slots=True)
class ScreenTag:
    """Where a tag's middle lies, and where its line ends, near what it speaks of. [card mm]"""

    at: Point
    to: Point


@dataclass(frozen=True, slots=True)
class ScreenTags:
    """`marks`: of each light in the layout's order, then of the battery circle, if any; `spots`: as asked."""

    marks: tuple[ScreenTag, ...]
    spots: tuple[ScreenTag, ...]


def tags_on_screen(plan: Plan, settings: Settings, frame: Box, spots: Sequence[Point]) -> ScreenTags:
    """Place names first, then numbers, each as near its mark as there is room. `frame`: the picture, in card mm."""
    subject = subject_of(plan, settings)
    scale = SHEET_MM / frame.width
    placing = Placing(-frame.left * scale, -frame.top * scale, scale)
    taken = occupied(subject, placing, Box(0.0, 0.0, SHEET_MM, frame.height * scale), ON_PHOTO)
    rings = rings_at(spots, subject, placing)
    for at, radius in rings:
        taken.take_disc(at, radius)
    side = SPOT_PX * _MM_PER_PX
    tags = [*_names(subject, placing), *(Tag(at, side, side, radius) for at, radius in rings)]
    placed = place_tags(tags, taken, on_taken=True)

    def on_card(x: float, y: float) -> Point:
        return (x / scale + frame.left, y / scale + frame.top)

    found = [
        ScreenTag(on_card(*where.box.centre), on_card(*_line_end(tag, where.box)))
        for tag, where in zip(tags, placed, strict=True)
    ]
    names = len(found) - len(rings)
    return ScreenTags(tuple(found[:names]), tuple(found[names:]))


def label_px(name: str) -> tuple[float, float]:
    """How wide and high a name's label is at most, whatever typeface the phone has. [CSS px]"""
    letters = width_mm(name, _LETTER_PX * _MM_PER_PX / MM_PER_POINT, "bold") / _MM_PER_PX
    return letters * _WIDER + _BESIDE_PX, _LABEL_HIGH_PX


def _names(subject: Subject, placing: Placing) -> list[Tag]:
    layout = subject.plan.layout
    named = [(light.label, light.centre, body_mm(subject, placing)) for light in layout.lights]
    if layout.battery is not None:
        radius = subject.settings.cell.diameter_mm / 2 * placing.scale
        named.append((BATTERY_NAME, layout.battery.centre, radius))
    marks = placing.along(at for _, at, _ in named)
    tags = []
    for (name, _, reach), at in zip(named, marks, strict=True):
        wide, high = (px * _MM_PER_PX for px in label_px(name))
        tags.append(Tag(at, wide, high, reach, tuple(mark for mark in marks if mark != at)))
    return tags


def _line_end(tag: Tag, box: Box) -> Point:
    """Before its mark's own outline; the box's middle where that lies within."""
    (x, y), (ax, ay) = box.centre, tag.anchor
    run = math.hypot(ax - x, ay - y)
    share = max(0.0, 1 - tag.stand_off / run) if run > 0 else 0.0
    return (x + (ax - x) * share, y + (ay - y) * share)
