"""The build sheet's lists: both tapes run by run, the lights in their order along the lane.

In:    a `Build`, the room's width.
Out:   blocks; none for a card without traces.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import zip_longest

from circuit.lengths import format_length
from circuit.tape_list import LightPlace, Run, TapePath
from cli.pages import build_words
from cli.pages.build_data import Build
from cli.pages.flow import Block, gap, paragraph
from vision.drawing.colours import FAINT_INK, INK, NEGATIVE, PALE, POSITIVE
from vision.drawing.draw_signs import draw_direction
from vision.drawing.lettering import HEAD_PT, LABEL_PT, SMALL_PT, shortened
from vision.drawing.page_pen import PagePen
from vision.drawing.pen import BOLD_MM, HAIR_MM

_MOST_IN_ONE_COLUMN = 4  # chosen: more lights are listed in two
# Chosen by eye. [mm]
_BEFORE_MM, _COLUMN_GAP_MM, _APART_MM = 2.5, 6.0, 1.0
_HEADS_MM, _HEADS_BASELINE_MM, _HEADS_RULE_MM = 6.6, 4.2, 5.8
_ROW_MM, _TIGHT_ROW_MM, _NOTE_MM, _BASELINE_UP_MM, _NOTE_DOWN_MM = 4.1, 3.6, 3.1, 1.0, 3.5
_ARROW_UP_MM, _ARROW_MM, _AFTER_ARROW_MM = 1.4, 2.6, 7.0
_WAY_MM, _LONG_MM, _THEN_MM = 9.5, 14.0, 37.0  # a run's columns, after its fold's number
_SIDE_MM, _ALONG_NEGATIVE_MM, _ALONG_POSITIVE_MM = 13.0, 46.0, 70.0  # a light's columns, after its label
_BRANCH_NOTE = "Lights on a branch come last; their lengths, with a B before, count from the branch's joint."
_LIGHT_HEADS = (
    (0.0, "light"),
    (_SIDE_MM, "its + side"),
    (_ALONG_NEGATIVE_MM, "along −"),
    (_ALONG_POSITIVE_MM, "along +"),
)


def run_tables(build: Build, room: float, *, tight: bool) -> list[Block]:
    """Both tapes' runs side by side, each row with the tape used so far."""
    if build.tapes is None:
        return []
    column = (room - _COLUMN_GAP_MM) / 2
    paths = (build.tapes.negative, build.tapes.positive)
    blocks = [
        gap(_BEFORE_MM),
        paragraph("The two tapes, run by run", room, size_pt=HEAD_PT, weight="bold", with_next=True),
        paragraph(
            "Right and left are as you go along the tape; the arrow is the way on the card. "
            "The last figure is the tape used so far.",
            room,
            size_pt=LABEL_PT,
            colour=FAINT_INK,
            with_next=True,
        ),
        Block(_HEADS_MM, partial(_draw_run_heads, column=column), with_next=True),
    ]
    blocks += _run_rows(build, paths, (0, 0), column, tight=tight)
    done = (paths[0].folds_on_card, paths[1].folds_on_card)
    for number, branch in enumerate(build.tapes.branches, 1):
        sides = (branch.negative, branch.positive)
        name = build_words.branch_name(build, number)
        title = f"{name[:1].upper()}{name[1:]}, from its joint on; the ends folded under come before that"
        blocks.append(paragraph(title, room, size_pt=LABEL_PT, weight="bold", with_next=True))
        blocks += _run_rows(build, sides, done, column, tight=tight)
        done = (done[0] + sides[0].folds_on_card, done[1] + sides[1].folds_on_card)
    return blocks


def _run_rows(
    build: Build, paths: tuple[TapePath, TapePath], done: tuple[int, int], column: float, *, tight: bool
) -> list[Block]:
    """One row for each run of the negative tape and of the positive one; `done` : folds that were numbered before."""
    blocks = []
    numbers = [fold_names(path, before) for path, before in zip(paths, done, strict=True)]
    for index, pair in enumerate(zip_longest(*(path.runs for path in paths))):
        row = _TIGHT_ROW_MM if tight else _ROW_MM
        noted = any(run is not None and run.place != "card" for run in pair)
        height = row + _NOTE_MM if noted else row
        names = [names[index] if index < len(names) else "" for names in numbers]
        blocks.append(
            Block(
                height,
                partial(
                    _draw_runs, build=build, pair=pair, names=names, column=column, height=height, row=row
                ),
            )
        )
    return blocks


def fold_names(path: TapePath, before: int = 0) -> list[str]:
    """The number that the 1:1 sheet shows at each run's end, on from `before`; the flap's own folds have none."""
    sign = "+" if path.polarity == "positive" else "−"
    names = []
    count = before
    for run in path.runs:
        if path.is_fold_on_card(run):
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
        pen.text(x, top + _HEADS_BASELINE_MM, text, LABEL_PT, weight="bold", colour=ink)
        pen.line([(x, top + _HEADS_RULE_MM), (x + column, top + _HEADS_RULE_MM)], ink, BOLD_MM)


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
    row: float,
) -> None:
    for index, (run, name) in enumerate(zip(pair, names)):
        if run is None:
            continue
        x = left + index * (column + _COLUMN_GAP_MM)
        ink = POSITIVE if index else NEGATIVE
        y = top + row - _BASELINE_UP_MM
        units = build.settings.units
        pen.text(x, y, name, SMALL_PT, weight="bold", colour=ink)
        draw_direction(pen, (x + _WAY_MM, y - _ARROW_UP_MM), run.heading_deg, INK)
        pen.text(x + _LONG_MM, y, format_length(run.length_mm, units), LABEL_PT, weight="bold")
        pen.text(x + _THEN_MM, y, build_words.then_words(run, build.settings.corners), LABEL_PT)
        pen.text(x + column, y, format_length(run.total_mm, units), LABEL_PT, anchor="right")
        note = build_words.place_words(run)
        if note:
            pen.text(x + _LONG_MM, y + _NOTE_DOWN_MM, note, SMALL_PT, colour=FAINT_INK)
        pen.line([(x, top + height), (x + column, top + height)], PALE, HAIR_MM)


def light_table(build: Build, room: float, *, tight: bool) -> list[Block]:
    """All lights in order along the lane, in two columns, the first one full before the second."""
    if not build.places:
        return []
    places = sorted(build.places, key=lambda place: (place.branch, place.along_negative_mm))
    column = (room - _COLUMN_GAP_MM) / 2
    half = len(places) if len(places) <= _MOST_IN_ONE_COLUMN else -(-len(places) // 2)
    columns = [places[:half], places[half:]] if half < len(places) else [places]
    blocks = [
        gap(_BEFORE_MM),
        paragraph("The lights, in order from the cell", room, size_pt=HEAD_PT, weight="bold", with_next=True),
    ]
    colours = build_words.colour_words(build)
    if colours:
        blocks.append(paragraph(colours, room, with_next=True))
    if build.plan.branches:
        blocks.append(paragraph(_BRANCH_NOTE, room, size_pt=LABEL_PT, colour=FAINT_INK, with_next=True))
    blocks.append(
        Block(_HEADS_MM, partial(_draw_light_heads, column=column, count=len(columns)), with_next=True)
    )
    high = _TIGHT_ROW_MM if tight else _ROW_MM
    blocks += [
        Block(high, partial(_draw_light_row, build=build, row=row, column=column, high=high))
        for row in zip_longest(*columns)
    ]
    return blocks


def _draw_light_heads(pen: PagePen, left: float, top: float, *, column: float, count: int) -> None:
    for index in range(count):
        start = left + index * (column + _COLUMN_GAP_MM)
        for x, text in _LIGHT_HEADS:
            pen.text(start + x, top + _HEADS_BASELINE_MM, text, LABEL_PT, colour=FAINT_INK)
        pen.line([(start, top + _HEADS_RULE_MM), (start + column, top + _HEADS_RULE_MM)])


def _draw_light_row(
    pen: PagePen,
    left: float,
    top: float,
    *,
    build: Build,
    row: Sequence[LightPlace | None],
    column: float,
    high: float,
) -> None:
    y = top + high - _BASELINE_UP_MM
    units = build.settings.units
    for index, place in enumerate(row):
        if place is None:
            continue
        start = left + index * (column + _COLUMN_GAP_MM)
        side_deg = build.side_deg(place.label)
        pen.text(
            start, y, shortened(place.label, LABEL_PT, _SIDE_MM - _APART_MM, "bold"), LABEL_PT, weight="bold"
        )
        if side_deg is None:
            pen.text(start + _SIDE_MM, y, "no tape here", LABEL_PT)
        else:
            draw_direction(pen, (start + _SIDE_MM + _ARROW_MM, y - _ARROW_UP_MM), side_deg, POSITIVE)
            pen.text(start + _SIDE_MM + _AFTER_ARROW_MM, y, build_words.side(side_deg), LABEL_PT)
        for x, along_mm in (
            (_ALONG_NEGATIVE_MM, place.along_negative_mm),
            (_ALONG_POSITIVE_MM, place.along_positive_mm),
        ):
            on = f"B{place.branch} " if len(build.plan.branches) > 1 else "B "
            pen.text(start + x, y, f"{on if place.branch else ''}{format_length(along_mm, units)}", LABEL_PT)
        pen.line([(start, top + high), (start + column, top + high)], PALE, HAIR_MM)
