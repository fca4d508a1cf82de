"""Several files of one folder changed as one set: all of them or none, also where the program is killed in between.

In:    a folder, what each file is to hold, which are to go; names are relative to the folder.
Out:   the files on disk.
Fails: `FileTroubleError`; everything is as it was then.

While the files are renamed a list of them lies in the folder. From the moment it is there the change counts, and
the next program finishes it: by contents, so that what somebody put there meanwhile stays. Where a list comes
from nobody knows, so it leads to no other names than its reader allows.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from cli.file_trouble import FileTroubleError
from cli.files import UNFINISHED_NAME, flush_folder, json_bytes, tidy_leftovers, write_files, write_whole
from cli.plan_file import LARGEST_PLAN_BYTES, read_small

_KEYS = ("files", "before", "parts", "gone")


@dataclass(frozen=True, slots=True)
class FileSet:
    """A set on its way, by name: the SHA-256 that each file gets and had before, what it is called until then; and
    the files that go, by what they held."""

    files: Mapping[str, str] = field(default_factory=dict)
    before: Mapping[str, str | None] = field(default_factory=dict)
    parts: Mapping[str, str] = field(default_factory=dict)
    gone: Mapping[str, str] = field(default_factory=dict)


def write_set(folder: Path, files: Mapping[str, bytes], gone: Mapping[str, str]) -> None:
    """Write these files in this order and take those away that still hold what is said of them."""
    if len(files) + len(gone) > 1:
        before = {name: content_of(folder / name) for name in files}

        def note_down(parts: Mapping[Path, Path]) -> None:
            names = dict(zip(files, (part.name for part in parts.values()), strict=True))
            hashes = {name: sha256_of(data) for name, data in files.items()}
            value = dict(zip(_KEYS, (hashes, before, names, dict(gone)), strict=True))
            write_whole(folder / UNFINISHED_NAME, json_bytes(value))
    else:  # one name comes or goes: that is whole by itself

        def note_down(parts: Mapping[Path, Path]) -> None:
            pass

    try:
        whole = {folder / name: data for name, data in files.items()}
        write_files(whole, stage_in=folder, staged_as=note_down)
        if not files:
            note_down({})
    except BaseException:  # all is as it was, and the list is of no use
        with contextlib.suppress(OSError):
            (folder / UNFINISHED_NAME).unlink(missing_ok=True)
        raise
    _drop(folder, gone)
    _end(folder)


def is_unfinished(folder: Path) -> bool:
    return os.path.lexists(folder / UNFINISHED_NAME)


def unfinished_set(folder: Path, may_be: Callable[[str], bool]) -> FileSet:
    """What a killed program had noted down; an empty set where that is nothing, or nothing of ours."""
    with contextlib.suppress(
        FileTroubleError, ValueError, RecursionError, KeyError, TypeError, AttributeError
    ):
        value = json.loads(read_small(folder / UNFINISHED_NAME, LARGEST_PLAN_BYTES, "a list."))
        found = FileSet(*(dict(value[key].items()) for key in _KEYS))
        names = {*found.files, *found.before, *found.parts, *found.gone}
        if all(map(may_be, names)) and all(Path(part).name == part for part in found.parts.values()):
            return found
    return FileSet()


def finish_set(folder: Path, may_be: Callable[[str], bool]) -> tuple[str, ...]:
    """Do what a killed program had noted down. The names of files that are neither what they were nor what they
    should become; the list is left then. Only while no other program changes anything."""
    unfinished = unfinished_set(folder, may_be)
    missing = tuple(name for name in unfinished.files if not _placed(folder, name, unfinished))
    if not missing:
        _drop(folder, unfinished.gone)
        _end(folder)
    return missing


def content_of(path: Path) -> str | None:
    """A plain file's SHA-256; None for what is none or can't be read."""
    if not os.path.isfile(path):  # noqa: PTH113  (never raises)
        return None
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def sha256_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _placed(folder: Path, name: str, unfinished: FileSet) -> bool:
    target, wanted = folder / name, unfinished.files[name]
    there = content_of(target)
    if there == wanted:
        return True
    if there != unfinished.before.get(name):
        return False
    part = unfinished.parts.get(name, UNFINISHED_NAME)
    # Beside its place: in a folder that is a link, whose files are not staged in `folder`, and by an earlier version.
    for staged in (folder / part, target.with_name(part)):
        if content_of(staged) == wanted:
            staged.replace(target)
            flush_folder(target.parent)
            return True
    return False


def _drop(folder: Path, gone: Mapping[str, str]) -> None:
    for name, sha256 in gone.items():
        if content_of(folder / name) == sha256:
            with contextlib.suppress(OSError):
                (folder / name).unlink()
                flush_folder((folder / name).parent)


def _end(folder: Path) -> None:
    if is_unfinished(folder):
        with contextlib.suppress(OSError):
            (folder / UNFINISHED_NAME).unlink()
        flush_folder(folder)
        tidy_leftovers(folder)  # which was not done while the list was there
