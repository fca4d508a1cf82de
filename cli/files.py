"""Files written whole or not at all.

In:    paths, bytes.
Out:   files on disk.
Fails: `FileTroubleError` (exit code 4) naming the file and what to do. After a failed write every earlier file is as
       it was.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from cli.file_trouble import FileTroubleError, refuse

_Result = TypeVar("_Result")
_LEFTOVER = ".pencilamp-"
UNFINISHED_NAME = ".pencilamp-set.json"  # lists the files of a set while they are renamed
# Chosen: no file takes so long to write. Where a process can't be asked for, its files count as left over then.
_LEFTOVER_AFTER_S = 3600.0


def file_sha256(path: Path) -> str:
    """What identifies a file's content, in hexadecimal digits. Raises FileTroubleError."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        refuse(path, error, "can't be read")


def json_bytes(value: Mapping[str, Any]) -> bytes:
    """A JSON value as it goes into a file: UTF-8, one key a line. ValueError for NaN or infinity."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1)
    # A file name that isn't valid Unicode reaches us with lone surrogates; escaped they are JSON still.
    return text.encode("utf-8", "backslashreplace") + b"\n"


def write_whole(path: Path, data: bytes, *, replace: bool = True) -> None:
    """Write one file whole or not at all; folders on the way are made."""
    write_files({path: data}, replace=replace)


def write_files(
    files: Mapping[Path, bytes],
    *,
    replace: bool = True,
    stage_in: Path | None = None,
    staged_as: Callable[[Mapping[Path, Path]], None] = lambda parts: None,
) -> None:
    """Write several files so that all are new or all are as they were.

    Each is written beside its place, or in the folder `stage_in` that they lie in, and flushed to disk; only
    when all are there are they renamed, in the order given: put the file that the others hang on last. A rename
    that fails puts back those before it. With `replace=False` a file that is already there is refused; what is no plain
    file always is. `staged_as` is told, just before the first is renamed, what each is called by then.
    """
    targets = {Path(os.path.realpath(path)): data for path, data in files.items()}
    common = stage_in and Path(os.path.realpath(stage_in))
    made: list[Path] = []  # folders that were not there before
    staged: list[_Staged] = []
    try:
        for target, data in targets.items():
            _make_folder(target.parent, made)
            there = require_writable(target, replace)
            place = common if common is not None and common in target.parents else target.parent
            staged.append(_stage(target, data, there, place))
        staged_as({item.target: item.part for item in staged})
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
    places = {target.parent for target in targets}
    for folder in places:
        flush_folder(folder)
    for folder in {stage_in} if stage_in else places:
        tidy_leftovers(folder)


@dataclass(slots=True)
class _Staged:
    """One file on its way: `part` holds the new bytes, `kept` the old ones while the set is renamed."""

    target: Path
    part: Path
    there: bool  # when it was looked at
    kept: Path | None = None
    placed: bool = False

    def put_in_place(self) -> None:
        if not self.there:
            _name_anew(self.part, self.target)
        else:
            kept = beside(self.part, "kept")
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
        with contextlib.suppress(OSError):
            self.part.unlink(missing_ok=True)
        self.tidy()

    def tidy(self) -> None:
        for path in (self.kept, self.part):
            if path is not None:
                with contextlib.suppress(OSError):
                    path.unlink(missing_ok=True)


def _name_anew(part: Path, target: Path) -> None:
    """Give a file its name only if nothing took that name meanwhile."""
    try:
        os.link(part, target)  # unlike a rename this never replaces; the other name is tidied away later
    except FileExistsError:
        raise FileTroubleError(
            f"{target}: this file appeared just now and is not written over. Try again."
        ) from None
    except OSError:  # file systems without hard links
        part.replace(target)


def require_writable(target: Path, replace: bool) -> bool:
    """Whether there is a file of this name. Raises FileTroubleError where it may not be written over."""
    try:
        mode = target.lstat().st_mode
    except FileNotFoundError:
        return False
    except (OSError, ValueError) as error:
        refuse(target, error, "can't be written")
    if stat.S_ISDIR(mode):
        raise FileTroubleError(f"{target}: there is a folder of this name. Move it or choose another.")
    if not stat.S_ISREG(mode):
        raise FileTroubleError(
            f"{target}: this is no ordinary file and is not written over. Choose another name."
        )
    if not replace:
        raise FileTroubleError(
            f"{target}: this file is already there. Move it, or say --force to write over it."
        )
    return True


def _stage(target: Path, data: bytes, there: bool, place: Path) -> _Staged:
    part = beside(place / target.name, "part")

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
    return _Staged(target, part, there)


def beside(target: Path, ending: str) -> Path:
    """A name for what is on its way to `target`: it tells which process is at work on it."""
    # Short, whatever the target's name: a name of 255 bytes leaves no room for an ending.
    return target.with_name(f"{_LEFTOVER}{os.getpid()}-{secrets.token_hex(6)}.{ending}")


@contextmanager
def working_folder(within: Path) -> Iterator[Path]:
    """A folder for what has to lie on the disk while a command works, within one of Pencilamp's own, or where that
    can't be written to in the system's temporary one. What a killed command left in its own goes first."""
    try:
        place = _new_working_folder(within)
    except OSError:
        place = _new_working_folder(Path(tempfile.gettempdir()))
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _new_working_folder(within: Path) -> Path:
    tidy_leftovers(within)
    place = beside(within / "work", "part")
    place.mkdir(mode=0o700)
    return place


def is_left_over(path: Path) -> bool:
    """Whether the command that made such a name is gone: it was killed, and nobody will finish its work."""
    owner = path.name.removeprefix(_LEFTOVER).partition("-")[0]
    if os.name == "posix" and owner.isdecimal():  # elsewhere asking for a process may end it
        try:
            os.kill(int(owner), 0)
        except (ProcessLookupError, OverflowError):
            return True
        except OSError:
            return False
    try:
        return time.time() - path.lstat().st_mtime > _LEFTOVER_AFTER_S
    except OSError:
        return False


def tidy_leftovers(folder: Path) -> None:
    """Do away with what killed commands left half-written in a folder."""
    with contextlib.suppress(OSError):
        if os.path.lexists(folder / UNFINISHED_NAME):
            return  # they are still wanted, to finish that set
        names = [name for name in os.listdir(folder) if name.startswith(_LEFTOVER)]  # noqa: PTH208  (a Path each is slow)
        for path in (folder / name for name in names if name.endswith((".part", ".kept"))):
            if is_left_over(path):
                with contextlib.suppress(OSError):
                    shutil.rmtree(path) if path.is_dir() else path.unlink()


def _make_folder(folder: Path, made: list[Path]) -> None:
    missing = []
    here = folder
    while not _attempt(folder, here.exists) and here != here.parent:
        missing.append(here)
        here = here.parent
    for step in reversed(missing):
        _attempt(folder, partial(step.mkdir, exist_ok=True))  # another command may have made it just now
        made.append(step)
        flush_folder(step.parent)
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


def _attempt(target: Path, step: Callable[[], _Result]) -> _Result:
    try:
        return step()
    except (OSError, ValueError) as error:
        refuse(target, error, "can't be written")
