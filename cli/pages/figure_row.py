"""The pictures that people build from, side by side: the switch from the side, a corner, a light.

In:    a `Build`, the room's width.
Out:   one block; none for a card without a switch.
"""

from __future__ import annotations

from cli.pages.build_data import Build
from cli.pages.corner_figure import TITLES, corner_size, draw_corner_steps
from cli.pages.figures import draw_side_view, side_view_size
from cli.pages.flow import Block
from cli.pages.light_figure import LIGHT_MM, draw_light_figure
from vision.drawing.lettering import LABEL_PT, line_mm
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import write_lines

_BESIDE_MM, _BELOW_MM = 5.0, 2.0  # chosen by eye


def figure_row(build: Build, room: float) -> list[Block]:
    """The switch from the side; a corner and a light's + side beside it or, on narrow paper, below."""
    if build.switch is None:
        return []
    (wide, high), (fold_wide, fold_high) = side_view_size(build.switch), corner_size()
    beside = wide + _BESIDE_MM + fold_wide <= room
    words = line_mm(LABEL_PT)

    def draw(pen: PagePen, left: float, top: float) -> None:
        write_lines(pen, ["The switch from the side"], left, top, size_pt=LABEL_PT, weight="bold")
        draw_side_view(pen, build, left, top + words)
        x, y = (left + wide + _BESIDE_MM, top) if beside else (left, top + words + high)
        write_lines(pen, [TITLES[build.settings.corners]], x, y, size_pt=LABEL_PT, weight="bold")
        draw_corner_steps(pen, build.settings.corners, x, y + words)
        x, y = (x, y + words + fold_high) if beside else (x + fold_wide + _BESIDE_MM, y)
        write_lines(pen, ["A light: its + side, and what holds it"], x, y, size_pt=LABEL_PT, weight="bold")
        draw_light_figure(pen, build, x, y + words)

    tall = max(high, fold_high + words + LIGHT_MM[1]) if beside else high + words + fold_high
    return [Block(tall + words + _BELOW_MM, draw)]
