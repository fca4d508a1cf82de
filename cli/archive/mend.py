"""Set right what `check` finds, or copy all files out (`mend`).

In:    an archive's folder, in whatever state.
Out:   a `MendReport` that says what was done.
Fails: `FileTroubleError`. Nothing that might be somebody's design is deleted: what fits nowhere goes to the folder
       `set-aside`.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

from circuit.errors import LayoutFileError
from cli.archive import design_list, questions
from cli.archive.archive_folder import require_outside, set_aside
from cli.archive.health import Health, look_over
from cli.archive.kept_design import KeptFile, folder_name
from cli.archive.shelf import Shelf
from cli.archive.slips import read_slip, slip_path, stray_slips
from cli.archive.store import Archive
from cli.archive.trouble import told
from cli.file_sets import content_of
from cli.file_trouble import FileTroubleError
from cli.files import beside, tidy_leftovers

_LOOSE_NAME = "loose"
_KINDS = (
    (b"\xff\xd8", ".jpg"), (b"\x89PNG", ".png"), (b"%PDF", ".pdf"), (b"{", ".json"), (b"RIFF", ".webp"),
    (b"II*\0", ".tif"), (b"MM\0*", ".tif"),
)  # fmt: skip


@dataclass(slots=True)
class MendReport:
    """slips : written again, or given a number and a place. lost_slips : slips that can't be read. aside : what
    fitted nowhere, where it is now. found : files put back from `look_in`. still_bad : how many are still missing
    or damaged."""

    designs: int = 0
    lost_slips: list[str] = field(default_factory=list)
    aside: list[Path] = field(default_factory=list)
    parts: int = 0
    slips: int = 0
    found: int = 0
    still_bad: int = 0


def mend(folder: Path, look_in: Path | None = None) -> MendReport:
    """Mend the archive in its place."""
    mended = MendReport()
    _require_archive(folder)
    with Archive(folder, writing=True) as archive, told(folder):
        if look_in is not None:
            mended.found = _put_back(archive, [bad.file for bad in look_over(archive).bad], look_in)
        with archive.changing():  # alone: what lies loose may be a design just being kept
            archive.read_slips_again()
            _mend_slips(archive, mended)
            health = look_over(archive)
            _tidy(archive, mended, health)
    mended.designs, mended.still_bad = health.designs, len(health.bad)
    return mended


def copy_out(folder: Path, target: Path) -> tuple[int, int]:
    """Copy every sound file, bit for bit, to `target`: a folder for each design, and one for what no design
    names. The archive is only read. How many designs, and files."""
    _require_archive(folder)
    if target.exists():
        raise FileTroubleError(f"{target}: this is there already; name a new folder.")
    require_outside(folder, target)
    part = beside(target, "part")
    copied, names, used = 0, {_LOOSE_NAME}, set[str]()
    with told(target), Archive(folder, writing=False, untouched=True) as archive:
        shelf = archive.shelf
        try:
            designs = sorted(archive.every_design(), key=lambda design: design.number)
            for design in designs:
                into = part / folder_name(design, names)
                copied += sum(_copy(shelf, file.sha256, into / file.name) for file in design.files)
                used |= {file.sha256 for file in design.files}
            for sha256 in shelf.contents():
                if sha256 not in used:
                    copied += _copy(shelf, sha256, part / _LOOSE_NAME / _loose_name(shelf, sha256))
            if not copied:
                raise FileTroubleError(f"{folder}: there is not one sound file in this archive.")
            part.replace(target)
        except BaseException:
            shutil.rmtree(part, ignore_errors=True)
            raise
    return len(designs), copied


def _require_archive(folder: Path) -> None:
    with told(folder):
        there = folder.is_dir()
    if not there:
        raise FileTroubleError(f"{folder}: there is no archive here; check the name, or say --at.")


def _put_back(archive: Archive, wanted: Iterable[KeptFile], look_in: Path) -> int:
    """Find missing files by their content anywhere under a folder, such as a spare copy of the archive."""
    by_size: dict[int, set[str]] = {}
    for file in wanted:
        by_size.setdefault(file.size, set()).add(file.sha256)
    found = set()
    for path in sorted(look_in.rglob("*")):
        with suppress(OSError):
            contents = by_size.get(path.stat().st_size, set()) if path.is_file() else set()
            if contents and (sha256 := content_of(path)) in contents:
                with path.open("rb") as source:
                    archive.shelf.put(source)
                found.add(sha256)
    return len(found)


def _mend_slips(archive: Archive, mended: MendReport) -> None:
    """Write damaged slips again from what an earlier one said; take designs in whose slips lie in a wrong place."""
    for number, why in archive.ask(questions.damaged):
        known = archive.by_number(number)
        mended.aside.append(set_aside(archive.folder, slip_path(archive.folder, number)))
        if known is None:
            mended.lost_slips.append(f"slip {number}: {why}")
        else:
            archive.adopt(known)
            mended.slips += 1
    archive.ask(design_list.bring_up_to_date, archive.folder)
    for path in [*stray_slips(archive.folder), *mended.aside]:
        with suppress(LayoutFileError, OSError):
            design = read_slip(path)
            if archive.with_identity(design.identity) is None:
                archive.adopt(replace(design, number=archive.next_number()))
                mended.slips += 1


def _tidy(archive: Archive, mended: MendReport, health: Health) -> None:
    tidy_leftovers(archive.folder)
    for path in health.parts:
        if path.is_dir():
            mended.aside.append(set_aside(archive.folder, path))
        else:
            path.unlink(missing_ok=True)
            mended.parts += 1
    for path in health.stray_slips:
        mended.aside.append(set_aside(archive.folder, path))
    for sha256 in health.loose:
        name = _loose_name(archive.shelf, sha256)
        mended.aside.append(set_aside(archive.folder, archive.shelf.path(sha256), name))


def _copy(shelf: Shelf, sha256: str, target: Path) -> int:
    if shelf.state(sha256) != "sound":
        return 0
    target.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(shelf.path(sha256), target)
    return 1


def _loose_name(shelf: Shelf, sha256: str) -> str:
    """A name for a file that no design names, its ending by what it begins with."""
    with suppress(OSError), shelf.path(sha256).open("rb") as file:
        head = file.read(16)
        return sha256[:16] + next((ending for start, ending in _KINDS if head.startswith(start)), "")
    return sha256[:16]
