"""What a photo's colours mean, without what else its colour profile holds.

In:    an ICC profile's bytes, as a camera put them into a photo.
Out:   a profile written here from the same numbers (white point, primaries, tone curves), with no text, date,
       maker or model of the old one; None where there is none of this kind, or it makes no sense.

Layout after ICC.1:2022, sections 7.2 (header), 7.3 (tag table) and 10 (tag types).
"""

from __future__ import annotations

import struct
from itertools import pairwise

_TAGS = {
    b"RGB ": (b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC"),
    b"GRAY": (b"kTRC",),
}
_HEADER_BYTES, _MOST_TAGS = 128, 100  # section 7.2; chosen
# Section 7.2, table 17: the colour space, what it leads to.
_SPACE, _CONNECTION = slice(16, 20), slice(20, 24)
_ENTRY_BYTES = 12  # section 7.3: a name, where it is, how long
_VALUES_AT = 12  # sections 10.6, 10.18: what stands before a curve's numbers
_MATRIX = 9  # three by three, section 9.2.15
_NAME_BYTES, _TEXT_AT = 12, 28  # section 10.15: of one language's entry; where its text begins
_D50 = struct.pack(">3l", 63190, 65536, 54061)  # section 7.2.16: 0.9642, 1.0, 0.8249
_VERSION = 0x04300000
_PARAMETERS = (1, 3, 4, 5, 7)  # section 10.18: how many numbers each kind of curve has
_LONGEST_CURVE = 4096
_LARGEST = 16 << 16  # chosen: no primary and no curve of a camera has a number near it


def own_profile(profile: object) -> bytes | None:
    """The profile made anew."""
    if not isinstance(profile, bytes) or len(profile) < _HEADER_BYTES + 4 or profile[_CONNECTION] != b"XYZ ":
        return None
    space = profile[_SPACE]
    try:
        old = _tags(profile)
        tags = {name: _own_tag(old[name]) for name in _TAGS[space]}
        if b"chad" in old:
            tags[b"chad"] = b"sf32\0\0\0\0" + _numbers(old[b"chad"][8:], _MATRIX)
    except (KeyError, ValueError, IndexError, struct.error):
        return None
    tags |= {b"wtpt": b"XYZ \0\0\0\0" + _D50, b"desc": _text("colours"), b"cprt": _text("none")}
    return _joined(space, tags)


def _tags(profile: bytes) -> dict[bytes, bytes]:
    (count,) = struct.unpack_from(">L", profile, _HEADER_BYTES)
    entries = (
        struct.unpack_from(">4s2L", profile, _HEADER_BYTES + 4 + _ENTRY_BYTES * index)
        for index in range(min(count, _MOST_TAGS))
    )
    return {name: profile[at : at + size] for name, at, size in entries}


def _own_tag(tag: bytes) -> bytes:
    """Raises ValueError for a tag that is no plain numbers of its kind."""
    kind = tag[:4]
    if kind == b"XYZ ":
        return b"XYZ \0\0\0\0" + _numbers(tag[8:], 3)
    if kind == b"para":
        (form,) = struct.unpack_from(">H", tag, 8)
        return b"para\0\0\0\0" + struct.pack(">2H", form, 0) + _numbers(tag[_VALUES_AT:], _PARAMETERS[form])
    (count,) = struct.unpack_from(">L", tag, 8)
    if kind != b"curv" or count > _LONGEST_CURVE:
        raise ValueError(kind)
    values = struct.unpack_from(f">{count}H", tag, _VALUES_AT)
    if any(
        one > other for one, other in pairwise(values)
    ):  # brighter is brighter, or it is no curve but a text
        raise ValueError(kind)
    return b"curv\0\0\0\0" + struct.pack(f">L{count}H", count, *values)


def _numbers(data: bytes, count: int) -> bytes:
    values = struct.unpack_from(f">{count}l", data)
    if any(abs(value) > _LARGEST for value in values):
        raise ValueError(values)
    return struct.pack(f">{count}l", *values)


def _text(text: str) -> bytes:
    """Section 10.15: one text in one language."""
    coded = text.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">2L4s2L", 1, _NAME_BYTES, b"enUS", len(coded), _TEXT_AT) + coded


def _joined(space: bytes, tags: dict[bytes, bytes]) -> bytes:
    table, body = b"", b""
    at = _HEADER_BYTES + 4 + _ENTRY_BYTES * len(tags)
    for name, tag in tags.items():
        table += struct.pack(">4s2L", name, at + len(body), len(tag))
        body += tag + b"\0" * (-len(tag) % 4)
    header = struct.pack(
        ">L4xL4s4s4s12x4s28x12s48x", at + len(body), _VERSION, b"mntr", space, b"XYZ ", b"acsp", _D50
    )
    return header + struct.pack(">L", len(tags)) + table + body
