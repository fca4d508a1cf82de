"""Open the archive's list of designs: SQLite, brought to today's form step by step.

In:    the archive's folder.
Out:   a connection that commits only where `writing` says so.
Fails: `NewerArchiveError`, `DamagedArchiveError`, `ArchiveTroubleError`; nothing was changed then.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from cli.archive.migrations import MIGRATIONS, Migration
from cli.archive.place import FILES_NAME, LIST_NAME, READ_ME, READ_ME_NAME, SLIPS_NAME
from cli.archive.shelf import Shelf
from cli.archive.trouble import DamagedArchiveError, NewerArchiveError, is_unwritable, told
from cli.files import flush_folder, write_whole

WAIT_S = 60.0  # chosen: as long as another Pencilamp may take to bring in a large zip's last part
# Says that this SQLite file is a Pencilamp archive; chosen, "PLMP" in ASCII.
APPLICATION_ID = 0x504C4D50
# SQLite file format 3, section 1.3: the header's first 16 bytes, and where two numbers stand in it.
_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES, _VERSION_AT, _APPLICATION_AT = 100, 60, 68


def open_list(
    folder: Path, stack: ExitStack, *, writing: bool, steps: Sequence[Migration] = MIGRATIONS
) -> sqlite3.Connection:
    """Open the list, made or brought up to date where needed; `stack` closes it.

    For reading only, a folder that can't be written to will do: SQLite then works on a copy, since it
    wants to write beside the list.
    """
    with told(folder):
        _refuse_foreign(folder, steps)
        if not writing and not (folder / LIST_NAME).exists():
            return _open(stack, Path(":memory:"), folder, steps)
        try:
            if writing:
                _make_folder(folder)
            return _open(stack, folder / LIST_NAME, folder, steps)
        except sqlite3.OperationalError as error:
            if writing or not is_unwritable(error):
                raise
        return _open(stack, _copied(folder, stack), folder, steps)


def open_copy(folder: Path, stack: ExitStack) -> sqlite3.Connection:
    """Open a copy of the list: nothing in the folder is touched, however damaged it is."""
    with told(folder):
        _refuse_foreign(folder, MIGRATIONS)
        return _open(stack, _copied(folder, stack), folder, MIGRATIONS)


@contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[None]:
    """One whole-or-nothing change, alone: others wait until it is done."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):  # a full disk has rolled back already
            connection.execute("ROLLBACK")
        raise


def form_number(connection: sqlite3.Connection) -> int:
    """The number of the last step that this list has been through; 0 for a new one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection, folder: Path, steps: Sequence[Migration]) -> None:
    """Run the steps that this list has not been through, each whole or not at all."""
    for step in steps:
        if form_number(connection) >= step.number:
            continue
        with writing(connection):
            if form_number(connection) >= step.number:  # another Pencilamp was quicker
                continue
            if step.number == 1:
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(
                    "CREATE TABLE migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL, done TEXT NOT NULL)"
                )
            step.run(connection, folder)
            connection.execute(
                "INSERT INTO migrations (number, name, done) VALUES (?, ?, ?)",
                (step.number, step.name, datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")),
            )
            connection.execute(f"PRAGMA user_version = {step.number}")


def _open(stack: ExitStack, path: Path, folder: Path, steps: Sequence[Migration]) -> sqlite3.Connection:
    # Commits are written out by hand: sqlite3's own would begin too late and share what should be alone.
    connection = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
    stack.callback(connection.close)
    connection.row_factory = sqlite3.Row
    connection.execute("PRAGMA foreign_keys = ON")
    # FULL: what was said to be kept is on the disk, also when the power fails the next moment.
    connection.execute("PRAGMA synchronous = FULL")
    _write_ahead(connection)
    newest = steps[-1].number
    found = form_number(connection)
    if found > newest:
        raise NewerArchiveError(folder, found, newest)
    if found == 0 and _has_designs(folder):
        raise DamagedArchiveError(folder, "is missing or empty")
    if found < newest:
        migrate(connection, folder, steps)
    return connection


def _write_ahead(connection: sqlite3.Connection) -> None:
    """WAL: readers and one writer at a time, side by side. Two programs that make the same list at the
    same moment get in each other's way here, and SQLite does not wait by itself."""
    give_up = time.monotonic() + WAIT_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
            if not busy or time.monotonic() > give_up:
                raise
            time.sleep(0.02)


def _refuse_foreign(folder: Path, steps: Sequence[Migration]) -> None:
    """Look at the file's first bytes before SQLite does: opening it would already write beside it."""
    path = folder / LIST_NAME
    try:
        with path.open("rb") as file:
            header = file.read(_HEADER_BYTES)
    except FileNotFoundError:
        if _has_designs(folder):
            raise DamagedArchiveError(folder, "is missing") from None
        return
    if not header:
        return
    if len(header) < _HEADER_BYTES or not header.startswith(_MAGIC):
        raise DamagedArchiveError(folder, "is damaged")
    found = int.from_bytes(header[_VERSION_AT : _VERSION_AT + 4])
    if found > steps[-1].number:
        raise NewerArchiveError(folder, found, steps[-1].number)
    application = int.from_bytes(header[_APPLICATION_AT : _APPLICATION_AT + 4])
    if found and application != APPLICATION_ID:
        raise DamagedArchiveError(folder, "is damaged, or another program's")


def _has_designs(folder: Path) -> bool:
    """Whether something was kept here once: then a list that holds nothing is a damaged one."""
    return any((folder / SLIPS_NAME).glob("*/*.json")) or any(Shelf(folder).contents())


def _make_folder(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    read_me = folder / READ_ME_NAME
    if not read_me.exists():
        write_whole(read_me, READ_ME.encode())
    for name in (FILES_NAME, SLIPS_NAME):
        (folder / name).mkdir(exist_ok=True)
    flush_folder(folder)


def _copied(folder: Path, stack: ExitStack) -> Path:
    copy = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="pencilamp-")))
    # The write-ahead file may hold designs that are not in the list's own file yet.
    for name in (LIST_NAME, f"{LIST_NAME}-wal"):
        with suppress(FileNotFoundError):
            shutil.copyfile(folder / name, copy / name)
    return copy / LIST_NAME
