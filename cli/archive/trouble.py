"""What can be the matter with an archive, each as one sentence: what was seen, what to do."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from circuit.errors import PencilampError, UsageError
from cli.files import FileTroubleError


class ArchiveTroubleError(FileTroubleError):
    """The archive's folder or its list of designs is the trouble."""


class DamagedArchiveError(ArchiveTroubleError):
    """The list of designs can't be read; the kept files may well be sound."""

    def __init__(self, folder: Path, seen: str) -> None:
        super().__init__(
            f"{folder}: the archive's list of designs {seen}; the files themselves are most likely sound: "
            "run `pencilamp archive mend`."
        )


class NewerArchiveError(ArchiveTroubleError):
    """A later program made this archive; it is not touched."""

    def __init__(self, folder: Path, found: int, known: int) -> None:
        super().__init__(
            f"{folder}: a newer Pencilamp made this archive (its form is number {found}, this program knows "
            f"{known}); nothing was touched: install the newer Pencilamp to use it."
        )


class NoSuchDesignError(UsageError):
    """No design, or more than one, answers to what was typed."""


def shown(path: Path) -> str:
    """A path that prints on any terminal, also where its name is not valid Unicode."""
    return str(path).encode("utf-8", "replace").decode()


@contextmanager
def told(folder: Path) -> Iterator[None]:
    """Turn what the disk and SQLite raise into an ArchiveTroubleError about `folder`."""
    try:
        yield
    except PencilampError:
        raise
    except sqlite3.Error as error:
        raise _from_sqlite(folder, error) from error
    except OSError as error:
        raise ArchiveTroubleError(_from_disk(folder, error)) from error


def is_unwritable(error: sqlite3.Error) -> bool:
    """Whether the place, not the content, keeps SQLite from working: it needs to write beside the list."""
    return _code(error) in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM)


def _code(error: sqlite3.Error) -> int:
    # The low byte is the kind; the rest says more than anybody needs.
    return int(getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)) & 0xFF


def _from_sqlite(folder: Path, error: sqlite3.Error) -> ArchiveTroubleError:
    code, name = _code(error), shown(folder)
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return DamagedArchiveError(folder, "is damaged")
    if code == sqlite3.SQLITE_FULL:
        return ArchiveTroubleError(f"{name}: the disk is full; make room and try again; nothing was changed.")
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return ArchiveTroubleError(
            f"{name}: another Pencilamp is busy with this archive; try again in a minute; nothing was changed."
        )
    if is_unwritable(error):
        return ArchiveTroubleError(
            f"{name}: this folder may not be written to; change its rights, or name another one with --at."
        )
    if code == sqlite3.SQLITE_IOERR:
        return ArchiveTroubleError(
            f"{name}: the disk could not be read or written, or is full; check it and try again; "
            "every design kept so far is as it was."
        )
    # Tables or columns that are not there: the file is a list, but not a whole one.
    return DamagedArchiveError(folder, f"can't be used ({error})")


def _from_disk(folder: Path, error: OSError) -> str:
    name = shown(folder)
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{name}: the disk is full; make room and try again; nothing was changed."
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"{name}: this folder may not be written to; change its rights, or name another one with --at."
    if error.errno == errno.EFBIG:
        return f"{name}: the disk takes no file of this size; name another folder with --at."
    if error.errno in (errno.ENOTDIR, errno.EEXIST):
        return f"{name}: a file is in the way of this folder; name another one with --at."
    where = f" ({shown(Path(str(error.filename)))})" if error.filename else ""
    return f"{name}: {error.strerror or error}{where}; check the disk, or name another folder with --at."
