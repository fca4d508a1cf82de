"""The two tapes as full colour, for paper and screens: true width, folds, pattern, signs.

They are told apart three ways, since many print in black: by colour, by pattern (the negative is barred), by sign.
How tape is laid over a photo so that the pencil stays in sight is in `overlay.photo_tape`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from circuit.layout import POLARITIES, Point, Polyline
from circuit.polyline import middle_of
from vision.drawing.box import Placing
from vision.drawing.colours import BLACK, polarity_colour
from vision.drawing.draw_signs import draw_polarity
from vision.drawing.look import Look
from vision.drawing.pen import HAIR_MM, Pen
from vision.drawing.shapes import Crease, bars, reach_of, shortened_line, sign_places, tape_pieces
from vision.drawing.subject import Subject

BAR_MM, BAR_EVERY_MM = 0.5, 1.8  # chosen: the negative tape's bars, and from one to the next
_RIM_MM = 0.3  # chosen: the dark rim that marks the tape's true edge
_LAP_MM = 0.1  # bars reach so far into the rims on both sides together: no light line shows between
_LEAST_RIM = 0.6  # chosen: share of the rim that a small picture keeps
_SIGN_EVERY_MM = 17.0  # chosen: a sign in sight wherever one looks
_SIGN_SHARE = 0.45  # chosen: a sign's radius over the tape's width
_LEAST_SIGN_MM, _MOST_SIGN_MM = 0.7, 2.1  # chosen: a sign's radius on the sheet


def draw_tape(
    pen: Pen, placing: Placing, line: Polyline, width: float, look: Look, *, positive: bool
) -> None:
    """One tape: a dark rim whose outer side is the tape's edge, a pattern."""
    rim = _RIM_MM * max(placing.scale, _LEAST_RIM) / placing.scale
    ink = polarity_colour(positive)
    pen.shape(_placed(placing, tape_pieces(line, width)), ink)
    inner, inner_wide = shortened_line(line, _RIM_MM), width - 2 * rim
    if inner_wide <= 0:
        return
    fill = look.positive_tape if positive else look.negative_tape
    pen.shape(_placed(placing, tape_pieces(inner, inner_wide)), fill)
    if not positive:
        wider = max(1.0, _LEAST_RIM / placing.scale)
        pen.shape(
            _placed(placing, bars(inner, inner_wide + _LAP_MM, BAR_MM * wider, BAR_EVERY_MM * wider)),
            look.bar,
        )


def draw_tape_signs(pen: Pen, placing: Placing, subject: Subject) -> None:
    """The signs along all tapes, clear of lights, folds and joints."""
    traces = subject.plan.traces
    if traces is None:
        return
    wide = traces.tape_width_mm
    keep_off = [light.centre for light in subject.plan.layout.lights]
    for joint in subject.joints:
        keep_off += [joint.crossing_mm, *(middle_of(joint.contact_mm(polarity)) for polarity in POLARITIES)]
    clear = reach_of(subject.settings.light) + wide / 2
    for line, positive in subject.tapes_on_card:
        for spot in sign_places(line, wide, _SIGN_EVERY_MM, keep_off, clear):
            draw_polarity(pen, placing.at(spot), sign_radius(wide * placing.scale), positive=positive)


def sign_radius(tape_mm: float) -> float:
    """Of the sign on a tape that is so wide on the sheet."""
    return min(max(_SIGN_SHARE * tape_mm, _LEAST_SIGN_MM), _MOST_SIGN_MM)


def crease_ends(crease: Crease, look: Look) -> tuple[Point, Point]:
    """The crease's line, beyond the tape on both sides as the look has it. [card mm]"""
    (ax, ay), (bx, by) = crease.inner, crease.outer
    more = look.crease_beyond / max(math.dist(crease.inner, crease.outer), 1e-9)
    dx, dy = (bx - ax) * more, (by - ay) * more
    return ((ax - dx, ay - dy), (bx + dx, by + dy))


def draw_crease(pen: Pen, placing: Placing, crease: Crease, look: Look) -> None:
    """A fold, as a thin black line."""
    pen.line(placing.along(crease_ends(crease, look)), BLACK, HAIR_MM)


def _placed(placing: Placing, shapes: Sequence[Polyline]) -> Iterator[Sequence[Point]]:
    return (placing.along(shape) for shape in shapes)
