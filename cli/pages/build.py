"""The build sheet: a picture of the plan, what to have at hand, numbered steps, lists of runs and lights.

In:    a plan, the parts, the paper, how many copies are made.
Out:   PDF bytes, one page or a few.
Fails: ValueError for no copies.
"""

from __future__ import annotations

from collections.abc import Sequence

from circuit.cautions import caution_lines
from circuit.lengths import format_length
from circuit.plan import Plan
from circuit.settings import Settings
from circuit.supplies import supplies
from cli.pages import build_words
from cli.pages.build_data import Build, build_of
from cli.pages.build_tables import light_table, run_tables
from cli.pages.figure_row import figure_row
from cli.pages.flow import Block, gap, paginate
from cli.pages.page import render
from cli.pages.paper import Paper, paper_for
from cli.pages.plan_on_page import draw_plan, lay_words
from cli.pages.step_blocks import step_blocks
from cli.pages.trouble import CONTACT, SEEN_AND_MEANT
from cli.pages.warning_box import BARE, FULL, SHORT, SHORTER, Most, warning_box
from vision.drawing.box import Box, Placing
from vision.drawing.lettering import (
    HEAD_PT,
    LABEL_PT,
    SMALL_PT,
    TINY_PT,
    line_mm,
    wrapped,
)
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import write_lines

_PICTURE_MM = (76.0, 46.0)  # chosen: the largest width and height of the plan's picture
# Chosen by eye. [mm]
_BESIDE_PICTURE_MM, _TICK_BOX_MM, _TICK_DOWN_MM, _AFTER_TICK_MM, _LINE_AIR_MM = (
    8.0,
    2.6,
    1.1,
    5.0,
    1.2,
)  # supplies
_TIGHT_AIR_MM = 0.7
_CAUTION_AIR_MM, _CAUTION_COLUMNS_MM = 0.4, 5.0
_MOST_PAGES = 2  # chosen: one sheet of paper, both sides; more than 14 lights may take more
_SMALL_GAP_MM, _UNDER_HEAD_MM = 2.0, 2.0
_CAUTION_PT = TINY_PT
_TITLE = "Build sheet"
_ROW_AIR_MM = 0.4  # chosen by eye: between two rows of the table
# How much the warning says, and whether each step's text goes on beside its heading: the first way that comes out on
# `_MOST_PAGES` is taken, else the last.
_WAYS = ((FULL, False), (FULL, True), (SHORT, True), (SHORTER, True), (BARE, True))


def build_pages(
    plan: Plan, settings: Settings, paper: Paper | None = None, *, copies: int = 1, name: str = ""
) -> bytes:
    """The build sheet's PDF; supplies are for `copies` cards."""
    build = build_of(plan, settings, name)
    paper = paper or paper_for(plan.layout.card, settings)
    needs = supplies(copies, plan.layout.card, len(plan.layout.lights), build.tapes, build.switch, settings)
    needed = build_words.supply_lines(build, needs)
    card = plan.layout.card
    aside = (
        f"{format_length(card.width_mm, settings.units)} x {format_length(card.height_mm, settings.units)}"
    )
    for most, tight in _WAYS:
        pages = paginate(_blocks(build, needed, copies, paper, most, tight=tight), paper, _TITLE, aside)
        if len(pages) <= _MOST_PAGES:
            break
    return render(pages, build.name, _TITLE)


def _blocks(
    build: Build, needed: Sequence[str], copies: int, paper: Paper, most: Most, *, tight: bool
) -> list[Block]:
    room = paper.inside.width
    above = [
        *warning_box(build, room, most),
        _head(build, needed, copies, room, tight=tight),
        *figure_row(build, room),
    ]
    left = paper.inside.height - sum(block.height for block in above)
    return [
        *above,
        *step_blocks(build, room, left, tight=tight),
        *run_tables(build, room, tight=tight),
        *light_table(build, room, tight=tight),
        *_trouble(build, room, tight=tight),
        *_cautions(build, room),
    ]


def _head(build: Build, supply: Sequence[str], copies: int, room: float, *, tight: bool) -> Block:
    """The picture, and beside it what to have at hand."""
    card = build.plan.layout.card
    size, air = (SMALL_PT, _TIGHT_AIR_MM) if tight else (LABEL_PT, _LINE_AIR_MM)
    scale = min(_PICTURE_MM[0] / card.width_mm, _PICTURE_MM[1] / card.height_mm, 1.0)
    picture = Box(0.0, 0.0, card.width_mm * scale, card.height_mm * scale)
    words_left = picture.width + _BESIDE_PICTURE_MM
    rows = [wrapped(line, size, room - words_left - _AFTER_TICK_MM) for line in supply]
    words_height = line_mm(HEAD_PT) + _UNDER_HEAD_MM + sum(len(row) * line_mm(size) + air for row in rows)
    title = "What you need" if copies == 1 else f"What you need for {copies} cards"

    def draw(pen: PagePen, left: float, top: float) -> None:
        placing = Placing(left, top + 1.0, scale)
        draw_plan(pen, build, placing, lay_words(build, scale, full=False), full=False)
        x = left + words_left
        write_lines(pen, [title], x, top, size_pt=HEAD_PT, weight="bold")
        y = top + line_mm(HEAD_PT) + _UNDER_HEAD_MM
        for row in rows:
            pen.line(Box(x, y + _TICK_DOWN_MM, _TICK_BOX_MM, _TICK_BOX_MM).corners, closed=True)
            write_lines(pen, row, x + _AFTER_TICK_MM, y, size_pt=size)
            y += len(row) * line_mm(size) + air

    return Block(max(picture.height + 1.0, words_height) + 4.0, draw)


def _trouble(build: Build, room: float, *, tight: bool) -> list[Block]:
    """How to get contact, and a table of what one sees and what it is."""
    if build.tapes is None:
        return []
    size, column = TINY_PT if tight else TINY_PT + 0.5, (room - _CAUTION_COLUMNS_MM) / 2
    intro = wrapped(CONTACT, size, room)
    rows = [
        (wrapped(seen, size, column, "bold"), wrapped(meant, size, column - 3.0))
        for seen, meant in SEEN_AND_MEANT
    ]
    talls = [(len(seen) + len(meant)) * line_mm(size) + _ROW_AIR_MM for seen, meant in rows]
    first = (len(rows) + 1) // 2
    height = line_mm(HEAD_PT) + len(intro) * line_mm(size) + 1.0 + max(sum(talls[:first]), sum(talls[first:]))

    def draw(pen: PagePen, left: float, top: float) -> None:
        write_lines(pen, ["What you see, and what it is"], left, top, size_pt=HEAD_PT, weight="bold")
        below = top + line_mm(HEAD_PT)
        write_lines(pen, intro, left, below, size_pt=size)
        below += len(intro) * line_mm(size) + 1.0
        for x, part in ((left, range(first)), (left + column + _CAUTION_COLUMNS_MM, range(first, len(rows)))):
            y = below
            for i in part:
                seen, meant = rows[i]
                write_lines(pen, seen, x, y, size_pt=size, weight="bold")
                write_lines(pen, meant, x + 3.0, y + len(seen) * line_mm(size), size_pt=size)
                y += talls[i]

    return [gap(_SMALL_GAP_MM), Block(height, draw)]


def _cautions(build: Build, room: float) -> list[Block]:
    """All in one place, in three columns, so that none is overlooked."""
    column = (room - 2 * _CAUTION_COLUMNS_MM) / 3
    rows = [wrapped(line, _CAUTION_PT, column) for line in caution_lines(build.settings)]
    talls = [len(row) * line_mm(_CAUTION_PT) + _CAUTION_AIR_MM for row in rows]
    columns: list[list[int]] = [[], [], []]
    for i, tall in enumerate(talls):  # read down one column after the other
        columns[min(int(3 * (sum(talls[:i]) + tall / 2) / sum(talls)), 2)].append(i)
    height = line_mm(HEAD_PT) + max(sum(talls[i] for i in part) for part in columns)

    def draw(pen: PagePen, left: float, top: float) -> None:
        write_lines(pen, ["Mind the cell"], left, top, size_pt=HEAD_PT, weight="bold")
        for number, part in enumerate(columns):
            y = top + line_mm(HEAD_PT)
            for i in part:
                write_lines(
                    pen, rows[i], left + number * (column + _CAUTION_COLUMNS_MM), y, size_pt=_CAUTION_PT
                )
                y += talls[i]

    return [gap(_SMALL_GAP_MM), Block(height, draw)]
