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
from typing import Any, BinaryIO, TypeVar, cast

from circuit.errors import LayoutFileError
from circuit.plan import Plan
from circuit.plan_json import plan_from_dict
from cli.archive.design_json import DESIGN_NAME, label_from_dict
from cli.archive.kept_design import Design, KeptFile, Label, NewDesign, NewFile, facts_of, folded
from cli.archive.shelf import PIECE_BYTES
from cli.archive.store import Archive
from cli.archive.zip_rules import BadZipError, opened
from cli.output_names import PLAN_NAME
from cli.plan_file import LARGEST_PLAN_BYTES

SPARE_BYTES = 50_000_000  # chosen: what is left free on the disk beside what comes in
_HEAD_BYTES = 16
_Value = TypeVar("_Value")


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


@dataclass(frozen=True, slots=True)
class _Zip:
    """A zip whose list was looked over: its files by their paths inside."""

    path: Path
    source: zipfile.ZipFile
    files: Mapping[PurePosixPath, zipfile.ZipInfo]

    def bad(self, seen: str) -> BadZipError:
        return BadZipError(self.path, seen)

    def open(self, where: PurePosixPath) -> BinaryIO:
        return cast(BinaryIO, self.source.open(self.files[where]))

    def value(self, where: PurePosixPath, read: Callable[[Any], _Value]) -> _Value:
        """What a JSON file holds."""
        if self.files[where].file_size > LARGEST_PLAN_BYTES:
            raise self.bad(f"{where} in it is far too big")
        with self.open(where) as content:
            data = content.read(LARGEST_PLAN_BYTES + 1)
        try:
            return read(json.loads(data.decode("utf-8-sig")))
        except LayoutFileError as error:
            raise self.bad(f"{where} in it: {str(error).rstrip('.')}") from error
        except (ValueError, RecursionError, OverflowError) as error:
            raise self.bad(f"{where} in it is damaged") from error


def bring_in(archive: Archive, path: Path) -> BroughtIn:
    """Check the zip, then keep all that is new in it, or nothing."""
    with opened(path) as (source, files):
        strange = _Zip(path, source, files)
        checked = _checked(strange)
        size, free = sum(entry.file_size for entry in files.values()), disk_free(archive.folder)
        if free < size + SPARE_BYTES:
            raise strange.bad(f"the disk has no room for the {size / 1e6:.0f} MB in it")
        brought = BroughtIn()
        brought.kept = archive.keep_all(_new_ones(archive, strange, checked, brought))
    return brought


def disk_free(folder: Path) -> int:
    """Bytes that are free where a folder is or will be."""
    here = folder
    while not here.exists():
        here = here.parent
    return shutil.disk_usage(here).free


def _new_ones(
    archive: Archive, strange: _Zip, checked: list[_Checked], brought: BroughtIn
) -> Iterator[NewDesign]:
    """Runs while nobody else changes the archive, so that no other program brings in the same meanwhile."""
    for one in checked:
        label, identity = one.label, one.label.identity
        here = archive.with_identity(identity)
        if here is not None:
            if here.file("plan") == label.file("plan"):
                brought.already.append(here)
                continue
            identity = secrets.token_hex(16)  # changed on one side since: both are kept
        yield NewDesign(
            title=label.title,
            facts=facts_of(one.plan),
            files=tuple(
                NewFile(file.name, file.role, partial(strange.open, one.folder / file.name), file.sha256)
                for file in label.files
            ),
            tags=label.tags,
            note=label.note,
            kept=label.kept,
            identity=identity,
        )


def _checked(strange: _Zip) -> list[_Checked]:
    folders = [inside.parent for inside in strange.files if inside.name == DESIGN_NAME]
    if not folders:
        raise strange.bad("there is no design in it; name a zip that `pencilamp archive take-out` made")
    checked, belongs, identities = [], set(), set()
    for folder in folders:
        label = _label(strange, folder)
        if label.identity in identities:
            raise strange.bad(f"it holds the design {label.title} twice")
        identities.add(label.identity)
        plans = {
            file.role: strange.value(folder / file.name, plan_from_dict)
            for file in label.files
            if file.role in ("plan", "layout")
        }
        checked.append(_Checked(folder, label, plans["plan"]))
        belongs |= {folder / DESIGN_NAME, *(folder / file.name for file in label.files)}
    stray = next((inside for inside in strange.files if inside not in belongs), None)
    if stray is not None:
        raise strange.bad(f"it holds {stray}, which belongs to no design")
    return checked


def _label(strange: _Zip, folder: PurePosixPath) -> Label:
    where = folder / DESIGN_NAME
    label = strange.value(where, label_from_dict)
    names = [folded(file.name) for file in label.files]
    if len(set(names)) < len(names) or DESIGN_NAME in names:
        raise strange.bad(f"{where} in it names a file twice")
    if [file.name for file in label.files if file.role == "plan"] != [PLAN_NAME]:
        raise strange.bad(f"{where} in it names no {PLAN_NAME}, or several")
    for file in label.files:
        if folder / file.name not in strange.files:
            raise strange.bad(f"{folder / file.name} is missing in it")
        _require_content(strange, file, folder / file.name)
    return label


def _require_content(strange: _Zip, file: KeptFile, where: PurePosixPath) -> None:
    digest, size, head = hashlib.sha256(), 0, b""
    with strange.open(where) as content:
        while size <= file.size and (piece := content.read(PIECE_BYTES)):
            head = head or piece[:_HEAD_BYTES]
            size += len(piece)
            digest.update(piece)
    if size != file.size or digest.hexdigest() != file.sha256:
        raise strange.bad(f"{where} in it is not what its {DESIGN_NAME} says; it was changed or damaged")
    if not _looks_like(file, head):
        raise strange.bad(f"{where} in it is not what its name says")


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
