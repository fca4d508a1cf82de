"""Designs in and out of the list's tables, and the question that `find` asks.

All functions work inside the caller's transaction where they write.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from cli.archive.design import Design, Facts, KeptFile, Role, folded, moment, moment_text

CARD_TOLERANCE_MM = 1.5  # chosen: how far a hand-cut card may be from its size
_AT_ONCE = 400  # chosen: designs looked up by one question; SQLite takes 999 unknowns or more
_FACTS = tuple(Facts.__dataclass_fields__)
_COLUMNS = ("number", "identity", "title", "note", "kept", "removed", *_FACTS)


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


def insert(connection: sqlite3.Connection, design: Design, *, keep_number: bool = False) -> int:
    """Enter a design; its number, which the list chooses unless `keep_number`."""
    values: dict[str, Any] = {name: getattr(design.facts, name) for name in _FACTS}
    values |= {
        "identity": design.identity,
        "title": design.title,
        "title_folded": folded(design.title),
        "note": design.note,
        "kept": moment_text(design.kept),
        "removed": None if design.removed is None else moment_text(design.removed),
    }
    if keep_number:
        values["number"] = design.number
    names = ", ".join(values)
    marks = ", ".join("?" * len(values))
    cursor = connection.execute(f"INSERT INTO designs ({names}) VALUES ({marks})", tuple(values.values()))
    number = int(cursor.lastrowid or 0)
    for place, file in enumerate(design.files):
        connection.execute(
            "INSERT OR IGNORE INTO files (sha256, bytes) VALUES (?, ?)", (file.sha256, file.size)
        )
        connection.execute(
            "INSERT INTO design_files (design, name, role, sha256, place) VALUES (?, ?, ?, ?, ?)",
            (number, file.name, file.role, file.sha256, place),
        )
    _write_words(connection, number, design.title, design.tags, design.note)
    return number


def relabel(connection: sqlite3.Connection, design: Design) -> None:
    """Write a design's title, tags, note and place in or out of the bin anew."""
    connection.execute(
        "UPDATE designs SET title = ?, title_folded = ?, note = ?, removed = ? WHERE number = ?",
        (
            design.title,
            folded(design.title),
            design.note,
            None if design.removed is None else moment_text(design.removed),
            design.number,
        ),
    )
    _write_words(connection, design.number, design.title, design.tags, design.note)


def delete(connection: sqlite3.Connection, number: int) -> None:
    """Strike a design out for good."""
    connection.execute("DELETE FROM words WHERE rowid = ?", (number,))
    connection.execute("DELETE FROM designs WHERE number = ?", (number,))


def count(connection: sqlite3.Connection, wanted: Wanted) -> int:
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


def designs(connection: sqlite3.Connection, these: Iterable[int]) -> Iterator[Design]:
    """The designs of these numbers in this order, a few hundred in memory at a time; what is not there is left out."""
    left = list(these)
    while left:
        some, left = left[:_AT_ONCE], left[_AT_ONCE:]
        marks = ", ".join("?" * len(some))
        tags: dict[int, list[str]] = {}
        for number, tag in connection.execute(
            f"SELECT design, tag FROM design_tags WHERE design IN ({marks}) ORDER BY design, place", some
        ):
            tags.setdefault(number, []).append(tag)
        files: dict[int, list[KeptFile]] = {}
        for row in connection.execute(
            "SELECT design, name, role, sha256, bytes FROM design_files JOIN files USING (sha256) "
            f"WHERE design IN ({marks}) ORDER BY design, place",
            some,
        ):
            file = KeptFile(row["name"], cast(Role, row["role"]), row["sha256"], row["bytes"])
            files.setdefault(row["design"], []).append(file)
        rows = connection.execute(
            f"SELECT {', '.join(_COLUMNS)} FROM designs WHERE number IN ({marks})", some
        )
        found = {row["number"]: row for row in rows}
        for number in some:
            if number in found:
                yield _design(found[number], tuple(tags.get(number, ())), tuple(files.get(number, ())))


def numbers_titled(connection: sqlite3.Connection, title: str) -> list[int]:
    """Designs of just this title, capitals aside, in the bin too."""
    rows = connection.execute(
        "SELECT number FROM designs WHERE title_folded = ? ORDER BY number", (folded(title),)
    )
    return [int(row[0]) for row in rows]


def number_of_identity(connection: sqlite3.Connection, identity: str) -> int | None:
    row = connection.execute("SELECT number FROM designs WHERE identity = ?", (identity,)).fetchone()
    return None if row is None else int(row[0])


def tag_counts(connection: sqlite3.Connection) -> list[tuple[str, int]]:
    """Every tag outside the bin and how many designs bear it, the commonest first."""
    rows = connection.execute(
        "SELECT min(tag), count(*) FROM design_tags JOIN designs ON number = design WHERE removed IS NULL "
        "GROUP BY folded ORDER BY count(*) DESC, folded"
    )
    return [(row[0], row[1]) for row in rows]


def _write_words(
    connection: sqlite3.Connection, number: int, title: str, tags: tuple[str, ...], note: str
) -> None:
    connection.execute("DELETE FROM design_tags WHERE design = ?", (number,))
    connection.executemany(
        "INSERT INTO design_tags (design, tag, folded, place) VALUES (?, ?, ?, ?)",
        [(number, tag, folded(tag), place) for place, tag in enumerate(tags)],
    )
    connection.execute("DELETE FROM words WHERE rowid = ?", (number,))
    connection.execute(
        "INSERT INTO words (rowid, title, tags, note) VALUES (?, ?, ?, ?)",
        (number, title, " ".join(tags), note),
    )


def _design(row: sqlite3.Row, tags: tuple[str, ...], files: tuple[KeptFile, ...]) -> Design:
    return Design(
        number=row["number"],
        identity=row["identity"],
        title=row["title"],
        tags=tags,
        note=row["note"],
        kept=moment(row["kept"], "kept"),
        removed=None if row["removed"] is None else moment(row["removed"], "removed"),
        facts=Facts(**{name: row[name] for name in _FACTS}),
        files=files,
    )


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
        parts.append("number IN (SELECT design FROM design_tags WHERE folded = ?)")
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
        values.append("%" + re.sub(r"([!%_])", r"!\1", wanted.cell.strip().lower()))
    if wanted.troubled is not None:
        parts.append("must_fix + look_again > 0" if wanted.troubled else "must_fix + look_again = 0")
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
