"""Look a strange zip over before anything of it is used: names, links, sizes, what is squeezed how hard.

In:    a zip file's path.
Out:   its entries that are files, by their paths inside.
Fails: `BadZipError` with one sentence. Nothing is ever unpacked under a name that a zip gives.
"""

from __future__ import annotations

import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from cli.archive.kept_design import folded, name_trouble
from cli.file_trouble import FileTroubleError

MOST_FILES = 200_000  # chosen: 20,000 designs of ten files
MOST_LIST_BYTES = (
    MOST_FILES * 400
)  # chosen: an entry takes 46 bytes and its name (APPNOTE 6.3, section 4.3.12)
LARGEST_FILE_BYTES = 400_000_000  # chosen: twice the largest photo that can be opened
# Chosen: above a megabyte nothing that belongs here shrinks to a hundredth; a trap shrinks to a thousandth.
HARDEST_SQUEEZE, SQUEEZE_FROM_BYTES = 100, 1_000_000
MOST_IN_SMALL_BYTES = 100_000_000  # chosen: so much may come out of any zip, however small
_HEADER_BYTES = 30  # APPNOTE 6.3, section 4.3.7: what stands before each file's name
_END_BYTES, _END_MOST_BYTES = 22, 22 + 65_535  # section 4.3.16
_LIST_BYTES_AT = 12  # section 4.3.16: how long the list is
# The long form, section 4.3.15 and 4.3.14: its locator, its record up to the list's place, and how long the list is.
_LOCATOR_BYTES, _RECORD_BYTES, _LONG_LIST_BYTES_AT = 20, 56, 40
_SHOWN_LETTERS = 60  # chosen: of a name in a message
_DRIVE = re.compile(r"^[A-Za-z]:")
# What Windows and macOS put beside people's files unasked.
_DROSS = {".ds_store", "thumbs.db", "desktop.ini"}
_DROSS_FOLDER = "__MACOSX"


class BadZipError(FileTroubleError):
    """The zip is the trouble; nothing of it was kept."""

    def __init__(self, path: Path, seen: str) -> None:
        super().__init__(f"{path}: {seen}; nothing was brought in.")


@contextmanager
def opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, dict[PurePosixPath, zipfile.ZipInfo]]]:
    """The zip and its files by path, all looked over."""
    with reading(path):
        _require_file(path)
        with path.open("rb") as file:
            _require_short_list(file, path)
            with zipfile.ZipFile(file) as source:
                yield source, _looked_over(source, path)


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """Turn what reading a damaged zip raises into one sentence."""
    try:
        yield
    except zipfile.BadZipFile as error:
        raise BadZipError(path, "this is not a zip, or it is damaged or cut short; copy it again") from error
    except (zlib.error, EOFError, struct.error, NotImplementedError, RuntimeError, OverflowError) as error:
        raise BadZipError(path, "this zip is damaged or of an unusual form; copy it again") from error
    except (ValueError, UnicodeError, IndexError, MemoryError) as error:
        raise BadZipError(path, "this zip is damaged; copy it again") from error


def _require_file(path: Path) -> None:
    if not path.exists():
        raise BadZipError(path, "there is no such file; check the name and the folder")
    if not path.is_file():
        what = "a folder" if path.is_dir() else "no ordinary file"
        raise BadZipError(path, f"this is {what}; name the zip that `pencilamp archive take-out` made")


def _require_short_list(file: BinaryIO, path: Path) -> None:
    """Python's zip reader takes a zip's whole list of entries into memory: look first how long it is."""
    length = file.seek(0, 2)
    tail_at = max(0, length - _END_MOST_BYTES - _LOCATOR_BYTES)
    file.seek(tail_at)
    tail = file.read()
    end = tail.rfind(b"PK\x05\x06")
    if end < 0 or len(tail) - end < _END_BYTES:
        raise zipfile.BadZipFile
    (list_bytes,) = struct.unpack_from("<L", tail, end + _LIST_BYTES_AT)
    locator = end - _LOCATOR_BYTES
    if locator >= 0 and tail[locator : locator + 4] == b"PK\x06\x07":  # the long form, section 4.3.15
        (record_at,) = struct.unpack_from("<Q", tail, locator + 8)
        if record_at + _RECORD_BYTES <= length:
            file.seek(record_at + _LONG_LIST_BYTES_AT)
            (list_bytes,) = struct.unpack("<Q", file.read(8))
    if list_bytes > MOST_LIST_BYTES:
        raise BadZipError(path, f"it says that it holds more than {MOST_FILES:,} files")
    file.seek(0)


def _looked_over(source: zipfile.ZipFile, path: Path) -> dict[PurePosixPath, zipfile.ZipInfo]:
    entries = source.infolist()
    if len(entries) > MOST_FILES:
        raise BadZipError(path, f"it holds more than {MOST_FILES:,} files")
    _refuse_overlaps(source, entries, path)
    files: dict[PurePosixPath, zipfile.ZipInfo] = {}
    seen: set[str] = set()
    for entry in entries:
        # `filename` has been made harmless by Python's reader; what the zip really says is here.
        name = entry.orig_filename
        fault = next(_faults(entry, name), None)
        if folded(name.rstrip("/")) in seen:
            fault = fault or f"it holds {_brief(name)} twice"
        if fault is not None:
            raise BadZipError(path, fault)
        seen.add(folded(name.rstrip("/")))
        inside = PurePosixPath(name)
        if not name.endswith("/") and not _is_dross(inside):
            files[inside] = entry
    swollen = sum(entry.file_size for entry in files.values())
    if swollen > max(MOST_IN_SMALL_BYTES, HARDEST_SQUEEZE * path.stat().st_size):
        raise BadZipError(path, f"it would swell to {swollen / 1e6:,.0f} MB")
    return files


def _faults(entry: zipfile.ZipInfo, name: str) -> Iterator[str]:
    """Why an entry is refused, each by itself reason enough."""
    what = f"it holds {_brief(name)}"
    if name.startswith(("/", "\\")) or _DRIVE.match(name):
        yield f"{what}, a name that leads to a fixed place on the disk"
    if ".." in name.replace("\\", "/").split("/"):
        yield f"{what}, a name that leads out of its folder"
    for part in name.removesuffix("/").split("/"):
        trouble = name_trouble(part)
        if trouble is not None:
            yield f"{what}, which {trouble}"
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        yield f"{what}, which is {'a link and not a' if kind == stat.S_IFLNK else 'no ordinary'} file"
    if entry.flag_bits & 1:
        yield f"{what}, which is locked with a password"
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        yield f"{what}, which is squeezed in a way that is not known here"
    if _is_dross(PurePosixPath(name)):
        return  # never unpacked
    if entry.file_size > LARGEST_FILE_BYTES:
        yield f"{what}, which is over {LARGEST_FILE_BYTES // 1_000_000} MB"
    if entry.file_size > max(SQUEEZE_FROM_BYTES, HARDEST_SQUEEZE * entry.compress_size):
        yield f"{what}, which would swell to more than {HARDEST_SQUEEZE} times its size"


def _refuse_overlaps(source: zipfile.ZipFile, entries: list[zipfile.ZipInfo], path: Path) -> None:
    """Entries that share bytes make a small zip swell beyond any single entry's measure."""
    at = 0
    for entry in sorted(entries, key=lambda entry: entry.header_offset):
        if entry.header_offset < at:
            raise BadZipError(path, f"{_brief(entry.orig_filename)} in it lies across another file")
        at = entry.header_offset + _HEADER_BYTES + entry.compress_size
    if at > source.start_dir:
        raise zipfile.BadZipFile


def _is_dross(inside: PurePosixPath) -> bool:
    return inside.parts[0] == _DROSS_FOLDER or inside.name.casefold() in _DROSS


def _brief(name: str) -> str:
    text = "".join(ch if ch.isprintable() else "?" for ch in name)
    return text if len(text) <= _SHOWN_LETTERS else f"{text[: _SHOWN_LETTERS - 3]}..."
