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
    """The archive's folder, or something in it, is the trouble."""


class BusyArchiveError(ArchiveTroubleError):
    """Another program is changing the archive and went on with it for long."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"{folder}: another Pencilamp is busy with this archive; try again in a minute; nothing was changed."
        )


class ForeignListError(ArchiveTroubleError):
    """The folder holds another program's file under the name of the list of designs."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"{folder}: there is an archive.db here that is not Pencilamp's; it was left alone: name another "
            "folder with --at."
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


def _from_sqlite(folder: Path, error: sqlite3.Error) -> ArchiveTroubleError:
    code = int(getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)) & 0xFF  # the low byte is the kind
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BusyArchiveError(folder)
    return ArchiveTroubleError(
        f"{folder}: the list of designs can't be used ({error}); check the disk and try again; "
        "every design kept so far is as it was."
    )


def _from_disk(folder: Path, error: OSError) -> str:
    name = folder
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{name}: the disk is full; make room and try again; nothing was changed."
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"{name}: this folder may not be written to; change its rights, or name another one with --at."
    if error.errno == errno.EFBIG:
        return f"{name}: the disk takes no file of this size; name another folder with --at."
    if error.errno in (errno.ENOTDIR, errno.EEXIST):
        return f"{name}: a file is in the way of this folder; name another one with --at."
    where = f" ({error.filename})" if error.filename else ""
    return f"{name}: {error.strerror or error}{where}; check the disk, or name another folder with --at."
