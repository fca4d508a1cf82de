"""Open the archive's list of designs, which is made anew from the slips whenever that has to be.

In:    the archive's folder.
Out:   a connection to a list that holds just what the slips hold.
Fails: `NotOurListError` for another program's file and for one that a later Pencilamp made. Nothing was touched then.

It is made anew when it is missing, of an earlier form or damaged, and brought up to date when slips have
changed since. Where the folder can't be written to, a list in memory does.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from stat import S_ISREG

from cli.alone import alone
from cli.archive import design_list
from cli.archive.archive_folder import (
    LAST_NUMBER_NAME,
    LIST_FILES,
    LIST_NAME,
    LOCK_NAME,
    SLIPS_NAME,
    holds_designs,
    make_archive,
    set_aside,
)
from cli.archive.design_list import APPLICATION_ID, FORM
from cli.archive.kept_design import LARGEST_NUMBER
from cli.archive.slips import finish_slips, slip_bytes, slip_path
from cli.archive.trouble import BusyArchiveError, NotOurListError
from cli.file_sets import is_unfinished
from cli.file_trouble import FileTroubleError
from cli.files import write_whole
from cli.plan_file import read_small

WAIT_S = 60.0  # chosen: as long as another Pencilamp may take to bring in a large zip
_MOST_DIGITS = 20  # chosen: what more there is, this program did not write
# SQLite's file format, section 1.3: the header's length, its first bytes, where two numbers of four bytes lie in it,
# the highest byte first.
_HEADER_BYTES, _MAGIC, _USER_VERSION, _APPLICATION_ID = 100, b"SQLite format 3\0", 60, 68


class ListFile(sqlite3.Connection):
    """A list in a file, which is known by its place on the disk: one that is replaced lies at another."""

    place: tuple[int, int] | None = None


def open_list(folder: Path, *, writing: bool, untouched: bool = False) -> sqlite3.Connection:
    """A list that agrees with the slips. `writing`: the archive is made where there is none, and its list may still
    be behind; `untouched`: nothing in the folder is changed, so the list is in memory. Raises FileTroubleError."""
    form = _form_in_file(folder)
    if writing:
        make_archive(folder)
    if untouched or (form is None and not (folder / SLIPS_NAME).is_dir()):
        return list_in_memory(folder)
    connection = None
    with suppress(sqlite3.Error):
        if form == FORM:
            connection = _connected(folder / LIST_NAME)
            if writing or _is_right(connection, folder):
                return connection
    try:
        with alone(
            folder / LOCK_NAME, 0.0 if connection else WAIT_S, partial(BusyArchiveError, folder)
        ) as lock:
            if connection is not None:
                connection.close()
            connection = None
            connection = up_to_date(folder)
            mark_right(lock)
            return connection
    except BusyArchiveError:
        if connection is None:
            raise
        return connection  # another program is changing something: this list is as it was before
    except NotOurListError:
        raise
    except (OSError, FileTroubleError, sqlite3.Error):  # the folder can't be written to
        return list_in_memory(folder)


def still_right(connection: sqlite3.Connection, folder: Path) -> bool:
    """Whether an open list is still the folder's own and agrees with the slips. Only while no other program changes
    anything."""
    with suppress(OSError, sqlite3.Error):
        ours = isinstance(connection, ListFile) and connection.place == _place(folder / LIST_NAME)
        return ours and _is_right(connection, folder)
    return False


def _is_right(connection: sqlite3.Connection, folder: Path) -> bool:
    with suppress(FileNotFoundError):
        if (folder / LOCK_NAME).stat().st_size:
            return False
    return not is_unfinished(folder) and design_list.agrees(connection, folder)


def mark_behind(lock: int) -> None:
    """Before slips are changed: a job that dies in between leaves a list that is known to be behind, though a clock
    that ticks slowly may not tell. Needs no room on the disk."""
    with suppress(OSError):  # something else bears its name
        os.ftruncate(lock, 1)


def mark_right(lock: int) -> None:
    """The list says what the slips say."""
    with suppress(OSError):
        os.ftruncate(lock, 0)


def up_to_date(folder: Path) -> sqlite3.Connection:
    """The list, brought up to date or made anew. Only while no other program changes anything."""
    finish_slips(folder)
    form = _form_in_file(folder)
    if form is not None and 0 < form < FORM:
        _write_earlier_slips(folder)
    if form == FORM:
        with suppress(sqlite3.Error), _closing_on_error(_connected(folder / LIST_NAME)) as connection:
            if not _is_right(connection, folder):
                design_list.bring_up_to_date(connection, folder)
            return connection
    return made_anew(folder)


@contextmanager
def _closing_on_error(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    try:
        yield connection
    except BaseException:
        connection.close()
        raise


def made_anew(folder: Path) -> sqlite3.Connection:
    """A new list; what was in its place goes, or is set aside where it may be more than a list of this form.
    Only while no other program changes anything."""
    ours = _form_in_file(folder) == FORM
    # The list first: without it SQLite knows that what it kept beside it is of no use.
    for name in LIST_FILES:
        path = folder / name
        if os.path.lexists(path):
            path.unlink() if ours else set_aside(folder, path)
    with suppress(sqlite3.Error), _closing_on_error(_connected(folder / LIST_NAME)) as connection:
        design_list.make_tables(connection)
        design_list.bring_up_to_date(connection, folder)
        return connection
    for name in LIST_FILES:  # a full disk
        with suppress(OSError):
            (folder / name).unlink(missing_ok=True)
    return list_in_memory(folder)


def list_in_memory(folder: Path) -> sqlite3.Connection:
    """A list made of what the folder holds, of which nothing is touched."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    design_list.make_tables(connection)
    if not folder.is_dir():
        return connection
    design_list.bring_up_to_date(connection, folder)
    form = _form_in_file(folder)
    if form is not None and 0 < form < FORM:
        from cli.archive.earlier_lists import earlier_designs

        with design_list.writing(connection):
            # The archive is not to be touched, or can't be.
            for design in earlier_designs(folder, Path(tempfile.gettempdir()))[0]:
                design_list.put(connection, design, "")
    return connection


def last_number(folder: Path) -> int:
    """The highest number that an emptied bin took with it; 0 where none did."""
    with suppress(FileTroubleError, ValueError):
        number = int(read_small(folder / LAST_NUMBER_NAME, _MOST_DIGITS, "a number."))
        return number if 0 < number < LARGEST_NUMBER else 0
    return 0


def note_last_number(folder: Path, number: int) -> None:
    """See to it that this number, and none below it, is given to another design."""
    if number > last_number(folder):
        write_whole(folder / LAST_NUMBER_NAME, f"{number}\n".encode())


def _write_earlier_slips(folder: Path) -> None:
    """Slips of what an earlier version's list held, which was the truth then."""
    from cli.archive.earlier_lists import earlier_designs  # plans are read for it, which others need not load

    designs, highest = earlier_designs(folder, folder)
    note_last_number(folder, highest)
    for design in designs:
        path, data = slip_path(folder, design.number), slip_bytes(design)
        if not path.is_file() or path.read_bytes() != data:
            write_whole(path, data)
    for name in LIST_FILES:
        if (folder / name).exists():
            set_aside(folder, folder / name)


def _connected(path: Path) -> sqlite3.Connection:
    # Commits are written out by hand: sqlite3's own would begin too late and share what should be alone.
    opened = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None, factory=ListFile)
    with _closing_on_error(opened) as connection:
        opened.place = _place(path)
        _require_known(path.parent, design_list.form_number(connection))
    return connection


def _place(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_dev, found.st_ino


def _require_known(folder: Path, form: int) -> None:
    if form > FORM:
        raise NotOurListError(
            f"{folder}: a newer Pencilamp made this archive (its form is number {form}, this program knows "
            f"{FORM}); nothing was touched: install the newer Pencilamp to use it."
        )


def _form_in_file(folder: Path) -> int | None:
    """The form of the list by its file alone, of which nothing is touched; None for no list, 0 for a damaged one.
    Raises NotOurListError, for another program's file in a folder that is no archive as well."""
    path = folder / LIST_NAME
    try:
        if not S_ISREG(path.stat().st_mode):  # a pipe would be waited for
            return 0
    except FileNotFoundError:
        return 0 if path.is_symlink() else None
    with path.open("rb", buffering=0) as file:
        header = file.read(_HEADER_BYTES)
    if header.startswith(_MAGIC) and len(header) == _HEADER_BYTES:
        form, application = (
            int.from_bytes(header[at : at + 4], "big") for at in (_USER_VERSION, _APPLICATION_ID)
        )
        if application == APPLICATION_ID:
            _require_known(folder, form)
            return form
        if form == application == 0:
            return 0  # killed before it had a form
    if header and not holds_designs(folder):
        raise NotOurListError(
            f"{folder}: there is an archive.db here that is not Pencilamp's; it was left alone: name another "
            "folder with --at."
        )
    return 0
