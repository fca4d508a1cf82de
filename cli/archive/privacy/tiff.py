"""TIFF: the first page's picture and the tags that it needs, all else blank (TIFF 6.0, section 2 and appendix A).

The picture stays where it is in the file, since tags point at it; every byte that is neither picture nor
a needed value becomes 0, and a new directory goes to the end.
"""

from __future__ import annotations

import struct

from cli.archive.privacy.exif import FOCAL_35MM, LONG, ORIENTATION, SHORT, SUB_IFD, Kept, directory, entry
from cli.archive.privacy.trouble import CantStripError

# Sizes of the value kinds 1 to 12.
_BYTES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
_STRIPS, _TILES, _TABLES = (273, 279), (324, 325), 347
PICTURE_TAGS = {
    # Size, depth, compression, colours, planes, strips, resolution, predictor, palette, tiles, alpha, kind of number.
    *(254, 256, 257, 258, 259, 262, 266, 273, 277, 278, 279, 282, 283, 284, 292, 293, 296, 317, 320),
    *(322, 323, 324, 325, 332, 334, 336, 338, 339, _TABLES, 529, 530, 531, 532),
}


def strip_tiff(data: bytes, kept: Kept) -> bytes:
    order = "<" if data[:2] == b"II" else ">"
    (at,) = struct.unpack_from(f"{order}L", data, 4)
    out = bytearray(len(data) + len(data) % 2)
    out[:4] = data[:4]
    values: dict[int, tuple[int, ...]] = {}
    entries: dict[int, bytes] = {}
    (count,) = _unpack(f"{order}H", data, at)
    for index in range(count):
        where = at + 2 + 12 * index
        tag, kind, many = _unpack(f"{order}HHL", data, where)
        if tag not in PICTURE_TAGS:
            continue
        size = _BYTES.get(kind, 0) * many
        place = where + 8 if size <= 4 else _unpack(f"{order}L", data, where + 8)[0]
        if not size or place + size > len(data):
            raise CantStripError("it is damaged or of an unusual form")
        entries[tag] = data[where : where + 12]
        if size > 4:
            out[place : place + size] = data[place : place + size]
        if kind in (SHORT, LONG):
            values[tag] = _unpack(f"{order}{many}{'H' if kind == SHORT else 'L'}", data, place)
    _copy_picture(data, out, values)
    return _with_directory(out, order, entries, kept)


def _copy_picture(data: bytes, out: bytearray, values: dict[int, tuple[int, ...]]) -> None:
    copied = 0
    for places, sizes in (_STRIPS, _TILES):
        for place, size in zip(values.get(places, ()), values.get(sizes, ()), strict=True):
            if place + size > len(data):
                raise CantStripError("it is cut short")
            out[place : place + size] = data[place : place + size]
            copied += size
    if not copied:
        raise CantStripError("it is of an unusual form")


def _with_directory(out: bytearray, order: str, entries: dict[int, bytes], kept: Kept) -> bytes:
    at = len(out)
    if kept.orientation is not None:
        entries[ORIENTATION] = entry(order, ORIENTATION, SHORT, kept.orientation)
    if kept.focal_35mm is not None:
        entries[SUB_IFD] = entry(order, SUB_IFD, LONG, 0)
        after = at + len(directory(order, list(entries.values())))
        entries[SUB_IFD] = entry(order, SUB_IFD, LONG, after)
    main = directory(order, [entries[tag] for tag in sorted(entries)])
    sub = b""
    if kept.focal_35mm is not None:
        sub = directory(order, [entry(order, FOCAL_35MM, SHORT, kept.focal_35mm)])
    out[4:8] = struct.pack(f"{order}L", at)
    return bytes(out) + main + sub


def _unpack(form: str, data: bytes, at: int) -> tuple[int, ...]:
    try:
        return struct.unpack_from(form, data, at)
    except struct.error as error:
        raise CantStripError("it is damaged or cut short") from error
