"""Archives of earlier versions: their list of designs was the truth, in forms 1 to 3, and slips came beside it later.

In:    an archive's folder with such a list.
Out:   the designs that can be read of it, and the highest number that it ever gave.
Fails: never; what can't be read of a damaged list is left out, and the slips tell.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from circuit.errors import PencilampError
from circuit.plan_json import plan_from_dict
from cli.archive.archive_folder import LIST_FILES, LIST_NAME
from cli.archive.design_json import DESIGN_SCHEMA, FACTS, slip_from_dict
from cli.archive.kept_design import Design, facts_of
from cli.archive.shelf import Shelf
from cli.files import working_folder

_MOST = 1_000_000  # chosen: a damaged list may claim anything


def earlier_designs(folder: Path, work_in: Path) -> tuple[list[Design], int]:
    """Read from a copy in a folder below `work_in`: the list itself is not touched, however damaged it is."""
    found: list[Design] = []
    highest = 0
    with working_folder(work_in) as place:
        # The write-ahead file may hold designs that are not in the list's own file yet.
        for name in LIST_FILES[:2]:
            with suppress(FileNotFoundError):
                shutil.copyfile(folder / name, place / name)
        with suppress(sqlite3.Error), closing(sqlite3.connect(place / LIST_NAME)) as connection:
            connection.text_factory = lambda data: data.decode("utf-8", "replace")
            connection.row_factory = sqlite3.Row
            with suppress(sqlite3.Error, TypeError):
                highest = int(connection.execute("SELECT max(number) FROM designs").fetchone()[0])
            with suppress(sqlite3.Error, TypeError):
                given = connection.execute("SELECT max(seq) FROM sqlite_sequence WHERE name = 'designs'")
                highest = max(highest, int(given.fetchone()[0]))
            for number in range(
                1, min(highest, _MOST) + 1
            ):  # one by one: a damaged row does not hide the others
                with suppress(sqlite3.Error, PencilampError, ValueError, TypeError, KeyError, IndexError):
                    found += _designs(connection, number, Shelf(folder))
    return found, highest


def _designs(connection: sqlite3.Connection, number: int, shelf: Shelf) -> list[Design]:
    rows = connection.execute("SELECT * FROM designs WHERE number = ?", (number,)).fetchall()
    return [slip_from_dict(_slip(connection, row, number, shelf)) for row in rows]


def _slip(connection: sqlite3.Connection, row: sqlite3.Row, number: int, shelf: Shelf) -> dict[str, Any]:
    tags = connection.execute("SELECT tag FROM design_tags WHERE design = ? ORDER BY place", (number,))
    files = connection.execute(
        "SELECT name, role, sha256, bytes FROM design_files JOIN files USING (sha256) WHERE design = ? ORDER BY place",
        (number,),
    )
    value = {
        "schema": DESIGN_SCHEMA,
        **{name: row[name] for name in ("number", "identity", "title", "note", "kept", "removed")},
        "tags": [tag[0] for tag in tags],
        "files": [dict(file) for file in files],
    }
    known = {name: row[name] for name in FACTS if name in row.keys()}  # noqa: SIM118  (a Row is no mapping)
    if len(known) < len(FACTS):  # forms 1 and 2 knew neither doubts nor tape: the plan itself does
        with suppress(OSError, ValueError, RecursionError, OverflowError, PencilampError, StopIteration):
            plan = next(file for file in value["files"] if file["role"] == "plan")
            facts = facts_of(plan_from_dict(json.loads(shelf.path(plan["sha256"]).read_bytes())))
            known |= {name: getattr(facts, name) for name in FACTS if name not in known}
    return {**value, "facts": known}
