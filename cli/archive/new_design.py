"""From a photo, a layout file or a plan already made to a design that the archive can keep.

In:    paths, or a plan just made.
Out:   a `NewDesign`, and sentences about what could not be kept with it.
Fails: `PencilampError`; nothing is kept then.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from circuit.errors import PencilampError
from circuit.plan import Plan
from circuit.plan_json import PLAN_SCHEMA
from cli.archive.archive_folder import archive_folder
from cli.archive.design_json import DESIGN_NAME, label_from_dict
from cli.archive.kept_design import (
    Design,
    Label,
    NewDesign,
    NewFile,
    Role,
    facts_of,
    folded,
    safe_name,
    tidy_title,
)
from cli.archive.shelf import reader_of
from cli.archive.slips import LARGEST_SLIP_BYTES
from cli.archive.store import Archive
from cli.archive.zip_rules import LARGEST_FILE_BYTES
from cli.file_trouble import FileTroubleError
from cli.files import file_sha256
from cli.output_names import OUR_NAMES, OVERLAY_NAME, PLAN_NAME
from cli.plan_file import LARGEST_PLAN_BYTES, read_plan, read_small
from cli.plan_folder import finish
from cli.plan_record import record_of, without_record

if TYPE_CHECKING:
    from cli.make_plan import Made
    from cli.progress import Say

_SOURCES = ("photo", "layout")
_ROLES: Mapping[str, Role] = {PLAN_NAME: "plan", OVERLAY_NAME: "overlay"}


@dataclass(frozen=True, slots=True)
class Words:
    """What a person says of a design; no title: the file's name. `title_and_name` for one of several that
    get the same title: the file's name behind it tells them apart."""

    title: str | None = None
    tags: tuple[str, ...] = ()
    note: str = ""
    title_and_name: bool = False


@dataclass(frozen=True, slots=True)
class Incoming:
    """A design to keep, and ready sentences about it."""

    design: NewDesign
    remarks: tuple[str, ...] = ()


def keep_made(source: Path, made: Made, title: str) -> str:
    """Keep a plan just made of a photo or layout file; a sentence that says so."""
    kept = keep_design(source, made, title)
    return f"Kept in the archive as number {kept.number}: {kept.title}."


def keep_design(source: Path, made: Made, title: str) -> Design:
    """Keep a plan just made of a photo or layout file."""
    design = _from_made(source, made, Words(title))
    with Archive(archive_folder(None), writing=True) as archive:
        return archive.keep(design)


def incoming(source: Path, photo: Path | None, words: Words, say: Say) -> Incoming:
    """What `archive keep SOURCE` keeps: a plan's folder or plan.json as it is, else planned first."""
    if source.is_dir() or _is_made(source):
        return _from_folder(source, photo, words)
    from cli.make_plan import make_plan
    from cli.parts_option import read_parts
    from cli.plan_options import PlanOptions

    made = make_plan(source, PlanOptions(parts=read_parts(None)), say)
    return Incoming(_from_made(source, made, words), made.notes)


def our_file(name: str, data: bytes) -> NewFile:
    """A file of a plan whose content is at hand."""
    return NewFile(name, _ROLES.get(name, "other"), _bytes_reader(data))


def _from_made(source: Path, made: Made, words: Words) -> NewDesign:
    files = [our_file(name, made.files[name]) for name in OUR_NAMES if name in made.files]
    role: Role = "layout" if source.suffix.lower() == ".json" else "photo"
    files.append(_source_file(source, role, files))
    return _design(made.planned.plan, files, words, source.stem)


def _from_folder(source: Path, photo: Path | None, words: Words) -> Incoming:
    folder = source if source.is_dir() else source.parent
    plan_path = source / PLAN_NAME if source.is_dir() else source
    remarks = list(finish(folder))
    plan = read_plan(source)
    label = _label_of(folder)
    # The plan is kept as it was read, the other files are read when they go on the shelf.
    files = [our_file(PLAN_NAME, read_small(plan_path, LARGEST_PLAN_BYTES, "a plan."))]
    beside, strangers = _files_of_plan(plan_path, label)
    files += beside
    if not any(file.role == "overlay" for file in files):
        files.append(our_file(OVERLAY_NAME, _drawn(plan)))
    if strangers:
        remarks.append(f"Not written with this plan, so not kept with it: {', '.join(strangers)}.")
    found, remark = _its_source(plan, folder, photo, label)
    if remark:
        remarks.append(remark)
    if found is not None:
        files.append(_source_file(found, "layout" if found.suffix.lower() == ".json" else "photo", files))
    stem = (Path(plan.source.name).stem if plan.source else "") or folder.absolute().name
    return Incoming(_design(plan, files, _with_label(words, label), stem), tuple(remarks))


def _files_of_plan(plan_path: Path, label: Label | None) -> tuple[list[NewFile], list[str]]:
    """The files that the plan's record or label knows, by their content, and the names of those that it doesn't."""
    folder, hashes = plan_path.parent, dict[str, set[str]]()
    record = record_of(folder) if plan_path.name == PLAN_NAME else None
    for name, sha256 in record.files.items() if record else ():
        hashes.setdefault(name, set()).add(sha256)
    for file in label.files if label else ():
        hashes.setdefault(file.name, set()).add(file.sha256)
    files, strangers = [], []
    for name in OUR_NAMES[1:]:
        path = folder / name
        if not path.is_file():
            continue
        content = _sha256_within(path)
        if content is not None and content in hashes.get(name, ()):
            files.append(NewFile(name, _ROLES.get(name, "other"), reader_of(path), content))
        else:
            strangers.append(name)
    return files, strangers


def _its_source(plan: Plan, folder: Path, named: Path | None, label: Label | None) -> tuple[Path | None, str]:
    """The photo or layout file that a plan was made from: the one that was named, or one whose content the plan or
    its label states. A plan may come from anybody, so the mere name in it takes no file along."""
    known = {file.sha256 for file in (label.files if label else ()) if file.role in _SOURCES}
    known |= {plan.source.sha256} if plan.source and plan.source.sha256 else set()
    if named is not None:
        if not named.is_file():
            raise FileTroubleError(f"{named}: there is no such file; check the name and the folder.")
        if known and _sha256_within(named) not in known:
            raise FileTroubleError(
                f"{named}: this plan was made from another picture; name that one, or plan this one afresh."
            )
        return named, ""
    name = plan.source.name if plan.source else plan.reading.photo if plan.reading else None
    if not name or Path(name).name != name or name == PLAN_NAME:
        return None, "There is no photo with this plan, so the plan alone is kept."
    # Without what the camera wrote, as `take-out` left it, it may be of another kind and name.
    names = {name, *(file.name for file in (label.files if label else ()) if file.role in _SOURCES)}
    there = [
        path
        for one in sorted(names)
        for path in (folder / one, folder.absolute().parent / one)
        if path.is_file()
    ]
    right = next((path for path in there if _sha256_within(path) in known), None)
    if right is not None:
        return right, ""
    if not there and plan.reading is None:
        return None, ""  # a layout file says nothing that its plan doesn't
    if not there:
        return None, f"{name} is not beside the plan, so the plan alone is kept; name it with --photo."
    if known:
        return None, (
            f"The {name} beside the plan is not the one that the plan was made from, so it is not kept with it; "
            "name the right one with --photo."
        )
    return (
        None,
        f"This plan does not tell whether {name} beside it is its photo; if so, name it with --photo.",
    )


def _sha256_within(path: Path) -> str | None:
    """A file's SHA-256; None for one larger than anything that is kept, or that can't be read."""
    with contextlib.suppress(OSError, FileTroubleError):
        if path.stat().st_size <= LARGEST_FILE_BYTES:
            return file_sha256(path)
    return None


def _with_label(words: Words, label: Label | None) -> Words:
    """A design that was taken out brings its title, tags and note along, where nothing else is said."""
    if label is None:
        return words
    if words.title is None:
        words = replace(words, title=label.title, title_and_name=False)
    return replace(words, tags=words.tags or label.tags, note=words.note or label.note)


def _label_of(folder: Path) -> Label | None:
    with contextlib.suppress(ValueError, RecursionError, PencilampError):
        return label_from_dict(json.loads(read_small(folder / DESIGN_NAME, LARGEST_SLIP_BYTES, "a label.")))
    return None


def _is_made(source: Path) -> bool:
    """Whether a JSON file is a plan, not a layout that must be planned first."""
    if source.suffix.lower() != ".json" or not source.exists():
        return False
    read_plan(source)  # says in one sentence what is wrong with it
    value: Any = json.loads(read_small(source, LARGEST_PLAN_BYTES, "a plan.").decode("utf-8-sig"))
    return bool(value.get("schema") == PLAN_SCHEMA)


def _source_file(path: Path, role: Role, others: Iterable[NewFile]) -> NewFile:
    taken = {folded(file.name) for file in others} | {folded(name) for name in OUR_NAMES}
    plain = safe_name(path.name, f"{role}{path.suffix.lower() if path.suffix.isascii() else ''}")
    name, number = plain, 1
    while folded(name) in taken:
        name, number = f"{role}{'' if number == 1 else f'-{number}'}-{plain}", number + 1
    return NewFile(name, role, reader_of(path))


def _design(plan: Plan, files: Iterable[NewFile], words: Words, stem: str) -> NewDesign:
    name = stem.replace("_", " ").strip() or "Untitled"
    title = name if words.title is None else f"{words.title} {name}" if words.title_and_name else words.title
    return NewDesign(tidy_title(title), facts_of(plan), tuple(files), words.tags, words.note)


def _drawn(plan: Plan) -> bytes:
    """An overlay for a plan that came without one, on a drawn card."""
    from circuit.settings_json import settings_from_dict
    from cli.opencv import require_opencv

    require_opencv()
    from cli.png import png_bytes
    from vision.drawing.overlay import draw_overlay

    settings = settings_from_dict(plan.settings)
    return png_bytes(draw_overlay(None, plan, settings))


def _bytes_reader(data: bytes) -> Callable[[], BinaryIO]:
    return partial(io.BytesIO, data)


def is_kept_already(design: NewDesign, archive: Archive, others: Iterable[Design]) -> Design | None:
    """The one of `others` that has the same plan; the record of what was written with it aside."""
    plan = next(file for file in design.files if file.role == "plan")
    with plan.open() as source:
        mine = _bare(source.read())
    for other in others:
        with contextlib.suppress(PencilampError):  # a damaged one is like no other
            file = other.file("plan")
            if file is not None and _bare(archive.read_file(other, file)) == mine:
                return other
    return None


def _bare(plan: bytes) -> object:
    return without_record(json.loads(plan.decode("utf-8-sig")))
