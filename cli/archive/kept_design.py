"""What is known of one kept design; titles, tags, notes and names in the form in which they are kept.

In:    a `Plan`, or words that a person typed.
Out:   frozen values.
Fails: `UsageError` for words that can't be a title or tag; ValueError for a `KeptFile` that can be none.
"""

from __future__ import annotations

import re
import secrets
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, BinaryIO, Literal

from circuit.errors import UsageError
from circuit.json_fields import Kept, brief
from cli.file_trouble import FileTroubleError

if TYPE_CHECKING:
    from circuit.plan import Plan

# What a clock may say: Unix time from its beginning to the end of 32 unsigned bits. All systems and zips know it.
EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2106, 2, 7, tzinfo=UTC)
LONGEST_TITLE = 200  # chosen: two lines on a terminal
LONGEST_TAG = 60  # chosen
MOST_TAGS = 50  # chosen
LONGEST_NOTE = 20_000  # chosen: some ten pages
LONGEST_WORD = 60  # chosen: what a plan says of its card's size and cell
LARGEST_NUMBER = 10**12 - 1  # chosen: no design's number, and no file's size, comes near it
LONGEST_NAME_BYTES = 200  # chosen: file systems take 255, and a number may be put in front

Role = Literal["photo", "layout", "plan", "overlay", "other"]
# Reserved by Windows, whatever the ending; also what no file system of today takes.
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")
_SHA256 = re.compile(r"[0-9a-f]{64}")
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
    size: Annotated[int, Kept(key="bytes")]

    def __post_init__(self) -> None:
        trouble = name_trouble(self.name)
        if trouble is not None:
            raise ValueError(f"the file name {brief(self.name)} {trouble}")
        if not _SHA256.fullmatch(self.sha256):
            raise ValueError(f"sha256 should be 64 hexadecimal digits, not {brief(self.sha256)}")
        if not 0 <= self.size <= LARGEST_NUMBER:
            raise ValueError(f"bytes should be a whole number from 0, not {brief(self.size)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What goes out with a design's files. `kept` is UTC, to the second."""

    identity: str
    title: str
    tags: tuple[str, ...] = ()
    note: str = ""
    kept: datetime
    files: tuple[KeptFile, ...]

    def file(self, role: Role) -> KeptFile | None:
        """The first file of that role, None when there is none."""
        return next((file for file in self.files if file.role == role), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Design(Label):
    """One design as the archive holds it. `removed` is None outside the bin."""

    number: int
    facts: Facts
    removed: datetime | None = None


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
    """This moment, to the second. Raises FileTroubleError for a clock gone astray."""
    moment = datetime.now(UTC).replace(microsecond=0)
    if not EARLIEST <= moment <= LATEST:
        raise FileTroubleError(
            f"This computer's clock says {moment.year}; set it right, and keep the design then."
        )
    return moment


def facts_of(plan: Plan) -> Facts:
    """The facts that a plan holds."""
    from circuit.joint import lines_of
    from circuit.polyline import length

    card, reading = plan.layout.card, plan.reading
    doubts = 0 if reading is None else max(len(reading.doubts), 0 if reading.sure else 1)
    cell = plan.settings.get("cell")
    return Facts(
        lights=len(plan.layout.lights),
        card_width_mm=card.width_mm,
        card_height_mm=card.height_mm,
        card_size=None if card.size is None else _one_line(card.size)[:LONGEST_WORD],
        cell=None if cell is None else _one_line(str(cell))[:LONGEST_WORD],
        must_fix=len(plan.must_fix),
        look_again=len(plan.problems) - len(plan.must_fix),
        doubts=doubts,
        tape_mm=None if plan.traces is None else sum(length(line) for line in lines_of(plan.traces)),
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


_SHOWN_LETTERS = 20  # chosen: enough of a long tag to know it again


def tidy_tags(texts: Iterable[str]) -> tuple[str, ...]:
    """Tags, split at commas, each once whatever its capitals. Raises UsageError."""
    tags: dict[str, str] = {}
    for text in texts:
        for piece in text.split(","):
            tag = _one_line(piece).removeprefix("#").strip()
            if len(tag) > LONGEST_TAG:
                raise UsageError(
                    f"The tag {tag[:_SHOWN_LETTERS]}... has {len(tag)} letters, and {LONGEST_TAG} is the most; "
                    "use --note."
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
    whole = text.encode("utf-8", "replace").decode()  # a lone surrogate can't be asked for
    return unicodedata.normalize("NFC", unicodedata.normalize("NFKC", whole).casefold())


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


_NUMBERED_BYTES = 20  # chosen: room for what tells two files of one name apart


def safe_name(name: str, otherwise: str) -> str:
    """A file name that every system takes, as like the given one as can be."""
    tidy = _NO_NAME.sub("-", _one_line(name)).strip(" .")
    if _RESERVED.fullmatch(tidy):
        tidy = f"-{tidy}"
    stem, dot, ending = tidy.rpartition(".")
    while len(tidy.encode("utf-8")) > LONGEST_NAME_BYTES - _NUMBERED_BYTES and (stem or tidy):
        stem, tidy = stem[:-1], (f"{stem[:-1]}{dot}{ending}" if stem else tidy[:-1])
    return tidy if name_trouble(tidy) is None else otherwise


def folder_name(design: Design, taken: set[str]) -> str:
    """A name for a design's folder, unlike those `taken`, among which it is then."""
    plain = safe_name(design.title, f"design {design.number}")
    name = plain if folded(plain) not in taken else f"{plain} {design.number}"
    while folded(name) in taken:
        name += "-"
    taken.add(folded(name))
    return name


def _one_line(text: str) -> str:
    # A lone surrogate (a file name in another code page) can be kept neither in SQLite nor in a zip.
    whole = text.encode("utf-8", "replace").decode()
    kept = "".join(ch if ch.isprintable() else " " for ch in unicodedata.normalize("NFC", whole))
    return " ".join(kept.split())
