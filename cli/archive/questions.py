"""What is asked of the list of designs: by words, by what they are, by number, title, identity or a file.

In:    a connection to a list, a question.
Out:   designs and their numbers.
Fails: sqlite3.Error; `UselessListError` for a list that holds something else than was put in.
"""

from __future__ import annotations

import json
import math
import re
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import product
from typing import Any

from cli.archive.design_json import design_from_row, moment_text
from cli.archive.kept_design import Design, folded

CARD_TOLERANCE_MM = 1.5  # chosen: how far a hand-cut card may be from its size
# Letters without an accent that could be taken off, and how they are typed where they are not at hand.
_PLAIN = {"ł": "l", "ø": "o", "đ": "d", "ı": "i", "æ": "ae", "œ": "oe", "ß": "ss", "þ": "th"}
_ALIKE = {letters: pair for pair in _PLAIN.items() for letters in pair}
_LETTERS = re.compile(f"({'|'.join(sorted(_ALIKE, key=len, reverse=True))})")
_MOST_SPELLINGS = 256  # chosen: some ten such letters in one word
_AT_ONCE = 400  # chosen: designs looked up by one question; SQLite takes 999 unknowns or more


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


def damaged(connection: sqlite3.Connection) -> list[tuple[int, str]]:
    """Numbers of slips that can't be read, and why."""
    return [(row[0], row[1]) for row in connection.execute("SELECT number, why FROM damaged ORDER BY number")]


def highest_number(connection: sqlite3.Connection) -> int:
    """The highest number that a design or a damaged slip bears; 0 in an empty list."""
    return max(
        connection.execute(f"SELECT max(number) FROM {table}").fetchone()[0] or 0
        for table in ("designs", "damaged")
    )


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


def newest(connection: sqlite3.Connection, wanted: Wanted, limit: int | None) -> tuple[list[int], int]:
    """The numbers of the newest of what is wanted, and how many are wanted in all."""
    found = numbers(connection, wanted, None if limit is None else limit + 1)
    if limit is None or len(found) <= limit:  # there are no more, so they need not be counted
        return found, len(found)
    return found[:limit], count(connection, wanted)


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
    return _numbers(connection, "SELECT design FROM files WHERE sha256 = ?", sha256)


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
    match, words = _match(wanted.words), [word.strip() for word in wanted.words]
    if match:
        parts.append("number IN (SELECT rowid FROM words WHERE words MATCH ?)")
        values.append(match)
    elif words and not any(words):
        parts.append("0")
    for word in words:
        if not re.search(r"\w", word):  # a picture sign is no word
            parts.append("instr(title_folded, ?) > 0")
            values.append(folded(word))
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
    asked = (" OR ".join(f'"{spelt}"*' for spelt in _spellings(piece)) for piece in pieces)
    return " AND ".join(f"({one})" for one in asked)


def _spellings(word: str) -> list[str]:
    """The word, and with letters that the list does not take for their plain ones, as accents are: who has no `ł` on
    the keyboard types `lucja`. Of a word with very many such letters alone as it was typed."""
    letters = [_ALIKE.get(part, (part,)) for part in _LETTERS.split(word.casefold()) if part]
    if math.prod(map(len, letters)) > _MOST_SPELLINGS:
        return [word]
    return ["".join(chosen) for chosen in product(*letters)]
