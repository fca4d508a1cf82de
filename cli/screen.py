"""Text on a terminal of any width: lines broken between words, paths whole, a number on the line of its unit.

In:    sentences; the terminal's width, where there is one.
Out:   lines, printed or to be printed.
Fails: never; a word that is too wide, such as a path, is left as it is, so that it can be copied.
"""

from __future__ import annotations

import re
import textwrap

import click

from cli.streams import terminal_width

WIDEST = 100  # chosen: longer lines are hard to follow
LEAST = 40  # chosen: half a window, or a phone's terminal; narrower, the terminal breaks lines itself
# Where the output is no terminal, a sentence stays one line, to be searched and read by programs.
_UNKNOWN = 10_000
_TIED = re.compile(r"(?<=\d) (?=(?:mm|cm|in|mA|mAh|V|ohm|kB|MB|GB|%|x|\d+/\d+)(?:\W|$))")
_COMMAND = re.compile(
    r"`[^`\n]{1,32}`"
)  # to be typed: in one piece, where even the narrowest terminal holds it
_TIE = "\u00a0"
_HANGING = "  "


def columns() -> int:
    """Of the terminal, `WIDEST` at most; that, too, where the output is none."""
    return min(WIDEST, terminal_width(WIDEST))


def in_lines(text: str, width: int, first: str = "", then: str | None = None) -> list[str]:
    """A sentence in lines, the first of them and the others indented so."""
    lines = textwrap.wrap(
        _COMMAND.sub(lambda found: found[0].replace(" ", _TIE), _TIED.sub(_TIE, text)),
        max(width, LEAST),
        initial_indent=first,
        subsequent_indent=first if then is None else then,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_TIE, " ") for line in lines]


def print_lines(text: str = "", *, err: bool = False) -> None:
    """Print it; lines that the terminal would break anywhere are broken between words, what follows hanging in."""
    width = terminal_width(_UNKNOWN)
    for line in text.split("\n"):
        own = line.lstrip(" ")
        indent = line[: len(line) - len(own)]
        short = len(line) <= width
        for part in [line] if short else in_lines(own, width, indent, indent + _HANGING):
            click.echo(part, err=err)
