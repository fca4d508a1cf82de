"""Help that fits a narrow terminal: a phone's, or a window beside the photo.

In:    a command, with those below it.
Out:   the same command; its help keeps to the terminal's width down to `LEAST_WIDTH`.

The library sets help in at least 50 columns, options and what they do side by side. Below `SIDE_BY_SIDE` what an
option does stands under it, and lines that would be kept as they are wrap, but for what is there to be pasted.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable

import click
from click.formatting import wrap_text

LEAST_WIDTH = 30  # chosen: narrower, single words no longer fit
SIDE_BY_SIDE = 60  # chosen: options take up to 30 columns, and what they do as many
_UNDER = 4  # chosen: how far in what an option does stands below it
_KEPT = "\b"  # the library's mark of a paragraph whose lines stay as they are
_RANGE = re.compile(r"([\d.]+)<=x<=([\d.]+)")  # as the library words it
_WHOLE = re.compile(r"(?<=\d)\.0(?=[];. ])")  # a whole number as the library writes it
_WITHIN_WORD = re.compile(r"(?<=\w)-(?=\w)")  # a name broken there can't be copied
_UNBROKEN = "\u2011"  # a hyphen that no line is broken at, until it is written
_TO_PASTE = ("pencilamp ", "eval ")


class _Formatter(click.HelpFormatter):
    def __init__(
        self, indent_increment: int = 2, width: int | None = None, max_width: int | None = None
    ) -> None:
        super().__init__(indent_increment, width, max_width)
        columns = shutil.get_terminal_size().columns
        if width is None and columns - 2 < self.width:
            self.width = max(columns - 1, LEAST_WIDTH)

    def write(self, string: str) -> None:
        super().write(string.replace(_UNBROKEN, "-"))

    def write_text(self, text: str) -> None:
        text = _WITHIN_WORD.sub(_UNBROKEN, text)
        super().write_text(_kept_lines_wrapped(text, self.width - self.current_indent))

    def write_dl(self, rows: Iterable[tuple[str, str]], col_max: int = 30, col_spacing: int = 2) -> None:
        rows = [(first, _WITHIN_WORD.sub(_UNBROKEN, plain_ranges(second))) for first, second in rows]
        if self.width >= SIDE_BY_SIDE:
            super().write_dl(rows, col_max, col_spacing)
            return
        for first, second in rows:
            at = " " * self.current_indent
            self.write(f"{wrap_text(first, self.width, at, at + ' ' * _UNDER)}\n")
            if second:
                under = at + " " * _UNDER
                self.write(f"{wrap_text(second, self.width, under, under)}\n")


def plain_ranges(text: str) -> str:
    """`5; 1 to 10` for `5.0; 1<=x<=10.0`."""
    return _WHOLE.sub("", _RANGE.sub(r"\1 to \2", text))


class HelpContext(click.Context):
    """The library's, with help by the formatter above."""

    formatter_class = _Formatter


# The library's words for values, and a crafter's.
_PLAIN = (
    ("is not a valid integer range", "is no whole number"),
    ("is not a valid integer", "is no whole number"),
    ("is not a valid float range", "is no number"),
    ("is not a valid float", "is no number"),
)


def plain_words(text: str) -> str:
    """What the library says of a wrong value, in words for people who don't program."""
    for library, plain in _PLAIN:
        text = text.replace(library, plain)
    return plain_ranges(text)


def with_narrow_help(command: click.Command) -> click.Command:
    """The command itself, and all below it, from now on with such help."""
    command.context_class = HelpContext
    if isinstance(command, click.Group):
        for below in command.commands.values():
            with_narrow_help(below)
    return command


def _kept_lines_wrapped(text: str, width: int) -> str:
    """Paragraphs whose lines stay as they are, their lines broken where they are too long; none to be pasted."""
    paragraphs = text.split("\n\n")
    return "\n\n".join(
        _wrapped(paragraph, width) if paragraph.lstrip("\n").startswith(_KEPT) else paragraph
        for paragraph in paragraphs
    )


def _wrapped(paragraph: str, width: int) -> str:
    lines = []
    for line in paragraph.split("\n"):
        own = line.lstrip(" ")
        indent = line[: len(line) - len(own)]
        if len(line) <= width or own.startswith(_TO_PASTE):
            lines.append(line)
        else:
            lines += wrap_text(own, width, indent, indent).split("\n")
    return "\n".join(lines)
