"""A HEIC picture that is a grid of tiles, as phones write large ones, made small tile by tile.

In:    a path, and how many times smaller each side is to be.
Out:   a `Grid`, None for a file that is none or has anything unusual in it; RGB pixels, turned as the file says.
Fails: what the library raises on damaged tiles.

The library that reads HEIC decodes a picture whole, 4.5 bytes a pixel. So each tile is given to it as a small
file of its own, made of the tile's own description and data. The grid: ISO/IEC 23008-12:2022, section 6.6.2.3. From
memory, and held against what the library makes of the whole picture.
"""

from __future__ import annotations

import io
import struct
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import BinaryIO, TypeVar

import cv2
import numpy as np

from vision.arrays import RgbImage
from vision.reading.heif_items import Property, Span, UnusualError, box, items_in

# Chosen: phones' tiles are far smaller.
_LARGEST_TILE_PIXELS = 4096 * 4096
_LARGEST_ROW_BYTES = 64_000_000
_SIDES_OF = 16  # tiles can be made smaller by its powers of two without a rest; phones write 256 or 512
_TILE_KIND, _GRID_KIND = b"hvc1", b"grid"
_TILE_NEEDS = (b"hvcC", b"ispe", b"colr", b"pixi")  # a tile's properties that its picture depends on
_GRID_MAY_HAVE = (b"ispe", b"colr", b"pixi", b"irot", b"imir")
_AT_ONCE = 4  # tiles decoded side by side, as many as the library itself does
_ALONE = 1  # the only item's number in a tile's own file
_ESSENTIAL = 0x80

_Item = TypeVar("_Item")


@dataclass(frozen=True, slots=True)
class _Tile:
    """Where its data lies in the file, and the properties to decode it by."""

    offset: int
    length: int
    properties: tuple[Property, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """Sizes in pixels, before the picture is turned by `turns`, one after the other."""

    width: int
    height: int
    tile_width: int
    tile_height: int
    tiles: tuple[tuple[_Tile, ...], ...]  # row by row
    turns: tuple[Property, ...]


def grid_in(path: Path) -> Grid | None:
    """The grid that a file's picture is; None where it is none, or not just as phones write them."""
    try:
        with path.open("rb") as file:
            return _grid(file)
    except (UnusualError, struct.error, OSError):
        return None


def grid_reduced(path: Path, grid: Grid, factor: int) -> RgbImage:
    """The picture, each side so many times smaller, 2, 4, 8 or 16 times; what is left over at the grid's right and
    bottom stays out."""
    pixels = np.empty((grid.height // factor, grid.width // factor, 3), dtype=np.uint8)
    high, wide = grid.tile_height // factor, grid.tile_width // factor
    with path.open("rb") as file, ThreadPoolExecutor(_AT_ONCE) as threads:
        for row, tiles in enumerate(grid.tiles):
            # A row at a time, so that never more than its data waits in memory.
            coded = [_alone(file, tile) for tile in tiles]
            for column, small in enumerate(threads.map(partial(_small, grid, factor), coded)):
                room = pixels[row * high :, column * wide :][:high, :wide]
                room[:] = small[: room.shape[0], : room.shape[1]]
    return _turned(pixels, grid.turns)


def _alone(file: BinaryIO, tile: _Tile) -> bytes:
    """The tile as a file of its own."""
    file.seek(tile.offset)
    return _head(tile.properties, tile.length) + file.read(tile.length)


def _small(grid: Grid, factor: int, coded: bytes) -> RgbImage:
    """One tile's pixels, each side so many times smaller."""
    import pillow_heif

    pixels = np.asarray(pillow_heif.open_heif(io.BytesIO(coded), convert_hdr_to_8bit=True))
    if pixels.ndim != 3 or pixels.shape[0] < grid.tile_height or pixels.shape[1] < grid.tile_width:
        raise ValueError("a tile is not as large as the file says")
    whole = pixels[: grid.tile_height, : grid.tile_width, :3]
    size = (grid.tile_width // factor, grid.tile_height // factor)
    return np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _turned(pixels: RgbImage, turns: tuple[Property, ...]) -> RgbImage:
    for turn in turns:
        said = turn.body[0] & 3
        if turn.kind == b"irot":
            pixels = np.rot90(pixels, said)  # quarters of a turn against the clock
        else:
            pixels = pixels[:, ::-1] if said & 1 else pixels[::-1]
    return np.ascontiguousarray(pixels)


def _head(properties: tuple[Property, ...], length: int) -> bytes:
    """A file with one picture, up to the picture's data."""
    kinds = box(b"ftyp", b"heic", bytes(4), b"mif1heic")
    links = bytes(_ESSENTIAL * one.essential | number for number, one in enumerate(properties, start=1))

    def meta(offset: int) -> bytes:
        return _full(
            b"meta",
            _full(b"hdlr", bytes(4), b"pict", bytes(13)),
            _full(b"pitm", struct.pack(">H", _ALONE)),
            _full(
                b"iinf",
                struct.pack(">H", 1),
                _full(b"infe", struct.pack(">HH", _ALONE, 0), _TILE_KIND, b"\0", version=2),
            ),
            _full(b"iloc", struct.pack(">BBHHHHII", 0x44, 0, 1, _ALONE, 0, 1, offset, length)),
            box(
                b"iprp",
                box(b"ipco", *(one.box for one in properties)),
                _full(b"ipma", struct.pack(">IHB", 1, _ALONE, len(links)), links),
            ),
        )

    start = len(kinds) + len(meta(0)) + 8
    return kinds + meta(start) + struct.pack(">I", length + 8) + b"mdat"


def _full(kind: bytes, *parts: bytes, version: int = 0) -> bytes:
    return box(kind, bytes([version, 0, 0, 0]), *parts)


def _grid(file: BinaryIO) -> Grid:
    items = items_in(file)
    if items.kinds.get(items.primary) != _GRID_KIND:
        raise UnusualError
    rows, columns, width, height = _descriptor(file, _of(items.places, items.primary), items.inside)
    numbers, of_grid = _of(items.derived, items.primary), _of(items.properties, items.primary)
    if len(numbers) != rows * columns or any(items.kinds.get(number) != _TILE_KIND for number in numbers):
        raise UnusualError
    if any(one.kind == b"clap" or (one.essential and one.kind not in _GRID_MAY_HAVE) for one in of_grid):
        raise UnusualError
    if _size(of_grid) != (width, height):
        raise UnusualError
    colours = tuple(one for one in of_grid if one.kind == b"colr")
    tiles = [_tile(_of(items.places, number), _of(items.properties, number), colours) for number in numbers]
    sizes = {_size(tile.properties) for tile in tiles}
    if len(sizes) != 1:
        raise UnusualError
    tile_width, tile_height = sizes.pop()
    if not (columns - 1) * tile_width < width <= columns * tile_width:
        raise UnusualError
    if not (rows - 1) * tile_height < height <= rows * tile_height:
        raise UnusualError
    if tile_width * tile_height > _LARGEST_TILE_PIXELS or tile_width % _SIDES_OF or tile_height % _SIDES_OF:
        raise UnusualError
    in_rows = tuple(tuple(tiles[row * columns : (row + 1) * columns]) for row in range(rows))
    if max(sum(tile.length for tile in row) for row in in_rows) > _LARGEST_ROW_BYTES:
        raise UnusualError
    turns = tuple(one for one in of_grid if one.kind in (b"irot", b"imir") and one.body)
    return Grid(width, height, tile_width, tile_height, in_rows, turns)


def _tile(place: Span, properties: tuple[Property, ...], colours: tuple[Property, ...]) -> _Tile:
    """What colours the whole grid is said to have goes before what a tile says of itself."""
    if place.in_meta or place.length <= 0:
        raise UnusualError
    if any(one.essential and one.kind not in _TILE_NEEDS for one in properties):
        raise UnusualError
    needed = tuple(one for one in properties if one.kind in _TILE_NEEDS)
    if colours:
        needed = (*(one for one in needed if one.kind != b"colr"), *colours)
    return _Tile(place.offset, place.length, needed)


def _size(properties: tuple[Property, ...]) -> tuple[int, int]:
    sizes = [one.body for one in properties if one.kind == b"ispe"]
    if len(sizes) != 1:
        raise UnusualError
    _, width, height = struct.unpack(">III", sizes[0])
    if not width or not height:
        raise UnusualError
    return width, height


def _descriptor(file: BinaryIO, place: Span, inside: bytes) -> tuple[int, int, int, int]:
    """Rows, columns, width and height of the grid."""
    if place.length not in (8, 12):
        raise UnusualError
    if place.in_meta:
        data = inside[place.offset : place.offset + place.length]
    else:
        file.seek(place.offset)
        data = file.read(place.length)
    version, flags, rows, columns = struct.unpack_from(">BBBB", data)
    if version:
        raise UnusualError
    width, height = struct.unpack(">II" if flags & 1 else ">HH", data[4:])
    return rows + 1, columns + 1, width, height


def _of(found: dict[int, _Item], number: int) -> _Item:
    if number not in found:
        raise UnusualError
    return found[number]
