"""The pixels of an opened picture: upright, RGB, as small as was asked for.

In:    a picture that Pillow has opened, of any kind and mode; how often to halve it.
Out:   (H, W, 3) uint8.
Fails: whatever the decoders raise on damaged data.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import Image

from vision.arrays import RgbImage
from vision.reading.jpeg_size import drafted

if TYPE_CHECKING:
    from vision.reading.heif_grid import Grid

# Chosen: rows that are worked on at once where a second copy of a picture would be too large.
_ROWS_AT_ONCE = 256
# Orientations in which rows stand upright, the last row comes first, the last column does: Exif 2.32, section 4.6.4.
_LYING, _LAST_ROW_FIRST, _LAST_COLUMN_FIRST = (5, 6, 7, 8), (3, 4, 7, 8), (2, 3, 6, 7)
_EXIF_ORIENTATION = 0x0112  # Exif 2.32, Orientation
_MOST_OF_16_BITS = 65535.0
_DEEP_MODES = ("I", "F", "I;16", "I;16B", "I;16L", "I;16N")
_CAN_REDUCE = ("L", "LA", "RGB", "RGBA", "CMYK", "YCbCr", "RGBX")  # modes whose pixels can be averaged
_HALVED = (
    cv2.IMREAD_COLOR_BGR,
    cv2.IMREAD_REDUCED_COLOR_2,
    cv2.IMREAD_REDUCED_COLOR_4,
    cv2.IMREAD_REDUCED_COLOR_8,
)


def upright_pixels(picture: Image.Image, path: Path, halvings: int, grid: Grid | None) -> RgbImage:
    """(H, W, 3) as a viewer shows it, each side halved so often; a JPEG may be decoded already."""
    if picture.format in ("JPEG", "MPO") and getattr(picture, "tile", None):
        pixels = _decoded_at_once(picture, path, halvings)
        if pixels is not None:
            return upright(pixels, picture.getexif().get(_EXIF_ORIENTATION, 1))
        halvings = drafted(picture, halvings)
    if picture.format == "HEIF" and picture.mode == "RGB" and halvings > 0:
        orientation = picture.getexif().get(_EXIF_ORIENTATION, 1)
        return upright(_heif_reduced(path, grid, 2**halvings), orientation)
    picture.load()
    # Asked only now: TIFF and HEIC readers turn the picture themselves while loading it.
    orientation = picture.getexif().get(_EXIF_ORIENTATION, 1)
    if halvings > 0:
        picture = _reduced(picture, 2**halvings)
    return upright(np.asarray(_to_rgb(picture)), orientation)


def _decoded_at_once(picture: Image.Image, path: Path, halvings: int) -> RgbImage | None:
    """A colour JPEG straight into an array, in half the time, halved by the decoder itself; None where Pillow has
    to see to it."""
    if picture.mode != "RGB" or halvings >= len(_HALVED):
        return None
    coded = np.frombuffer(path.read_bytes(), dtype=np.uint8)
    pixels = cv2.imdecode(coded, _HALVED[halvings] | cv2.IMREAD_IGNORE_ORIENTATION)
    shape = (*(-(-side // 2**halvings) for side in (picture.height, picture.width)), 3)
    if pixels is None or pixels.shape != shape:
        return None
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB, dst=pixels), dtype=np.uint8)


def _heif_reduced(path: Path, grid: Grid | None, factor: int) -> RgbImage:
    """A colour HEIC, each side so many times smaller, without Pillow's copy of all its pixels; what is left over at
    the right and the bottom stays out."""
    if grid:
        from vision.reading.heif_grid import grid_reduced

        return grid_reduced(path, grid, factor)
    import pillow_heif

    # The array is its memory: it must outlive it.
    heif = pillow_heif.open_heif(path, convert_hdr_to_8bit=True)
    pixels = np.asarray(heif)
    width, height = (side // factor for side in heif.size)  # told rightly only once it is decoded
    whole = pixels[: height * factor, : width * factor]
    return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def upright(pixels: RgbImage, orientation: int) -> RgbImage:
    """Turned and mirrored as EXIF's orientation says."""
    if orientation in _LYING:
        pixels = np.swapaxes(pixels, 0, 1)
    if orientation in _LAST_ROW_FIRST:
        pixels = pixels[::-1]
    if orientation in _LAST_COLUMN_FIRST:
        pixels = pixels[:, ::-1]
    return np.ascontiguousarray(pixels)


def _reduced(picture: Image.Image, factor: int) -> Image.Image:
    """The picture in RGB, each side so many times smaller; a band of rows at a time, since most modes have to be
    copied before their pixels can be averaged."""
    small = Image.new("RGB", (-(-picture.width // factor), -(-picture.height // factor)))
    scale = _deep_scale(picture)
    for top, band in _bands(picture, factor * _ROWS_AT_ONCE):
        if picture.mode in _DEEP_MODES:
            band = _stretched(band, scale)
        elif picture.mode not in _CAN_REDUCE:
            band = band.convert("RGBA" if _is_transparent(picture) else "RGB")
        small.paste(_to_rgb(band.reduce(factor)), (0, top // factor))
    return small


def _bands(picture: Image.Image, rows: int) -> Iterator[tuple[int, Image.Image]]:
    """Bands of so many rows, each with the row that it begins with."""
    for top in range(0, picture.height, rows):
        yield top, picture.crop((0, top, picture.width, min(top + rows, picture.height)))


def _is_transparent(picture: Image.Image) -> bool:
    return picture.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in picture.info


def without_palette(picture: Image.Image) -> Image.Image:
    """The same pixels as plain values of grey or colour, with their transparency if they have any."""
    if picture.mode in _DEEP_MODES:
        return picture if picture.mode == "I;16" else _from_deep_grey(picture)
    if _is_transparent(picture):
        return picture if picture.mode in ("LA", "RGBA") else picture.convert("RGBA")
    return picture if picture.mode in ("1", "L", "RGB") else picture.convert("RGB")


def _to_rgb(picture: Image.Image) -> Image.Image:
    """RGB, what is transparent on white."""
    if picture.mode in _DEEP_MODES:
        picture = _from_deep_grey(picture)
    if _is_transparent(picture):
        layered = picture.convert("RGBA")
        paper = Image.new("RGB", layered.size, "white")
        paper.paste(layered, mask=layered.getchannel("A"))
        return paper
    return picture if picture.mode == "RGB" else picture.convert("RGB")


def _from_deep_grey(picture: Image.Image) -> Image.Image:
    return _stretched(picture, _deep_scale(picture))


def _deep_scale(picture: Image.Image) -> float:
    """What takes 16-bit and float grey to 8 bits: by what its type can hold, not by what this picture holds."""
    if picture.mode not in _DEEP_MODES:
        return 1.0
    top = max(float(np.asarray(band).max(initial=0)) for _, band in _bands(picture, _ROWS_AT_ONCE))
    if top <= 1.0 and picture.mode == "F":
        return 255.0
    return 1.0 if top <= 255.0 else 255.0 / _MOST_OF_16_BITS


def _stretched(picture: Image.Image, scale: float) -> Image.Image:
    """Deep grey in 8 bits."""
    grey = Image.new("L", picture.size)
    for top, band in _bands(picture, _ROWS_AT_ONCE):
        rows = np.asarray(band, dtype=np.float32) * scale + 0.5
        grey.paste(Image.fromarray(np.clip(rows, 0, 255).astype(np.uint8)), (0, top))
    return grey
