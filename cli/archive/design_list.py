"""The list of designs: what `list` and `find` ask, in SQLite. A cache, made from the slips whenever it has to be.

In:    a connection, designs, questions.
Out:   designs and their numbers.
Fails: sqlite3.Error; `UselessListError` for a list that holds something else than was put in.

Nothing is in it that the slips do not hold, so nothing is lost with it.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from circuit.errors import LayoutFileError
from circuit.json_fields import FieldError
from cli.archive.design_json import design_from_row, moment_text, slip_to_dict
from cli.archive.kept_design import Design, folded
from cli.archive.slips import SlipFile, read_slip, slip_files, slip_path, slips_state, state_of

FORM = 4  # of the list; forms 1 to 3 held what the slips hold now
APPLICATION_ID = 0x504C4D50  # says that an SQLite file is such a list; chosen, "PLMP" in ASCII
CARD_TOLERANCE_MM = 1.5  # chosen: how far a hand-cut card may be from its size
_AT_ONCE = 400  # chosen: designs looked up by one question; SQLite takes 999 unknowns or more
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
CREATE INDEX designs_by_lights ON designs (lights);
CREATE TABLE texts (number INTEGER PRIMARY KEY, slip TEXT NOT NULL);
CREATE TABLE damaged (number INTEGER PRIMARY KEY, state TEXT NOT NULL, why TEXT NOT NULL);
CREATE TABLE tags (design INTEGER NOT NULL, folded TEXT NOT NULL, tag TEXT NOT NULL);
CREATE INDEX tags_by_tag ON tags (folded, design);
CREATE INDEX tags_by_design ON tags (design);
CREATE TABLE files (design INTEGER NOT NULL, sha256 TEXT NOT NULL, bytes INTEGER NOT NULL);
CREATE INDEX files_by_content ON files (sha256);
CREATE INDEX files_by_design ON files (design);
CREATE VIRTUAL TABLE words USING fts5 (
    title, tags, note, tokenize = "unicode61 remove_diacritics 2", prefix = "2 3"
);
INSERT INTO slips VALUES ('');
"""

_BY_NUMBER = (
    *(("designs", "number"), ("texts", "number"), ("damaged", "number")),
    *(("tags", "design"), ("files", "design"), ("words", "rowid")),
)


class UselessListError(Exception):
    """The list holds something else than was put in."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to look for; all that is said must hold.

    words : each must begin a word of title, tags or note.
    lights : least and most number. card_mm : two sides, either way round. cell : its name or the end of it.
    troubled : True with, False without things to fix or to look at again.
    since, until : kept at that moment or later; before that moment. binned : look in the bin instead.
    """

    words: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    lights: tuple[int, int] | None = None
    card_mm: tuple[float, float] | None = None
    cell: str | None = None
    troubled: bool | None = None
    since: datetime | None = None
    until: datetime | None = None
    binned: bool = False


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


def mark_behind(connection: sqlite3.Connection) -> None:
    """Before slips are changed: a job that dies in between leaves a list that is known to be behind."""
    with writing(connection):
        connection.execute("UPDATE slips SET state = 'behind'")


def bring_up_to_date(connection: sqlite3.Connection, folder: Path) -> None:
    """Take in every slip that is new or was written anew, let go of those that are gone."""
    state = slips_state(folder)
    with writing(connection):
        known = {
            row[0]: row[1]
            for table in ("designs", "damaged")
            for row in connection.execute(f"SELECT number, state FROM {table}")
        }
        seen = set()
        for slip in slip_files(folder):
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


def catch_up(connection: sqlite3.Connection, folder: Path) -> None:
    """Bring the list up to date where it is not."""
    if not agrees(connection, folder):
        bring_up_to_date(connection, folder)


def take_in(
    connection: sqlite3.Connection, folder: Path, changed: Iterable[Design], gone: Iterable[int]
) -> None:
    """Enter what was just written or taken away, which brings the list up to date."""
    with writing(connection):
        for number in gone:
            let_go(connection, number)
        for design in changed:
            put(connection, design, state_of(slip_path(folder, design.number)))
        connection.execute("UPDATE slips SET state = ?", (slips_state(folder),))


def put(connection: sqlite3.Connection, design: Design, state: str) -> None:
    """Enter a design, in place of what was there under its number."""
    let_go(connection, design.number)
    facts = design.facts
    connection.execute(
        "INSERT INTO designs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
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
        ),
    )
    connection.execute("INSERT INTO texts VALUES (?, ?)", (design.number, json.dumps(slip_to_dict(design))))
    connection.executemany(
        "INSERT INTO tags VALUES (?, ?, ?)", [(design.number, folded(tag), tag) for tag in design.tags]
    )
    connection.executemany(
        "INSERT INTO files VALUES (?, ?, ?)",
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
    put(connection, design, slip.state)


def _state(connection: sqlite3.Connection) -> str:
    row = connection.execute("SELECT state FROM slips").fetchone()
    return str(row[0]) if row else ""


def damaged(connection: sqlite3.Connection) -> list[tuple[int, str]]:
    """Numbers of slips that can't be read, and why."""
    return [(row[0], row[1]) for row in connection.execute("SELECT number, why FROM damaged ORDER BY number")]


def highest_number(connection: sqlite3.Connection) -> int:
    """The highest number that a design or a damaged slip bears; 0 in an empty list."""
    row = connection.execute(
        "SELECT max(coalesce((SELECT max(number) FROM designs), 0), coalesce((SELECT max(number) FROM damaged), 0))"
    ).fetchone()
    return int(row[0])


def count(connection: sqlite3.Connection, wanted: Wanted) -> int:
    """How many designs are wanted."""
    where, values = _where(wanted)
    return int(connection.execute(f"SELECT count(*) FROM designs WHERE {where}", values).fetchone()[0])


def numbers(connection: sqlite3.Connection, wanted: Wanted, limit: int | None = None) -> list[int]:
    """The numbers of what is wanted, the newest first."""
    where, values = _where(wanted)
    rows = connection.execute(
        f"SELECT number FROM designs WHERE {where} ORDER BY kept DESC, number DESC LIMIT ?",
        (*values, -1 if limit is None else limit),
    )
    return [int(row[0]) for row in rows]


def in_portions(these: Sequence[int]) -> Iterator[Sequence[int]]:
    """As many numbers as one question takes."""
    for start in range(0, len(these), _AT_ONCE):
        yield these[start : start + _AT_ONCE]


def designs(connection: sqlite3.Connection, these: Sequence[int]) -> list[Design]:
    """The designs of these numbers in this order; what is not there is left out. Raises UselessListError."""
    marks = ", ".join("?" * len(these))
    rows = connection.execute(f"SELECT number, slip FROM texts WHERE number IN ({marks})", tuple(these))
    try:
        found = {row[0]: design_from_row(json.loads(row[1])) for row in rows}
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise UselessListError(str(error)) from error
    return [found[number] for number in these if number in found]


def numbers_titled(connection: sqlite3.Connection, title: str) -> list[int]:
    """Designs of just this title, capitals aside, in the bin too."""
    return _numbers(connection, "SELECT number FROM designs WHERE title_folded = ?", folded(title))


def numbers_of_identity(connection: sqlite3.Connection, identity: str) -> list[int]:
    """The numbers under which one identity is kept, none or several."""
    return _numbers(connection, "SELECT number FROM designs WHERE identity = ?", identity)


def users(connection: sqlite3.Connection, sha256: str) -> list[int]:
    """The designs that name a file."""
    return _numbers(connection, "SELECT DISTINCT design FROM files WHERE sha256 = ?", sha256)


def _numbers(connection: sqlite3.Connection, question: str, value: str) -> list[int]:
    return sorted(int(row[0]) for row in connection.execute(question, (value,)))


def tag_counts(connection: sqlite3.Connection) -> list[tuple[str, int]]:
    """Every tag outside the bin and how many designs bear it, the commonest first."""
    rows = connection.execute(
        "SELECT min(tag), count(*) FROM tags JOIN designs ON number = design WHERE removed IS NULL "
        "GROUP BY folded ORDER BY count(*) DESC, folded"
    )
    return [(row[0], row[1]) for row in rows]


def contents(connection: sqlite3.Connection) -> list[tuple[str, int]]:
    """Every file that a design names: its SHA-256 and size."""
    rows = connection.execute("SELECT sha256, max(bytes) FROM files GROUP BY sha256 ORDER BY sha256")
    return [(row[0], row[1]) for row in rows]


def _where(wanted: Wanted) -> tuple[str, tuple[Any, ...]]:
    parts = ["removed IS NOT NULL" if wanted.binned else "removed IS NULL"]
    values: list[Any] = []
    match = _match(wanted.words)
    if match:
        parts.append("number IN (SELECT rowid FROM words WHERE words MATCH ?)")
        values.append(match)
    elif wanted.words:  # only signs that are no word
        parts.append("0")
    for tag in wanted.tags:
        parts.append("number IN (SELECT design FROM tags WHERE folded = ?)")
        values.append(folded(tag))
    if wanted.lights is not None:
        parts.append("lights BETWEEN ? AND ?")
        values += wanted.lights
    if wanted.card_mm is not None:
        parts.append(
            "((abs(card_width_mm - ?) <= ? AND abs(card_height_mm - ?) <= ?)"
            " OR (abs(card_width_mm - ?) <= ? AND abs(card_height_mm - ?) <= ?))"
        )
        one, other = wanted.card_mm
        for side in (one, other, other, one):
            values += (side, CARD_TOLERANCE_MM)
    if wanted.cell is not None:
        parts.append("lower(cell) LIKE ? ESCAPE '!'")
        values.append("%" + re.sub(r"([!%_])", r"!\1", folded(wanted.cell.strip())))
    if wanted.troubled is not None:
        parts.append("troubles > 0" if wanted.troubled else "troubles = 0")
    if wanted.since is not None:
        parts.append("kept >= ?")
        values.append(moment_text(wanted.since))
    if wanted.until is not None:
        parts.append("kept < ?")
        values.append(moment_text(wanted.until))
    return " AND ".join(parts), tuple(values)


def _match(words: Iterable[str]) -> str:
    """An FTS5 question: every word must begin one there. In quotes, so that nothing in it is an operator."""
    pieces = [piece for word in words for piece in re.findall(r"\w+", word)]
    return " ".join(f'"{piece}"*' for piece in pieces)
