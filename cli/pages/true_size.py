"""The 1:1 sheet: the card at true size, to prick through and to lay tape by.

In:    a plan, the parts, the paper.
Out:   PDF bytes: the card on one page where it fits, else in parts with overlaps and marks to join
       them by; the flap's pattern and the legend beside it or on a page of their own.
Fails: UsageError for a card so large that nobody would join its pages.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from circuit.plan import Plan
from circuit.settings import Settings
from cli.pages.build_data import Build, build_of
from cli.pages.build_words import move_lines
from cli.pages.flap_pattern import draw_pattern, pattern_size
from cli.pages.page import Page, render
from cli.pages.paper import Paper, paper_for
from cli.pages.plan_on_page import draw_plan, lay_words
from cli.pages.stamps import RULER_HEIGHT_MM, place_ruler
from cli.pages.tiles import tile_pages
from vision.drawing.box import Box, Placing
from vision.drawing.colours import FAINT_INK
from vision.drawing.key import key_rows
from vision.drawing.lettering import BODY_PT, SMALL_PT, line_mm, wrapped
from vision.drawing.look import ON_PAPER
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import ON_PAGE, PlacedRow, bottom_of, draw_rows, lay_rows, write_lines

_RULER_GAP_MM = 3.0
_TIGHT_GAP_MM = 1.2
_TOP_WORD_MM = 4.5  # the words "top of the card" above its outline
_COLUMN_GAP_MM = 6.0
_LEAST_COLUMN_MM = 62.0  # chosen: the pattern (32 mm and more) with words beside it
_HEAD_MM, _HEAD_BASELINE_MM = 7.0, 3.6
_TWO_COLUMNS_MM = 120.0  # chosen: a key so wide is set in two columns
_PATTERN_WORDS_MM = 36.0  # chosen: beside the pattern
_TOP_WORD_UP_MM, _UNDER_WARNING_MM = 1.5, 2.5
_MOST_MOVES = 3  # chosen: more stand on the build sheet
_TITLE = "Card at true size"
_ASIDE = "print at 100 %, “actual size”"


def sheet_pages(
    plan: Plan,
    settings: Settings,
    paper: Paper | None = None,
    *,
    mirrored: bool = False,
    name: str = "",
) -> bytes:
    """The 1:1 sheet's PDF. `mirrored`: as seen through the card from behind, and without the flap's pattern."""
    build = build_of(plan, settings, name)
    paper = paper or paper_for(plan.layout.card, settings)
    title = f"{_TITLE}, seen from behind" if mirrored else _TITLE
    pages = _one_page(build, paper, title, mirrored) or _parts(build, paper, title, mirrored)
    return render(pages, build.name, title)


@dataclass(frozen=True, slots=True)
class _Arrangement:
    """A page on which the card fits: where it lies, and where the extras do (None: on the next page).

    tight : there is no room for words above the card, so the title must warn.
    """

    paper: Paper
    card: Box
    extras: Box | None = None
    beside: bool = False
    tight: bool = False


def _one_page(build: Build, paper: Paper, title: str, mirrored: bool) -> list[Page]:
    found = arrange(build, paper, extras=not mirrored)
    if found is None:
        return []
    if found.tight and warning_words(build):
        page = Page(found.paper, f"{title}: {_short_warning(build)}", _ASIDE)
    else:
        page = Page(found.paper, title, _ASIDE)
    if not found.tight:
        warn(page, build)
        page.add(_draw_top_word, found.card)
    place_ruler(page)
    page.add(_draw_card, build, found.card, mirrored=mirrored)
    pages = [page]
    if mirrored:
        return pages
    if found.extras is None:
        pages.append(_extras_page(build, found.paper))
    else:
        page.add(_draw_extras, build, found.extras, beside=found.beside)
    return pages


def _parts(build: Build, paper: Paper, title: str, mirrored: bool) -> list[Page]:
    pages = tile_pages(build, paper, title, _ASIDE, mirrored=mirrored)
    for page in pages:
        warn(page, build)
        place_ruler(page)
    return pages if mirrored else [*pages, _extras_page(build, paper)]


def arrange(build: Build, paper: Paper, *, extras: bool) -> _Arrangement | None:
    """The first of these that holds the card: upright with the extras beside or below it, turned
    likewise, then upright or turned with the extras on the next page, then so without words above it."""
    for want_extras in (True, False) if extras else (False,):
        for lying in (paper, paper.turned):
            found = _on(build, lying, want_extras)
            if found is not None:
                return found
    for lying in (paper, paper.turned):
        found = _tight(build, lying)
        if found is not None:
            return found
    return None


def _tight(build: Build, paper: Paper) -> _Arrangement | None:
    card, inside = build.plan.layout.card, paper.inside
    if card.width_mm > inside.width or card.height_mm > inside.height - RULER_HEIGHT_MM - _TIGHT_GAP_MM:
        return None
    left = inside.left + (inside.width - card.width_mm) / 2
    return _Arrangement(paper, Box(left, inside.top, card.width_mm, card.height_mm), tight=True)


def _on(build: Build, paper: Paper, want_extras: bool) -> _Arrangement | None:
    card = build.plan.layout.card
    room = drawing_room(paper, build)
    top = room.top + _TOP_WORD_MM
    high = room.height - _TOP_WORD_MM
    if card.width_mm > room.width or card.height_mm > high:
        return None
    if not want_extras:
        left = room.left + (room.width - card.width_mm) / 2
        return _Arrangement(paper, Box(left, top, card.width_mm, card.height_mm))
    place = Box(room.left, top, card.width_mm, card.height_mm)
    column = room.width - card.width_mm - _COLUMN_GAP_MM
    if column >= _LEAST_COLUMN_MM and _extras_height(build, column, beside=True) <= high:
        return _Arrangement(paper, place, Box(place.right + _COLUMN_GAP_MM, top, column, high), True)
    strip = high - card.height_mm - _COLUMN_GAP_MM
    if strip >= _extras_height(build, room.width, beside=False):
        return _Arrangement(
            paper, place, Box(room.left, place.bottom + _COLUMN_GAP_MM, room.width, strip), False
        )
    return None


def drawing_room(paper: Paper, build: Build) -> Box:
    """Between heading (and warning) and ruler."""
    inside = paper.inside
    used = _warning_height(build, inside.width)
    return Box(
        inside.left,
        inside.top + used,
        inside.width,
        inside.height - used - RULER_HEIGHT_MM - _RULER_GAP_MM,
    )


def _pattern_room(build: Build, room: float) -> float:
    return 0.0 if build.switch is None else min(room, pattern_size(build.switch)[0] + _PATTERN_WORDS_MM)


def _extras_height(build: Build, room: float, *, beside: bool) -> float:
    pattern = 0.0 if build.switch is None else pattern_size(build.switch)[1] + _HEAD_MM
    if beside:
        return pattern + 4.0 + _HEAD_MM + _key_height(build, room)
    key_room = room - _pattern_room(build, room) - _COLUMN_GAP_MM
    columns = _key_columns(key_room)
    return max(pattern, _HEAD_MM + _key_height(build, key_room, columns))


def _key_columns(room: float) -> int:
    return 2 if room >= _TWO_COLUMNS_MM else 1


def _draw_extras(pen: PagePen, build: Build, box: Box, *, beside: bool) -> None:
    y = box.top
    pattern_room = box.width if beside else _pattern_room(build, box.width)
    if build.switch is not None:
        pen.text(box.left, y + _HEAD_BASELINE_MM, "Flap, to cut out", BODY_PT, weight="bold")
        draw_pattern(pen, build, box.left, y + _HEAD_MM, pattern_room)
        y += _HEAD_MM + pattern_size(build.switch)[1] + 4.0
    if beside:
        left, top, room = box.left, y, box.width
    else:
        gap = _COLUMN_GAP_MM if build.switch is not None else 0.0
        left, top, room = box.left + pattern_room + gap, box.top, box.width - pattern_room - gap
    pen.text(left, top + _HEAD_BASELINE_MM, "On the sheet", BODY_PT, weight="bold")
    draw_rows(pen, _key(build, left, top + _HEAD_MM, room, 1 if beside else _key_columns(room)))


def _key(build: Build, left: float, top: float, room: float, columns: int) -> tuple[PlacedRow, ...]:
    rows = key_rows(build, ON_PAPER, to_build=True)
    if columns == 1:
        rows = tuple(replace(row, half=False) for row in rows)
    return lay_rows(rows, ON_PAGE, left, top, room)


def _key_height(build: Build, room: float, columns: int = 1) -> float:
    return bottom_of(_key(build, 0.0, 0.0, room, columns), 0.0)


def _extras_page(build: Build, paper: Paper) -> Page:
    page = Page(paper, "Flap and signs", _ASIDE)
    warn(page, build)
    room = drawing_room(paper, build)
    place_ruler(page)
    page.add(_draw_extras, build, Box(room.left, room.top + 2.0, room.width, room.height), beside=False)
    return page


def _draw_card(pen: PagePen, build: Build, box: Box, *, mirrored: bool) -> None:
    card = build.plan.layout.card
    placing = Placing(box.left, box.top, 1.0, card.width_mm if mirrored else None)
    draw_plan(pen, build, placing, lay_words(build, full=True, mirrored=mirrored), full=True)


def _draw_top_word(pen: PagePen, box: Box) -> None:
    middle = box.left + box.width / 2
    pen.text(
        middle, box.top - _TOP_WORD_UP_MM, "top of the card", SMALL_PT, colour=FAINT_INK, anchor="middle"
    )


def warning_words(build: Build) -> str:
    """What stands on top of a sheet that should not be built from yet; empty when all is well."""
    if build.plan.traces is None:
        return (
            "There are no traces on this card yet, so this page shows the marks alone: see the build sheet."
        )
    count = len(build.plan.must_fix)
    if count:
        things = "one thing" if count == 1 else f"{count} things"
        moves = move_lines(build.plan, build.settings.units, _MOST_MOVES)
        return " ".join(
            [f"Not ready to build: {things} must be fixed first. The build sheet says what.", *moves]
        )
    if build.plan.reading is not None and build.plan.reading.doubtful:
        return "The reading is not sure of everything: compare this page with your pencil marks before you build."
    return ""


def _short_warning(build: Build) -> str:
    if build.plan.traces is None:
        return "no traces yet"
    return "not ready to build" if build.plan.must_fix else "compare with your card"


def _warning_height(build: Build, room: float) -> float:
    lines = wrapped(warning_words(build), BODY_PT, room, "bold")
    return len(lines) * line_mm(BODY_PT) + _UNDER_WARNING_MM if lines else 0.0


def warn(page: Page, build: Build) -> None:
    """The warning under the heading, where there is one."""
    inside = page.paper.inside
    lines = wrapped(warning_words(build), BODY_PT, inside.width, "bold")
    page.add(write_lines, lines, inside.left, inside.top, weight="bold")
