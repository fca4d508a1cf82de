"""The option that every command takes which works with parts, and the list that it names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from circuit.errors import LayoutFileError
from circuit.part_kinds import Parts
from circuit.parts import default_parts
from cli.plan_file import read_small

_MOST_BYTES = 1_000_000  # a parts list is some kilobytes; what is larger is another file

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


def read_parts(path: Path | None) -> Parts:
    """The program's parts with the maker's file added; the program's alone for None.

    Raises LayoutFileError, one sentence that names the file, and the part and field where it can.
    """
    if path is None:
        return default_parts()
    from circuit.parts_file import load_parts

    raw = read_small(path, _MOST_BYTES, "a parts file; name another.")
    try:
        return load_parts(raw.decode("utf-8-sig"), path.name, default_parts())
    except UnicodeDecodeError:
        raise LayoutFileError(f"{path}: this is not a text file; a parts file is TOML text.") from None
    except (RecursionError, OverflowError, ValueError) as error:  # nested by thousands, numbers without end
        raise LayoutFileError(
            f"{path}: this parts file can't be read; write it as `pencilamp parts --help` shows."
        ) from error
