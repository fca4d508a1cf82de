"""The shelf: every kept file once, under the SHA-256 of its content.

In:    bytes from anywhere, in pieces.
Out:   `files/ab/ab12...`, whole or not at all, flushed to disk before its name appears.
Fails: OSError as the disk raises it (the callers turn it into a sentence).
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from stat import S_ISREG
from typing import BinaryIO, Literal

from cli.archive.archive_folder import FILES_NAME
from cli.files import flush_folder

PIECE_BYTES = 1 << 20  # chosen: memory stays flat whatever a photo's size
_PART = "part-"
_HASH_LETTERS = 64  # of a SHA-256 in sixteens (FIPS 180-4)
State = Literal["sound", "missing", "damaged"]


@dataclass(frozen=True, slots=True)
class Put:
    """`new` is False when the content was on the shelf already."""

    sha256: str
    size: int
    new: bool


class Shelf:
    """The `files` folder of an archive, which need not be there yet to look into it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / FILES_NAME

    def path(self, sha256: str) -> Path:
        return self.folder / sha256[:2] / sha256

    def put(self, source: BinaryIO) -> Put:
        """Keep the content of `source`. A damaged file of that name is replaced by the sound one."""
        piece, following = source.read(PIECE_BYTES), source.read(PIECE_BYTES)
        digest, size = hashlib.sha256(piece), len(piece)
        if not following and self.state(digest.hexdigest(), size) == "sound":
            return Put(digest.hexdigest(), size, new=False)  # a small one need not be written to be known
        part = self.folder / f"{_PART}{secrets.token_hex(8)}"
        try:
            with part.open("xb") as file:
                file.write(piece)
                while following:
                    digest.update(following)
                    file.write(following)
                    size += len(following)
                    following = source.read(PIECE_BYTES)
                file.flush()
                os.fsync(file.fileno())
            sha256 = digest.hexdigest()
            if size > len(piece) and self.state(sha256, size) == "sound":
                part.unlink()
                return Put(sha256, size, new=False)
            target = self.path(sha256)
            try:
                part.replace(target)
            except FileNotFoundError:
                target.parent.mkdir(exist_ok=True)
                flush_folder(self.folder)
                part.replace(target)
            flush_folder(target.parent)
        except BaseException:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise
        return Put(sha256, size, new=True)

    def state(self, sha256: str, size: int | None = None) -> State:
        """Whether the file is there and still what it was."""
        try:
            found = self.path(sha256).stat()
            # A pipe or device would be waited for, or never end.
            if not S_ISREG(found.st_mode) or size not in (None, found.st_size):
                return "damaged"
            with self.path(sha256).open("rb") as file:
                return "sound" if _digest(file) == sha256 else "damaged"
        except FileNotFoundError:
            return "missing"
        except OSError:  # a bad spot on the disk, or a folder in its place
            return "damaged"

    def remove(self, sha256: str) -> int:
        """Take a file off the shelf; how many bytes that frees, 0 when it was not there."""
        path = self.path(sha256)
        try:
            size = path.stat().st_size
            path.unlink()
        except FileNotFoundError:
            return 0
        return size

    def contents(self) -> Iterator[str]:
        """The SHA-256 of every file here, by its name."""
        if self.folder.is_dir():
            for shard in sorted(self.folder.iterdir()):
                if len(shard.name) == 2 and shard.is_dir():
                    yield from sorted(
                        path.name for path in shard.iterdir() if len(path.name) == _HASH_LETTERS
                    )

    def parts(self) -> list[Path]:
        """Half-written files that an interrupted job left."""
        return sorted(self.folder.glob(f"{_PART}*")) if self.folder.is_dir() else []


def reader_of(path: Path) -> Callable[[], BinaryIO]:
    """A function that opens the file anew each time."""
    return lambda: path.open("rb")


def _digest(file: BinaryIO) -> str:
    digest = hashlib.sha256()
    while piece := file.read(PIECE_BYTES):
        digest.update(piece)
    return digest.hexdigest()
