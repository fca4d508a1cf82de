"""Files in and out: plans read with one clear sentence when they can't be, outputs written whole or not at all.

In:    paths, bytes.
Out:   a `Plan`; files on disk.
Fails: `FileTroubleError` (exit code 4) naming the file and what to do; `LayoutFileError` for a file
       that opens but isn't a plan. After a failed write every earlier file is as it was.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import secrets
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

from circuit.errors import LayoutFileError, PencilampError
from circuit.layout import Plan
from circuit.plan_json import plan_from_dict

LARGEST_PLAN_BYTES = 20_000_000  # chosen: a plan of 20 lights takes some 10 kB, an archive row never more
_PLAN_NAME = "plan.json"


class FileTroubleError(PencilampError):
    """An input or output file is the trouble; the message names it and says what to do."""

    exit_code = 4


def read_plan(path: Path) -> Plan:
    """The plan or layout in a file, or in `plan.json` of a folder."""
    where = path
    try:
        if path.is_dir():
            where = path / _PLAN_NAME
        with where.open("rb") as file:
            raw = file.read(LARGEST_PLAN_BYTES + 1)
    except FileNotFoundError as error:
        if where != path:
            raise FileTroubleError(
                f"{path}: there is no {_PLAN_NAME} in this folder. Name a folder that `pencilamp plan` made."
            ) from error
        raise FileTroubleError(f"{path}: there is no such file. Check the name and the folder.") from error
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        _refuse(where, error, "can't be read")
    if len(raw) > LARGEST_PLAN_BYTES:
        raise FileTroubleError(
            f"{where}: this file is over {LARGEST_PLAN_BYTES // 1_000_000} MB, far too big for a plan. "
            "Name the plan.json that `pencilamp plan` wrote."
        )
    try:
        return plan_from_dict(json.loads(raw.decode("utf-8-sig")))
    except LayoutFileError as error:
        raise LayoutFileError(f"{where}: {error}") from error
    # UnicodeDecodeError and JSONDecodeError are ValueErrors; json gives up on thousands of nested
    # brackets with RecursionError, and a whole number of 400 digits is an OverflowError further on.
    except (ValueError, RecursionError, OverflowError) as error:
        raise LayoutFileError(
            f"{where}: this is not a plan or layout file, or it was damaged. "
            "Name the plan.json that `pencilamp plan` wrote, or make it again from the photo."
        ) from error


def file_sha256(path: Path) -> str:
    """What identifies a file's content, in hexadecimal digits. Raises FileTroubleError."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        _refuse(path, error, "can't be read")


def json_bytes(value: Mapping[str, Any]) -> bytes:
    """A JSON value as it goes into a file: UTF-8, one key a line. ValueError for NaN or infinity."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1)
    # A file name that isn't valid Unicode reaches us with lone surrogates; escaped they are JSON still.
    return text.encode("utf-8", "backslashreplace") + b"\n"


def write_whole(path: Path, data: bytes, *, replace: bool = True) -> None:
    """Write one file whole or not at all; folders on the way are made."""
    write_files({path: data}, replace=replace)


def write_files(files: Mapping[Path, bytes], *, replace: bool = True) -> None:
    """Write several files so that all are new or all are as they were.

    Each is written beside its place and flushed to disk; only when all are there are they renamed,
    in the order given: put the file that the others hang on last. A rename that fails puts back
    those before it. With `replace=False` a file that is already there is refused.
    """
    targets = {Path(os.path.realpath(path)): data for path, data in files.items()}
    made: list[Path] = []  # folders that were not there before
    staged: list[_Staged] = []
    try:
        for target, data in targets.items():
            _make_folder(target.parent, made)
            _attempt(target, partial(_check_free, target, replace))
            staged.append(_stage(target, data))
        for item in staged:
            _attempt(item.target, item.put_in_place)
    except BaseException:  # Ctrl-C too leaves nothing half-done
        for item in reversed(staged):
            item.put_back()
        for folder in reversed(made):
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise
    for item in staged:
        item.tidy()
    for folder in {target.parent for target in targets}:
        flush_folder(folder)


@dataclass(slots=True)
class _Staged:
    """One file on its way: `part` holds the new bytes, `kept` the old ones while the set is renamed."""

    target: Path
    part: Path
    kept: Path | None = None
    placed: bool = False

    def put_in_place(self) -> None:
        if self.target.exists():
            kept = _beside(self.target, "kept")
            try:
                os.link(self.target, kept)
            except OSError:  # file systems without hard links
                shutil.copy2(self.target, kept)
            self.kept = kept
        self.part.replace(self.target)
        self.placed = True

    def put_back(self) -> None:
        with contextlib.suppress(OSError):
            if self.placed and self.kept is not None:
                self.kept.replace(self.target)
            elif self.placed:
                self.target.unlink()
        self.part.unlink(missing_ok=True)
        self.tidy()

    def tidy(self) -> None:
        if self.kept is not None:
            with contextlib.suppress(OSError):
                self.kept.unlink(missing_ok=True)


def _check_free(target: Path, replace: bool) -> None:
    if target.is_dir():
        raise FileTroubleError(f"{target}: there is a folder of this name. Move it or choose another.")
    if not replace and target.exists():
        raise FileTroubleError(
            f"{target}: this file is already there. Move it, or say --force to write over it."
        )


def _stage(target: Path, data: bytes) -> _Staged:
    part = _beside(target, "part")

    def write() -> None:
        # 0o666 less the umask, as any program's new file; O_EXCL: never into somebody's link.
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())

    try:
        _attempt(target, write)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    return _Staged(target, part)


def _beside(target: Path, ending: str) -> Path:
    # Short, whatever the target's name: a name of 255 bytes leaves no room for an ending.
    return target.with_name(f".pencilamp-{secrets.token_hex(6)}.{ending}")


def _make_folder(folder: Path, made: list[Path]) -> None:
    missing = []
    here = folder
    while not here.exists() and here != here.parent:
        missing.append(here)
        here = here.parent
    for step in reversed(missing):
        _attempt(folder, step.mkdir)
        made.append(step)
    if not folder.is_dir():
        raise FileTroubleError(f"{folder}: a file is in the way of this folder. Choose another place.")


def flush_folder(folder: Path) -> None:
    """Have the disk take down the names in a folder."""
    # Without this a power cut can lose the rename; Windows can't open folders and needs no help.
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _attempt(target: Path, step: Callable[[], None]) -> None:
    try:
        step()
    except OSError as error:
        _refuse(target, error, "can't be written")


def _refuse(path: Path, error: OSError | ValueError, what: str) -> NoReturn:
    number = error.errno if isinstance(error, OSError) else None
    if number in (errno.ENOSPC, errno.EDQUOT):
        advice = "the disk is full. Make room and try again; nothing was changed."
    elif number in (errno.EACCES, errno.EPERM):
        advice = (
            "this program may not use it. Close it elsewhere, change its rights, or choose another place."
        )
    elif number == errno.EROFS:
        advice = "the disk is read-only. Choose another place with --out."
    elif number == errno.EFBIG:
        advice = "the disk takes no file of this size. Choose another place."
    elif number == errno.ENAMETOOLONG:
        advice = "the name is too long. Choose a shorter one."
    elif number == errno.ENOTDIR:
        advice = "a file is in the way of the folder. Choose another place."
    else:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        advice = f"{reason}. Check the disk, or choose another place."
    shown = str(path).encode("utf-8", "replace").decode()
    raise FileTroubleError(f"{shown} {what}: {advice}") from error
