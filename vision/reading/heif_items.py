"""What a HEIC file says of the items in it: kinds, places in the file, properties, what is derived from what.

In:    the open file.
Out:   `Items`.
Fails: `UnusualError` or struct.error for anything that this reader does not know, or that makes no sense.

A small strict reader of the few boxes that a grid of tiles needs: ISO/IEC 14496-12:2022, sections 4.2 and
8.11; ISO/IEC 23008-12:2022, section 9.3. From memory, and held against files that a library writes.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

# Chosen: far more than any phone's file has; a header of 1,000 tiles takes 60 kB.
_LARGEST_META_BYTES = 4_000_000
_MOST_BOXES = 64
_LOW_FOUR = 15  # bits, where two sizes share a byte: ISO/IEC 14496-12, section 8.11.3


class UnusualError(Exception):
    """Something that this reader does not know, or that makes no sense: the library itself is to judge the file."""


@dataclass(frozen=True, slots=True)
class Property:
    """`box` is the whole box; `essential`: who does not know it can't show the picture."""

    kind: bytes
    box: bytes
    essential: bool

    @property
    def body(self) -> bytes:
        return self.box[8:]


@dataclass(frozen=True, slots=True)
class Span:
    offset: int
    length: int
    in_meta: bool  # in the box `idat`, not in the file


@dataclass(frozen=True, slots=True)
class Items:
    """By the items' numbers. `inside` is the data that lies in the header itself; `derived` leads from an item to
    those that it is made of."""

    primary: int
    kinds: dict[int, bytes]
    places: dict[int, Span]
    properties: dict[int, tuple[Property, ...]]
    derived: dict[int, tuple[int, ...]]
    inside: bytes


def items_in(file: BinaryIO) -> Items:
    """What the file's header says."""
    boxes = dict(_boxes(_meta(file)))
    return Items(
        _number(_needed(boxes, b"pitm")),
        _kinds(_needed(boxes, b"iinf")),
        _places(_needed(boxes, b"iloc")),
        _properties(_needed(boxes, b"iprp")),
        _derived(_needed(boxes, b"iref")),
        boxes.get(b"idat", b""),
    )


def box(kind: bytes, *parts: bytes) -> bytes:
    """A box with these parts in it."""
    return struct.pack(">I", 8 + sum(map(len, parts))) + kind + b"".join(parts)


def _meta(file: BinaryIO) -> bytes:
    """What is in the file's `meta` box, behind its version."""
    at = 0
    for _ in range(_MOST_BOXES):
        file.seek(at)
        size, kind = struct.unpack(">I4s", file.read(8))
        if size == 1:
            (size,) = struct.unpack(">Q", file.read(8))
        elif kind == b"meta":
            if not 12 <= size <= _LARGEST_META_BYTES:
                raise UnusualError
            return file.read(size - 8)[4:]
        if size < 8:
            raise UnusualError
        at += size
    raise UnusualError


def _boxes(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """The boxes side by side in `data`, each with what is in it."""
    at = 0
    while at < len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        if not 8 <= size <= len(data) - at:
            raise UnusualError
        yield kind, data[at + 8 : at + size]
        at += size


class _Fields:
    """Whole numbers one behind the other."""

    def __init__(self, data: bytes, at: int = 0) -> None:
        self._data, self._at = data, at

    def take(self, size: int) -> int:
        """Of so many bytes; none are 0."""
        end = self._at + size
        if end > len(self._data):
            raise UnusualError
        number = int.from_bytes(self._data[self._at : end])
        self._at = end
        return number

    def skip(self, size: int) -> None:
        self._at += size
        if self._at > len(self._data):
            raise UnusualError


def _number(data: bytes) -> int:
    return _Fields(data, 4).take(4 if data[0] else 2)


def _kinds(data: bytes) -> dict[int, bytes]:
    """Each item's kind, by its number, from `iinf`."""
    wide = 4 if data[:1] != b"\0" else 2
    kinds = {}
    for kind, entry in _boxes(data[4 + wide :]):
        if kind != b"infe" or entry[0] not in (2, 3):
            raise UnusualError
        fields = _Fields(entry, 4)
        number, protected = fields.take(2 if entry[0] == 2 else 4), fields.take(2)
        kinds[number] = b"" if protected else fields.take(4).to_bytes(4)
    return kinds


def _places(data: bytes) -> dict[int, Span]:
    """Where each item's data lies, from `iloc`; items in several pieces, or elsewhere, are left out."""
    fields = _Fields(data)
    version = fields.take(1)
    if version > 2:
        raise UnusualError
    fields.skip(3)
    sizes, more = fields.take(1), fields.take(1)
    wide = 4 if version == 2 else 2
    places = {}
    for _ in range(fields.take(wide)):
        number = fields.take(wide)
        way = fields.take(2) & _LOW_FOUR if version else 0
        elsewhere = fields.take(2)
        base = fields.take(more >> 4)
        pieces = fields.take(2)
        of_index, of_offset, of_length = more & _LOW_FOUR if version else 0, sizes >> 4, sizes & _LOW_FOUR
        if pieces != 1 or elsewhere or way not in (0, 1):
            fields.skip(pieces * (of_index + of_offset + of_length))
            continue
        fields.skip(of_index)
        places[number] = Span(base + fields.take(of_offset), fields.take(of_length), way == 1)
    return places


def _derived(data: bytes) -> dict[int, tuple[int, ...]]:
    """What each derived item is made of, from `iref`."""
    wide = 4 if data[:1] != b"\0" else 2
    derived = {}
    for kind, entry in _boxes(data[4:]):
        fields = _Fields(entry)
        number = fields.take(wide)
        if kind == b"dimg":
            derived[number] = tuple(fields.take(wide) for _ in range(fields.take(2)))
    return derived


def _properties(data: bytes) -> dict[int, tuple[Property, ...]]:
    """Each item's properties in their order, from `iprp`."""
    inside = list(_boxes(data))
    there = [
        (kind, box(kind, body)) for name, all_of in inside if name == b"ipco" for kind, body in _boxes(all_of)
    ]
    found = {}
    for name, links in inside:
        if name != b"ipma":
            continue
        fields = _Fields(links, 3)
        wide, long_links = 4 if links[0] else 2, fields.take(1) & 1
        for _ in range(fields.take(4)):
            number = fields.take(wide)
            own = []
            for _ in range(fields.take(1)):
                link = fields.take(2) if long_links else fields.take(1)
                essential, index = divmod(link, 0x8000 if long_links else 0x80)
                if not 0 < index <= len(there):
                    raise UnusualError
                own.append(Property(*there[index - 1], bool(essential)))
            found[number] = tuple(own)
    return found


def _needed(boxes: dict[bytes, bytes], kind: bytes) -> bytes:
    data = boxes.get(kind, b"")
    if len(data) < 4:
        raise UnusualError
    return data
