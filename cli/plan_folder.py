"""The folder of a plan: only what Pencilamp made there, and nobody changed since, is ever replaced or removed.

In:    a folder, and the files of a plan by name.
Out:   the files on disk, all of one plan, and sentences about what was kept aside or finished.
Fails: `FileTroubleError` with one sentence; nothing was touched then.

What was made is recorded in plan.json (`plan_record.py`), which is written last. A command that was killed in
between is finished by the next one (`file_sets.py`).
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path

from cli.alone import alone
from cli.file_sets import FileSet, content_of, finish_set, is_unfinished, sha256_of, unfinished_set, write_set
from cli.file_trouble import FileTroubleError
from cli.files import tidy_leftovers, write_whole
from cli.output_names import OUR_NAMES, PLAN_NAME, REFUSAL_NAME
from cli.plan_record import Record, photo_sha256, plan_value, record_of, with_more_files, with_planned
from cli.png import is_own_png, own_png

_WAIT_S = 60.0  # chosen: several times what writing a plan takes
_EDITED, _EARLIER, _BEFORE = "edited", "earlier", "before"


def require_ours(folder: Path, source: Path, made_from: str | None = None) -> None:
    """Refuse a folder that holds something else than an earlier plan of the same photo or file.

    made_from : the photo that a plan in `source` tells of, once that is known: a plan.json may be anybody's.
    A folder that is not there, or holds no plan, is fine. Raises FileTroubleError.
    """
    if os.path.lexists(folder) and not os.path.isdir(folder):  # noqa: PTH112  (never raises)
        raise FileTroubleError(
            f"{folder}: a file of this name is in the way; move it, or choose another folder with --out."
        )
    record = record_of(folder)
    if record is None or record.made_from in (None, source.name):
        return
    if record.planned not in (None, source.name) or made_from not in (None, record.made_from):
        raise FileTroubleError(
            f"{folder}: this folder holds the plan of {record.made_from}; choose another one with --out."
        )


def save_plan(
    folder: Path, files: Mapping[str, bytes], source: Path, *, keep_before: bool = False
) -> tuple[str, ...]:
    """Write a plan's files, plan.json last; sentences about what was found there.

    keep_before : the plan that is there, with its pictures and pages, is kept in a folder below; so it is where it
    tells of another photo of the same name: each phone's first photo is called alike.
    """
    with _held(folder):
        notes = finish(folder)
        record, unfinished = record_of(folder), unfinished_set(folder, _may_be)
        plan_file, made_from = with_planned(files[PLAN_NAME], source.name, record.planned if record else None)
        require_ours(folder, source, made_from)
        if record is not None and record.planned is None and record.made_from not in (None, source.name):
            # An earlier version did not record it, or it is another plan of the same photo.
            keep_before = True
        files = {**files, PLAN_NAME: plan_file}
        other = _of_another_photo(record, plan_file)
        keep_before = keep_before or other
        aside = {}
        for name in files:
            word = _in_the_way(folder / name, name, record, unfinished, source)
            if word is not None and not (keep_before and name == PLAN_NAME):
                aside[folder / name] = _free_name(folder / name, word)
        stale = _stale(folder, files, record, source)
        kept_set = _kept_set(folder, record) if keep_before and record else {}
        with _kept_aside({**kept_set, **aside}):
            write_set(folder, dict(sorted(files.items(), key=lambda item: item[0] == PLAN_NAME)), stale)
    return (
        *notes,
        *_kept_notes(kept_set, source.name if other else None),
        *_aside_notes(aside),
        *_lying_notes(folder, files, record),
    )


def add_files(folder: Path, files: Mapping[str, bytes], *, replace: bool) -> tuple[str, ...]:
    """Write further files of the plan in a folder, `replace` those that are there whosever they are.

    A folder without a plan of ours has no record, so there only `replace` writes over a file.
    """
    with _held(folder):
        notes = finish(folder)
        value = plan_value(folder, strict=False)
        record = None if value is None else record_of(folder)
        unfinished = unfinished_set(folder, _may_be)
        there = {name: content_of(folder / name) for name in files}
        new = {name: data for name, data in files.items() if there[name] != sha256_of(data)}
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
            new[PLAN_NAME] = with_more_files(value, files)
        with _kept_aside(aside):
            write_set(folder, new, {})
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
    if not is_unfinished(folder):
        tidy_leftovers(folder)
        return ()
    missing = finish_set(folder, _may_be)
    if missing:
        return (
            f"An earlier save into {folder} was cut off, and {', '.join(missing)} can't be told to be of it.",
        )
    return (f"An earlier save into {folder} had been cut off; it was finished first.",)


def _may_be(name: str) -> bool:
    return name in OUR_NAMES or name == REFUSAL_NAME


def _kept_set(folder: Path, record: Record) -> dict[Path, Path]:
    """The plan that is there and what was written with it, each with its name in a new folder below."""
    number = 1
    while os.path.lexists(below := folder / f"{_BEFORE}-{number}"):
        number += 1
    ours = [name for name, sha256 in record.files.items() if content_of(folder / name) == sha256]
    return {folder / name: below / name for name in (*ours, PLAN_NAME)}


def _of_another_photo(record: Record | None, plan_file: bytes) -> bool:
    """Is the plan that is there surely that of another photo than the new one?"""
    before, now = record and record.photo_sha256, photo_sha256(json.loads(plan_file))
    return bool(before and now) and before != now


def _kept_notes(kept_set: Mapping[Path, Path], of_another: str | None) -> tuple[str, ...]:
    which = f", of another {of_another}," if of_another else ""
    return tuple(
        f"The plan before{which} is kept in {name.parent}."
        for name in kept_set.values()
        if name.name == PLAN_NAME
    )


def _in_the_way(
    path: Path, name: str, record: Record | None, unfinished: FileSet, source: Path
) -> str | None:
    """The word under which a file must be kept aside; None when it may be replaced, or isn't there."""
    if not os.path.lexists(path):
        return None
    if _same_file(path, source):
        raise FileTroubleError(
            f"{path}: this is the very file that is planned; choose another folder with --out."
        )
    content = content_of(path)
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
        stale[REFUSAL_NAME] = content_of(folder / REFUSAL_NAME) or ""
    return stale


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


def _recorded_as(name: str, record: Record | None) -> str | None:
    return None if record is None else record.files.get(name)


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
