"""The two EXIF values that reading a card needs, as the smallest EXIF block that holds them.

Layout after TIFF 6.0, section 2, and Exif 2.32, sections 4.6.2 to 4.6.4.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

ORIENTATION = 0x0112
SUB_IFD = 0x8769
FOCAL_35MM = 0xA405
SHORT, LONG = 3, 4


@dataclass(frozen=True, slots=True)
class Kept:
    """What stays; None where the photo says nothing, or says that it lies upright."""

    orientation: int | None
    focal_35mm: int | None


def entry(order: str, tag: int, kind: int, value: int) -> bytes:
    """One 12-byte directory entry with a single SHORT or LONG in it."""
    packed = struct.pack(f"{order}HH", value, 0) if kind == SHORT else struct.pack(f"{order}L", value)
    return struct.pack(f"{order}HHL", tag, kind, 1) + packed


def directory(order: str, entries: list[bytes]) -> bytes:
    """A directory of these entries, which must be in the order of their tags, and none after it."""
    return struct.pack(f"{order}H", len(entries)) + b"".join(entries) + struct.pack(f"{order}L", 0)


def smallest_exif(kept: Kept) -> bytes:
    """A TIFF block, without the `Exif` header that JPEG puts in front; empty when there is nothing to keep."""
    if kept.orientation is None and kept.focal_35mm is None:
        return b""
    entries = []
    if kept.orientation is not None:
        entries.append(entry("<", ORIENTATION, SHORT, kept.orientation))
    if kept.focal_35mm is None:
        return b"II*\0" + struct.pack("<L", 8) + directory("<", entries)
    sub_at = 8 + len(directory("<", [*entries, b"\0" * 12]))
    entries.append(entry("<", SUB_IFD, LONG, sub_at))
    sub = directory("<", [entry("<", FOCAL_35MM, SHORT, kept.focal_35mm)])
    return b"II*\0" + struct.pack("<L", 8) + directory("<", entries) + sub
