"""Break sentences into lines of a given width, measure them, and set them.

In:    text and a typeface.
Out:   lines, widths, heights in pixels; no text gives no lines.
Fails: never: a word wider than the line is broken where the line ends.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from PIL.ImageDraw import ImageDraw
from PIL.ImageFont import FreeTypeFont

_NO_BREAK = "\u00a0"
_TIED = re.compile(r"(?<=\d) (?=(?:mm|cm|in|mA|\d+/\d+)\b)")
# Where the baseline lies in a line's box. A line's box is a little lower than the type's own: its middle is
# the middle of small letters.
_BASELINE = 0.76
LINE_SPACING = 1.28  # chosen: line height over type size; Open Sans' own is 1.36, a little airy here


def line_height(face: FreeTypeFont) -> int:
    """From one baseline to the next. [px]"""
    return round(face.size * LINE_SPACING)


def draw_lines(
    draw: ImageDraw,
    lines: Iterable[str],
    left: float,
    top: float,
    face: FreeTypeFont,
    colour: tuple[int, int, int],
) -> None:
    """Set lines under one another; `top` is where the first one's box begins."""
    step = line_height(face)
    for i, line in enumerate(lines):
        draw.text((left, top + step * (i + _BASELINE)), line, fill=colour, font=face, anchor="ls")


def plain(text: str) -> str:
    """One line of printable text: line breaks, tabs and control characters become single spaces, and
    a number is tied to its unit."""
    kept = "".join(ch if ch.isprintable() or ch == _NO_BREAK else " " for ch in text)
    return _TIED.sub(_NO_BREAK, " ".join(word for word in kept.split(" ") if word))


def shorten(text: str, face: FreeTypeFont, width_px: float) -> str:
    """The text, or as much of its start as fits with an ellipsis."""
    text = plain(text)
    if face.getlength(text) <= width_px:
        return text
    while text and face.getlength(text + "…") > width_px:
        text = text[:-1]
    return text + "…"


def wrap(text: str, face: FreeTypeFont, width_px: float) -> tuple[str, ...]:
    """Lines no wider than `width_px` (a single character may be)."""
    lines: list[str] = []
    line = ""
    for word in plain(text).split(" "):
        longer = f"{line} {word}" if line else word
        if face.getlength(longer) <= width_px:
            line = longer
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, face, width_px)
        lines.extend(full)
    if line:
        lines.append(line)
    return tuple(lines)


def _pieces(word: str, face: FreeTypeFont, width_px: float) -> list[str]:
    pieces = [""]
    for ch in word:
        if pieces[-1] and face.getlength(pieces[-1] + ch) > width_px:
            pieces.append("")
        pieces[-1] += ch
    return pieces
