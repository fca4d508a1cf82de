"""The folder of a plan: only what Pencilamp made there, and nobody changed since, is ever replaced or removed.

In:    a folder, and the files of a plan by name.
Out:   the files on disk, all of one plan, and sentences about what was kept aside or finished.
Fails: `FileTroubleError` with one sentence; nothing was touched then.

What was made is recorded in plan.json, which is written last: each file's name and the SHA-256 of its
content, and that of the plan itself. While the files are renamed a list of them lies beside; a command
that was killed in between is finished by the next one.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from circuit.plan_json import PLAN_SCHEMA
from cli.alone import alone
from cli.files import (
    LARGEST_PLAN_BYTES,
    UNFINISHED_NAME,
    FileTroubleError,
    flush_folder,
    json_bytes,
    read_small,
    tidy_leftovers,
    write_files,
    write_whole,
)
from cli.own_png import is_own_png, own_png
from cli.places import OUR_NAMES, PLAN_NAME, REFUSAL_NAME

RECORD_KEY = "written"
_WAIT_S = 60.0  # chosen: several times what writing a plan takes
_EDITED, _EARLIER, _BEFORE = "edited", "earlier", "before"


@dataclass(frozen=True, slots=True)
class Record:
    """What a folder's plan.json says was written with it.

    files : SHA-256 by name. unchanged : plan.json is as it was written. known : False for a folder
    of an earlier version, which recorded nothing.
    """

    made_from: str | None
    files: Mapping[str, str] = field(default_factory=dict)
    unchanged: bool = False
    known: bool = False


@dataclass(frozen=True, slots=True)
class _Unfinished:
    """A set on its way: what each file will be, what it was, what it is called until then; what goes."""

    files: Mapping[str, str] = field(default_factory=dict)
    before: Mapping[str, str | None] = field(default_factory=dict)
    parts: Mapping[str, str] = field(default_factory=dict)
    stale: Mapping[str, str] = field(default_factory=dict)


def with_record(plan: Mapping[str, Any], files: Mapping[str, bytes]) -> bytes:
    """The plan.json of a plan's value, with the record of the files that go with it."""
    return _recorded(plan, {name: _sha256(data) for name, data in files.items() if name != PLAN_NAME})


def record_of(folder: Path) -> Record | None:
    """The record in a folder's plan.json; None when there is none. Raises FileTroubleError for a plan.json
    that is not Pencilamp's."""
    value = _plan_value(folder)
    if value is None:
        return None
    name, record = value.get("made_from"), value.get(RECORD_KEY)
    made_from = name if isinstance(name, str) else None
    if not isinstance(record, Mapping) or not isinstance(record.get("files"), Mapping):
        return Record(made_from)
    files = {str(name): str(sha256) for name, sha256 in record["files"].items()}
    return Record(made_from, files, _plan_sha256(value) == record.get("plan_sha256"), True)


def require_ours(folder: Path, source: Path) -> None:
    """Refuse a folder that holds something else than an earlier plan of the same photo or file.

    A folder that is not there, or holds no plan, is fine. Raises FileTroubleError.
    """
    if os.path.lexists(folder) and not os.path.isdir(folder):  # noqa: PTH112  (never raises)
        raise FileTroubleError(
            f"{folder}: a file of this name is in the way; move it, or choose another folder with --out."
        )
    record = record_of(folder)
    if record is not None and record.made_from not in (None, source.name):
        raise FileTroubleError(
            f"{folder}: this folder holds the plan of {record.made_from}; choose another one with --out."
        )


def save_plan(
    folder: Path, files: Mapping[str, bytes], source: Path, *, keep_before: bool = False
) -> tuple[str, ...]:
    """Write a plan's files, plan.json last; sentences about what was found there.

    keep_before : the plan that is there, with its pictures and pages, is kept in a folder below.
    """
    with _held(folder):
        notes = finish(folder)
        require_ours(folder, source)
        record, unfinished = record_of(folder), _unfinished(folder)
        aside = {}
        for name in files:
            word = _in_the_way(folder / name, name, record, unfinished, source)
            if word is not None and not (keep_before and name == PLAN_NAME):
                aside[folder / name] = _free_name(folder / name, word)
        stale = _stale(folder, files, record, source)
        kept_set = _kept_set(folder, record) if keep_before and record else {}
        with _kept_aside({**kept_set, **aside}):
            _write(folder, files, stale)
    return (*notes, *_kept_notes(kept_set), *_aside_notes(aside), *_lying_notes(folder, files, record))


def add_files(folder: Path, files: Mapping[str, bytes], *, replace: bool) -> tuple[str, ...]:
    """Write further files of the plan in a folder, `replace` those that are there whosever they are.

    A folder without a plan of ours has no record, so there only `replace` writes over a file.
    """
    with _held(folder):
        notes = finish(folder)
        value = _plan_value(folder, strict=False)
        record = None if value is None else record_of(folder)
        unfinished = _unfinished(folder)
        there = {name: _content(folder / name) for name in files}
        new = {name: data for name, data in files.items() if there[name] != _sha256(data)}
        aside = {}
        for name in new:
            known = {_recorded_as(name, record), unfinished.files.get(name)}
            if not os.path.lexists(folder / name) or replace or (there[name] and there[name] in known):
                continue
            if there[name] and record is not None and not record.known:
                aside[folder / name] = _free_name(folder / name, _EARLIER)
            else:
                raise FileTroubleError(
                    f"{folder / name}: this file is not known to be Pencilamp's, or was changed since; move it, "
                    "or say --force to write over it."
                )
        if value is not None and record is not None and record.known:
            hashes = {**record.files, **{name: _sha256(data) for name, data in files.items()}}
            new[PLAN_NAME] = json_bytes(
                {
                    **value,
                    RECORD_KEY: {**value[RECORD_KEY], "files": hashes},
                }  # an edited plan stays known as one
            )
        with _kept_aside(aside):
            _write(folder, new, {})
    return (*notes, *_aside_notes(aside))


def save_refusal(folder: Path, png: bytes) -> Path | None:
    """Write the picture of what was seen in a photo that can't be read; None where another's is in the way."""
    path = folder / REFUSAL_NAME
    if os.path.lexists(path) and not is_own_png(path):
        return None
    write_whole(path, own_png(png))
    return path


def finish(folder: Path) -> tuple[str, ...]:
    """Finish what a killed command left half-done in a folder; a sentence that says so."""
    if not os.path.lexists(folder / UNFINISHED_NAME):
        tidy_leftovers(folder)
        return ()
    unfinished = _unfinished(folder)
    missing = [name for name in unfinished.files if not _placed(folder, name, unfinished)]
    if missing:
        return (
            f"An earlier save into {folder} was cut off, and {', '.join(missing)} can't be told to be of it.",
        )
    _drop(folder, unfinished.stale)
    _end(folder)
    return (f"An earlier save into {folder} had been cut off; it was finished first.",)


def _end(folder: Path) -> None:
    with contextlib.suppress(OSError):
        (folder / UNFINISHED_NAME).unlink(missing_ok=True)
    flush_folder(folder)
    tidy_leftovers(folder)


def _placed(folder: Path, name: str, unfinished: _Unfinished) -> bool:
    there, wanted = _content(folder / name), unfinished.files[name]
    if there == wanted:
        return True
    part = folder / unfinished.parts.get(name, UNFINISHED_NAME)
    if there != unfinished.before.get(name) or _content(part) != wanted:
        return False
    part.replace(folder / name)
    return True


def _write(folder: Path, files: Mapping[str, bytes], stale: Mapping[str, str]) -> None:
    """The files of a set, plan.json last, with a list of them beside while they are renamed."""
    before = {name: _content(folder / name) for name in files}
    order = sorted(files, key=lambda name: name == PLAN_NAME)
    unfinished = folder / UNFINISHED_NAME

    def note_down(parts: Mapping[Path, Path]) -> None:
        names = {target.name: part.name for target, part in parts.items()}
        write_whole(
            unfinished,
            json_bytes(
                {
                    "files": {name: _sha256(files[name]) for name in order},
                    "before": before,
                    "parts": names,
                    "stale": dict(stale),
                }
            ),
        )

    try:
        write_files({folder / name: files[name] for name in order}, staged_as=note_down)
    except BaseException:  # all is as it was, and the list is of no use
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise
    _drop(folder, stale)
    _end(folder)


def _kept_set(folder: Path, record: Record) -> dict[Path, Path]:
    """The plan that is there and what was written with it, each with its name in a new folder below."""
    number = 1
    while os.path.lexists(below := folder / f"{_BEFORE}-{number}"):
        number += 1
    ours = [name for name, sha256 in record.files.items() if _content(folder / name) == sha256]
    return {folder / name: below / name for name in (*ours, PLAN_NAME)}


def _kept_notes(kept_set: Mapping[Path, Path]) -> tuple[str, ...]:
    return tuple(
        f"The plan before is kept in {name.parent}." for name in kept_set.values() if name.name == PLAN_NAME
    )


def _in_the_way(
    path: Path, name: str, record: Record | None, unfinished: _Unfinished, source: Path
) -> str | None:
    """The word under which a file must be kept aside; None when it may be replaced, or isn't there."""
    if not os.path.lexists(path):
        return None
    if _same_file(path, source):
        raise FileTroubleError(
            f"{path}: this is the very file that is planned; choose another folder with --out."
        )
    content = _content(path)
    if content is not None and content in (_recorded_as(name, record), unfinished.files.get(name)):
        return None
    if name == PLAN_NAME and record is not None:  # it is ours, or require_ours would have refused it
        return None if record.unchanged else _EDITED if record.known else _EARLIER
    if content is None or record is None or record.known:
        raise FileTroubleError(
            f"{path}: this file is not Pencilamp's, or was changed since, and is not written over; move it, or "
            "choose another folder with --out."
        )
    return _EARLIER


def _stale(folder: Path, files: Mapping[str, bytes], record: Record | None, source: Path) -> dict[str, str]:
    """What of an earlier try this plan did not make again, and would mislead."""
    stale = {
        name: sha256
        for name, sha256 in (record.files if record else {}).items()
        if name not in files and name in OUR_NAMES and not _same_file(folder / name, source)
    }
    if is_own_png(folder / REFUSAL_NAME):
        stale[REFUSAL_NAME] = _content(folder / REFUSAL_NAME) or ""
    return stale


def _drop(folder: Path, stale: Mapping[str, str]) -> None:
    for name, sha256 in stale.items():
        if _content(folder / name) == sha256:
            with contextlib.suppress(OSError):
                (folder / name).unlink()


@contextmanager
def _kept_aside(aside: Mapping[Path, Path]) -> Iterator[None]:
    """Give files a second name before they are replaced, and take it back if they are not."""
    made = []
    try:
        for path, name in aside.items():
            name.parent.mkdir(exist_ok=True)
            try:
                os.link(path, name)
            except OSError:  # file systems without hard links
                shutil.copy2(path, name)
            made.append(name)
        yield
    except BaseException:
        for name in made:
            with contextlib.suppress(OSError):
                name.unlink()
                name.parent.rmdir()  # only where it was made for this and is empty again
        raise


def _aside_notes(aside: Mapping[Path, Path]) -> tuple[str, ...]:
    def why(path: Path, name: Path) -> str:
        changed = path.name == PLAN_NAME and name.stem.startswith(f"{path.stem}-{_EDITED}")
        return "had been changed by hand" if changed else "was written by an earlier version"

    return tuple(f"{path.name} {why(path, name)}; it is kept as {name.name}." for path, name in aside.items())


def _lying_notes(folder: Path, files: Mapping[str, bytes], record: Record | None) -> tuple[str, ...]:
    """What an earlier version may have left, and can't be told from a maker's own."""
    if record is None or record.known:
        return ()
    lying = [name for name in OUR_NAMES if name not in files and os.path.lexists(folder / name)]
    return (
        (f"{', '.join(lying)} in {folder} may be from an earlier plan; this plan has none.",) if lying else ()
    )


def _free_name(path: Path, word: str) -> Path:
    name, number = path.with_name(f"{path.stem}-{word}{path.suffix}"), 2
    while os.path.lexists(name):
        name, number = path.with_name(f"{path.stem}-{word}-{number}{path.suffix}"), number + 1
    return name


def _recorded(plan: Mapping[str, Any], hashes: Mapping[str, str]) -> bytes:
    bare = {key: value for key, value in plan.items() if key != RECORD_KEY}
    return json_bytes({**bare, RECORD_KEY: {"plan_sha256": _plan_sha256(bare), "files": dict(hashes)}})


def _recorded_as(name: str, record: Record | None) -> str | None:
    return None if record is None else record.files.get(name)


def _plan_sha256(plan: Mapping[str, Any]) -> str:
    return _sha256(json_bytes({key: value for key, value in plan.items() if key != RECORD_KEY}))


def _plan_value(folder: Path, *, strict: bool = True) -> Mapping[str, Any] | None:
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


def _unfinished(folder: Path) -> _Unfinished:
    try:
        value = json.loads(read_small(folder / UNFINISHED_NAME, LARGEST_PLAN_BYTES, "a list."))
        sets = [value[key] for key in ("files", "before", "parts", "stale")]
        names = {name for one in sets for name in one}
        parts = sets[2].values()
        # A stranger's list never leads to another file, nor out of this folder.
        if names <= {*OUR_NAMES, REFUSAL_NAME} and all(Path(part).name == part for part in parts):
            return _Unfinished(*sets)
    except (FileTroubleError, ValueError, RecursionError, KeyError, TypeError, AttributeError):
        pass
    return _Unfinished()


def _content(path: Path) -> str | None:
    """A plain file's SHA-256; None for what is none or can't be read."""
    if not os.path.isfile(path):  # noqa: PTH113  (never raises)
        return None
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _same_file(path: Path, other: Path) -> bool:
    with contextlib.suppress(OSError, ValueError):
        return path.samefile(other)
    return False


@contextmanager
def _held(folder: Path) -> Iterator[None]:
    """One command at a time in a folder that is there; a new one nobody else knows of."""
    busy = partial(FileTroubleError, f"{folder}: another Pencilamp is writing here; try again in a minute.")
    with ExitStack() as stack:
        if os.name == "posix" and os.path.isdir(folder):  # noqa: PTH112
            with contextlib.suppress(
                OSError
            ):  # a folder that may not be read; writing will say what is wrong
                stack.enter_context(alone(folder, _WAIT_S, busy))
        yield
