"""Set right what `check` finds, make a lost list anew from the slips, or copy all files out (`mend`).

In:    an archive's folder, in whatever state.
Out:   a `Mended` that says what was done.
Fails: `NewerArchiveError`, `ArchiveTroubleError`. Nothing that might be somebody's design is deleted:
       what fits nowhere goes to the folder `set-aside`.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import sqlite3
from collections.abc import Iterable
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from circuit.errors import LayoutFileError
from cli.archive import records
from cli.archive.database import open_copy, open_list, writing
from cli.archive.design import Design, KeptFile, folded, safe_name
from cli.archive.health import is_sound, look_over
from cli.archive.place import LIST_NAME, SET_ASIDE_NAME
from cli.archive.shelf import Shelf
from cli.archive.slips import read_slip, slips, write_slip
from cli.archive.store import Archive
from cli.archive.trouble import DamagedArchiveError, NewerArchiveError, told
from cli.files import FileTroubleError, flush_folder

_BESIDE = ("", "-wal", "-shm")  # the list's own file and those that SQLite keeps beside it
_LOOSE_NAME = "loose"
_WORK = ".mend-"
_KINDS = (
    (b"\xff\xd8", ".jpg"), (b"\x89PNG", ".png"), (b"%PDF", ".pdf"), (b"{", ".json"), (b"RIFF", ".webp"),
    (b"II*\0", ".tif"), (b"MM\0*", ".tif"),
)  # fmt: skip


@dataclass(slots=True)
class Mended:
    """new_list : the list was made anew, with so many `designs`. lost_slips : slips that can't be read, or
    whose files are all gone. aside : what fitted nowhere, where it is now. found : files put back from
    `look_in`. still_bad : how many are still missing or damaged."""

    new_list: bool = False
    designs: int = 0
    lost_slips: list[str] = field(default_factory=list)
    aside: list[Path] = field(default_factory=list)
    parts: int = 0
    slips: int = 0
    found: int = 0
    still_bad: int = 0


def mend(folder: Path, look_in: Path | None = None) -> Mended:
    """Mend the archive in its place."""
    mended = Mended()
    if not folder.is_dir():
        raise FileTroubleError(f"{folder}: there is no archive here; check the name, or say --at.")
    if not _list_is_sound(folder):
        with told(folder):
            _make_list(folder, mended)
    with Archive(folder, writing=True) as archive, told(folder):
        if look_in is not None:
            mended.found = _put_back(archive, [bad.file for bad in look_over(archive).bad], look_in)
        with writing(archive.connection):  # alone: what lies loose may be a design just being kept
            health = look_over(archive)
            _tidy(archive, mended, health.parts, health.odd_slips, health.stray_slips, health.loose)
        mended.designs = health.designs
        mended.still_bad = len(health.bad)
    return mended


def copy_out(folder: Path, target: Path) -> tuple[int, int]:
    """Copy every sound file, bit for bit, to `target`: a folder for each design, and one for what no design
    names. The archive is only read. How many designs, and files."""
    if not folder.is_dir():
        raise FileTroubleError(f"{folder}: there is no archive here; check the name, or say --at.")
    if target.exists():
        raise FileTroubleError(f"{target}: this is there already; name a new folder.")
    shelf = Shelf(folder)
    part = target.with_name(f".pencilamp-{secrets.token_hex(6)}.part")
    copied, names, used = 0, set[str](), set[str]()
    with told(target):
        try:
            designs = _known_designs(folder)
            for design in designs:
                name = safe_name(design.title, str(design.number))
                name = name if folded(name) not in names else f"{name} {design.number}"
                names.add(folded(name))
                used |= {file.sha256 for file in design.files}
                copied += sum(_copy(shelf, file, part / name / file.name) for file in design.files)
            for sha256 in shelf.contents():
                if sha256 not in used:
                    file = KeptFile("", "other", sha256, shelf.path(sha256).stat().st_size)
                    name = f"{sha256[:16]}{_kind_of(shelf.path(sha256))}"
                    copied += _copy(shelf, file, part / _LOOSE_NAME / name)
            if not copied:
                raise FileTroubleError(f"{folder}: there is not one sound file in this archive.")
            part.replace(target)
        except BaseException:
            shutil.rmtree(part, ignore_errors=True)
            raise
    return len(designs), copied


def _list_is_sound(folder: Path) -> bool:
    try:
        with Archive(folder, writing=True) as archive:
            return is_sound(archive)
    except NewerArchiveError:
        raise
    except DamagedArchiveError:
        return False


def _make_list(folder: Path, mended: Mended) -> None:
    """A new list from the slips, and from what can still be read of the old one where a slip is lost."""
    designs = _known_designs(folder, mended.lost_slips)
    work = folder / f"{_WORK}{secrets.token_hex(6)}"
    work.mkdir()
    try:
        with ExitStack() as stack:
            connection = open_list(work, stack, writing=True)
            with writing(connection):
                for design in designs:
                    records.insert(connection, design, keep_number=True)
                # No number is given twice, not even that of a design whose slip is lost.
                top = max((int(path.stem) for path in slips(folder)), default=0)
                connection.execute(
                    "UPDATE sqlite_sequence SET seq = max(seq, ?) WHERE name = 'designs'", (top,)
                )
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        _flush_file(work / LIST_NAME)
        for ending in _BESIDE:
            old = folder / f"{LIST_NAME}{ending}"
            if old.exists():
                mended.aside.append(_set_aside(folder, old))
        (work / LIST_NAME).replace(folder / LIST_NAME)
        flush_folder(folder)
    finally:
        shutil.rmtree(work, ignore_errors=True)
    mended.new_list = True


def _known_designs(folder: Path, lost: list[str] | None = None) -> list[Design]:
    """All that slips and the old list tell of: the list where it is sound, else slips first."""
    listed = _listed(folder)
    if listed is not None and listed[1]:
        return list(listed[0].values())
    rows = {} if listed is None else listed[0]
    shelf, found = Shelf(folder), dict[int, Design]()
    for path in slips(folder):
        number = int(path.stem)
        try:
            design = read_slip(path)
        except (LayoutFileError, OSError):
            if number in rows:
                found[number] = rows[number]
            elif lost is not None:
                lost.append(f"slip {number} can't be read")
            continue
        if any(shelf.path(file.sha256).exists() for file in design.files):
            found[design.number] = design
        elif lost is not None:
            lost.append(f"{design.title} (number {number}): none of its files is there any more")
    for number, design in rows.items():
        found.setdefault(number, design)
    by_identity = {design.identity: design for design in found.values()}
    return sorted(by_identity.values(), key=lambda design: design.number)


def _listed(folder: Path) -> tuple[dict[int, Design], bool] | None:
    """What can be read of the list, and whether it is sound; None when there is none. On a copy."""
    rows: dict[int, Design] = {}
    with ExitStack() as stack:
        try:
            connection = open_copy(folder, stack)
        except NewerArchiveError:
            raise
        except (DamagedArchiveError, sqlite3.Error):
            return None
        sound = False
        with suppress(sqlite3.Error, LayoutFileError, ValueError):
            sound = [row[0] for row in connection.execute("PRAGMA integrity_check(1)")] == ["ok"]
        top = 0
        with suppress(sqlite3.Error, TypeError):
            top = int(connection.execute("SELECT max(number) FROM designs").fetchone()[0])
        for number in range(1, top + 1):
            with suppress(sqlite3.Error, LayoutFileError, ValueError, TypeError):
                rows.update({design.number: design for design in records.designs(connection, [number])})
    return rows, sound


def _put_back(archive: Archive, wanted: Iterable[KeptFile], look_in: Path) -> int:
    """Find missing files by their content anywhere under a folder, such as a spare copy of the archive."""
    by_size: dict[int, set[str]] = {}
    for file in wanted:
        by_size.setdefault(file.size, set()).add(file.sha256)
    found = set()
    for path in sorted(look_in.rglob("*")):
        with suppress(OSError):
            contents = by_size.get(path.stat().st_size, set()) if path.is_file() else set()
            if contents and (sha256 := _sha256(path)) in contents:
                with writing(archive.connection), path.open("rb") as source:
                    archive.shelf.put(source)
                found.add(sha256)
    return len(found)


def _tidy(
    archive: Archive,
    mended: Mended,
    parts: list[Path],
    odd: list[Design],
    stray: list[Path],
    loose: list[str],
) -> None:
    for path in parts:
        path.unlink(missing_ok=True)
        mended.parts += 1
    for work in archive.folder.glob(f"{_WORK}*"):  # a mending that was interrupted
        shutil.rmtree(work, ignore_errors=True)
    for design in odd:
        write_slip(archive.folder, design)
        mended.slips += 1
    for path in stray:
        mended.aside.append(_set_aside(archive.folder, path))
    for sha256 in loose:
        path = archive.shelf.path(sha256)
        mended.aside.append(_set_aside(archive.folder, path, f"{sha256[:16]}{_kind_of(path)}"))


def _set_aside(folder: Path, path: Path, name: str | None = None) -> Path:
    day = folder / SET_ASIDE_NAME / datetime.now().strftime("%Y-%m-%d")
    day.mkdir(parents=True, exist_ok=True)
    target, number = day / (name or path.name), 2
    while target.exists():
        target = day / f"{number}-{name or path.name}"
        number += 1
    path.replace(target)
    flush_folder(day)
    return target


def _copy(shelf: Shelf, file: KeptFile, target: Path) -> int:
    if shelf.state(file.sha256, file.size) != "sound":
        return 0
    target.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(shelf.path(file.sha256), target)
    return 1


def _kind_of(path: Path) -> str:
    with suppress(OSError), path.open("rb") as file:
        head = file.read(16)
        return next((ending for start, ending in _KINDS if head.startswith(start)), "")
    return ""


def _sha256(path: Path) -> str:

    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _flush_file(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())
