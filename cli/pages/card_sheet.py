"""A sheet of marked back cards to cut out, several where they fit, and reference squares to photograph them with.

In:    a `Build`, the paper.
Out:   where cards and squares lie, as a `CardSheet`; the page.
Fails: never; there is no sheet for a card larger than the paper.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from circuit.layout import Card
from circuit.telling import counted
from cli.pages.build_data import Build
from cli.pages.marked_card import draw_marks
from cli.pages.page import Page
from cli.pages.paper import Paper
from cli.pages.stamps import RULER_HEIGHT_MM, cut_box, draw_coded_square, draw_cut_line, place_ruler
from vision.drawing.box import Box
from vision.drawing.marker_bits import CELLS

_GAP_MM = 4.0  # chosen: between what is cut out, for the scissors
_ABOVE_RULER_MM = 2.0
SIDES_MM = (40, 30, 25, 20)  # as on the page of reference squares, the largest that fits first
_TITLE = "Marked back cards"


@dataclass(frozen=True, slots=True)
class CardSheet:
    """Places on the paper as it lies; `squares` are the dark ones, without their white margin."""

    paper: Paper
    cards: tuple[Box, ...]
    squares: tuple[Box, ...]


def card_sheets(build: Build, paper: Paper, copies: int) -> list[Page]:
    """The page, to be printed as often as `copies` cards take; none where not even one card fits."""
    sheet = card_sheet(build.plan.layout.card, paper)
    if sheet is None:
        return []
    squares = counted(len(sheet.squares), "reference square") if sheet.squares else "print a square apart"
    times = math.ceil(copies / len(sheet.cards))
    often = f", {times} times for {copies} cards" if times > 1 else ""
    page = Page(sheet.paper, _TITLE, f"{len(sheet.cards)} to a sheet, {squares}; print at 100 %{often}")
    for box in sheet.cards:
        page.add(draw_marks, build, box)
    for square in sheet.squares:
        side = round(square.width)
        page.add(draw_coded_square, square.left, square.top, side)
        page.add(draw_cut_line, cut_box(square, side / CELLS))
    place_ruler(page)
    return [page]


def card_sheet(card: Card, paper: Paper) -> CardSheet | None:
    """With a square before all, since without one no photo can be read; then as many cards, squares up to one for each,
    and squares as large as fit."""
    return max(_ways(card, paper), key=_worth, default=None)


def _worth(sheet: CardSheet) -> tuple[bool, int, int, float]:
    side = sheet.squares[0].width if sheet.squares else 0.0
    return bool(sheet.squares), len(sheet.cards), len(sheet.squares), side


def _ways(card: Card, paper: Paper) -> Iterator[CardSheet]:
    """The cards in a grid from the top left, the squares in what that leaves free; or in the grid's last place."""
    for lying in (paper, paper.turned):
        room = _room(lying)
        across, down = (
            int((size + _GAP_MM) // (own + _GAP_MM))
            for size, own in ((room.width, card.width_mm), (room.height, card.height_mm))
        )
        grid = [
            Box(
                room.left + (i % across) * (card.width_mm + _GAP_MM),
                room.top + (i // across) * (card.height_mm + _GAP_MM),
                card.width_mm,
                card.height_mm,
            )
            for i in range(across * down)
        ]
        if not grid:
            continue
        beside, below = grid[-1].right + _GAP_MM, grid[-1].bottom + _GAP_MM
        free = [
            Box(beside, room.top, room.right - beside, room.height),
            Box(room.left, below, grid[-1].right - room.left, room.bottom - below),
        ]
        for side in SIDES_MM:
            yield _sheet(lying, grid, free, side)
            if len(grid) > 1:
                yield _sheet(lying, grid[:-1], [*free, grid[-1]], side)


def _sheet(paper: Paper, cards: list[Box], free: list[Box], side: int) -> CardSheet:
    places = [place for box in free for place in _squares_in(box, side)]
    return CardSheet(paper, tuple(cards), tuple(places[: len(cards)]))


def _squares_in(room: Box, side: int) -> list[Box]:
    margin = side / CELLS
    outer = side + 2 * margin
    across, down = (max(int((size + _GAP_MM) // (outer + _GAP_MM)), 0) for size in (room.width, room.height))
    return [
        Box(
            room.left + column * (outer + _GAP_MM) + margin,
            room.top + row * (outer + _GAP_MM) + margin,
            side,
            side,
        )
        for row in range(down)
        for column in range(across)
    ]


def _room(paper: Paper) -> Box:
    inside = paper.inside
    return Box(inside.left, inside.top, inside.width, inside.height - RULER_HEIGHT_MM - _ABOVE_RULER_MM)
