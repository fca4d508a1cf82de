"""Change several slips so that all change or none does, also when the program is killed in between.

What is to be done is noted down first, in one file; that note is the moment from which it counts. The next
program that changes anything finishes what a note still tells.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from cli.archive.archive_folder import UNFINISHED_NAME, set_aside
from cli.files import flush_folder, json_bytes, write_files, write_whole

_SLIP = re.compile(r"slips/[0-9]{3,9}/[1-9][0-9]{0,11}\.json")
_PART = re.compile(r"\.pencilamp-[0-9a-f-]+\.part")


def change_slips(folder: Path, written: Mapping[Path, bytes], gone: Sequence[Path] = ()) -> None:
    """Write these slips and take those away. Raises OSError or FileTroubleError; nothing has changed then."""
    note, base = folder / UNFINISHED_NAME, Path(os.path.realpath(folder))

    def note_down(parts: Mapping[Path, Path]) -> None:
        value = {
            "parts": {target.relative_to(base).as_posix(): part.name for target, part in parts.items()},
            "gone": [path.relative_to(folder).as_posix() for path in gone],
        }
        write_whole(note, json_bytes(value))

    if len(written) + len(gone) == 1:  # one name comes or goes: that is whole by itself
        write_files(written)
        _take_away(gone)
        return
    try:
        if written:
            write_files(written, staged_as=note_down)
        else:
            note_down({})
    except BaseException:  # the slips are as they were
        with contextlib.suppress(OSError):
            note.unlink(missing_ok=True)
        raise
    _take_away(gone)
    note.unlink()


def is_unfinished(folder: Path) -> bool:
    return os.path.lexists(folder / UNFINISHED_NAME)


def finish_changes(folder: Path) -> None:
    """Do what a killed program had noted down. Only while no other program changes anything."""
    note = folder / UNFINISHED_NAME
    if not is_unfinished(folder):
        return
    try:
        value = json.loads(note.read_bytes())
        parts = {_slip(folder, name): _part(part) for name, part in value["parts"].items()}
        gone = [_slip(folder, name) for name in value["gone"]]
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        set_aside(folder, note)  # no program of ours wrote it
        return
    for target, part in parts.items():
        if target.with_name(part).exists():
            target.with_name(part).replace(target)
            flush_folder(target.parent)
    _take_away(gone)
    note.unlink()
    flush_folder(folder)


def _take_away(gone: Sequence[Path]) -> None:
    for path in gone:
        path.unlink(missing_ok=True)
    for place in {path.parent for path in gone}:
        flush_folder(place)


def _slip(folder: Path, name: object) -> Path:
    if not isinstance(name, str) or not _SLIP.fullmatch(name):
        raise ValueError(name)
    return folder / name


def _part(name: object) -> str:
    if not isinstance(name, str) or not _PART.fullmatch(name):
        raise ValueError(name)
    return name
