"""The one typeface of pictures and pages: measured, broken into lines.

In:    text, a size in points, a weight.
Out:   widths in sheet millimetres, lines.
Fails: never: a sign that the typeface lacks becomes a question mark, a word that is too wide is broken.

Widths are the typeface's own, not rounded to pixels; a picture's letters, which are fitted to pixels, come
out up to 1 % wider or narrower.
"""

from __future__ import annotations

import re
from functools import lru_cache

from PIL import ImageFont

from circuit.lengths import MM_PER_INCH
from vision.drawing.fonts import Weight, font_path

MM_PER_POINT = MM_PER_INCH / 72.0  # exact: the PDF standard's unit, ISO 32000
# Chosen: baseline to baseline over the type size; Open Sans' own is 1.36, a little airy here.
LINE_SPACING = 1.3
# Measured on Open Sans, as shares of the size: how far ink goes above and below the baseline; how tall capitals are.
ASCENT, DESCENT, CAPITALS = 0.80, 0.25, 0.714
# Of the line's height: where the baseline lies in a line's box, whose middle is the middle of small letters.
_BASELINE = 0.76

# Type sizes. [pt] BODY: on paper read at arm's length with tape on the fingers; on a phone, a picture's line
# is then 1/31 of its width.
TITLE_PT, HEAD_PT, BODY_PT, LABEL_PT, SMALL_PT, TINY_PT = 19.0, 12.0, 10.5, 9.0, 8.5, 7.0  # chosen

_EM_UNITS = 2048  # Open Sans' own units: measured at this size, nothing is rounded
_NO_BREAK = "\u00a0"
_SPACES = f" {_NO_BREAK}"
# Kept at hand: sizes of type; signs and texts looked up, more than a card's pages use.
_FACES, _SIGNS = 64, 4096
_MISSING_PX = 40  # signs drawn this large are told from the box that stands for a missing one
_TIED = re.compile(r"(?<=\d) (?=(?:mm|cm|in|mA|\d+/\d+)\b)")


@lru_cache(maxsize=_FACES)
def typeface(weight: Weight, size_px: int) -> ImageFont.FreeTypeFont:
    """The package's own typeface. Basic layout: the same picture with and without libraqm."""
    return ImageFont.truetype(str(font_path(weight)), size_px, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=_SIGNS)
def _known(sign: str, weight: Weight) -> bool:
    face = typeface(weight, _MISSING_PX)
    return sign in _SPACES or bytes(face.getmask(sign)) != _missing(weight)


@lru_cache
def _missing(weight: Weight) -> bytes:
    return bytes(typeface(weight, _MISSING_PX).getmask("\uffff"))


def plain(text: str) -> str:
    """One line of printable text: line breaks, tabs and control characters become single spaces, and
    a number is tied to its unit."""
    kept = "".join(sign if sign.isprintable() or sign == _NO_BREAK else " " for sign in text)
    return _TIED.sub(_NO_BREAK, " ".join(word for word in kept.split(" ") if word))


def printable(text: str, weight: Weight = "regular") -> str:
    """As `plain`, signs that the typeface lacks become `?`."""
    return "".join(sign if _known(sign, weight) else "?" for sign in plain(text))


def width_mm(text: str, size_pt: float, weight: Weight = "regular") -> float:
    """How wide a line of text comes out."""
    return _ems(text, weight) * size_pt * MM_PER_POINT


@lru_cache(maxsize=_SIGNS)
def _ems(text: str, weight: Weight) -> float:
    """The same over the type's size; the same words are asked for at each place that they are tried at."""
    return typeface(weight, _EM_UNITS).getlength(text) / _EM_UNITS


def line_mm(size_pt: float) -> float:
    """From one baseline to the next."""
    return size_pt * LINE_SPACING * MM_PER_POINT


def baseline_mm(size_pt: float) -> float:
    """From the top of a line's box to its baseline."""
    return _BASELINE * line_mm(size_pt)


def capitals_mm(size_pt: float) -> float:
    """How tall capitals and digits are."""
    return CAPITALS * size_pt * MM_PER_POINT


def shortened(text: str, size_pt: float, room_mm: float, weight: Weight = "regular") -> str:
    """The text, or as much of its start as fits, with an ellipsis."""
    text = printable(text, weight)
    if width_mm(text, size_pt, weight) <= room_mm:
        return text
    # Halved, not cut sign by sign: a stranger's label may have thousands.
    fits, too_long = 0, len(text)
    while too_long - fits > 1:
        half = (fits + too_long) // 2
        if width_mm(text[:half] + "…", size_pt, weight) <= room_mm:
            fits = half
        else:
            too_long = half
    return text[:fits].rstrip() + "…"


def wrapped(text: str, size_pt: float, room_mm: float, weight: Weight = "regular") -> tuple[str, ...]:
    """Lines no wider than the room (a single sign may be); no text gives no lines."""
    lines: list[str] = []
    line = ""
    for word in printable(text, weight).split(" "):
        longer = f"{line} {word}" if line else word
        if width_mm(longer, size_pt, weight) <= room_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, size_pt, room_mm, weight)
        lines.extend(full)
    if line:
        lines.append(line)
    return tuple(lines)


def _pieces(word: str, size_pt: float, room_mm: float, weight: Weight) -> list[str]:
    if width_mm(word, size_pt, weight) <= room_mm:
        return [word]
    pieces = [""]
    for sign in word:
        if pieces[-1] and width_mm(pieces[-1] + sign, size_pt, weight) > room_mm:
            pieces.append("")
        pieces[-1] += sign
    return pieces
