"""Step 3: how many doubts a reading left and how much tape a card takes, from the kept plans themselves."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

from circuit.errors import PencilampError
from circuit.plan_json import plan_from_dict
from cli.archive.design import facts_of
from cli.archive.shelf import Shelf


def add_doubts_and_tape(connection: sqlite3.Connection, folder: Path) -> None:
    """A plan that is missing or damaged leaves both unknown; `check` names it."""
    connection.execute("ALTER TABLE designs ADD COLUMN doubts INTEGER")
    connection.execute("ALTER TABLE designs ADD COLUMN tape_mm REAL")
    shelf = Shelf(folder)
    rows = connection.execute("SELECT design, sha256 FROM design_files WHERE role = 'plan'").fetchall()
    for number, sha256 in rows:
        try:
            facts = facts_of(plan_from_dict(json.loads(shelf.path(sha256).read_bytes())))
        except (OSError, ValueError, RecursionError, OverflowError, PencilampError):
            continue
        connection.execute(
            "UPDATE designs SET doubts = ?, tape_mm = ? WHERE number = ?",
            (facts.doubts, facts.tape_mm, number),
        )
