"""Where to look when a light stays dark: the overlay with the likeliest places in place of the plan's problems.

In:    a plan; each place with what may be wrong there and what to do, the likeliest first.
Out:   an RGB picture.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PIL import Image

from circuit.layout import Point, Problem
from circuit.plan import Plan, SeenMarks
from circuit.settings import Settings
from vision.drawing.overlay import draw_overlay


def draw_fault_places(
    plan: Plan, settings: Settings, places: Sequence[tuple[Point, str]], title: str
) -> Image.Image:
    """The card with each place ringed and numbered, under `title`, and the words to each number underneath."""
    shown = replace(
        plan,
        problems=tuple(
            Problem("dark", "look-again", ("card",), where_mm, None, 0.0, None, words)
            for where_mm, words in places
        ),
        moves=(),
        reading=None,
        leave_out=(),
        alternatives=(),
        drawn_problems=(),
        corrected_from=(),
        seen=SeenMarks(),
    )
    return draw_overlay(None, shown, settings, title)
