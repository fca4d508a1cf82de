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

from PIL import Image

from vision.drawing.box import Box
from vision.drawing.colours import FAINT_INK, SHEET
from vision.drawing.draw_signs import draw_callout, draw_question, draw_tick
from vision.drawing.lettering import HEAD_PT, LABEL_PT, TINY_PT, line_mm, shortened, wrapped
from vision.drawing.panel import BASE_WIDTH_PX, CARD_ROWS
from vision.drawing.pen import HAIR_MM, SHEET_MM, Pen
from vision.drawing.picture_pen import PicturePen
from vision.drawing.picture_sheet import MARGIN_MM, ROOM_MM, Heading, sheet_of
from vision.drawing.rows import write_lines

COLUMNS = 3  # chosen: a card is then some 130 px wide on a phone, and its lane can be followed
PER_SHEET = 12  # chosen: four rows, about two phone screens
State = Literal["must-fix", "look-again", "doubt", "ready"]
_TALLEST = 1.5  # chosen: height of a card's picture over its width
_TITLE_LINES = 2  # chosen
_MOST_PIXELS = 40_000_000  # chosen: eight times the largest overlay
_MISSING = "no picture"
# Chosen by eye. [mm]
_GAP_MM = 2.9
_SIGN_MM, _AFTER_SIGN_MM, _ABOVE_WORDS_MM = 3.7, 1.1, 1.0
_FRAME_MM = 34.0  # an empty frame's side
_WORDS_MM = _ABOVE_WORDS_MM + line_mm(LABEL_PT) * _TITLE_LINES + line_mm(TINY_PT)


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
    px_per_mm = BASE_WIDTH_PX / SHEET_MM
    wide = (ROOM_MM - (COLUMNS - 1) * _GAP_MM) / COLUMNS
    rows = [tiles[i : i + COLUMNS] for i in range(0, len(tiles), COLUMNS)]
    pictures = [[_small(tile.png, round(wide * px_per_mm)) for tile in row] for row in rows]
    heights = [max(one.height for one in row) / px_per_mm + _WORDS_MM + _GAP_MM for row in pictures]
    sheet = Image.new("RGB", (BASE_WIDTH_PX, round((_GAP_MM + sum(heights)) * px_per_mm)), SHEET)
    pen = PicturePen(sheet, px_per_mm)
    top = _GAP_MM
    for row, shown, high in zip(rows, pictures, heights, strict=True):
        foot = top + high - _WORDS_MM - _GAP_MM
        for column, (tile, picture) in enumerate(zip(row, shown, strict=True)):
            left = MARGIN_MM + column * (wide + _GAP_MM)
            middle = round((left + wide / 2) * px_per_mm)
            sheet.paste(picture, (middle - picture.width // 2, round(foot * px_per_mm) - picture.height))
            _write(pen, tile, Box(left, foot, wide, _WORDS_MM))
        top += high
    return sheet_of(sheet, BASE_WIDTH_PX, Heading(heading, HEAD_PT)).image


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
    empty = Image.new("RGB", (wide, wide), SHEET)
    pen = PicturePen(empty, wide / _FRAME_MM)
    pen.line(Box(0, 0, _FRAME_MM, _FRAME_MM).inset(HAIR_MM).corners, FAINT_INK, closed=True)
    pen.text(_FRAME_MM / 2, _FRAME_MM / 2, _MISSING, LABEL_PT, colour=FAINT_INK, anchor="middle")
    return empty


def _write(pen: Pen, tile: Tile, box: Box) -> None:
    """Sign and title, and under them what else there is to say."""
    top = box.top + _ABOVE_WORDS_MM
    sign = Box(box.left, top, _SIGN_MM, _SIGN_MM)
    if tile.state == "ready":
        draw_tick(pen, sign)
    elif tile.state == "doubt":
        draw_question(pen, sign)
    else:
        draw_callout(pen, sign, str(tile.count), tile.state)
    indent = _SIGN_MM + _AFTER_SIGN_MM
    room = box.width - indent
    lines = wrapped(tile.title, LABEL_PT, room, "bold")
    if len(lines) > _TITLE_LINES:
        lines = (lines[0], shortened(" ".join(lines[1:]), LABEL_PT, room, "bold"))
    write_lines(pen, lines, box.left + indent, top - HAIR_MM, LABEL_PT, weight="bold")
    under = shortened(tile.under, TINY_PT, box.width)
    under_top = box.top + _ABOVE_WORDS_MM + line_mm(LABEL_PT) * len(lines)
    write_lines(pen, [under], box.left, under_top, TINY_PT, colour=FAINT_INK)
