"""What a person may say to `list` and `find`, and the options that several commands share."""

from __future__ import annotations

import re
import shutil
from calendar import monthrange
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import click

from cli.archive.archive_folder import VARIABLE
from cli.archive.printed import MOST_WIDTH

_Command = TypeVar("_Command", bound=Callable[..., Any])
_LIGHTS = re.compile(r"(\d{1,4})(?:\s*(-)\s*(\d{1,4})?)?|-\s*(\d{1,4})")
_DATE = re.compile(r"(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?")
MOST_LIGHTS = 9999


def at_option(command: _Command) -> _Command:
    return click.option(
        "--at",
        type=click.Path(path_type=Path),
        metavar="FOLDER",
        help=f"The archive's folder.  [default: ${VARIABLE}, else the usual place for data]",
    )(command)


def units_option(command: _Command) -> _Command:
    return click.option(
        "--units", type=click.Choice(["mm", "in"]), help="Units to show lengths in.  [default: the plan's]"
    )(command)


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
        return int(least), MOST_LIGHTS if most is None else int(most)


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
            last = datetime(first.year, month or 12, day or monthrange(first.year, month or 12)[1])
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


def terminal_width() -> int:
    return min(MOST_WIDTH, shutil.get_terminal_size((80, 24)).columns)
