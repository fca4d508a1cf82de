"""A card larger than the paper, cut into parts that overlap and are joined by marks.

In:    a `Build`, the paper.
Out:   one page for each part, row by row: A1, A2, ... then B1, ...
Fails: UsageError for a card that would take more pages than anyone would join.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.errors import UsageError
from circuit.layout import Card, Point
from cli.pages.build_data import Build
from cli.pages.page import Page
from cli.pages.paper import Paper
from cli.pages.plan_on_page import LaidWord, draw_plan, lay_words
from cli.pages.stamps import RULER_HEIGHT_MM
from vision.drawing.box import Box, Placing
from vision.drawing.colours import FAINT_INK, INK, PALE
from vision.drawing.draw_signs import draw_cross
from vision.drawing.lettering import SMALL_PT
from vision.drawing.page_pen import PagePen
from vision.drawing.pen import HAIR_MM, SHORT_DASH
from vision.drawing.rows import write_lines

OVERLAP_MM = 12.0  # chosen: a glue strip that also holds a light's label whole
MOST_PARTS = 12  # chosen: three rows of four A4 pages make 0.7 x 0.6 m
_WORDS_MM = 16.0  # above the part: which one it is, and how to join
_WARNING_MM = 8.0
_EDGE_MM = 1.0  # so that the card's own outline is not cut by the part's
_MARK_EVERY_MM = 50.0
_MARK_ARM_MM = 4.0
_MAP_MM, _AFTER_MAP_MM = 14.0, 4.0


@dataclass(frozen=True, slots=True)
class Tiling:
    """How a card is cut: rows and columns of windows of one size, in card millimetres."""

    paper: Paper
    columns: int
    rows: int
    window_w: float
    window_h: float

    def window(self, row: int, column: int) -> Box:
        """What that part shows of the card."""
        return Box(
            column * (self.window_w - OVERLAP_MM) - _EDGE_MM,
            row * (self.window_h - OVERLAP_MM) - _EDGE_MM,
            self.window_w,
            self.window_h,
        )


def tiling_of(card: Card, paper: Paper) -> Tiling:
    """The cut with fewest parts, upright or turned; all parts are of one size, no larger than need be."""
    best: Tiling | None = None
    for lying in (paper, paper.turned):
        room = _room(lying)
        wide, high = card.width_mm + 2 * _EDGE_MM, card.height_mm + 2 * _EDGE_MM
        columns, rows = _count(wide, room.width), _count(high, room.height)
        if best is None or columns * rows < best.columns * best.rows:
            best = Tiling(
                lying,
                columns,
                rows,
                (wide + (columns - 1) * OVERLAP_MM) / columns,
                (high + (rows - 1) * OVERLAP_MM) / rows,
            )
    assert best is not None
    if best.columns * best.rows > MOST_PARTS:
        raise UsageError(
            f"A card of {card.width_mm:g} x {card.height_mm:g} mm would take {best.columns * best.rows} pages "
            f"of {paper.name}, too many to join. Check the card's size; `pencilamp plan --no-pages` plans it without."
        )
    return best


def tile_pages(build: Build, paper: Paper, title: str, aside: str, *, mirrored: bool) -> list[Page]:
    """One page a part."""
    tiling = tiling_of(build.plan.layout.card, paper)
    words = lay_words(build, full=True, mirrored=mirrored)
    pages = []
    for row in range(tiling.rows):
        for column in range(tiling.columns):
            page = Page(tiling.paper, f"{title}: part {part_name(row, column)}", aside)
            page.add(_draw_part, build, tiling, row, column, words, mirrored=mirrored)
            pages.append(page)
    return pages


def part_name(row: int, column: int) -> str:
    """A1, A2, ... then B1, ...: rows are letters."""
    return f"{chr(ord('A') + row)}{column + 1}"


def _count(size: float, room: float) -> int:
    return max(1, math.ceil((size - OVERLAP_MM) / (room - OVERLAP_MM) - 1e-9))


def _room(paper: Paper) -> Box:
    inside = paper.inside
    top = inside.top + _WARNING_MM + _WORDS_MM
    return Box(inside.left, top, inside.width, inside.bottom - RULER_HEIGHT_MM - 3.0 - top)


def _draw_part(
    pen: PagePen,
    build: Build,
    tiling: Tiling,
    row: int,
    column: int,
    laid: tuple[LaidWord, ...],
    *,
    mirrored: bool,
) -> None:
    whole = _room(tiling.paper)
    room = Box(whole.left, whole.top, tiling.window_w, tiling.window_h)
    window = tiling.window(row, column)
    card = build.plan.layout.card
    placing = Placing(
        room.left - window.left, room.top - window.top, 1.0, card.width_mm if mirrored else None
    )
    with pen.clipped(room):
        # Words lie wholly on a part or not on it at all; the next one then has them.
        draw_plan(pen, build, placing, laid, full=True, showing=room)
        for x, y in joining_marks(tiling, card):
            at = (placing.left + x, placing.top + y)
            draw_cross(pen, at, _MARK_ARM_MM)
            pen.circle(at, 2.0, INK, HAIR_MM)
    _draw_overlaps(pen, tiling, room, row, column)
    _draw_map(pen, tiling, row, column)
    words = ["Cut this page at the grey line where it has one, lay it over its neighbour so that the"]
    words.append("ringed crosses fall on each other, and glue. " + _neighbours(tiling, row, column))
    top = tiling.paper.inside.top + _WARNING_MM
    write_lines(pen, words, room.left + _MAP_MM + _AFTER_MAP_MM, top, SMALL_PT)


def _neighbours(tiling: Tiling, row: int, column: int) -> str:
    near = []
    if column + 1 < tiling.columns:
        near.append(f"Right of it comes {part_name(row, column + 1)}.")
    if row + 1 < tiling.rows:
        near.append(f"Below it comes {part_name(row + 1, column)}.")
    return " ".join(near)


def joining_marks(tiling: Tiling, card: Card) -> list[Point]:
    """The ringed crosses, in card millimetres as they lie on the pages: on the middle of each overlap."""
    marks = []
    for column in range(1, tiling.columns):
        x = tiling.window(0, column).left + OVERLAP_MM / 2
        marks += [(x, y) for y in _evenly(card.height_mm)]
    for row in range(1, tiling.rows):
        y = tiling.window(row, 0).top + OVERLAP_MM / 2
        marks += [(x, y) for x in _evenly(card.width_mm)]
    return marks


def _evenly(length: float) -> list[float]:
    count = max(2, round(length / _MARK_EVERY_MM))
    return [length * (i + 0.5) / count for i in range(count)]


def _draw_overlaps(pen: PagePen, tiling: Tiling, room: Box, row: int, column: int) -> None:
    """A grey line where this part is cut, at its left and top, so that it laps over its neighbours."""
    if column > 0:
        pen.line([(room.left, room.top - 2), (room.left, room.bottom)], FAINT_INK, HAIR_MM, dash=SHORT_DASH)
    if row > 0:
        pen.line([(room.left - 2, room.top), (room.right, room.top)], FAINT_INK, HAIR_MM, dash=SHORT_DASH)


def _draw_map(pen: PagePen, tiling: Tiling, row: int, column: int) -> None:
    """Which part of the whole this is."""
    inside = tiling.paper.inside
    cell = min(_MAP_MM / tiling.columns, (_WORDS_MM - 4.0) / tiling.rows)
    left, top = inside.left, inside.top + _WARNING_MM
    for r in range(tiling.rows):
        for c in range(tiling.columns):
            x, y = left + c * cell, top + r * cell
            corners = [(x, y), (x + cell, y), (x + cell, y + cell), (x, y + cell)]
            pen.shape([corners], INK if (r, c) == (row, column) else PALE)
            pen.line(corners, FAINT_INK, HAIR_MM, closed=True)
