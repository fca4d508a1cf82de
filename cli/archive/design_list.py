"""The list of designs: what is in it, in SQLite. A cache, made from the slips whenever it has to be.

In:    a connection, slips, designs.
Out:   a list that says what the slips say; what it answers: `questions.py`.
Fails: sqlite3.Error.

Nothing is in it that the slips do not hold, so nothing is lost with it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from circuit.errors import LayoutFileError
from circuit.json_fields import FieldError
from cli.archive.design_json import moment_text, slip_to_dict
from cli.archive.kept_design import Design, folded
from cli.archive.slips import SlipFile, read_slip, slip_files, slip_path, slips_state, state_of

FORM = 4  # of the list; forms 1 to 3 held what the slips hold now
APPLICATION_ID = 0x504C4D50  # says that an SQLite file is such a list; chosen, "PLMP" in ASCII
_TABLES = """
CREATE TABLE slips (state TEXT NOT NULL);
CREATE TABLE designs (
    number INTEGER PRIMARY KEY,
    state TEXT NOT NULL,
    identity TEXT NOT NULL,
    title_folded TEXT NOT NULL,
    kept TEXT NOT NULL,
    removed TEXT,
    lights INTEGER NOT NULL,
    card_width_mm REAL NOT NULL,
    card_height_mm REAL NOT NULL,
    cell TEXT,
    troubles INTEGER NOT NULL
);
CREATE INDEX designs_by_date ON designs (kept, number);
CREATE INDEX designs_by_title ON designs (title_folded);
CREATE INDEX designs_by_identity ON designs (identity);
CREATE TABLE texts (number INTEGER PRIMARY KEY, slip TEXT NOT NULL);
CREATE TABLE damaged (number INTEGER PRIMARY KEY, state TEXT NOT NULL, why TEXT NOT NULL);
CREATE TABLE tags (design INTEGER, folded TEXT, tag TEXT NOT NULL, PRIMARY KEY (design, folded)) WITHOUT ROWID;
CREATE INDEX tags_by_tag ON tags (folded);
CREATE TABLE files (design INTEGER, sha256 TEXT, bytes INTEGER NOT NULL, PRIMARY KEY (design, sha256)) WITHOUT ROWID;
CREATE INDEX files_by_content ON files (sha256);
CREATE VIRTUAL TABLE words USING fts5 (
    title, tags, note, tokenize = "unicode61 remove_diacritics 2", columnsize = 0
);
INSERT INTO slips VALUES ('');
"""

_BY_NUMBER = (
    *(("designs", "number"), ("texts", "number"), ("damaged", "number")),
    *(("tags", "design"), ("files", "design"), ("words", "rowid")),
)
_ENTER = "INSERT OR IGNORE INTO designs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"


@contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[None]:
    """One whole-or-nothing change."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):  # a full disk has rolled back already
            connection.execute("ROLLBACK")
        raise


def form_number(connection: sqlite3.Connection) -> int:
    """0 for a new file."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def make_tables(connection: sqlite3.Connection) -> None:
    """Make an empty list of an empty file."""
    with writing(connection):
        for statement in _TABLES.split(";\n"):
            connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {FORM}")


def agrees(connection: sqlite3.Connection, folder: Path) -> bool:
    """Whether no slip was written since the list was brought up to date."""
    return _state(connection) == slips_state(folder)


def bring_up_to_date(connection: sqlite3.Connection, folder: Path) -> None:
    """Take in every slip that is new or was written anew, let go of those that are gone."""
    state = slips_state(folder)
    connection.execute("PRAGMA cache_spill = OFF")  # others can read it as it was until all is ready
    with writing(connection):
        known = {
            row[0]: row[1]
            for table in ("designs", "damaged")
            for row in connection.execute(f"SELECT number, state FROM {table}")
        }
        seen = set()
        # In the order in which they were kept: SQLite then packs its pages full, and looks things up faster.
        for slip in sorted(slip_files(folder), key=lambda slip: slip.number):
            seen.add(slip.number)
            if known.get(slip.number) != slip.state:
                _take_in_slip(connection, slip)
        for number in set(known) - seen:
            let_go(connection, number)
        connection.execute("UPDATE slips SET state = ?", (state,))


def read_again(connection: sqlite3.Connection, folder: Path) -> None:
    """Take in every slip anew, whatever the list says. Raises sqlite3.Error, DatabaseError where
    SQLite finds it damaged."""
    if [row[0] for row in connection.execute("PRAGMA integrity_check(1)")] != ["ok"]:
        raise sqlite3.DatabaseError("damaged")
    with writing(connection):
        connection.execute("UPDATE designs SET state = ''")
        connection.execute("UPDATE damaged SET state = ''")
        known = "SELECT number FROM designs UNION SELECT number FROM damaged"
        for table, key in _BY_NUMBER:
            connection.execute(f"DELETE FROM {table} WHERE {key} NOT IN ({known})")
    bring_up_to_date(connection, folder)


def take_in(
    connection: sqlite3.Connection, folder: Path, changed: Iterable[Design], gone: Iterable[int]
) -> None:
    """Enter what was just written or taken away, which brings the list up to date."""
    with writing(connection):
        connection.execute("UPDATE slips SET state = ?", (slips_state(folder),))
        for number in gone:
            let_go(connection, number)
        for design in changed:
            put(connection, design, state_of(slip_path(folder, design.number)))


def put(connection: sqlite3.Connection, design: Design, state: str) -> None:
    """Enter a design, in place of what was there under its number."""
    facts = design.facts
    row = (
        design.number,
        state,
        design.identity,
        folded(design.title),
        moment_text(design.kept),
        None if design.removed is None else moment_text(design.removed),
        facts.lights,
        facts.card_width_mm,
        facts.card_height_mm,
        facts.cell,
        facts.must_fix + facts.look_again,
    )
    if not connection.execute(_ENTER, row).rowcount:
        let_go(connection, design.number)
        connection.execute(_ENTER, row)
    connection.execute("INSERT INTO texts VALUES (?, ?)", (design.number, json.dumps(slip_to_dict(design))))
    connection.executemany(
        "INSERT INTO tags VALUES (?, ?, ?)", [(design.number, folded(tag), tag) for tag in design.tags]
    )
    connection.executemany(
        "INSERT OR IGNORE INTO files VALUES (?, ?, ?)",  # two of a design's files may hold the same
        [(design.number, file.sha256, file.size) for file in design.files],
    )
    connection.execute(
        "INSERT INTO words (rowid, title, tags, note) VALUES (?, ?, ?, ?)",
        (design.number, design.title, " ".join(design.tags), design.note),
    )


def let_go(connection: sqlite3.Connection, number: int) -> None:
    """Take one design out of the list; nothing happens where it is not there."""
    for table, key in _BY_NUMBER:
        connection.execute(f"DELETE FROM {table} WHERE {key} = ?", (number,))


def _take_in_slip(connection: sqlite3.Connection, slip: SlipFile) -> None:
    try:
        design = read_slip(slip.path)
        if design.number != slip.number:
            raise LayoutFileError(f"it is the slip of number {design.number}")
    except (LayoutFileError, OSError) as error:
        # What an earlier slip said stays in the list: `mend` can write it again.
        why = error.clause if isinstance(error, FieldError) else str(error)
        connection.execute("UPDATE designs SET state = ? WHERE number = ?", (slip.state, slip.number))
        connection.execute("INSERT OR REPLACE INTO damaged VALUES (?, ?, ?)", (slip.number, slip.state, why))
        return
    connection.execute("DELETE FROM damaged WHERE number = ?", (slip.number,))
    put(connection, design, slip.state)


def _state(connection: sqlite3.Connection) -> str:
    row = connection.execute("SELECT state FROM slips").fetchone()
    return str(row[0]) if row else ""
