"""The pages' typeface: measured, broken into lines, embedded as a TrueType subset.

In:    text, a size in points, a weight.
Out:   widths in millimetres, lines.
Fails: never: a sign that the typeface lacks becomes a question mark, a word that is too wide is broken.
"""

from __future__ import annotations

from functools import lru_cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from vision.drawing.fonts import Weight, font_path

MM_PER_POINT = 25.4 / 72.0  # exact: the PDF standard's unit, ISO 32000
LINE_SPACING = 1.3  # chosen: Open Sans' own is 1.36
# Open Sans' tables: ascender 1.069, descender 0.293 of the size; letters themselves stand 0.76 tall.
ASCENT = 0.80
DESCENT = 0.25

BODY_PT = 10.5  # chosen: read at arm's length, with tape on the fingers
SMALL_PT = 8.5  # chosen
TITLE_PT = 19.0  # chosen


@lru_cache
def font_name(weight: Weight) -> str:
    """The name that the PDF library knows this weight by; registers it at first use."""
    name = f"pages-{weight}"
    pdfmetrics.registerFont(TTFont(name, str(font_path(weight))))
    return name


@lru_cache
def _glyphs(weight: Weight) -> frozenset[int]:
    return frozenset(pdfmetrics.getFont(font_name(weight)).face.charToGlyph)


def printable(text: str, weight: Weight = "regular") -> str:
    """One line of signs that the typeface has: breaks and tabs become spaces, unknown signs `?`."""
    known = _glyphs(weight)
    line = " ".join("".join(ch if ch.isprintable() else " " for ch in text).split())
    return "".join(ch if ord(ch) in known else "?" for ch in line)


def width_mm(text: str, size_pt: float, weight: Weight = "regular") -> float:
    """How wide a line of text prints."""
    return float(pdfmetrics.stringWidth(text, font_name(weight), size_pt)) * MM_PER_POINT


def line_mm(size_pt: float) -> float:
    """From one baseline to the next."""
    return size_pt * LINE_SPACING * MM_PER_POINT


def shortened(text: str, size_pt: float, room_mm: float, weight: Weight = "regular") -> str:
    """The text, or as much of its start as fits, with an ellipsis."""
    text = printable(text, weight)
    if width_mm(text, size_pt, weight) <= room_mm:
        return text
    while text and width_mm(text + "…", size_pt, weight) > room_mm:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, size_pt: float, room_mm: float, weight: Weight = "regular") -> list[str]:
    """Lines no wider than the room; no text gives no lines."""
    lines: list[str] = []
    line = ""
    for word in printable(text, weight).split():
        longer = f"{line} {word}" if line else word
        if width_mm(longer, size_pt, weight) <= room_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while len(line) > 1 and width_mm(line, size_pt, weight) > room_mm:
            fits = _fitting(line, size_pt, room_mm, weight)
            lines.append(line[:fits])
            line = line[fits:]
    if line:
        lines.append(line)
    return lines


def _fitting(word: str, size_pt: float, room_mm: float, weight: Weight) -> int:
    count = 1
    while count < len(word) and width_mm(word[: count + 1], size_pt, weight) <= room_mm:
        count += 1
    return count
