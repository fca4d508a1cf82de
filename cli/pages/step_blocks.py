"""The numbered steps on the page, in two columns: down the left one, then down the right one.

In:    a `Build`, the room's width, the height that is left on the first page.
Out:   blocks: what fits on the first page, and the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from cli.pages.build_data import Build
from cli.pages.flow import Block
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


@dataclass(frozen=True, slots=True)
class _Laid:
    """A step with its words broken into lines; `first` goes on beside the heading, `beside` mm from its start."""

    number: int
    heading: str
    first: str
    beside: float
    body: tuple[str, ...]
    heading_pt: float
    text_pt: float

    @property
    def height(self) -> float:
        words = line_mm(self.heading_pt) + len(self.body) * line_mm(self.text_pt)
        return max(words, 2 * _NUMBER_AT_MM[1]) + _GAP_MM


def step_blocks(build: Build, room: float, left_mm: float, *, tight: bool) -> list[Block]:
    """All steps of this card. `left_mm`: of the first page's height; `tight`: each text goes on beside its heading."""
    column = (room - _COLUMNS_MM) / 2
    laid = [_lay(number, step, column, tight=tight) for number, step in enumerate(steps(build), 1)]
    here = max(
        (k for k in range(len(laid) + 1) if _height(_in_two(laid[:k])) <= left_mm),
        default=0,
    )
    parts = [_in_two(part) for part in (laid[:here], laid[here:]) if part]
    return [Block(_height(part), partial(_draw_columns, part=part, column=column)) for part in parts]


_Columns = tuple[Sequence[_Laid], Sequence[_Laid]]


def _in_two(laid: Sequence[_Laid]) -> _Columns:
    """In order, so that the longer column is as short as may be; of equal ways the one with more on the left."""
    ways = [(laid[:k], laid[k:]) for k in range(len(laid), -1, -1)]
    return min(ways, key=_height)


def _height(columns: _Columns) -> float:
    return max(sum(one.height for one in column) for column in columns)


def _lay(number: int, step: Step, column: float, *, tight: bool) -> _Laid:
    head_pt, text_pt = (_TIGHT_HEADING_PT, _TIGHT_TEXT_PT) if tight else (_HEADING_PT, _TEXT_PT)
    inner = column - _INDENT_MM
    beside = width_mm(step.heading, head_pt, "bold") + _AFTER_HEADING_MM
    first, rest = _first_line(step.text, inner - beside, text_pt) if tight else ("", step.text)
    body = tuple(wrapped(rest, text_pt, inner)) if rest else ()
    return _Laid(number, step.heading, first, beside, body, head_pt, text_pt)


def _first_line(text: str, room: float, size_pt: float) -> tuple[str, str]:
    """What of a text fits into a first line that is shorter than the others, and the rest."""
    lines = wrapped(text, size_pt, room) if room > 0 else ()
    if not lines:
        return "", text
    words = len(lines[0].split())
    return lines[0], " ".join(text.split()[words:])


def _draw_columns(pen: PagePen, left: float, top: float, *, part: _Columns, column: float) -> None:
    for place, laid in enumerate(part):
        y = top
        for one in laid:
            _draw_step(pen, left + place * (column + _COLUMNS_MM), y, one)
            y += one.height


def _draw_step(pen: PagePen, left: float, top: float, one: _Laid) -> None:
    draw_number(pen, (left + _NUMBER_AT_MM[0], top + _NUMBER_AT_MM[1]), one.number)
    x = left + _INDENT_MM
    write_lines(pen, [one.heading], x, top, size_pt=one.heading_pt, weight="bold")
    if one.first:
        pen.text(x + one.beside, top + baseline_mm(one.heading_pt), one.first, one.text_pt)
    write_lines(pen, one.body, x, top + line_mm(one.heading_pt), size_pt=one.text_pt)
