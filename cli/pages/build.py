"""The build sheet: a picture of the plan, what to have at hand, numbered steps, lists of runs and lights.

In:    a plan, the parts, the paper, how many copies are made.
Out:   PDF bytes, one page or a few.
Fails: ValueError for no copies.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from circuit import telling
from circuit.cautions import caution_lines
from circuit.lengths import format_length
from circuit.plan import Plan
from circuit.settings import Settings
from circuit.tape_list import supplies
from cli.pages import build_words
from cli.pages.build_data import Build, build_of
from cli.pages.build_tables import light_table, run_tables
from cli.pages.figures import (
    draw_fold_steps,
    draw_light_side,
    draw_side_view,
    fold_size,
    light_size,
    side_view_size,
)
from cli.pages.flow import Block, gap, paginate
from cli.pages.page import render
from cli.pages.paper import Paper, paper_for
from cli.pages.plan_on_page import draw_plan, lay_words
from cli.pages.steps import steps
from cli.pages.trouble import CONTACT, SEEN_AND_MEANT
from vision.drawing.box import Box, Placing
from vision.drawing.colours import INK, PALE
from vision.drawing.draw_signs import draw_number
from vision.drawing.lettering import (
    BODY_PT,
    HEAD_PT,
    LABEL_PT,
    TINY_PT,
    baseline_mm,
    line_mm,
    width_mm,
    wrapped,
)
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import write_lines

_PICTURE_MM = (76.0, 46.0)  # chosen: the largest width and height of the plan's picture
_MOST_PROBLEMS, _MOST_MOVES, _MOST_DOUBTS = (
    5,
    4,
    3,
)  # chosen: of each in the warning; the overlay shows them all
# Chosen by eye. [mm]
_SIDES_MM, _BAR_MM, _BESIDE_BAR_MM, _ABOVE_MM = 8.0, 1.6, 5.0, 2.0  # the warning's box
_BESIDE_PICTURE_MM, _TICK_BOX_MM, _TICK_DOWN_MM, _AFTER_TICK_MM, _LINE_AIR_MM = (
    8.0,
    2.6,
    1.1,
    5.0,
    1.2,
)  # supplies
_STEP_INDENT_MM, _STEP_GAP_MM, _NUMBER_AT_MM = 9.5, 0.9, (3.6, 3.1)
_STEP_PT = LABEL_PT
_CAUTION_AIR_MM, _CAUTION_COLUMNS_MM = 0.4, 5.0
_BESIDE_FIGURE_MM, _AFTER_HEADING_MM = 5.0, 2.0
_MOST_PAGES = 2  # chosen: one sheet of paper, both sides; more than 14 lights may take more
_BETWEEN_MM, _SMALL_GAP_MM, _UNDER_HEAD_MM = 5.0, 2.0, 2.0
_CAUTION_PT = TINY_PT
_TITLE = "Build sheet"


def build_pages(
    plan: Plan, settings: Settings, paper: Paper | None = None, *, copies: int = 1, name: str = ""
) -> bytes:
    """The build sheet's PDF; supplies are for `copies` cards."""
    build = build_of(plan, settings, name)
    paper = paper or paper_for(plan.layout.card, settings)
    room = paper.inside.width
    needs = supplies(copies, plan.layout.card, len(plan.layout.lights), build.tapes, build.switch, settings)
    needed = build_words.supply_lines(build, needs)
    card = plan.layout.card
    aside = (
        f"{format_length(card.width_mm, settings.units)} x {format_length(card.height_mm, settings.units)}"
    )
    pages = paginate(_blocks(build, needed, copies, room, tight=False), paper, _TITLE, aside)
    if len(pages) > _MOST_PAGES:
        tight = paginate(_blocks(build, needed, copies, room, tight=True), paper, _TITLE, aside)
        pages = tight if len(tight) < len(pages) else pages
    return render(pages, build.name, _TITLE)


def _blocks(build: Build, needed: Sequence[str], copies: int, room: float, *, tight: bool) -> list[Block]:
    return [
        *_warning(build, room),
        _head(build, needed, copies, room),
        *_figures(build, room),
        *_steps(build, room, tight=tight),
        *run_tables(build, room),
        *light_table(build, room),
        *_trouble(build, room),
        *_cautions(build, room),
    ]


def _warning(build: Build, room: float) -> list[Block]:
    """On top, in plain words: what must be fixed before this is worth building."""
    plan = build.plan
    urgent = plan.must_fix
    if plan.traces is None:
        head = "There is nothing to build from yet: no traces could be laid."
    elif urgent:
        count = len(urgent)
        head = f"Not ready to build: {'one thing' if count == 1 else f'{count} things'} must be fixed first."
    elif plan.reading is not None and plan.reading.doubtful:
        head = "Compare the picture with your card first: the reading is not sure of everything."
    else:
        return []
    texts = [build_words.problem_words(problem) for problem in urgent[:_MOST_PROBLEMS]]
    if len(urgent) > _MOST_PROBLEMS:
        texts.append(f"And {len(urgent) - _MOST_PROBLEMS} more: the overlay shows them all.")
    texts += [
        build_words.move_line(move, plan.layout.card, build.settings.units)
        for move in plan.moves[:_MOST_MOVES]
    ]
    texts += telling.doubts(plan, build.settings.units)[:_MOST_DOUBTS]
    if plan.traces is None and not texts:
        texts.append("Draw lights and a battery circle, photograph the card and plan it again.")
    inner = room - _SIDES_MM
    head_lines = wrapped(head, HEAD_PT, inner, "bold")
    lines = [line for text in texts for line in wrapped(f"– {text}", BODY_PT, inner)]
    height = len(head_lines) * line_mm(HEAD_PT) + len(lines) * line_mm(BODY_PT) + 2.5 * _ABOVE_MM

    def draw(pen: PagePen, left: float, top: float) -> None:
        pen.shape([Box(left, top, room, height).corners], PALE)
        pen.shape([Box(left, top, _BAR_MM, height).corners], INK)
        x, y = left + _BESIDE_BAR_MM, top + _ABOVE_MM
        write_lines(pen, head_lines, x, y, HEAD_PT, weight="bold")
        write_lines(pen, lines, x, y + len(head_lines) * line_mm(HEAD_PT))

    return [Block(height, draw), gap(_BETWEEN_MM)]


def _head(build: Build, supply: Sequence[str], copies: int, room: float) -> Block:
    """The picture, and beside it what to have at hand."""
    card = build.plan.layout.card
    scale = min(_PICTURE_MM[0] / card.width_mm, _PICTURE_MM[1] / card.height_mm, 1.0)
    picture = Box(0.0, 0.0, card.width_mm * scale, card.height_mm * scale)
    words_left = picture.width + _BESIDE_PICTURE_MM
    rows = [wrapped(line, LABEL_PT, room - words_left - _AFTER_TICK_MM) for line in supply]
    words_height = (
        line_mm(HEAD_PT) + _UNDER_HEAD_MM + sum(len(row) * line_mm(LABEL_PT) + _LINE_AIR_MM for row in rows)
    )
    title = "What you need" if copies == 1 else f"What you need for {copies} cards"

    def draw(pen: PagePen, left: float, top: float) -> None:
        placing = Placing(left, top + 1.0, scale)
        draw_plan(pen, build, placing, lay_words(build, scale, full=False), full=False)
        x = left + words_left
        write_lines(pen, [title], x, top, size_pt=HEAD_PT, weight="bold")
        y = top + line_mm(HEAD_PT) + _UNDER_HEAD_MM
        for row in rows:
            pen.line(Box(x, y + _TICK_DOWN_MM, _TICK_BOX_MM, _TICK_BOX_MM).corners, closed=True)
            write_lines(pen, row, x + _AFTER_TICK_MM, y, size_pt=LABEL_PT)
            y += len(row) * line_mm(LABEL_PT) + _LINE_AIR_MM

    return Block(max(picture.height + 1.0, words_height) + 4.0, draw)


def _steps(build: Build, room: float, *, tight: bool) -> list[Block]:
    """`tight`: each step's text goes on beside its heading instead of below it."""
    blocks = []
    inner = room - _STEP_INDENT_MM
    for number, step in enumerate(steps(build), 1):
        beside = width_mm(step.heading, BODY_PT, "bold") + _AFTER_HEADING_MM if tight else inner
        first, rest = _first_line(step.text, inner - beside) if tight else ("", step.text)
        body = wrapped(rest, _STEP_PT, inner)
        height = line_mm(BODY_PT) + len(body) * line_mm(_STEP_PT) + _STEP_GAP_MM
        draw = partial(_draw_step, number=number, heading=step.heading, first=first, beside=beside, body=body)
        blocks.append(Block(height, draw))
    return blocks


def _first_line(text: str, room: float) -> tuple[str, str]:
    """What of a text fits into a first line that is shorter than the others, and the rest."""
    lines = wrapped(text, _STEP_PT, room) if room > 0 else ()
    if not lines:
        return "", text
    words = len(lines[0].split())
    return lines[0], " ".join(text.split()[words:])


def _draw_step(
    pen: PagePen,
    left: float,
    top: float,
    *,
    number: int,
    heading: str,
    first: str,
    beside: float,
    body: Sequence[str],
) -> None:
    draw_number(pen, (left + _NUMBER_AT_MM[0], top + _NUMBER_AT_MM[1]), number)
    x = left + _STEP_INDENT_MM
    write_lines(pen, [heading], x, top, size_pt=BODY_PT, weight="bold")
    if first:
        pen.text(x + beside, top + baseline_mm(BODY_PT), first, _STEP_PT)
    write_lines(pen, body, x, top + line_mm(BODY_PT), size_pt=_STEP_PT)


def _figures(build: Build, room: float) -> list[Block]:
    """The switch from the side; a fold and a light's + side beside it or, on narrow paper, below."""
    if build.switch is None:
        return []
    (wide, high), (fold_wide, fold_high), (_, light_high) = (
        side_view_size(build.switch),
        fold_size(),
        light_size(),
    )
    beside = wide + _BESIDE_FIGURE_MM + fold_wide <= room

    def draw(pen: PagePen, left: float, top: float) -> None:
        write_lines(pen, ["The switch from the side"], left, top, size_pt=LABEL_PT, weight="bold")
        draw_side_view(pen, build, left, top + line_mm(LABEL_PT))
        x, y = (left + wide + _BESIDE_FIGURE_MM, top) if beside else (left, top + high + 6.0)
        write_lines(pen, ["A fold"], x, y, size_pt=LABEL_PT, weight="bold")
        draw_fold_steps(pen, x, y + line_mm(LABEL_PT) - 2.0)
        x, y = (x, y + fold_high + 2.0) if beside else (x + fold_wide + _BESIDE_PICTURE_MM, y)
        write_lines(pen, ["A light's + side"], x, y, size_pt=LABEL_PT, weight="bold")
        draw_light_side(pen, x, y + line_mm(LABEL_PT) - 1.0)

    tall = max(high, fold_high + light_high + 4.0) if beside else high + fold_high
    return [Block(tall + line_mm(LABEL_PT) + _SMALL_GAP_MM, draw)]


def _trouble(build: Build, room: float) -> list[Block]:
    """How to get contact, and a table of what one sees and what it is."""
    if build.tapes is None:
        return []
    size, column = TINY_PT + 0.5, (room - _CAUTION_COLUMNS_MM) / 2
    intro = wrapped(CONTACT, size, room)
    rows = [
        (wrapped(seen, size, column, "bold"), wrapped(meant, size, column - 3.0))
        for seen, meant in SEEN_AND_MEANT
    ]
    talls = [(len(seen) + len(meant)) * line_mm(size) + 0.4 for seen, meant in rows]
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
