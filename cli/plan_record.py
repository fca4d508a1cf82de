"""What plan.json says of the files beside it: each one's name and the SHA-256 of its content, and that of the plan.

In:    a plan's value and its files; or a folder.
Out:   the content of plan.json; a `Record`.
Fails: `FileTroubleError` for a plan.json that is not Pencilamp's.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from circuit.plan_json import PLAN_SCHEMA
from cli.file_sets import sha256_of
from cli.file_trouble import FileTroubleError
from cli.files import json_bytes
from cli.output_names import PLAN_NAME
from cli.plan_file import LARGEST_PLAN_BYTES, read_small

RECORD_KEY = "written"


@dataclass(frozen=True, slots=True)
class Record:
    """What a folder's plan.json says was written with it.

    files : SHA-256 by name. unchanged : plan.json is as it was written. known : False for a folder
    of an earlier version, which recorded nothing. planned : the plan that was planned again into this folder,
    where the photo that it tells of has another name. photo_sha256 : that of the photo that was read, where one was
    and it is known.
    """

    made_from: str | None
    files: Mapping[str, str] = field(default_factory=dict)
    unchanged: bool = False
    known: bool = False
    planned: str | None = None
    photo_sha256: str | None = None


def with_record(plan: Mapping[str, Any], files: Mapping[str, bytes]) -> bytes:
    """The plan.json of a plan's value, with the record of the files that go with it."""
    hashes = {name: sha256_of(data) for name, data in files.items() if name != PLAN_NAME}
    bare = without_record(plan)
    return json_bytes({**bare, RECORD_KEY: {"plan_sha256": sha256_of(json_bytes(bare)), "files": hashes}})


def with_more_files(plan: Mapping[str, Any], files: Mapping[str, bytes]) -> bytes:
    """The same plan.json with further files in its record; one that was edited stays known as such."""
    record = plan[RECORD_KEY]
    hashes = {**record["files"], **{name: sha256_of(data) for name, data in files.items()}}
    return json_bytes({**plan, RECORD_KEY: {**record, "files": hashes}})


def with_planned(plan_file: bytes, source: str, before: str | None) -> tuple[bytes, str | None]:
    """A plan.json that says which file was planned, and the photo that it tells of. `before`: what the folder's
    plan.json said of that; it stays where the photo itself, or the folder's own plan, is planned again."""
    plan = json.loads(plan_file)
    made_from = _words(plan.get("made_from"))
    planned = before if made_from in (None, source) else source
    if planned is None:
        return plan_file, made_from
    return json_bytes({**plan, RECORD_KEY: {**plan[RECORD_KEY], "planned": planned}}), made_from


def without_record(plan: Mapping[str, Any]) -> dict[str, Any]:
    """The plan alone."""
    return {key: value for key, value in plan.items() if key != RECORD_KEY}


def record_of(folder: Path) -> Record | None:
    """The record in a folder's plan.json; None when there is none. Raises FileTroubleError for a plan.json
    that is not Pencilamp's."""
    value = plan_value(folder)
    if value is None:
        return None
    made_from, record = _words(value.get("made_from")), value.get(RECORD_KEY)
    if not isinstance(record, Mapping) or not isinstance(record.get("files"), Mapping):
        return Record(made_from, photo_sha256=photo_sha256(value))
    files = {str(name): str(sha256) for name, sha256 in record["files"].items()}
    unchanged = sha256_of(json_bytes(without_record(value))) == record.get("plan_sha256")
    return Record(made_from, files, unchanged, True, _words(record.get("planned")), photo_sha256(value))


def photo_sha256(plan: Mapping[str, Any]) -> str | None:
    """The hash of the photo that a plan tells of; None where it tells of none, or not of its content."""
    return _words(plan.get("made_from_sha256")) if plan.get("reading") else None


def _words(value: object) -> str | None:
    return value if isinstance(value, str) else None


def plan_value(folder: Path, *, strict: bool = True) -> Mapping[str, Any] | None:
    """What the folder's plan.json holds; None when there is none, or (not `strict`) when it is no plan of ours."""
    path = folder / PLAN_NAME
    if not os.path.lexists(path):
        return None
    try:
        value = json.loads(read_small(path, LARGEST_PLAN_BYTES, "a plan.").decode("utf-8-sig"))
        if isinstance(value, Mapping) and value.get("schema") == PLAN_SCHEMA:
            json_bytes(value)  # no NaN in it, which could not be written again
            return value
    except (FileTroubleError, ValueError, RecursionError):
        pass
    if not strict:
        return None
    raise FileTroubleError(
        f"{path}: this is not a plan of Pencilamp's and is not written over; choose another folder with --out."
    )
