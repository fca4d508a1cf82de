"""The numbered steps on the page, in two columns: down the left one, then down the right one.

In:    a `Build`, the room's width, the height that is left on the first page.
Out:   blocks: what fits on the first page, and the rest.
"""

from __future__ import annotations

from collections.abc import Sequence

from cli.pages.build_data import Build
from cli.pages.flow import Block, columns
from cli.pages.step import Step
from cli.pages.steps import steps
from vision.drawing.draw_signs import draw_number
from vision.drawing.lettering import BODY_PT, LABEL_PT, SMALL_PT, baseline_mm, line_mm, width_mm, wrapped
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import write_lines

# Chosen by eye. [mm]
_INDENT_MM, _NUMBER_AT_MM, _GAP_MM, _COLUMNS_MM, _AFTER_HEADING_MM = 9.5, (3.6, 3.1), 1.2, 5.0, 1.5
_HEADING_PT, _TEXT_PT = BODY_PT, LABEL_PT
_TIGHT_HEADING_PT, _TIGHT_TEXT_PT = 9.5, SMALL_PT


def step_blocks(build: Build, room: float, left_mm: float, *, tight: bool) -> list[Block]:
    """All steps of this card. `left_mm`: of the first page's height; `tight`: each text goes on beside its heading."""
    column = (room - _COLUMNS_MM) / 2
    laid = [_laid(number, step, column, tight=tight) for number, step in enumerate(steps(build), 1)]

    def in_two(part: Sequence[Block]) -> Block:
        """In order, so that the longer column is as short as may be; of equal ways the one with more on the left."""
        ways = [columns((part[:k], part[k:]), column + _COLUMNS_MM) for k in range(len(part), -1, -1)]
        return min(ways, key=lambda way: way.height)

    here = max((k for k in range(len(laid) + 1) if in_two(laid[:k]).height <= left_mm), default=0)
    return [in_two(part) for part in (laid[:here], laid[here:]) if part]


def _laid(number: int, step: Step, column: float, *, tight: bool) -> Block:
    """A step with its words broken into lines."""
    head_pt, text_pt = (_TIGHT_HEADING_PT, _TIGHT_TEXT_PT) if tight else (_HEADING_PT, _TEXT_PT)
    inner = column - _INDENT_MM
    beside = width_mm(step.heading, head_pt, "bold") + _AFTER_HEADING_MM
    first, rest = _first_line(step.text, inner - beside, text_pt) if tight else ("", step.text)
    body = wrapped(rest, text_pt, inner) if rest else ()

    def draw(pen: PagePen, left: float, top: float) -> None:
        draw_number(pen, (left + _NUMBER_AT_MM[0], top + _NUMBER_AT_MM[1]), number)
        x = left + _INDENT_MM
        write_lines(pen, [step.heading], x, top, size_pt=head_pt, weight="bold")
        if first:
            pen.text(x + beside, top + baseline_mm(head_pt), first, text_pt)
        write_lines(pen, body, x, top + line_mm(head_pt), size_pt=text_pt)

    words = line_mm(head_pt) + len(body) * line_mm(text_pt)
    return Block(max(words, 2 * _NUMBER_AT_MM[1]) + _GAP_MM, draw)


def _first_line(text: str, room: float, size_pt: float) -> tuple[str, str]:
    """What of a text fits into a first line that is shorter than the others, and the rest."""
    lines = wrapped(text, size_pt, room) if room > 0 else ()
    if not lines:
        return "", text
    words = len(lines[0].split())
    return lines[0], " ".join(text.split()[words:])
