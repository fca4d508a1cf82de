"""The archive's form grows by numbered steps; each runs in one transaction and leaves its own record there.

A step is SQL in a file, or Python where the kept files have to be read. A step that has been in a
program that people had is never changed again: the next change gets the next number.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from cli.archive.migrations.doubts_and_tape import add_doubts_and_tape

Run = Callable[[sqlite3.Connection, Path], None]


@dataclass(frozen=True, slots=True)
class Migration:
    """`run` gets the connection, inside the step's transaction, and the archive's folder."""

    number: int
    name: str
    run: Run


def statements(sql: str) -> Iterator[str]:
    """Single statements of a script. sqlite3's own executescript commits first, which would tear a step apart."""
    statement = ""
    for line in sql.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
    if statement.strip():
        raise ValueError(f"this SQL does not end: {statement[:60]!r}")


def sql_step(name: str) -> Run:
    """A step whose SQL is in the file of that name beside this one."""

    def run(connection: sqlite3.Connection, folder: Path) -> None:
        del folder
        for statement in statements((Path(__file__).parent / name).read_text(encoding="utf-8")):
            connection.execute(statement)

    return run


MIGRATIONS: tuple[Migration, ...] = (
    Migration(1, "designs, tags and files", sql_step("001_designs.sql")),
    Migration(2, "words to search in", sql_step("002_words.sql")),
    Migration(3, "doubts and tape of each plan", add_doubts_and_tape),
)
