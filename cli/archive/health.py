"""Look an archive over (`check`): every kept file against what was kept, the list against the slips.

In:    an open archive; nothing in it is changed.
Out:   a `Health`.
Fails: `ArchiveTroubleError`, `DamagedArchiveError` when the list can't be read.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

from circuit.errors import LayoutFileError
from cli.archive import records
from cli.archive.design import Design, KeptFile
from cli.archive.records import Wanted
from cli.archive.shelf import State
from cli.archive.slips import half_written, read_slip, slip_path, slips
from cli.archive.store import Archive
from cli.archive.trouble import DamagedArchiveError, told


@dataclass(frozen=True, slots=True)
class BadFile:
    """A kept file that is missing or damaged, and the designs that need it."""

    file: KeptFile
    state: State
    designs: tuple[Design, ...]


@dataclass(slots=True)
class Health:
    """bad : files. loose : files on the shelf that no design names. parts : half-written ones.
    odd_slips : slips that are missing or say something else than the list; stray_slips : of no design."""

    designs: int = 0
    files: int = 0
    size: int = 0
    bad: list[BadFile] = field(default_factory=list)
    loose: list[str] = field(default_factory=list)
    parts: list[Path] = field(default_factory=list)
    odd_slips: list[Design] = field(default_factory=list)
    stray_slips: list[Path] = field(default_factory=list)

    @property
    def leftovers(self) -> bool:
        """Whether an interrupted job left something to tidy; no design is the worse for it."""
        return bool(self.loose or self.parts or self.odd_slips or self.stray_slips)


def look_over(archive: Archive, step: Callable[[], None] = lambda: None) -> Health:
    """The whole archive; `step` is called once a file. In memory: what the list says, no content."""
    health = Health()
    with told(archive.folder):
        require_sound_list(archive)
        rows = archive.connection.execute("SELECT sha256, bytes FROM files ORDER BY sha256").fetchall()
        for sha256, size in rows:
            state = archive.shelf.state(sha256, size)
            step()
            health.files += 1
            health.size += size
            if state != "sound":
                users = _users(archive, sha256)
                if users:  # else the bin was emptied just now
                    file = next(file for file in users[0].files if file.sha256 == sha256)
                    health.bad.append(BadFile(file, state, users))
        listed = {row[0] for row in rows}
        health.loose = [sha256 for sha256 in archive.shelf.contents() if sha256 not in listed]
        health.parts = [*archive.shelf.parts(), *half_written(archive.folder)]
        numbers = set()
        for design in every_design(archive):
            numbers.add(design.number)
            health.designs += 1
            if not _slip_is_right(archive.folder, design):
                health.odd_slips.append(design)
        health.stray_slips = [path for path in slips(archive.folder) if int(path.stem) not in numbers]
    return health


def count_files(archive: Archive) -> int:
    """How many files `look_over` will read."""
    with told(archive.folder):
        return int(archive.connection.execute("SELECT count(*) FROM files").fetchone()[0])


def every_design(archive: Archive) -> Iterator[Design]:
    """In the bin and outside it."""
    for binned in (False, True):
        numbers = records.numbers(archive.connection, Wanted(binned=binned))
        yield from records.designs(archive.connection, numbers)


def require_sound_list(archive: Archive) -> None:
    """Have SQLite look its file over. Raises DamagedArchiveError."""
    connection = archive.connection
    found = [row[0] for row in connection.execute("PRAGMA integrity_check(3)")]
    orphans = connection.execute("PRAGMA foreign_key_check").fetchone()
    unlike = connection.execute(
        "SELECT (SELECT count(*) FROM designs) != (SELECT count(*) FROM words)"
        " OR EXISTS (SELECT 1 FROM designs WHERE number NOT IN (SELECT rowid FROM words))"
    ).fetchone()[0]
    if found != ["ok"] or orphans is not None or unlike:
        raise DamagedArchiveError(archive.folder, "is damaged")


def _users(archive: Archive, sha256: str) -> tuple[Design, ...]:
    numbers = archive.connection.execute(
        "SELECT DISTINCT design FROM design_files WHERE sha256 = ? ORDER BY design", (sha256,)
    )
    return tuple(records.designs(archive.connection, [row[0] for row in numbers]))


def _slip_is_right(folder: Path, design: Design) -> bool:
    """Facts aside: a slip of an earlier form of the archive tells fewer."""
    with suppress(OSError, LayoutFileError):
        return replace(read_slip(slip_path(folder, design.number)), facts=design.facts) == design
    return False


def is_sound(archive: Archive) -> bool:
    """Whether SQLite finds nothing wrong with the list."""
    try:
        with told(archive.folder):
            require_sound_list(archive)
    except (DamagedArchiveError, sqlite3.Error):
        return False
    return True
