"""Bring in a zip that `take-out` made, here or elsewhere: all of it is checked before any of it is kept.

In:    a zip's path and an open archive.
Out:   the designs that are now kept, and those that were here already.
Fails: `BadZipError` with one sentence; nothing was kept then.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import shutil
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path, PurePosixPath
from typing import BinaryIO, cast

from circuit.errors import LayoutFileError
from circuit.plan import Plan
from circuit.plan_json import plan_from_dict
from cli.archive.design_json import DESIGN_NAME, Label, label_from_dict
from cli.archive.kept_design import Design, KeptFile, NewDesign, NewFile, facts_of, folded
from cli.archive.shelf import PIECE_BYTES
from cli.archive.store import Archive
from cli.archive.zip_rules import BadZipError, opened, reading
from cli.files import LARGEST_PLAN_BYTES
from cli.places import PLAN_NAME

SPARE_BYTES = 50_000_000  # chosen: what is left free on the disk beside what comes in
_HEAD_BYTES = 16
Files = Mapping[PurePosixPath, zipfile.ZipInfo]


@dataclass(slots=True)
class BroughtIn:
    """`already` are designs that the archive held, as it holds them."""

    kept: list[Design] = field(default_factory=list)
    already: list[Design] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Checked:
    folder: PurePosixPath
    label: Label
    plan: Plan


def bring_in(archive: Archive, path: Path) -> BroughtIn:
    """Check the zip, then keep all that is new in it, or nothing."""
    with opened(path) as (source, files):
        checked = _checked(source, files, path)
        _require_room(archive.folder, sum(entry.file_size for entry in files.values()), path)
        brought = BroughtIn()
        brought.kept = archive.keep_all(_new_ones(archive, source, files, checked, brought))
    return brought


def _new_ones(
    archive: Archive, source: zipfile.ZipFile, files: Files, checked: list[_Checked], brought: BroughtIn
) -> Iterator[NewDesign]:
    """Runs while nobody else changes the archive, so that no other program brings in the same meanwhile."""
    for one in checked:
        identity = one.label.identity
        here = archive.with_identity(identity)
        if here is not None:
            if _plan_of(here.files) == _plan_of(one.label.files):
                brought.already.append(here)
                continue
            identity = secrets.token_hex(16)  # changed on one side since: both are kept
        yield NewDesign(
            title=one.label.title,
            facts=facts_of(one.plan),
            files=tuple(
                NewFile(file.name, file.role, _opener(source, files[one.folder / file.name]), file.sha256)
                for file in one.label.files
            ),
            tags=one.label.tags,
            note=one.label.note,
            kept=one.label.kept,
            identity=identity,
        )


def _checked(source: zipfile.ZipFile, files: Files, path: Path) -> list[_Checked]:
    folders = [inside.parent for inside in files if inside.name == DESIGN_NAME]
    if not folders:
        raise BadZipError(path, "there is no design in it; name a zip that `pencilamp archive take-out` made")
    checked, belongs, identities = [], set(), set()
    for folder in folders:
        label = _label(source, files, folder, path)
        if label.identity in identities:
            raise BadZipError(path, f"it holds the design {label.title} twice")
        identities.add(label.identity)
        checked.append(_Checked(folder, label, _plan(source, files, folder, label, path)))
        belongs |= {folder / DESIGN_NAME, *(folder / file.name for file in label.files)}
    stray = next((inside for inside in files if inside not in belongs), None)
    if stray is not None:
        raise BadZipError(path, f"it holds {stray}, which belongs to no design")
    return checked


def _label(source: zipfile.ZipFile, files: Files, folder: PurePosixPath, path: Path) -> Label:
    where = folder / DESIGN_NAME
    data = _small(source, files[where], where, path)
    try:
        label = label_from_dict(json.loads(data))
    except LayoutFileError as error:
        raise BadZipError(path, f"{where} in it can't be used: {error}") from error
    except (ValueError, RecursionError, OverflowError) as error:
        raise BadZipError(path, f"{where} in it is damaged") from error
    names = [folded(file.name) for file in label.files]
    if len(set(names)) < len(names) or DESIGN_NAME in names:
        raise BadZipError(path, f"{where} in it names a file twice")
    plans = [file for file in label.files if file.role == "plan"]
    if len(plans) != 1 or plans[0].name != PLAN_NAME:
        raise BadZipError(path, f"{where} in it names no {PLAN_NAME}, or several")
    for file in label.files:
        if folder / file.name not in files:
            raise BadZipError(path, f"{folder / file.name} is missing in it")
        _require_content(source, files[folder / file.name], file, folder, path)
    return label


def _require_content(
    source: zipfile.ZipFile, entry: zipfile.ZipInfo, file: KeptFile, folder: PurePosixPath, path: Path
) -> None:
    where = folder / file.name
    digest, size, head = hashlib.sha256(), 0, b""
    with source.open(entry) as content:
        while piece := content.read(PIECE_BYTES):
            head = head or piece[:_HEAD_BYTES]
            size += len(piece)
            if size > file.size:
                break
            digest.update(piece)
    if size != file.size or digest.hexdigest() != file.sha256:
        raise BadZipError(
            path, f"{where} in it is not what its {DESIGN_NAME} says; it was changed or damaged"
        )
    if not _looks_like(file, head):
        raise BadZipError(path, f"{where} in it is not what its name says")


def _looks_like(file: KeptFile, head: bytes) -> bool:
    ending = PurePosixPath(file.name).suffix.lower()
    if file.role == "photo":
        known = (b"\xff\xd8", b"\x89PNG\r\n\x1a\n", b"II*\0", b"MM\0*", b"BM")
        return head.startswith(known) or head[8:12] == b"WEBP" or head[4:8] == b"ftyp"
    if file.role in ("plan", "layout"):
        return ending == ".json"
    if file.role == "overlay" or ending == ".png":
        return head.startswith(b"\x89PNG\r\n\x1a\n")
    return ending == ".pdf" and head.startswith(b"%PDF-")


def _plan(source: zipfile.ZipFile, files: Files, folder: PurePosixPath, label: Label, path: Path) -> Plan:
    plan = None
    for file in label.files:
        if file.role not in ("plan", "layout"):
            continue
        where = folder / file.name
        data = _small(source, files[where], where, path)
        try:
            value = plan_from_dict(json.loads(data.decode("utf-8-sig")))
        except LayoutFileError as error:
            raise BadZipError(path, f"{where} in it: {str(error).rstrip('.')}") from error
        except (ValueError, RecursionError, OverflowError) as error:
            raise BadZipError(path, f"{where} in it is damaged") from error
        if file.role == "plan":
            plan = value
    assert plan is not None  # _label has seen to it
    return plan


def _small(source: zipfile.ZipFile, entry: zipfile.ZipInfo, where: PurePosixPath, path: Path) -> bytes:
    if entry.file_size > LARGEST_PLAN_BYTES:
        raise BadZipError(path, f"{where} in it is far too big")
    with reading(path), source.open(entry) as content:
        return content.read(LARGEST_PLAN_BYTES + 1)


def _plan_of(files: tuple[KeptFile, ...]) -> str:
    return next(file.sha256 for file in files if file.role == "plan")


def _require_room(folder: Path, size: int, path: Path) -> None:
    here = folder
    while not here.exists():
        here = here.parent
    if shutil.disk_usage(here).free < size + SPARE_BYTES:
        raise BadZipError(path, f"the disk has no room for the {size / 1e6:.0f} MB in it")


def _opener(source: zipfile.ZipFile, entry: zipfile.ZipInfo) -> Callable[[], BinaryIO]:
    return cast(Callable[[], BinaryIO], partial(source.open, entry))
