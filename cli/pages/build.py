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
from cli.pages.flow import Block, columns, gap, paginate, paragraph, stacked, ticked
from cli.pages.page import render
from cli.pages.paper import Paper, paper_for
from cli.pages.plan_on_page import draw_plan, lay_words
from cli.pages.step_blocks import step_blocks
from cli.pages.trouble import SEEN_AND_MEANT, contact
from cli.pages.warning_box import BARE, FULL, SHORT, SHORTER, Most, warning_box
from vision.drawing.box import Box, Placing
from vision.drawing.lettering import (
    HEAD_PT,
    LABEL_PT,
    SMALL_PT,
    TINY_PT,
)
from vision.drawing.page_pen import PagePen

_PICTURE_MM = (76.0, 46.0)  # chosen: the largest width and height of the plan's picture
# Chosen by eye. [mm]
_BESIDE_PICTURE_MM, _TICK_DOWN_MM, _AFTER_TICK_MM, _LINE_AIR_MM = 8.0, 1.1, 5.0, 1.2  # supplies
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
    title = "What you need" if copies == 1 else f"What you need for {copies} cards"
    beside = stacked(
        [
            paragraph(title, room, size_pt=HEAD_PT, weight="bold"),
            gap(_UNDER_HEAD_MM),
            *(
                ticked(
                    line,
                    room - words_left,
                    size_pt=size,
                    words_mm=_AFTER_TICK_MM,
                    down_mm=_TICK_DOWN_MM,
                    air_mm=air,
                )
                for line in supply
            ),
        ]
    )

    def draw(pen: PagePen, left: float, top: float) -> None:
        placing = Placing(left, top + 1.0, scale)
        draw_plan(pen, build, placing, lay_words(build, scale, full=False), full=False)
        beside.draw(pen, left + words_left, top)

    return Block(max(picture.height + 1.0, beside.height) + 4.0, draw)


def _trouble(build: Build, room: float, *, tight: bool) -> list[Block]:
    """How to get contact, and a table of what one sees and what it is."""
    if build.tapes is None:
        return []
    size, column = TINY_PT if tight else TINY_PT + 0.5, (room - _CAUTION_COLUMNS_MM) / 2
    rows = [
        stacked(
            [
                paragraph(seen, column, size_pt=size, weight="bold"),
                paragraph(meant, column, size_pt=size, indent=3.0),
                gap(_ROW_AIR_MM),
            ]
        )
        for seen, meant in SEEN_AND_MEANT
    ]
    first = (len(rows) + 1) // 2
    whole = [
        paragraph("What you see, and what it is", room, size_pt=HEAD_PT, weight="bold"),
        paragraph(contact(build.settings.units), room, size_pt=size),
        gap(1.0),
        columns([rows[:first], rows[first:]], column + _CAUTION_COLUMNS_MM),
    ]
    return [gap(_SMALL_GAP_MM), stacked(whole)]


def _cautions(build: Build, room: float) -> list[Block]:
    """All in one place, in three columns, so that none is overlooked."""
    column = (room - 2 * _CAUTION_COLUMNS_MM) / 3
    rows = [
        stacked([paragraph(line, column, size_pt=_CAUTION_PT), gap(_CAUTION_AIR_MM)])
        for line in caution_lines(build.settings)
    ]
    whole = sum(row.height for row in rows)
    parts: list[list[Block]] = [[], [], []]
    done = 0.0
    for row in rows:  # read down one column after the other
        parts[min(int(3 * (done + row.height / 2) / whole), 2)].append(row)
        done += row.height
    heading = paragraph("Mind the cell", room, size_pt=HEAD_PT, weight="bold")
    return [gap(_SMALL_GAP_MM), stacked([heading, columns(parts, column + _CAUTION_COLUMNS_MM)])]
