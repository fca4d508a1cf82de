"""The option that every command takes which works with parts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

_Command = TypeVar("_Command", bound=Callable[..., Any])


def parts_option(command: _Command) -> _Command:
    """--parts FILE, handed on as `parts_file`."""
    return click.option(
        "--parts",
        "parts_file",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Your own parts, in TOML: they add to the list or override it.",
    )(command)
