"""The legend under the card: rows of a sign and a sentence, and the key to what is drawn.

In:    a `Plan`, its numbered problems, a `Style`.
Out:   `lay_rows` gives each row its box and lines before anything is drawn; `draw_rows` draws them.
Fails: never; long sentences make the picture taller.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PIL import Image, ImageDraw

from circuit import telling
from circuit.layout import Level
from circuit.plan import Plan
from circuit.settings import Settings
from vision.drawing.fonts import Weight
from vision.drawing.overlay import glyphs, words
from vision.drawing.overlay.placement import Box
from vision.drawing.overlay.style import FAINT_INK, INK, Colour, Style, typeface
from vision.drawing.overlay.swatches import key_entries
from vision.drawing.overlay.text import draw_lines, line_height, wrap

_MOST_DRAWN_TROUBLES = 4  # chosen: the picture is about the tape that it shows
Painter = Callable[[Image.Image, Box], None]


@dataclass(frozen=True, slots=True)
class Row:
    """One sentence, or a section's title when `sign` is None; `quiet` lines follow in fainter ink."""

    text: str
    sign: Painter | None = None
    quiet: str = ""
    title: bool = False
    half: bool = False  # takes half the width; two of them share a line


@dataclass(frozen=True, slots=True)
class PlacedRow:
    """`sign_box` and `text_box` in sheet pixels; `lines` fit the text box."""

    row: Row
    lines: tuple[str, ...]
    quiet_lines: tuple[str, ...]
    sign_box: Box | None
    text_box: Box


def legend_rows(plan: Plan, settings: Settings, style: Style) -> tuple[Row, ...]:
    """Problems, moves, doubts, key: only what this card has."""
    rows: list[Row] = []
    numbered = telling.numbered_problems(plan)
    for number, problem in numbered:
        measured = telling.problem_figures(problem, settings.units)
        rows.append(Row(problem.advice, _callout(str(number), problem.level, style), measured))
    other_ways = telling.other_ways(plan)
    if plan.moves or other_ways:
        rows.append(Row("What would mend it", title=True))
    for move in plan.moves:
        way = (move.to_mm[0] - move.from_mm[0], move.to_mm[1] - move.from_mm[1])
        rows.append(Row(telling.sentence(telling.move_words(move, settings.units)), _move_sign(way, style)))
    rows += [Row(way, glyphs.draw_dot_for(style)) for way in other_ways]
    doubts = telling.doubts(plan, settings.units)
    if doubts:
        rows.append(Row("Where I'm not sure", title=True))
    rows += [Row(doubt, lambda picture, box: glyphs.draw_question(picture, box, style)) for doubt in doubts]
    rows += [
        Row(
            words.crossed_out_line(where_mm, plan.layout.card, settings.units),
            lambda picture, box: glyphs.draw_struck_out(picture, box, style),
        )
        for where_mm in plan.seen.crossed_out
    ]
    rows += _drawn_line_rows(plan, style)
    entries = key_entries(plan, settings, style)
    if entries:
        rows.append(Row("What is drawn", title=True))
        rows += [Row(text, paint, half=True) for text, paint in entries]
    return tuple(rows)


def _drawn_line_rows(plan: Plan, style: Style) -> list[Row]:
    troubles = telling.own_line_troubles(plan) if plan.layout.drawn_lines else ()
    if not troubles:
        return []
    rows = [Row("If you tape your own lines", title=True)]
    rows += [Row(trouble, glyphs.draw_dot_for(style)) for trouble in troubles[:_MOST_DRAWN_TROUBLES]]
    more = len(troubles) - _MOST_DRAWN_TROUBLES
    if more > 0:
        rows.append(Row(f"and {more} more like these, which the command lists.", glyphs.draw_dot_for(style)))
    return rows


def lay_rows(rows: Sequence[Row], style: Style, top: int) -> tuple[PlacedRow, ...]:
    """Boxes for all rows from `top` down; none overlap, none reach into the margins."""
    placed: list[PlacedRow] = []
    y = top
    i = 0
    while i < len(rows):
        row = rows[i]
        pair = [row]
        if row.half and i + 1 < len(rows) and rows[i + 1].half:
            pair.append(rows[i + 1])
        if row.title and placed:
            y += style.px(22)
        column = (style.width_px - 2 * style.margin) // (2 if row.half else 1)
        laid = [_lay_row(one, style, style.margin + column * k, column, y) for k, one in enumerate(pair)]
        placed += laid
        y = max(_bottom(one) for one in laid) + style.px(16)
        i += len(pair)
    return tuple(placed)


def bottom_of(placed: Sequence[PlacedRow], top: int) -> int:
    """Where the rows end; `top` when there are none."""
    return max((_bottom(row) for row in placed), default=top)


def draw_rows(picture: Image.Image, placed: Sequence[PlacedRow], style: Style) -> None:
    draw = ImageDraw.Draw(picture)
    for one in placed:
        if one.row.sign is not None and one.sign_box is not None:
            one.row.sign(picture, one.sign_box)
        size, weight = _type_of(one.row, style)
        step = line_height(typeface(weight, size))
        y = one.text_box.top
        for line in one.lines:
            _write(draw, one.text_box.left, y, line, INK, size, weight)
            y += step
        for line in one.quiet_lines:
            _write(draw, one.text_box.left, y, line, FAINT_INK, size, weight)
            y += step


def _lay_row(row: Row, style: Style, left: int, width: int, top: int) -> PlacedRow:
    size, weight = _type_of(row, style)
    face = typeface(weight, size)
    indent = 0 if row.sign is None else style.callout + style.px(24)
    room = width - indent - (style.px(16) if row.half else 0)
    lines = wrap(row.text, face, room)
    quiet = wrap(row.quiet, face, room) if row.quiet else ()
    high = line_height(face) * (len(lines) + len(quiet))
    sign_box = None
    if row.sign is not None:
        high = max(high, style.callout)
        first = min(high, max(style.callout, line_height(face)))
        sign_top = top + (first - style.callout) // 2
        sign_box = Box(left, sign_top, left + style.callout, sign_top + style.callout)
        if line_height(face) * (len(lines) + len(quiet)) < style.callout:
            # A single line stands level with the middle of its sign.
            text_top = top + (style.callout - line_height(face)) // 2
            return PlacedRow(
                row, lines, quiet, sign_box, Box(left + indent, text_top, left + indent + room, top + high)
            )
    return PlacedRow(row, lines, quiet, sign_box, Box(left + indent, top, left + indent + room, top + high))


def _bottom(placed: PlacedRow) -> int:
    return max(placed.text_box.bottom, placed.sign_box.bottom if placed.sign_box else 0)


def _type_of(row: Row, style: Style) -> tuple[int, Weight]:
    if row.title:
        return style.section, "bold"
    return (style.label if row.half else style.body), "regular"


def _write(
    draw: ImageDraw.ImageDraw, left: int, top: int, text: str, colour: Colour, size: int, weight: Weight
) -> None:
    draw_lines(draw, (text,), left, top, typeface(weight, size), colour)


def _callout(text: str, level: Level, style: Style) -> Painter:
    return lambda picture, box: glyphs.draw_callout(picture, box, text, level, style)


def _move_sign(way: tuple[float, float], style: Style) -> Painter:
    return lambda picture, box: glyphs.draw_move_sign(picture, box, style, way)
