"""Open a picture file as people's phones and scanners leave it.

In:    a path to a JPEG, PNG, HEIC, WebP or TIFF; grey, CMYK, 16-bit or with alpha.
Out:   a `Photo`: (H, W, 3) uint8 RGB, its EXIF orientation applied, transparent parts on white.
Fails: `PhotoFileError` (exit code 4) when the file is the trouble: missing, a folder, empty,
       not a picture, cut short, or too many pixels to open.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import Image, UnidentifiedImageError

from circuit.errors import PencilampError
from vision.arrays import RgbImage
from vision.reading.hushed import hushed

if TYPE_CHECKING:
    from vision.reading.heif_grid import Grid

# Chosen. The largest phone sensors give 200 megapixels; beyond that a file is a mistake or a trap.
MOST_PIXELS = 210_000_000
# A picture is halved (again and again) while it is opened, as long as so many pixels are left: 12 megapixels become
# 3, some 8 to the millimetre of card, in half of the time. Measured on 175 photos of 12 megapixels: places are off by
# 0.35 mm at 95 % instead of 0.33, and fewer photos are doubted or refused.
ENOUGH_PIXELS = 2_500_000
# Chosen: the most that a picture has that is looked at more closely.
FINEST_PIXELS = 25_000_000
# Chosen: the largest that phones and scanners leave takes half of it.
LARGEST_BYTES = 500_000_000
# Chosen: JPEG is reduced while it is decoded; all else is decoded whole, which takes up to 7 bytes a pixel (measured),
# HEIC 4.5: its own three layers and the colours made of them. One that is a grid of tiles is made small tile by tile.
MOST_PIXELS_WHOLE = 100_000_000
MOST_PIXELS_HEIC = 140_000_000
# Chosen, for a progressive JPEG: all of its coefficients are in memory before the first pixel is; what 200 megapixels
# take with colours at half size, as phones write them. [bytes]
MOST_COEFFICIENT_BYTES = 605_000_000
# Chosen: from here on neither the file itself is held in memory beside the coefficients, nor finer pixels than the
# first look's. [bytes]
_MANY_COEFFICIENT_BYTES = 300_000_000
# Chosen: rows that are worked on at once where a second copy of a picture would be too large.
_ROWS_AT_ONCE = 256
Image.MAX_IMAGE_PIXELS = MOST_PIXELS  # Pillow's own refuses what phones make; it speaks up at twice this
_MOST = {"JPEG": MOST_PIXELS, "MPO": MOST_PIXELS, "HEIF": MOST_PIXELS_HEIC}  # of a grid of tiles MOST_PIXELS
_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"hevm", b"mif1", b"msf1", b"avif")
# Bytes of each of the first box's length, its kind and the file's brand: ISO/IEC 14496-12, section 4.2.
_HEIF_WORD = 4
_EXIF_SUB_IFD = 0x8769  # Exif 2.32, section 4.6.3
_LONGEST_FOCAL_MM = 1000.0  # chosen: no phone says more, and a camera that does photographs no card
# Orientations in which rows stand upright, the last row comes first, the last column does: Exif 2.32, section 4.6.4.
_LYING, _LAST_ROW_FIRST, _LAST_COLUMN_FIRST = (5, 6, 7, 8), (3, 4, 7, 8), (2, 3, 6, 7)
_MOST_OF_16_BITS = 65535.0
_EXIF_FOCAL_35MM = 0xA405  # Exif 2.32, FocalLengthIn35mmFilm
_EXIF_ORIENTATION = 0x0112  # Exif 2.32, Orientation
_DEEP_MODES = ("I", "F", "I;16", "I;16B", "I;16L", "I;16N")
_CAN_REDUCE = ("L", "LA", "RGB", "RGBA", "CMYK", "YCbCr", "RGBX")  # modes whose pixels can be averaged


class PhotoFileError(PencilampError):
    """The picture file can't be opened; one sentence, exit code 4."""


@dataclass(frozen=True, slots=True)
class Photo:
    """One opened picture; `pixels` is (H, W, 3) uint8 RGB as a viewer shows it.

    `focal_35mm` is the lens's focal length by the 35 mm film frame where the file tells it. [mm]
    `finer_in` is the file that has it in more pixels than these; None when there are no more to be had.
    """

    name: str
    pixels: RgbImage
    focal_35mm: float | None = None
    finer_in: Path | None = None


def open_finer(photo: Photo) -> Photo | None:
    """The same picture in all the pixels that are worth having; None when it has them. Raises PhotoFileError."""
    return None if photo.finer_in is None else open_photo(photo.finer_in, finest=True)


def open_photo(path: Path, finest: bool = False) -> Photo:
    """Open one picture file, upright, as RGB, a large one halved unless `finest`. Raises PhotoFileError."""
    _require_a_file(path)
    if _is_heif(path):
        load_heif_reader()
    try:
        with warnings.catch_warnings(), hushed():
            warnings.simplefilter("ignore")  # about size, and odd tags
            # Not by its name: Pillow would map plain TIFFs into memory, and forgets to turn those.
            with path.open("rb") as file, Image.open(file) as picture:
                grid = _grid_of(picture, path)
                _require_openable(picture, path, grid)
                return _upright_photo(picture, path, finest, grid)
    except PhotoFileError:
        raise
    except Image.DecompressionBombError as error:
        raise PhotoFileError(_too_large(path, "more pixels than any phone takes")) from error
    except UnidentifiedImageError as error:
        raise PhotoFileError(
            f"{path}: this is not a picture that can be opened; give a JPEG, PNG, HEIC, WebP or TIFF photo."
        ) from error
    except PermissionError as error:
        raise PhotoFileError(
            f"{path}: this file may not be read; change its permissions or copy it."
        ) from error
    except MemoryError as error:
        raise PhotoFileError(_too_large(path, "too large for this computer's memory")) from error
    # Pillow's readers raise nearly anything on damaged data: OSError, SyntaxError, struct.error, KeyError ...
    except Exception as error:
        raise PhotoFileError(
            f"{path}: the picture is damaged or cut short; copy it from the phone again or take a new photo."
        ) from error


def _require_a_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise PhotoFileError(f"{path}: this is a folder; name the photo inside it.")
        if not path.exists():
            raise PhotoFileError(f"{path}: there is no such file; check the name and the folder.")
        if not path.is_file():
            raise PhotoFileError(
                f"{path}: this is not an ordinary file; copy the photo to a folder and name it."
            )
        size = path.stat().st_size
        if size == 0:
            raise PhotoFileError(f"{path}: the file is empty; copy it from the phone again.")
        if size > LARGEST_BYTES:
            raise PhotoFileError(_too_large(path, f"{size / 1e9:.1f} GB large"))
    except OSError as error:  # a name too long, a folder that may not be entered
        raise PhotoFileError(
            f"{path}: this file can't be reached ({error.strerror}); check the name and the folder."
        ) from error
    except ValueError as error:  # a zero byte in the name
        raise PhotoFileError(f"{path}: this is no file's name; check it.") from error


def _grid_of(picture: Image.Image, path: Path) -> Grid | None:
    """The tiles that the picture can be made small by; None where it has to be decoded whole."""
    if picture.format != "HEIF" or picture.mode != "RGB" or _halvings(picture, finest=False) == 0:
        return None
    from vision.reading.heif_grid import grid_in  # few photos ask for it

    grid = grid_in(path)
    return grid if grid and sorted(picture.size) == sorted((grid.width, grid.height)) else None


def _require_openable(picture: Image.Image, path: Path, grid: Grid | None) -> None:
    width, height = picture.size
    most = MOST_PIXELS if grid else _MOST.get(picture.format or "", MOST_PIXELS_WHOLE)
    if width * height > most or _coefficient_bytes(picture) > MOST_COEFFICIENT_BYTES:
        raise PhotoFileError(_too_large(path, f"{width} x {height} pixels"))


def _coefficient_bytes(picture: Image.Image) -> float:
    """What a progressive JPEG's coefficients take in memory, two bytes each; 0 for anything else."""
    layers = getattr(picture, "layer", None)
    if not picture.info.get("progressive") or not layers:
        return 0.0
    samples: list[int] = [across * down for _, across, down, _ in layers]  # ITU-T T.81, section A.1.1
    return 2.0 * picture.width * picture.height * sum(samples) / max(samples)


def _too_large(path: Path, how_large: str) -> str:
    return f"{path}: the picture is {how_large}, too large to open; save it at 50 megapixels or less."


def _is_heif(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            _, kind, brand = (file.read(_HEIF_WORD) for _ in range(3))
    except OSError:
        return False  # opening it properly will say why
    return kind == b"ftyp" and brand in _HEIF_BRANDS


def load_heif_reader() -> None:
    """Have Pillow read HEIC files."""
    import pillow_heif  # only when a HEIC file is given: it costs start-up time

    pillow_heif.register_heif_opener()


def _upright_photo(picture: Image.Image, path: Path, finest: bool, grid: Grid | None) -> Photo:
    exif = picture.getexif()
    halvings = _halvings(picture, finest)
    finer = halvings > _halvings(picture, finest=True)
    finer_in = path if finer and _coefficient_bytes(picture) <= _MANY_COEFFICIENT_BYTES else None

    def opened(pixels: RgbImage, orientation: int) -> Photo:
        return Photo(path.name, upright(pixels, orientation), _focal_35mm(exif), finer_in)

    if picture.format in ("JPEG", "MPO"):
        pixels = _decoded_at_once(picture, path, halvings)
        if pixels is not None:
            return opened(pixels, exif.get(_EXIF_ORIENTATION, 1))
        # Pillow's JPEG decoder, too, halves for free.
        full_width = picture.width
        picture.draft("RGB", (picture.width >> halvings, picture.height >> halvings))
        halvings -= round(np.log2(full_width / picture.width))
    if picture.format == "HEIF" and picture.mode == "RGB" and halvings > 0:
        return opened(_heif_reduced(path, grid, 2**halvings), exif.get(_EXIF_ORIENTATION, 1))
    picture.load()
    # Asked only now: TIFF and HEIC readers turn the picture themselves while loading it.
    orientation = picture.getexif().get(_EXIF_ORIENTATION, 1)
    if halvings > 0:
        picture = _reduced(picture, 2**halvings)
    return opened(np.asarray(_to_rgb(picture)), orientation)


def _halvings(picture: Image.Image, finest: bool) -> int:
    """How often a picture is halved while it is opened."""
    count, pixels = 0, picture.width * picture.height
    while pixels > FINEST_PIXELS or (not finest and pixels >= 4 * ENOUGH_PIXELS):
        count, pixels = count + 1, pixels // 4
    return count


_HALVED = (
    cv2.IMREAD_COLOR_BGR,
    cv2.IMREAD_REDUCED_COLOR_2,
    cv2.IMREAD_REDUCED_COLOR_4,
    cv2.IMREAD_REDUCED_COLOR_8,
)


def _decoded_at_once(picture: Image.Image, path: Path, halvings: int) -> RgbImage | None:
    """A colour JPEG straight into an array, in half the time, halved by the decoder itself; None where Pillow has
    to see to it."""
    if picture.mode != "RGB" or halvings >= len(_HALVED):
        return None
    if _coefficient_bytes(picture) > _MANY_COEFFICIENT_BYTES:
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


def _focal_35mm(exif: Image.Exif) -> float | None:
    value = exif.get_ifd(_EXIF_SUB_IFD).get(_EXIF_FOCAL_35MM)
    try:
        focal = float(value) if value is not None else 0.0
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return focal if 0.0 < focal < _LONGEST_FOCAL_MM else None
