"""PNG: of all chunks only those that the picture needs (W3C PNG specification, third edition, sections 5 and 11)."""

from __future__ import annotations

import zlib

from cli.archive.privacy.exif import Kept, smallest_exif
from cli.archive.privacy.trouble import CantStripError

_SIGNATURE_BYTES = 8
_PICTURE = {b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND", b"sRGB", b"gAMA", b"cHRM", b"sBIT", b"cICP", b"pHYs"}


def strip_png(data: bytes, kept: Kept) -> bytes:
    """What follows the picture's end goes too."""
    out = [data[:_SIGNATURE_BYTES]]
    exif = smallest_exif(kept)
    at = _SIGNATURE_BYTES
    while True:
        size = int.from_bytes(data[at : at + 4])
        kind, end = data[at + 4 : at + 8], at + 12 + size
        if len(kind) != 4 or end > len(data):
            raise CantStripError("it is damaged or cut short")
        if kind in _PICTURE:
            out.append(data[at:end])
        if kind == b"IHDR" and exif:
            out.append(_chunk(b"eXIf", exif))
        if kind == b"IEND":
            return b"".join(out)
        at = end


def _chunk(kind: bytes, body: bytes) -> bytes:
    return len(body).to_bytes(4) + kind + body + zlib.crc32(kind + body).to_bytes(4)
