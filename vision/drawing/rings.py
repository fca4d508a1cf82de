"""Where on a card's picture a number points: at a place, or at a whole light.

In:    places of the card, a `Subject`, where the card lies on its sheet.
Out:   rings in sheet millimetres.
Fails: never.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from circuit.layout import Point
from vision.drawing.box import Box, Placing
from vision.drawing.shapes import reach_of
from vision.drawing.subject import Subject

_AT_A_MARK_MM = 1.5  # chosen: a problem this near a light's centre is about the light as a whole
# Chosen by eye.
_RING_MM = 1.05  # round a problem's place
_ROUND_BODY_MM = 0.5  # from a light's body to the ring round it


def rings_at(places: Sequence[Point], subject: Subject, placing: Placing) -> tuple[tuple[Point, float], ...]:
    """A small ring at each place of the card, or one round the whole body where it is a light's: centre, radius."""
    layout = subject.plan.layout
    card = Box(0.0, 0.0, layout.card.width_mm, layout.card.height_mm)
    body = reach_of(subject.settings.light) * placing.scale + _ROUND_BODY_MM
    rings = []
    for where_mm in places:
        near = [light for light in layout.lights if math.dist(light.centre, where_mm) <= _AT_A_MARK_MM]
        if near:
            rings.append((placing.at(near[0].centre), body))
        else:
            rings.append((placing.at(card.nearest(where_mm)), _RING_MM))
    return tuple(rings)


def body_mm(subject: Subject, placing: Placing) -> float:
    """From a light's middle to the furthest side of its body, on the sheet."""
    part = subject.settings.light
    return max(part.length_mm, part.width_mm) / 2 * placing.scale
