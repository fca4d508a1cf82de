"""What can be the matter with an archive, each as one sentence: what was seen, what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from circuit.errors import UsageError
from cli.file_trouble import FileTroubleError, refuse


class BusyArchiveError(FileTroubleError):
    """Another program is changing the archive and went on with it for long."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"{folder}: another Pencilamp is busy with this archive; try again in a minute; nothing was changed."
        )


class NotOurListError(FileTroubleError):
    """The list of designs is another program's, or a later Pencilamp's; it is not touched."""


class NoSuchDesignError(UsageError):
    """No design, or more than one, answers to what was typed."""


@contextmanager
def told(folder: Path) -> Iterator[None]:
    """Turn what the disk and SQLite raise into a FileTroubleError about `folder`, BusyArchiveError where another
    program holds it."""
    try:
        yield
    except sqlite3.Error as error:
        code = (
            int(getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)) & 0xFF
        )  # the low byte is the kind
        if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise BusyArchiveError(folder) from error
        raise FileTroubleError(
            f"{folder}: the list of designs can't be used ({error}); check the disk and try again; "
            "every design kept so far is as it was."
        ) from error
    except OSError as error:
        refuse(folder, error, "can't be used")
