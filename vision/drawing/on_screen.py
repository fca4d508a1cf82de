"""The plan as an SVG that lies on the photo of the straightened card: crisp at any zoom, small, and free of scripts.

In:    a plan, its settings.
Out:   what stands inside an <svg> element whose units are card millimetres; each light, the cell and each move is a
       group of its own, its `data-about` the mark's name.
Fails: never.
"""

from __future__ import annotations

from circuit.plan import Plan
from circuit.settings import Settings
from vision.drawing.box import Placing
from vision.drawing.draw_card import draw_over_tape, draw_remarks, draw_tapes, draw_under_tape
from vision.drawing.look import ON_PHOTO
from vision.drawing.subject import subject_of
from vision.drawing.svg_pen import SvgPen

_TAPE_SEEN = 0.85  # chosen: its colours are pale already, and the pencil shows through


def plan_svg(plan: Plan, settings: Settings) -> str:
    """Everything but labels and callouts, which a page sets itself, to be tapped."""
    subject, placing, pen = subject_of(plan, settings), Placing(0.0, 0.0), SvgPen()
    draw_under_tape(pen, placing, subject, ON_PHOTO)
    with pen.group("tapes", opacity=_TAPE_SEEN):
        draw_tapes(pen, placing, subject, ON_PHOTO)
    draw_over_tape(pen, placing, subject, ON_PHOTO)
    draw_remarks(pen, placing, subject)
    return pen.content()
