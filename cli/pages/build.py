"""The build sheet: a picture of the plan, what to have at hand, numbered steps, lists of runs and lights.

In:    a plan, the parts, the paper, how many copies are made.
Out:   PDF bytes, one page or a few.
Fails: ValueError for no copies.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import zip_longest

from circuit import telling
from circuit.cautions import caution_lines
from circuit.lengths import format_length
from circuit.plan import Plan
from circuit.settings import Settings
from circuit.tape_list import LightPlace, Run, TapePath, supplies
from cli.pages import build_words
from cli.pages.build_data import Build, build_of
from cli.pages.flow import Block, gap, paginate, paragraph
from cli.pages.page import render
from cli.pages.paper import Paper, paper_for
from cli.pages.plan_on_page import draw_plan, lay_words
from vision.drawing.box import Box, Placing
from vision.drawing.colours import FAINT_INK, INK, NEGATIVE, PALE, POSITIVE
from vision.drawing.draw_signs import draw_direction, draw_number
from vision.drawing.lettering import BODY_PT, HEAD_PT, SMALL_PT, line_mm, shortened, wrapped
from vision.drawing.page_pen import PagePen
from vision.drawing.pen import HAIR_MM
from vision.drawing.rows import write_lines

_PICTURE_MM = (88.0, 82.0)  # chosen: the largest width and height of the plan's picture
_STEP_INDENT_MM = 10.5
_STEP_GAP_MM = 2.1
_CAUTION_PT = SMALL_PT
_ROW_MM = 5.7
_NOTE_ROW_MM = 8.8
_COLUMN_GAP_MM = 6.0
_MOST_PROBLEMS = 5
_MOST_MOVES = 4
_MOST_DOUBTS = 3
_MOST_IN_ONE_COLUMN = 4
_TITLE = "Build sheet"


def build_pages(
    plan: Plan, settings: Settings, paper: Paper | None = None, *, copies: int = 1, name: str = ""
) -> bytes:
    """The build sheet's PDF; supplies are for `copies` cards."""
    build = build_of(plan, settings, name)
    paper = paper or paper_for(plan.layout.card, settings)
    room = paper.inside.width
    needs = supplies(copies, plan.layout.card, len(plan.layout.lights), build.tapes, build.flap, settings)
    blocks = [
        *_warning(build, room),
        _head(build, build_words.supply_lines(build, needs), copies, room),
        *_steps(build, room),
        *_runs(build, room),
        *_lights(build, room),
        *_cautions(build, room),
    ]
    card = plan.layout.card
    aside = (
        f"{format_length(card.width_mm, settings.units)} x {format_length(card.height_mm, settings.units)}"
    )
    return render(paginate(blocks, paper, _TITLE, aside), build.name, _TITLE)


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
    texts += [build_words.move_line(move, build.settings.units) for move in plan.moves[:_MOST_MOVES]]
    texts += telling.doubts(plan, build.settings.units)[:_MOST_DOUBTS]
    if plan.traces is None and not texts:
        texts.append("Draw lights and a battery circle, photograph the card and plan it again.")
    inner = room - 8.0
    head_lines = wrapped(head, HEAD_PT, inner, "bold")
    lines = [line for text in texts for line in wrapped(f"– {text}", BODY_PT, inner)]
    height = len(head_lines) * line_mm(HEAD_PT) + len(lines) * line_mm(BODY_PT) + 5.0

    def draw(pen: PagePen, left: float, top: float) -> None:
        corners = [(left, top), (left + room, top), (left + room, top + height), (left, top + height)]
        pen.shape([corners], PALE)
        pen.shape([Box(left, top, 1.6, height).corners], INK)
        write_lines(pen, head_lines, left + 5.0, top + 2.0, size_pt=HEAD_PT, weight="bold")
        write_lines(pen, lines, left + 5.0, top + 2.5 + len(head_lines) * line_mm(HEAD_PT))

    return [Block(height, draw), gap(5.0)]


def _head(build: Build, supply: Sequence[str], copies: int, room: float) -> Block:
    """The picture, and beside it what to have at hand."""
    card = build.plan.layout.card
    scale = min(_PICTURE_MM[0] / card.width_mm, _PICTURE_MM[1] / card.height_mm, 1.0)
    picture = Box(0.0, 0.0, card.width_mm * scale, card.height_mm * scale)
    words_left = picture.width + 8.0
    rows = [wrapped(line, BODY_PT, room - words_left - 5.0) for line in supply]
    words_height = line_mm(HEAD_PT) + 2.0 + sum(len(row) * line_mm(BODY_PT) + 1.2 for row in rows)
    title = "What you need" if copies == 1 else f"What you need for {copies} cards"

    def draw(pen: PagePen, left: float, top: float) -> None:
        placing = Placing(left, top + 1.0, scale)
        draw_plan(pen, build, placing, lay_words(build, scale, full=False), full=False)
        x = left + words_left
        write_lines(pen, [title], x, top, size_pt=HEAD_PT, weight="bold")
        y = top + line_mm(HEAD_PT) + 2.0
        for row in rows:
            box = [(x, y + 1.1), (x + 2.6, y + 1.1), (x + 2.6, y + 3.7), (x, y + 3.7)]
            pen.line(box, INK, HAIR_MM, closed=True)
            write_lines(pen, row, x + 5.0, y)
            y += len(row) * line_mm(BODY_PT) + 1.2

    return Block(max(picture.height + 1.0, words_height) + 4.0, draw)


def _steps(build: Build, room: float) -> list[Block]:
    blocks = []
    for number, step in enumerate(build_words.steps(build), 1):
        inner = room - _STEP_INDENT_MM
        head = wrapped(step.heading, HEAD_PT, inner, "bold")
        body = wrapped(step.text, BODY_PT, inner)
        blocks.append(
            Block(
                len(head) * line_mm(HEAD_PT) + len(body) * line_mm(BODY_PT) + _STEP_GAP_MM,
                partial(_draw_step, number=number, head=head, body=body),
            )
        )
    return blocks


def _draw_step(
    pen: PagePen, left: float, top: float, *, number: int, head: Sequence[str], body: Sequence[str]
) -> None:
    draw_number(pen, (left + 3.6, top + 3.1), number)
    write_lines(pen, head, left + _STEP_INDENT_MM, top, size_pt=HEAD_PT, weight="bold")
    write_lines(pen, body, left + _STEP_INDENT_MM, top + len(head) * line_mm(HEAD_PT))


def _runs(build: Build, room: float) -> list[Block]:
    """Both tapes' runs side by side, each row with the tape used so far."""
    if build.tapes is None:
        return []
    column = (room - _COLUMN_GAP_MM) / 2
    paths = (build.tapes.negative, build.tapes.positive)
    blocks = [
        gap(3.0),
        paragraph("The two tapes, run by run", room, size_pt=HEAD_PT, weight="bold", with_next=True),
        paragraph(
            "Right and left are as you go along the tape; the arrow is the way on the card. "
            "The last figure is the tape used so far.",
            room,
            size_pt=SMALL_PT + 0.5,
            colour=FAINT_INK,
            with_next=True,
        ),
        Block(8.0, partial(_draw_run_heads, column=column), with_next=True),
    ]
    numbers = [fold_names(path) for path in paths]
    for index, pair in enumerate(zip_longest(*(path.runs for path in paths))):
        height = max(
            _NOTE_ROW_MM if run is not None and run.place != "card" else _ROW_MM
            for run in pair
            if run is not None
        )
        names = [names[index] if index < len(names) else "" for names in numbers]
        blocks.append(
            Block(
                height, partial(_draw_runs, build=build, pair=pair, names=names, column=column, height=height)
            )
        )
    return blocks


def fold_names(path: TapePath) -> list[str]:
    """The number that the 1:1 sheet shows at each run's end; the flap's own folds have none."""
    sign = "+" if path.polarity == "positive" else "−"
    names = []
    count = 0
    done = path.before_trace_mm
    for run in path.runs:
        on_card = run.total_mm > done + 1e-6 or path.before_trace_mm == 0.0
        if run.then is not None and run.then.kind == "fold" and on_card:
            count += 1
            names.append(f"{sign}{count}")
        else:
            names.append("")
    return names


def _draw_run_heads(pen: PagePen, left: float, top: float, *, column: float) -> None:
    for x, text, ink in (
        (left, "− tape", NEGATIVE),
        (left + column + _COLUMN_GAP_MM, "+ tape", POSITIVE),
    ):
        pen.text(x, top + 5.4, text, BODY_PT, weight="bold", colour=ink)
        pen.line([(x, top + 7.2), (x + column, top + 7.2)], ink, 0.4)


def _draw_runs(
    pen: PagePen,
    left: float,
    top: float,
    *,
    build: Build,
    pair: Sequence[Run | None],
    names: Sequence[str],
    column: float,
    height: float,
) -> None:
    for index, (run, name) in enumerate(zip(pair, names)):
        if run is None:
            continue
        x = left + index * (column + _COLUMN_GAP_MM)
        ink = POSITIVE if index else NEGATIVE
        y = top + 4.1
        units = build.settings.units
        pen.text(x, y, name, SMALL_PT, weight="bold", colour=ink)
        draw_direction(pen, (x + 9.5, y - 1.4), run.heading_deg, INK)
        pen.text(x + 14.0, y, format_length(run.length_mm, units), BODY_PT, weight="bold")
        pen.text(x + 37.0, y, build_words.then_words(run), BODY_PT - 0.5)
        pen.text(x + column, y, format_length(run.total_mm, units), BODY_PT - 0.5, anchor="right")
        note = build_words.place_words(run)
        if note:
            pen.text(x + 14.0, y + 3.4, note, SMALL_PT, colour=FAINT_INK)
        pen.line([(x, top + height), (x + column, top + height)], PALE, HAIR_MM)


_LIGHT_COLUMNS = (0.0, 13.0, 46.0, 70.0)  # label, + side, along −, along +


def _lights(build: Build, room: float) -> list[Block]:
    """All lights in order along the lane, in two columns, the first one full before the second."""
    if not build.places:
        return []
    places = sorted(build.places, key=lambda place: place.along_negative_mm)
    column = (room - _COLUMN_GAP_MM) / 2
    half = len(places) if len(places) <= _MOST_IN_ONE_COLUMN else -(-len(places) // 2)
    columns = [places[:half], places[half:]] if half < len(places) else [places]
    blocks = [
        gap(4.0),
        paragraph("The lights, in order from the cell", room, size_pt=HEAD_PT, weight="bold", with_next=True),
    ]
    colours = build_words.colour_words(build)
    if colours:
        blocks.append(paragraph(colours, room, with_next=True))
    blocks.append(Block(7.6, partial(_draw_light_heads, column=column, count=len(columns)), with_next=True))
    blocks += [
        Block(_ROW_MM, partial(_draw_light_row, build=build, row=row, column=column))
        for row in zip_longest(*columns)
    ]
    return blocks


def _draw_light_heads(pen: PagePen, left: float, top: float, *, column: float, count: int) -> None:
    for index in range(count):
        start = left + index * (column + _COLUMN_GAP_MM)
        for x, text in zip(_LIGHT_COLUMNS, ("light", "its + side", "along −", "along +")):
            pen.text(start + x, top + 5.0, text, SMALL_PT + 0.5, colour=FAINT_INK)
        pen.line([(start, top + 6.8), (start + column, top + 6.8)], INK, HAIR_MM)


def _draw_light_row(
    pen: PagePen, left: float, top: float, *, build: Build, row: Sequence[LightPlace | None], column: float
) -> None:
    y = top + 4.1
    units = build.settings.units
    for index, place in enumerate(row):
        if place is None:
            continue
        start = left + index * (column + _COLUMN_GAP_MM)
        side_deg = build.sides_deg.get(place.label)
        pen.text(start, y, shortened(place.label, BODY_PT, 12.0, "bold"), BODY_PT, weight="bold")
        if side_deg is None:
            pen.text(start + _LIGHT_COLUMNS[1], y, "no tape here", BODY_PT)
        else:
            draw_direction(pen, (start + _LIGHT_COLUMNS[1] + 2.6, y - 1.4), side_deg, POSITIVE)
            pen.text(start + _LIGHT_COLUMNS[1] + 7.0, y, build_words.side(side_deg), BODY_PT)
        pen.text(start + _LIGHT_COLUMNS[2], y, format_length(place.along_negative_mm, units), BODY_PT)
        pen.text(start + _LIGHT_COLUMNS[3], y, format_length(place.along_positive_mm, units), BODY_PT)
        pen.line([(start, top + _ROW_MM), (start + column, top + _ROW_MM)], PALE, HAIR_MM)


def _cautions(build: Build, room: float) -> list[Block]:
    """All on one page, so that none is overlooked."""
    rows = [wrapped(line, _CAUTION_PT, room) for line in caution_lines(build.settings)]
    height = line_mm(HEAD_PT) + sum(len(row) * line_mm(_CAUTION_PT) + 0.8 for row in rows)

    def draw(pen: PagePen, left: float, top: float) -> None:
        write_lines(pen, ["Mind the cell"], left, top, size_pt=HEAD_PT, weight="bold")
        y = top + line_mm(HEAD_PT)
        for row in rows:
            write_lines(pen, row, left, y, size_pt=_CAUTION_PT)
            y += len(row) * line_mm(_CAUTION_PT) + 0.8

    return [gap(3.0), Block(height, draw)]
