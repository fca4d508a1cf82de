"""What the card's own drawing covers, so that no label comes to lie on it.

In:    a `Subject`, where the card lies on its sheet, the area that labels may use.
Out:   a `Taken` map.
Fails: never.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from vision.drawing.box import Box, Placing
from vision.drawing.draw_marks import UNCLEAR_MM
from vision.drawing.draw_tapes import crease_ends
from vision.drawing.labels import Taken
from vision.drawing.look import Look
from vision.drawing.pen import LINE_MM
from vision.drawing.shapes import body_corners, circle_points, creases, tape_pieces
from vision.drawing.subject import Subject

_BESIDE_LINE_MM = 0.8  # chosen: a line and air on both sides
_MOVE_MM = 2.4  # chosen: a move's arrow with its head


def occupied(
    subject: Subject, placing: Placing, area: Box, look: Look, busy: NDArray[np.float32] | None = None
) -> Taken:
    """Tapes (on the flap, too), bodies, cell, window, lines, moves and dots that count as no lights are taken.

    The switch's outline is better left in sight, and so is what `busy`, (H, W), 0 to 1 all over the area, shows of
    the maker's pencil.
    """
    plan, settings, scale = subject.plan, subject.settings, placing.scale
    layout = plan.layout
    taken = Taken(area, busy)
    if plan.traces is not None:
        wide = plan.traces.tape_width_mm
        on_flap_too = (plan.traces.positive, plan.traces.negative)
        for line in (*on_flap_too, *(line for line, _ in subject.tapes_on_card)):
            for piece in tape_pieces(line, wide):
                taken.take_shape(placing.along(piece))
        for line, _ in subject.tapes_on_card:
            for crease in creases(line, wide):
                taken.take_line(placing.along(crease_ends(crease, look)), LINE_MM, faint=True)
    for joint in subject.joints:
        taken.take_shape(placing.along(joint.cover_mm))
    if subject.switch is not None:
        taken.take_line(placing.along(subject.switch.outline_mm), LINE_MM, closed=True, faint=True)
        taken.take_line(placing.along(subject.switch.over_mm), LINE_MM, faint=True)
    for light in layout.lights:
        side = subject.side_deg(light.label) or 0.0
        taken.take_shape(placing.along(body_corners(light.centre, settings.light, side)))
        taken.take_disc(placing.at(light.centre), light.diameter_mm / 2 * scale)
    if layout.battery is not None:
        radius = max(layout.battery.diameter_mm, settings.cell.diameter_mm) / 2 * scale
        taken.take_disc(placing.at(layout.battery.centre), radius + LINE_MM)
    if layout.window is not None:
        taken.take_line(placing.along(layout.window), _BESIDE_LINE_MM, closed=True)
    for drawn in layout.drawn_lines:
        taken.take_line(placing.along(drawn.points), _BESIDE_LINE_MM)
    for where_mm in (*plan.seen.maybe, *plan.seen.crossed_out):
        taken.take_disc(placing.at(where_mm), UNCLEAR_MM * scale)
    for move in plan.moves:
        a, b = placing.at(move.from_mm), placing.at(move.to_mm)
        taken.take_line([a, b], _MOVE_MM)
        if move.about == "battery":
            taken.take_line(circle_points(b, settings.cell.diameter_mm / 2 * scale), _BESIDE_LINE_MM)
        else:
            side = subject.side_deg(move.about) or 0.0
            taken.take_shape(placing.along(body_corners(move.to_mm, settings.light, side)))
    return taken
