"""One design as JSON: the slip that the archive keeps of it, and the label that goes out with its files.

In:    a `Design` or `Label`, or what `json.load` gave.
Out:   plain JSON values, or frozen values that make sense.
Fails: `FieldError`, a `LayoutFileError` that names the field.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from circuit.errors import UsageError
from circuit.json_fields import FieldError, brief, list_of, mapping_of, value_as
from cli.archive.kept_design import (
    EARLIEST,
    LARGEST_NUMBER,
    LATEST,
    Design,
    Facts,
    KeptFile,
    Label,
    tidy_note,
    tidy_tags,
    tidy_title,
)

DESIGN_SCHEMA = "pencilamp/design/1"
DESIGN_NAME = "design.json"  # beside the files of a design that was taken out
_IDENTITY = re.compile(r"[0-9a-f]{32}")
FACTS = tuple(Facts.__dataclass_fields__)
_MOST_FILES = 1000  # chosen: a design has ten


def label_to_dict(design: Label) -> dict[str, Any]:
    """What a zip tells of a design."""
    return {
        "schema": DESIGN_SCHEMA,
        "identity": design.identity,
        "title": design.title,
        "tags": list(design.tags),
        "note": design.note,
        "kept": moment_text(design.kept),
        # By hand, in the order of `KeptFile`'s fields: `plain` takes several times as long, for each of thousands.
        "files": [
            {"name": file.name, "role": file.role, "sha256": file.sha256, "bytes": file.size}
            for file in design.files
        ],
    }


def slip_to_dict(design: Design) -> dict[str, Any]:
    """All that the archive knows of a design."""
    removed = None if design.removed is None else moment_text(design.removed)
    return {
        **label_to_dict(design),
        "number": design.number,
        "removed": removed,
        "facts": {name: getattr(design.facts, name) for name in FACTS},
    }


def label_from_dict(value: object) -> Label:
    """Raises FieldError, also for a date that no clock tells."""
    return Label(**_label(mapping_of(value), strict=True))


def slip_from_dict(value: object) -> Design:
    """Raises FieldError. A date that no clock tells becomes the nearest that one could."""
    top = mapping_of(value)
    number: int = value_as(int, top.get("number"), "number")
    if not 1 <= number <= LARGEST_NUMBER:
        raise FieldError("number", f"should be a whole number from 1, not {brief(number)}")
    return Design(
        **_label(top, strict=False),
        number=number,
        removed=None if top.get("removed") is None else _moment(top, "removed", strict=False),
        facts=value_as(Facts, top.get("facts"), "facts", most_mm=LARGEST_NUMBER),
    )


def design_from_row(value: Mapping[str, Any]) -> Design:
    """A design from what `slip_to_dict` gave, without looking it over again. Raises KeyError, TypeError, ValueError
    for anything else."""
    removed = value["removed"]
    return Design(
        identity=value["identity"],
        title=value["title"],
        tags=tuple(value["tags"]),
        note=value["note"],
        kept=datetime.fromisoformat(value["kept"]),
        files=tuple(KeptFile(*file.values()) for file in value["files"]),
        number=value["number"],
        facts=Facts(**value["facts"]),
        removed=None if removed is None else datetime.fromisoformat(removed),
    )


def moment_text(when: datetime) -> str:
    """A point in time as slips and labels hold it."""
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _label(top: Mapping[str, Any], *, strict: bool) -> dict[str, Any]:
    if top.get("schema") != DESIGN_SCHEMA:
        raise FieldError("schema", f"should be {DESIGN_SCHEMA!r}, not {brief(top.get('schema'))}")
    identity: str = value_as(str, top.get("identity"), "identity")
    if not _IDENTITY.fullmatch(identity):
        raise FieldError("identity", f"should be 32 hexadecimal digits, not {brief(identity)}")
    if not 0 < len(list_of(top.get("files"), "files")) <= _MOST_FILES:
        raise FieldError("files", f"should hold 1 to {_MOST_FILES} files, not {len(top['files'])}")
    try:
        return {
            "identity": identity,
            "title": tidy_title(value_as(str, top.get("title"), "title")),
            "tags": tidy_tags(value_as(tuple[str, ...], top.get("tags"), "tags")),
            "note": tidy_note(value_as(str, top.get("note"), "note")),
            "kept": _moment(top, "kept", strict=strict),
            "files": value_as(tuple[KeptFile, ...], top["files"], "files"),
        }
    except UsageError as error:
        raise FieldError("", f"makes no sense: {str(error).rstrip('.')}") from error


_MOMENT_LETTERS = len("2026-03-31T14:00:00Z")


def _moment(top: Mapping[str, Any], key: str, *, strict: bool) -> datetime:
    text: str = value_as(str, top.get(key), key)
    try:
        # Earlier versions wrote a year below 1000 with fewer digits.
        when = datetime.strptime(text.zfill(_MOMENT_LETTERS), "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    except ValueError as error:
        raise FieldError(key, f"should be like 2026-03-31T14:00:00Z, not {brief(text)}") from error
    if strict and not EARLIEST <= when <= LATEST:
        raise FieldError(key, f"should lie between {EARLIEST.year} and {LATEST.year}, not in {when.year}")
    return min(max(when, EARLIEST), LATEST)
