"""What is known of one kept design, and the JSON that its slip and a taken-out zip hold.

In:    a `Plan`, words that a person typed, or the JSON of a slip.
Out:   frozen values.
Fails: `UsageError` for words that can't be a title or tag; `LayoutFileError` naming the field for JSON
       that is no design.
"""

from __future__ import annotations

import math
import re
import secrets
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, BinaryIO, Literal, cast, get_args

from circuit.errors import LayoutFileError, UsageError
from circuit.plan import Plan
from circuit.polyline import length

DESIGN_SCHEMA = "pencilamp/design/1"
DESIGN_NAME = "design.json"  # beside the files of a design that was taken out
LONGEST_TITLE = 200  # chosen: two lines on a terminal
LONGEST_TAG = 60  # chosen
MOST_TAGS = 50  # chosen
LONGEST_NOTE = 20_000  # chosen: some ten pages
LONGEST_NAME_BYTES = 200  # chosen: file systems take 255, and a number may be put in front

Role = Literal["photo", "layout", "plan", "overlay", "other"]
_SHA256 = re.compile(r"[0-9a-f]{64}")
_IDENTITY = re.compile(r"[0-9a-f]{32}")
# Reserved by Windows, whatever the ending; also what no file system of today takes.
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")
_NO_NAME = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')


@dataclass(frozen=True, slots=True)
class Facts:
    """What `list` shows and `find` asks for. `doubts` and `tape_mm` are None where not known; tape_mm
    also where no traces could be laid."""

    lights: int
    card_width_mm: float
    card_height_mm: float
    card_size: str | None
    cell: str | None
    must_fix: int
    look_again: int
    doubts: int | None = None
    tape_mm: float | None = None


@dataclass(frozen=True, slots=True)
class KeptFile:
    """One file of a design: its name there, and what identifies its content."""

    name: str
    role: Role
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class Design:
    """One design as the archive holds it. `kept` and `removed` are UTC; `removed` is None outside the bin."""

    number: int
    identity: str
    title: str
    tags: tuple[str, ...]
    note: str
    kept: datetime
    removed: datetime | None
    facts: Facts
    files: tuple[KeptFile, ...]

    def file(self, role: Role) -> KeptFile | None:
        """The first file of that role, None when there is none."""
        return next((file for file in self.files if file.role == role), None)


@dataclass(frozen=True, slots=True)
class NewFile:
    """A file on its way in. `sha256`, where known, is what its content must still be when it is kept."""

    name: str
    role: Role
    open: Callable[[], BinaryIO]
    sha256: str | None = None


@dataclass(frozen=True, slots=True)
class NewDesign:
    """A design on its way in, before it has a number."""

    title: str
    facts: Facts
    files: tuple[NewFile, ...]
    tags: tuple[str, ...] = ()
    note: str = ""
    kept: datetime = field(default_factory=lambda: now())
    identity: str = field(default_factory=lambda: secrets.token_hex(16))


def now() -> datetime:
    """This moment, to the second: what a slip holds and a list shows."""
    return datetime.now(UTC).replace(microsecond=0)


def facts_of(plan: Plan) -> Facts:
    """The facts that a plan holds."""
    card, reading = plan.layout.card, plan.reading
    doubts = 0 if reading is None else max(len(reading.doubts), 0 if reading.sure else 1)
    cell = plan.settings.get("cell")
    return Facts(
        lights=len(plan.layout.lights),
        card_width_mm=card.width_mm,
        card_height_mm=card.height_mm,
        card_size=card.size,
        cell=None if cell is None else str(cell),
        must_fix=len(plan.must_fix),
        look_again=len(plan.problems) - len(plan.must_fix),
        doubts=doubts,
        tape_mm=None if plan.traces is None else length(plan.traces.positive) + length(plan.traces.negative),
    )


def tidy_title(text: str) -> str:
    """A title in one line. Raises UsageError for none at all or one that is too long."""
    title = _one_line(text)
    if not title:
        raise UsageError("A design needs a title of at least one letter or digit, like --title Harbour.")
    if len(title) > LONGEST_TITLE:
        raise UsageError(
            f"The title has {len(title)} letters, and {LONGEST_TITLE} is the most; put the rest into --note."
        )
    return title


def tidy_tags(texts: Iterable[str]) -> tuple[str, ...]:
    """Tags, split at commas, each once whatever its capitals. Raises UsageError."""
    tags: dict[str, str] = {}
    for text in texts:
        for piece in text.split(","):
            tag = _one_line(piece).removeprefix("#").strip()
            if len(tag) > LONGEST_TAG:
                raise UsageError(
                    f"The tag {tag[:20]}... has {len(tag)} letters, and {LONGEST_TAG} is the most; use --note."
                )
            if tag:
                tags.setdefault(folded(tag), tag)
    if len(tags) > MOST_TAGS:
        raise UsageError(f"These are {len(tags)} tags, and {MOST_TAGS} is the most for one design.")
    return tuple(tags.values())


def tidy_note(text: str) -> str:
    """A note of any number of lines. Raises UsageError for one that is too long."""
    lines = [_one_line(line) for line in text.splitlines()]
    note = "\n".join(lines).strip()
    if len(note) > LONGEST_NOTE:
        raise UsageError(f"The note has {len(note)} letters, and {LONGEST_NOTE} is the most.")
    return note


def folded(text: str) -> str:
    """A text as it is compared: capitals, and letters that look the same, make no difference."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFKC", text).casefold())


def name_trouble(name: str) -> str | None:
    """Why a text can't be the name of a file in any folder on any system; None when it can."""
    if not name or name in (".", "..") or name != name.strip() or name.endswith("."):
        return "is no file name"
    if _NO_NAME.search(name) or not name.isprintable():
        return "holds a sign that no file name may hold"
    if _RESERVED.fullmatch(name):
        return "is a name that some systems keep for themselves"
    try:
        too_long = len(name.encode("utf-8")) > LONGEST_NAME_BYTES
    except UnicodeEncodeError:
        return "is not valid text"
    return "is too long a file name" if too_long else None


def safe_name(name: str, otherwise: str) -> str:
    """A file name that every system takes, as like the given one as can be."""
    tidy = _NO_NAME.sub("-", _one_line(name)).strip(" .")
    if _RESERVED.fullmatch(tidy):
        tidy = f"-{tidy}"
    stem, dot, ending = tidy.rpartition(".")
    while len(tidy.encode("utf-8")) > LONGEST_NAME_BYTES - 20 and (stem or tidy):
        stem, tidy = stem[:-1], (f"{stem[:-1]}{dot}{ending}" if stem else tidy[:-1])
    return tidy if name_trouble(tidy) is None else otherwise


def _one_line(text: str) -> str:
    # A lone surrogate (a file name in another code page) can be kept neither in SQLite nor in a zip.
    whole = text.encode("utf-8", "replace").decode()
    kept = "".join(ch if ch.isprintable() else " " for ch in unicodedata.normalize("NFC", whole))
    return " ".join(kept.split())


def design_to_dict(design: Design) -> dict[str, Any]:
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


@dataclass(frozen=True, slots=True)
class Label:
    """What `design_to_dict` wrote, read and found sensible."""

    identity: str
    title: str
    tags: tuple[str, ...]
    note: str
    kept: datetime
    files: tuple[KeptFile, ...]


def label_from_dict(value: object) -> Label:
    """Raises LayoutFileError naming the field."""
    top = _mapping(value, "the file")
    schema = top.get("schema")
    if schema != DESIGN_SCHEMA:
        raise LayoutFileError(f"its schema is {_brief(schema)}, not {DESIGN_SCHEMA!r}")
    try:
        title, tags = tidy_title(_text(top, "title")), tidy_tags(_texts(top, "tags"))
        note = tidy_note(_text(top, "note"))
    except UsageError as error:
        raise LayoutFileError(str(error).rstrip(".")) from error
    identity = _text(top, "identity")
    if not _IDENTITY.fullmatch(identity):
        raise LayoutFileError(f"identity should be 32 hexadecimal digits, not {_brief(identity)}")
    files = top.get("files")
    if not isinstance(files, list) or not files:
        raise LayoutFileError("files should be a list in square brackets that is not empty")
    return Label(
        identity,
        title,
        tags,
        note,
        moment(_text(top, "kept"), "kept"),
        tuple(_kept_file(item) for item in files),
    )


def _kept_file(value: object) -> KeptFile:
    item = _mapping(value, "files")
    name, role, sha256, size = _text(item, "name"), item.get("role"), _text(item, "sha256"), item.get("bytes")
    trouble = name_trouble(name)
    if trouble is not None:
        raise LayoutFileError(f"the file name {_brief(name)} {trouble}")
    if role not in get_args(Role):
        raise LayoutFileError(f"files.role should be one of {', '.join(get_args(Role))}, not {_brief(role)}")
    if not _SHA256.fullmatch(sha256):
        raise LayoutFileError(f"files.sha256 should be 64 hexadecimal digits, not {_brief(sha256)}")
    if isinstance(size, bool) or not isinstance(size, int) or size < 0:
        raise LayoutFileError(f"files.bytes should be a whole number from 0, not {_brief(size)}")
    return KeptFile(name, cast(Role, role), sha256, size)


def facts_to_dict(facts: Facts) -> dict[str, Any]:
    """Facts for a slip."""
    return {name: getattr(facts, name) for name in Facts.__dataclass_fields__}


def facts_from_dict(value: object) -> Facts:
    """Raises LayoutFileError naming the field."""
    item = _mapping(value, "facts")
    return Facts(
        lights=int(_number(item, "lights")),
        card_width_mm=_number(item, "card_width_mm"),
        card_height_mm=_number(item, "card_height_mm"),
        card_size=None if item.get("card_size") is None else str(item["card_size"]),
        cell=None if item.get("cell") is None else str(item["cell"]),
        must_fix=int(_number(item, "must_fix")),
        look_again=int(_number(item, "look_again")),
        doubts=None if item.get("doubts") is None else int(_number(item, "doubts")),
        tape_mm=None if item.get("tape_mm") is None else _number(item, "tape_mm"),
    )


def moment_text(when: datetime) -> str:
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def moment(text: str, name: str) -> datetime:
    """A point in time, UTC. Raises LayoutFileError."""
    try:
        return datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    except ValueError as error:
        raise LayoutFileError(f"{name} should be like 2026-03-31T14:00:00Z, not {_brief(text)}") from error


def _brief(value: object) -> str:
    text = ascii(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _mapping(value: object, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise LayoutFileError(f"{where} should be an object in braces")
    return value


def _text(item: Mapping[str, Any], key: str) -> str:
    value = item.get(key)
    if not isinstance(value, str):
        raise LayoutFileError(f"{key} should be a text, not {_brief(value)}")
    return value


def _texts(item: Mapping[str, Any], key: str) -> list[str]:
    value = item.get(key)
    if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
        raise LayoutFileError(f"{key} should be a list of texts")
    return value


def _number(item: Mapping[str, Any], key: str) -> float:
    value = item.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise LayoutFileError(f"{key} should be a number, not {_brief(value)}")
    return value
