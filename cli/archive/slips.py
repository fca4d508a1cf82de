"""Slips: a small file for each design, with all that is known of it. They and the kept files are the archive.

In:    an archive's folder.
Out:   designs; how the folders of slips stand, which changes whenever a slip does.
Fails: `LayoutFileError` for what is no slip, OSError for what can't be read.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from circuit.errors import LayoutFileError
from cli.archive.archive_folder import SLIPS_NAME, in_the_way, set_aside
from cli.archive.design_json import slip_from_dict, slip_to_dict
from cli.archive.kept_design import Design
from cli.file_sets import finish_set, is_unfinished, write_set
from cli.files import UNFINISHED_NAME, is_left_over, json_bytes

# Chosen: a slip with the longest note and a thousand files takes half a megabyte.
LARGEST_SLIP_BYTES = 10_000_000
_IN_A_FOLDER = 1000  # chosen: a folder of 10,000 files is slow on some systems
_NUMBER = re.compile(r"[1-9][0-9]{0,11}")
_NAME = re.compile(rf"{SLIPS_NAME}/[0-9]{{3,9}}/{_NUMBER.pattern}\.json")


@dataclass(frozen=True, slots=True)
class SlipFile:
    """One slip on the disk; `state` changes whenever it is written."""

    number: int
    path: Path
    state: str


def slip_name(number: int) -> str:
    """Where a slip lies in the archive."""
    return f"{SLIPS_NAME}/{number // _IN_A_FOLDER:03d}/{number}.json"


def slip_path(folder: Path, number: int) -> Path:
    """Where the slip of that number lies in an archive."""
    return folder / slip_name(number)


def slip_bytes(design: Design) -> bytes:
    """What the slip of a design holds."""
    return json_bytes(slip_to_dict(design))


def write_slips(folder: Path, designs: list[Design], gone: Mapping[str, str] | None = None) -> None:
    """Write the slips of these designs and take those away, by name and content: all or none. Raises OSError or
    FileTroubleError."""
    write_set(folder, {slip_name(one.number): slip_bytes(one) for one in designs}, gone or {})


def finish_slips(folder: Path) -> None:
    """Finish what a killed program was writing. Only while no other program changes anything."""
    if is_unfinished(folder):
        finish_set(folder, lambda name: bool(_NAME.fullmatch(name)))
    if is_unfinished(folder):  # what it tells can't be, or a folder has its name
        set_aside(folder, folder / UNFINISHED_NAME)


def read_slip(path: Path) -> Design:
    """Raises LayoutFileError for what is no slip, OSError for what can't be read."""
    if not path.is_file() or path.stat().st_size > LARGEST_SLIP_BYTES:
        raise LayoutFileError("it is no slip, or far too large for one")
    try:
        return slip_from_dict(json.loads(path.read_bytes()))
    except (ValueError, RecursionError, OverflowError) as error:
        raise LayoutFileError("it is no slip, or damaged") from error


def slip_files(folder: Path) -> Iterator[SlipFile]:
    """Every slip in its right place."""
    for path in (folder / SLIPS_NAME).glob("*/*.json"):
        if _NUMBER.fullmatch(path.stem) and path == slip_path(folder, int(path.stem)):
            yield SlipFile(int(path.stem), path, state_of(path))


def stray_slips(folder: Path) -> list[Path]:
    """What lies among the slips and is none of the archive's."""
    known = {slip.path for slip in slip_files(folder)}
    lying = (path for path in sorted((folder / SLIPS_NAME).rglob("*")) if not path.is_dir())
    return [path for path in lying if path not in known and not path.name.startswith(".pencilamp-")]


def half_written(folder: Path) -> list[Path]:
    """What an interrupted job left in the archive's own folders; only to be touched while no other job writes."""
    found = [*folder.glob(".pencilamp-*"), *(folder / SLIPS_NAME).glob("**/.pencilamp-*")]
    # A folder is one that a command works in, which it does while others write.
    return sorted(path for path in found if not path.is_dir() or is_left_over(path))


def state_of(path: Path) -> str:
    """What changes whenever a slip is written: it is a new file each time."""
    found = path.lstat()  # a link that leads nowhere is a damaged slip, and stops no other
    return f"{found.st_mtime_ns}:{found.st_size}:{found.st_ino}"


def slips_state(folder: Path) -> str:
    """What changes whenever any slip comes, goes or is written: a folder's own time does. Cheap: no slip is read."""
    try:
        with os.scandir(folder / SLIPS_NAME) as inside:
            return " ".join(sorted(f"{sub.name}:{sub.stat().st_mtime_ns}" for sub in inside if sub.is_dir()))
    except (FileNotFoundError, NotADirectoryError):
        if os.path.lexists(folder / SLIPS_NAME):
            raise in_the_way(folder / SLIPS_NAME) from None
        return ""
