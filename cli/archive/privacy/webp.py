"""WebP: of all chunks only those that the picture needs (RFC 9649, section 2)."""

from __future__ import annotations

from cli.archive.privacy.exif import Kept, smallest_exif
from cli.archive.privacy.trouble import CantStripError

_PICTURE = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ANIM", b"ANMF"}
_ICC, _EXIF, _XMP = 0x20, 0x08, 0x04  # RFC 9649, section 2.7.1.2: flags of the first byte


def strip_webp(data: bytes, kept: Kept) -> bytes:
    end = 8 + int.from_bytes(data[4:8], "little")
    if end > len(data):
        raise CantStripError("it is cut short")
    exif = smallest_exif(kept)
    chunks: list[tuple[bytes, bytes]] = []
    at = 12
    while at + 8 <= end:
        kind, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "little")
        body = data[at + 8 : at + 8 + size]
        if len(body) != size:
            raise CantStripError("it is damaged or cut short")
        if kind in _PICTURE:
            chunks.append((kind, body))
        at += 8 + size + size % 2
    if chunks and chunks[0][0] == b"VP8X":
        body = chunks[0][1]
        flags = body[0] & ~(_ICC | _XMP | _EXIF) | (_EXIF if exif else 0)
        chunks[0] = (b"VP8X", bytes((flags,)) + body[1:])
        if exif:
            chunks.append((b"EXIF", exif))
    inside = b"WEBP" + b"".join(
        kind + len(body).to_bytes(4, "little") + body + b"\0" * (len(body) % 2) for kind, body in chunks
    )
    return b"RIFF" + len(inside).to_bytes(4, "little") + inside
