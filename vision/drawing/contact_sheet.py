"""Many designs on one picture: each card's overlay small, with its number, title and whether it is ready.

In:    overlays as PNG files' content, and the words under them.
Out:   an RGB picture, three cards a row, as wide as a phone's screen asks for.
Fails: never for a damaged or missing overlay: an empty frame stands in its place.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from PIL import Image, ImageDraw

from vision.drawing.overlay import CARD_ROWS
from vision.drawing.overlay.glyphs import draw_callout, draw_question, draw_tick
from vision.drawing.overlay.placement import Box
from vision.drawing.overlay.style import FAINT_INK, INK, PAPER, Style, typeface
from vision.drawing.overlay.text import draw_lines, line_height, shorten, wrap

COLUMNS = 3  # chosen: a card is then some 130 px wide on a phone, and its lane can be followed
PER_SHEET = 12  # chosen: four rows, about two phone screens
State = Literal["must-fix", "look-again", "doubt", "ready"]
_TALLEST = 1.5  # chosen: height of a card's picture over its width
_TITLE_LINES = 2  # chosen
_MOST_PIXELS = 40_000_000  # chosen: eight times the largest overlay
_MISSING = "no picture"


@dataclass(frozen=True, slots=True)
class Tile:
    """One design. `png` is its overlay, None when there is none; `state` picks the sign before the title,
    `count` is the number in it."""

    png: bytes | None
    title: str
    under: str
    state: State = "ready"
    count: int = 0


def draw_contact_sheet(tiles: Sequence[Tile], heading: str) -> Image.Image:
    """The sheet; at best PER_SHEET tiles, more make it taller."""
    style = Style()
    gap = style.px(36)
    wide = (style.width_px - 2 * style.margin - (COLUMNS - 1) * gap) // COLUMNS
    rows = [tiles[i : i + COLUMNS] for i in range(0, len(tiles), COLUMNS)]
    pictures = [[_small(tile.png, wide) for tile in row] for row in rows]
    words_high = _words_height(style)
    heights = [max(p.height for p in row) + words_high + gap for row in pictures]
    head = wrap(heading, typeface("bold", style.section), style.width_px - 2 * style.margin)
    top = style.px(44) + line_height(typeface("bold", style.section)) * len(head) + style.px(24)
    sheet = Image.new("RGB", (style.width_px, top + sum(heights) + style.px(20)), PAPER)
    draw = ImageDraw.Draw(sheet)
    draw_lines(draw, head, style.margin, style.px(44), typeface("bold", style.section), INK)
    for row, shown, high in zip(rows, pictures, heights, strict=True):
        foot = top + high - words_high - gap
        for column, (tile, picture) in enumerate(zip(row, shown, strict=True)):
            left = style.margin + column * (wide + gap)
            sheet.paste(picture, (left + (wide - picture.width) // 2, foot - picture.height))
            _words(sheet, tile, style, left, foot, wide)
        top += high
    return sheet


def card_part(png: bytes) -> Image.Image | None:
    """The card alone out of an overlay; the whole picture where it does not tell where the card is.
    None for what can't be opened."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # Pillow's size warning: the limit below stands in for it
            with Image.open(io.BytesIO(png), formats=("PNG",)) as picture:
                if picture.width * picture.height > _MOST_PIXELS:
                    return None
                rows = _card_rows(picture)
                return picture.convert("RGB").crop((0, rows[0], picture.width, rows[1]))
    except Exception:  # Pillow's readers raise nearly anything on damaged data
        return None


def _card_rows(picture: Image.Image) -> tuple[int, int]:
    picture.load()  # texts may stand behind the pixels
    words = str(picture.info.get(CARD_ROWS, "")).split()
    if len(words) == 2 and all(word.isdecimal() for word in words):
        top, bottom = int(words[0]), int(words[1])
        if top < bottom <= picture.height:
            return top, bottom
    return 0, picture.height


def _small(png: bytes | None, wide: int) -> Image.Image:
    tall = round(wide * _TALLEST)
    picture = None if png is None else card_part(png)
    if picture is not None:
        scale = min(wide / picture.width, tall / picture.height)
        size = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
        return picture.resize(size, Image.Resampling.BOX, reducing_gap=2.0)
    empty = Image.new("RGB", (wide, wide), PAPER)
    draw = ImageDraw.Draw(empty)
    draw.rectangle((4, 4, wide - 5, wide - 5), outline=FAINT_INK, width=3)
    draw.text((wide / 2, wide / 2), _MISSING, fill=FAINT_INK, font=typeface("regular", 40), anchor="mm")
    return empty


def _words_height(style: Style) -> int:
    title, under = typeface("bold", style.label), typeface("regular", style.px(32))
    return style.px(12) + line_height(title) * _TITLE_LINES + line_height(under)


def _words(sheet: Image.Image, tile: Tile, style: Style, left: int, top: int, wide: int) -> None:
    draw = ImageDraw.Draw(sheet)
    sign = style.px(46)
    top += style.px(12)
    box = Box(left, top, left + sign, top + sign)
    small = Style(round(style.width_px * sign / style.callout))
    if tile.state == "ready":
        draw_tick(sheet, box, small)
    elif tile.state == "doubt":
        draw_question(sheet, box, small)
    else:
        draw_callout(sheet, box, str(tile.count), tile.state, small)
    face = typeface("bold", style.label)
    room = wide - sign - style.px(14)
    lines = wrap(tile.title, face, room)
    if len(lines) > _TITLE_LINES:
        lines = (lines[0], shorten(" ".join(lines[1:]), face, room))
    draw_lines(draw, lines, left + sign + style.px(14), top - style.px(2), face, INK)
    under_top = top + line_height(face) * len(lines)
    under = typeface("regular", style.px(32))
    words = shorten(tile.under, under, wide)
    draw_lines(draw, (words,), left, under_top + style.px(4), under, FAINT_INK)
