"""JPEG: of all segments only those that the decoder needs (ITU-T T.81, annex B)."""

from __future__ import annotations

from cli.archive.privacy.exif import Kept, smallest_exif
from cli.archive.privacy.trouble import CantStripError

_SOI, _EOI, _SOS, _APP0, _APP1, _APP14 = 0xD8, 0xD9, 0xDA, 0xE0, 0xE1, 0xEE
_STANDALONE = {0x01, *range(0xD0, 0xD8)}  # TEM and the restart markers have no length
# SOF0-15 with DHT, JPG and DAC among them; DQT, DNL, DRI, DHP, EXP.
_PICTURE = {*range(0xC0, 0xD0), 0xDB, 0xDC, 0xDD, 0xDE, 0xDF}
_JFIF_BYTES = 14  # what the JFIF segment holds before its thumbnail (ITU-T T.871, section 10.1)


def strip_jpeg(data: bytes, kept: Kept) -> bytes:
    """Ends at the picture's own end: what phones put behind it (a second picture, a film) goes."""
    out = [b"\xff\xd8"]
    exif = smallest_exif(kept)
    if exif:
        out.append(_segment(_APP1, b"Exif\0\0" + exif))
    at = 2
    while True:
        marker, at = _marker(data, at)
        if marker == _EOI:
            out.append(b"\xff\xd9")
            return b"".join(out)
        if marker in _STANDALONE:
            continue
        size = int.from_bytes(data[at : at + 2])
        if size < 2 or at + size > len(data):
            raise CantStripError("it is damaged or cut short")
        body = data[at + 2 : at + size]
        at += size
        if marker in _PICTURE:
            out.append(_segment(marker, body))
        elif marker == _APP0 and body.startswith(b"JFIF\0"):
            out.insert(1, _segment(_APP0, body[: _JFIF_BYTES - 2] + b"\0\0"))  # no thumbnail
        elif marker == _APP14 and body.startswith(b"Adobe"):
            out.append(_segment(_APP14, body[:12]))  # says how the colours are coded
        elif marker == _SOS:
            end = _end_of_scan(data, at)
            out += [_segment(_SOS, body), data[at:end]]
            at = end


def _segment(marker: int, body: bytes) -> bytes:
    return bytes((0xFF, marker)) + (len(body) + 2).to_bytes(2) + body


def _marker(data: bytes, at: int) -> tuple[int, int]:
    """The next marker, and where what follows it begins."""
    if data[at] != 0xFF:
        raise CantStripError("it is damaged")
    while data[at] == 0xFF:  # fill bytes
        at += 1
    return data[at], at + 1


def _end_of_scan(data: bytes, at: int) -> int:
    """Where the coded picture ends: at a marker that is no stuffed byte and no restart."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            raise CantStripError("it is cut short")
        follows = data[at + 1]
        if follows == 0 or 0xD0 <= follows <= 0xD7:
            at += 2
        elif follows == 0xFF:
            at += 1
        else:
            return at
