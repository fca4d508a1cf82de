"""Blocks set one under another, on as many pages as they need; a block is never cut in two.

In:    blocks of a known height, each with how to draw it.
Out:   pages.
Fails: never; a block taller than a page gets a page to itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from cli.pages.page import Page
from cli.pages.paper import Paper
from vision.drawing.box import Box
from vision.drawing.colours import INK, Colour
from vision.drawing.fonts import Weight
from vision.drawing.lettering import BODY_PT, line_mm, wrapped
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import write_lines

_TICK_BOX_MM = 2.6  # chosen by eye
Draw = Callable[[PagePen, float, float], None]  # pen, left, top


@dataclass(frozen=True, slots=True)
class Block:
    """Something of a height [mm]. `with_next`: not left alone at a page's foot, as a heading is not."""

    height: float
    draw: Draw
    with_next: bool = False


def paginate(blocks: Sequence[Block], paper: Paper, title: str, aside: str) -> list[Page]:
    """One page or more."""
    inside = paper.inside
    pages = [Page(paper, title, aside)]
    y = inside.top
    for index, block in enumerate(blocks):
        needs = block.height
        follower = index
        while blocks[follower].with_next and follower + 1 < len(blocks):
            follower += 1
            needs += blocks[follower].height
        if y > inside.top and y + needs > inside.bottom + 1e-6:
            pages.append(Page(paper, title, "continued"))
            y = inside.top
        pages[-1].add(block.draw, inside.left, y)
        y += block.height
    return pages


def stacked(blocks: Sequence[Block]) -> Block:
    """Blocks under one another as one, which no page's end parts."""

    def draw(pen: PagePen, left: float, top: float) -> None:
        for block in blocks:
            block.draw(pen, left, top)
            top += block.height

    return Block(sum(block.height for block in blocks), draw)


def columns(parts: Sequence[Sequence[Block]], step: float) -> Block:
    """Columns of blocks side by side as one; from one to the next is `step`. [mm]"""
    whole = [stacked(part) for part in parts]

    def draw(pen: PagePen, left: float, top: float) -> None:
        for number, column in enumerate(whole):
            column.draw(pen, left + number * step, top)

    return Block(max(column.height for column in whole), draw)


def ticked(
    text: str, room: float, *, size_pt: float, words_mm: float, down_mm: float, air_mm: float
) -> Block:
    """A line with a box to tick before it, which lies `down_mm` below the line's top; its words begin after
    `words_mm`, and so much air follows."""
    lines = wrapped(text, size_pt, room - words_mm)

    def draw(pen: PagePen, left: float, top: float) -> None:
        pen.line(Box(left, top + down_mm, _TICK_BOX_MM, _TICK_BOX_MM).corners, closed=True)
        write_lines(pen, lines, left + words_mm, top, size_pt)

    return Block(len(lines) * line_mm(size_pt) + air_mm, draw)


def gap(height: float) -> Block:
    """Nothing, of that height. [mm]"""
    return Block(height, lambda pen, left, top: None)


def paragraph(
    text: str,
    room: float,
    *,
    size_pt: float = BODY_PT,
    weight: Weight = "regular",
    colour: Colour = INK,
    indent: float = 0.0,
    with_next: bool = False,
) -> Block:
    """Wrapped text."""
    lines = wrapped(text, size_pt, room - indent, weight)

    def draw(pen: PagePen, left: float, top: float) -> None:
        write_lines(pen, lines, left + indent, top, size_pt, weight=weight, colour=colour)

    return Block(len(lines) * line_mm(size_pt), draw, with_next)
