"""One design as JSON: the slip that the archive keeps of it, and the label that goes out with its files.

In:    a `Design`, or what `json.load` gave.
Out:   plain JSON values, or frozen values that make sense.
Fails: `LayoutFileError` naming the field.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from circuit.errors import LayoutFileError, UsageError
from circuit.json_fields import FieldError, brief, list_of, mapping_of, value_as
from cli.archive.kept_design import (
    EARLIEST,
    LATEST,
    Design,
    Facts,
    KeptFile,
    Role,
    name_trouble,
    tidy_note,
    tidy_tags,
    tidy_title,
)

DESIGN_SCHEMA = "pencilamp/design/1"
DESIGN_NAME = "design.json"  # beside the files of a design that was taken out
LARGEST_NUMBER = 10**12  # chosen: no design's number, and no file's size, comes near it
_SHA256 = re.compile(r"[0-9a-f]{64}")
_IDENTITY = re.compile(r"[0-9a-f]{32}")
_MOST_FILES = 1000  # chosen: a design has ten


@dataclass(frozen=True, slots=True)
class Label:
    """What `label_to_dict` wrote, read and found sensible."""

    identity: str
    title: str
    tags: tuple[str, ...]
    note: str
    kept: datetime
    files: tuple[KeptFile, ...]


def label_to_dict(design: Design) -> dict[str, Any]:
    """What a zip tells of a design; `kept` to the second, UTC."""
    return {
        "schema": DESIGN_SCHEMA,
        "identity": design.identity,
        "title": design.title,
        "tags": list(design.tags),
        "note": design.note,
        "kept": moment_text(design.kept),
        "files": [
            {"name": file.name, "role": file.role, "sha256": file.sha256, "bytes": file.size}
            for file in design.files
        ],
    }


def slip_to_dict(design: Design) -> dict[str, Any]:
    """All that the archive knows of a design."""
    return {
        **label_to_dict(design),
        "number": design.number,
        "removed": None if design.removed is None else moment_text(design.removed),
        "facts": {name: getattr(design.facts, name) for name in Facts.__dataclass_fields__},
    }


def label_from_dict(value: object) -> Label:
    """Raises LayoutFileError naming the field, also for a date that no clock tells."""
    try:
        return _label(mapping_of(value), strict=True)
    except FieldError as error:
        raise LayoutFileError(error.clause) from error


def slip_from_dict(value: object) -> Design:
    """Raises LayoutFileError naming the field. A date that no clock tells becomes the nearest that one could."""
    try:
        top = mapping_of(value)
        label = _label(top, strict=False)
        removed = value_as(str | None, top.get("removed"), "removed")
        return Design(
            number=_whole_number(top.get("number"), "number", 1),
            identity=label.identity,
            title=label.title,
            tags=label.tags,
            note=label.note,
            kept=label.kept,
            removed=None if removed is None else _moment(removed, "removed", strict=False),
            facts=value_as(Facts, top.get("facts"), "facts", most_mm=LARGEST_NUMBER),
            files=label.files,
        )
    except FieldError as error:
        raise LayoutFileError(error.clause) from error


def design_from_row(value: Mapping[str, Any]) -> Design:
    """A design from what `slip_to_dict` gave, without looking it over again. Raises KeyError, TypeError, ValueError
    for anything else."""
    removed = value["removed"]
    return Design(
        number=value["number"],
        identity=value["identity"],
        title=value["title"],
        tags=tuple(value["tags"]),
        note=value["note"],
        kept=datetime.fromisoformat(value["kept"]),
        removed=None if removed is None else datetime.fromisoformat(removed),
        facts=Facts(**value["facts"]),
        files=tuple(
            KeptFile(file["name"], file["role"], file["sha256"], file["bytes"]) for file in value["files"]
        ),
    )


def moment_text(when: datetime) -> str:
    """A point in time as slips and labels hold it."""
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _label(top: Mapping[str, Any], *, strict: bool) -> Label:
    if top.get("schema") != DESIGN_SCHEMA:
        raise LayoutFileError(f"its schema is {brief(top.get('schema'))}, not {DESIGN_SCHEMA!r}")
    try:
        title = tidy_title(value_as(str, top.get("title"), "title"))
        tags = tidy_tags(value_as(tuple[str, ...], top.get("tags"), "tags"))
        note = tidy_note(value_as(str, top.get("note"), "note"))
    except UsageError as error:
        raise LayoutFileError(str(error).rstrip(".")) from error
    files = list_of(top.get("files"), "files")
    if not 0 < len(files) <= _MOST_FILES:
        raise FieldError("files", f"should hold 1 to {_MOST_FILES} files, not {len(files)}")
    return Label(
        _digits(top, "identity", _IDENTITY, "32 hexadecimal digits"),
        title,
        tags,
        note,
        _moment(value_as(str, top.get("kept"), "kept"), "kept", strict=strict),
        tuple(_kept_file(mapping_of(item, "files")) for item in files),
    )


def _kept_file(item: Mapping[str, Any]) -> KeptFile:
    name = value_as(str, item.get("name"), "files.name")
    trouble = name_trouble(name)
    if trouble is not None:
        raise LayoutFileError(f"the file name {brief(name)} {trouble}")
    return KeptFile(
        name,
        value_as(Role, item.get("role"), "files.role"),
        _digits(item, "sha256", _SHA256, "64 hexadecimal digits"),
        _whole_number(item.get("bytes"), "files.bytes", 0),
    )


def _digits(item: Mapping[str, Any], key: str, form: re.Pattern[str], what: str) -> str:
    text: str = value_as(str, item.get(key), key)
    if not form.fullmatch(text):
        raise FieldError(key, f"should be {what}, not {brief(text)}")
    return text


def _whole_number(value: object, where: str, least: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= LARGEST_NUMBER:
        raise FieldError(where, f"should be a whole number from {least}, not {brief(value)}")
    return value


def _moment(text: str, where: str, *, strict: bool) -> datetime:
    try:
        # Earlier versions wrote a year below 1000 with fewer digits.
        when = datetime.strptime(text.zfill(20), "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    except ValueError as error:
        raise FieldError(where, f"should be like 2026-03-31T14:00:00Z, not {brief(text)}") from error
    if strict and not EARLIEST <= when <= LATEST:
        raise FieldError(where, f"should lie between {EARLIEST.year} and {LATEST.year}, not in {when.year}")
    return min(max(when, EARLIEST), LATEST)
