"""HEIC and AVIF: the picture's own items stay where they are, every other byte of the data becomes 0.

Boxes after ISO/IEC 14496-12 (ISO base media file format) and items after ISO/IEC 23008-12 (HEIF). The
file keeps its length, so that no offset has to be rewritten. Which way is up is a property of the
picture here, not EXIF; the focal length goes into the place of the camera's own EXIF block where it fits.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cli.archive.privacy.exif import Kept, smallest_exif
from cli.archive.privacy.trouble import CantStripError

_TEXTS = {b"Exif", b"mime", b"uri "}  # item kinds that are no picture
_KEPT_BOXES = {b"ftyp", b"meta", b"mdat"}
_FILE, _INSIDE_META = 0, 1  # where an item's bytes are counted from


@dataclass(frozen=True, slots=True)
class _Box:
    kind: bytes
    start: int  # of its header
    body: int
    end: int


@dataclass(frozen=True, slots=True)
class _Extent:
    item: int
    start: int
    end: int


def strip_heif(data: bytes, kept: Kept) -> bytes:
    out = bytearray(data)
    boxes = list(_boxes(data, 0, len(data)))
    metas = [box for box in boxes if box.kind == b"meta"]
    if len(metas) != 1 or any(box.kind in (b"moov", b"moof") for box in boxes):
        raise CantStripError("it holds a film, or is of an unusual form")
    inner = {box.kind: box for box in _boxes(data, metas[0].body + 4, metas[0].end)}
    if b"iinf" not in inner or b"iloc" not in inner:
        raise CantStripError("it is of an unusual form")
    kinds = dict(_items(data, inner[b"iinf"]))
    extents = list(_extents(data, inner[b"iloc"], inner.get(b"idat")))
    picture = [extent for extent in extents if kinds.get(extent.item, b"mime") not in _TEXTS]
    texts = [extent for extent in extents if extent not in picture]
    if any(one.start < other.end and other.start < one.end for one in texts for other in picture):
        raise CantStripError("it is damaged: its picture lies across what is told of it")
    for box in boxes:
        if box.kind not in _KEPT_BOXES:
            out[box.start + 4 : box.start + 8] = b"free"
            out[box.body : box.end] = bytes(box.end - box.body)
    for box in [box for box in boxes if box.kind == b"mdat"] + [
        inner[kind] for kind in (b"idat",) if kind in inner
    ]:
        _blank_between(out, box, picture)
    for box in _all_boxes(data, inner.get(b"iprp")):
        if box.kind == b"colr" and data[box.body : box.body + 4] in (b"prof", b"rICC"):
            out[box.start + 4 : box.start + 8] = b"free"  # a colour profile names the device it is for
            out[box.body : box.end] = bytes(box.end - box.body)
    _put_exif(out, kept, [extent for extent in extents if kinds.get(extent.item) == b"Exif"])
    return bytes(out)


def _boxes(data: bytes, at: int, end: int) -> Iterator[_Box]:
    while at + 8 <= end:
        size, body = int.from_bytes(data[at : at + 4]), at + 8
        if size == 1:
            size, body = int.from_bytes(data[at + 8 : at + 16]), at + 16
        elif size == 0:
            size = end - at
        if size < body - at or at + size > end:
            raise CantStripError("it is damaged or cut short")
        yield _Box(data[at + 4 : at + 8], at, body, at + size)
        at += size


def _all_boxes(data: bytes, properties: _Box | None) -> Iterator[_Box]:
    if properties is not None:
        for box in _boxes(data, properties.body, properties.end):
            if box.kind == b"ipco":
                yield from _boxes(data, box.body, box.end)


def _items(data: bytes, iinf: _Box) -> Iterator[tuple[int, bytes]]:
    """Item numbers with their kinds."""
    at = iinf.body + (6 if data[iinf.body] == 0 else 8)
    for box in _boxes(data, at, iinf.end):
        if box.kind != b"infe":
            continue
        version = data[box.body]
        if version < 2:
            raise CantStripError("it is of an old form")
        wide = 2 if version == 2 else 4
        number = int.from_bytes(data[box.body + 4 : box.body + 4 + wide])
        kind_at = box.body + 4 + wide + 2
        yield number, data[kind_at : kind_at + 4]


def _extents(data: bytes, iloc: _Box, idat: _Box | None) -> Iterator[_Extent]:
    version, at = data[iloc.body], iloc.body + 4
    sizes = int.from_bytes(data[at : at + 2])
    offset_size, length_size, base_size = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
    index_size = sizes & 15 if version else 0
    wide = 2 if version < 2 else 4
    at += 2

    def number(size: int) -> int:
        nonlocal at
        at += size
        if at > iloc.end:
            raise CantStripError("it is damaged")
        return int.from_bytes(data[at - size : at])

    for _ in range(number(wide)):
        item = number(wide)
        method = number(2) & 15 if version else _FILE
        number(2)  # which file: this one
        base = number(base_size)
        for _ in range(number(2)):
            number(index_size)
            start = base + number(offset_size)
            length = number(length_size)
            if method == _INSIDE_META and idat is not None:
                start += idat.body
            elif method != _FILE:
                continue
            if start + length > len(data) or not length:
                raise CantStripError("it is damaged or of an unusual form")
            yield _Extent(item, start, start + length)


def _blank_between(out: bytearray, box: _Box, picture: list[_Extent]) -> None:
    at = box.body
    for extent in sorted(picture, key=lambda extent: extent.start):
        if extent.end <= box.body or extent.start >= box.end:
            continue
        if extent.start > at:
            out[at : extent.start] = bytes(extent.start - at)
        at = max(at, extent.end)
    if box.end > at:
        out[at : box.end] = bytes(box.end - at)


def _put_exif(out: bytearray, kept: Kept, places: list[_Extent]) -> None:
    """Four bytes tell how far into the item the TIFF block lies (ISO/IEC 23008-12, annex A): not at all."""
    nothing = b"MM\0*\0\0\0\x08\0\0\0\0\0\0"  # a TIFF block with an empty directory
    for place in places:
        for block in (smallest_exif(Kept(None, kept.focal_35mm)), nothing):
            if block and 4 + len(block) <= place.end - place.start:
                out[place.start : place.start + 4 + len(block)] = bytes(4) + block
                break
