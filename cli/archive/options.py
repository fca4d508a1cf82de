"""What a person may say to `list` and `find`, the options that several commands share, and how they speak."""

from __future__ import annotations

import re
import shutil
from calendar import monthrange
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import click

from circuit.errors import PencilampError
from cli.archive.archive_folder import VARIABLE
from cli.archive.printed import MOST_WIDTH, wrapped
from cli.screen import print_lines

_Command = TypeVar("_Command", bound=Callable[..., Any])
_Item = TypeVar("_Item")
_LIGHTS = re.compile(r"(\d{1,4})(?:\s*(-)\s*(\d{1,4})?)?|-\s*(\d{1,4})")
_DATE = re.compile(r"(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?")
MOST_LIGHTS = 9999
SHOWN_AT_ONCE = 40  # chosen: what fits on two screens
FILE = click.Path(path_type=Path)


def at_option(command: _Command) -> _Command:
    """The option that names the archive's folder."""
    return click.option(
        "--at",
        type=click.Path(path_type=Path),
        metavar="FOLDER",
        help=f"The archive's folder.  [default: ${VARIABLE}, else the usual place for data]",
    )(command)


def units_option(command: _Command) -> _Command:
    """The option that chooses the units of what is told."""
    return click.option(
        "--units", type=click.Choice(["mm", "in"]), help="Units to show lengths in.  [default: the plan's]"
    )(command)


def list_options(command: _Command) -> _Command:
    """What `list` and `find` share: --bin, --all, --picture FILE and --force."""
    for option in (
        click.option("--force", is_flag=True, help="Write over a picture that is already there."),
        click.option("--picture", type=FILE, metavar="FILE", help="Also draw them on a contact sheet."),
        click.option("--all", "everything", is_flag=True, help=f"More than the newest {SHOWN_AT_ONCE}."),
        click.option("--bin", "binned", is_flag=True, help="What lies in the bin."),
    ):
        command = option(command)
    return command


def out_options(command: _Command) -> _Command:
    """What the commands share that let photos out: --whole-photos and --force."""
    for option in (
        click.option("--force", is_flag=True, help="Write over what is already there."),
        click.option("--whole-photos", is_flag=True, help="Leave in photos what the camera wrote."),
    ):
        command = option(command)
    return command


class LightsType(click.ParamType[tuple[int, int]]):
    """9, 5-9, 9- (nine or more) or -9 (nine at most)."""

    name = "number"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, int]:
        match = _LIGHTS.fullmatch(str(value).strip())
        if match is None:
            self.fail(f"{value!r} is no number of lights; write it like 9, 5-9 or 9-.", param, ctx)
        least, dash, most, at_most = match.groups()
        if at_most is not None:
            return 0, int(at_most)
        if dash is None:
            return int(least), int(least)
        if most is not None and int(most) < int(least):
            self.fail(f"{value!r} begins with more than it ends with; write it like 5-9.", param, ctx)
        return int(least), MOST_LIGHTS if most is None else int(most)


_DECEMBER = 12  # a year ends with it


class DayType(click.ParamType[tuple[datetime, datetime]]):
    """2026, 2026-11 or 2026-11-25: the moment it begins and the moment it is over, by the local clock."""

    name = "date"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[datetime, datetime]:
        match = _DATE.fullmatch(str(value).strip())
        try:
            if match is None:
                raise ValueError
            year, month, day = (None if part is None else int(part) for part in match.groups())
            first = datetime(year or 0, month or 1, day or 1)
            last = datetime(
                first.year, month or _DECEMBER, day or monthrange(first.year, month or _DECEMBER)[1]
            )
            return first.astimezone(), (last + timedelta(days=1)).astimezone()
        except (ValueError, OverflowError):
            self.fail(f"{value!r} is no date; write it like 2026-11-25, 2026-11 or 2026.", param, ctx)


LIGHTS, DAY = LightsType(), DayType()


def card_sides(text: str | None) -> tuple[float, float] | None:
    """A card's two sides from sizes or an everyday name. Raises UsageError."""
    if text is None:
        return None
    from circuit.card_sizes import size_meant
    from cli.plan_options import card_from

    sides, name = card_from(text)
    if name is None:
        return sides
    size = size_meant(name)
    return size.short_mm, size.long_mm


_USUAL_SCREEN = (80, 24)  # columns and rows, where the terminal does not say


def terminal_width() -> int:
    """Columns to print in: the terminal's, up to the widest that is read with ease."""
    return min(MOST_WIDTH, shutil.get_terminal_size(_USUAL_SCREEN).columns)


def say(text: str, first: str = "", then: str | None = None) -> None:
    """A sentence in lines that the terminal holds, the first of them and the others indented so."""
    for line in wrapped(text, terminal_width(), first, first if then is None else then):
        print_lines(line)


def each(items: Iterable[_Item], named: Callable[[_Item], str], work: Callable[[_Item], None]) -> int:
    """Do the work for each; one that fails does not stop the others. The highest of their exit codes."""
    code = 0
    for item in items:
        try:
            work(item)
        except PencilampError as error:
            print_lines(str(error) if named(item) in str(error) else f"{named(item)}: {error}", err=True)
            code = max(code, error.exit_code)
    return code
