"""Open a picture file as people's phones and scanners leave it.

In:    a path to a JPEG, PNG, HEIC, WebP or TIFF; grey, CMYK, 16-bit or with alpha.
Out:   a `Photo`: (H, W, 3) uint8 RGB, its EXIF orientation applied, transparent parts on white.
Fails: `PhotoFileError` (exit code 4) when the file is the trouble: missing, a folder, empty,
       not a picture, cut short, or too many pixels to open.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image, UnidentifiedImageError

from circuit.errors import PencilampError
from vision.reading.hushed import hushed
from vision.reading.jpeg_size import drafted, held_bytes

if TYPE_CHECKING:
    from vision.arrays import RgbImage
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
# Chosen, for a progressive JPEG: all of its coefficients are in memory before the first pixel is; what 210 megapixels
# take with colours at half size, as phones write them. [bytes]
MOST_COEFFICIENT_BYTES = 635_000_000
# Chosen: from here on neither the file itself is held in memory beside the coefficients, nor finer pixels than the
# first look's. [bytes]
_MANY_COEFFICIENT_BYTES = 300_000_000
Image.MAX_IMAGE_PIXELS = MOST_PIXELS  # Pillow's own refuses what phones make; it speaks up at twice this
_MOST = {"JPEG": MOST_PIXELS, "MPO": MOST_PIXELS, "HEIF": MOST_PIXELS_HEIC}  # of a grid of tiles MOST_PIXELS
_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"hevm", b"mif1", b"msf1", b"avif")
# Bytes of each of the first box's length, its kind and the file's brand: ISO/IEC 14496-12, section 4.2.
_HEIF_WORD = 4
_EXIF_SUB_IFD = 0x8769  # Exif 2.32, section 4.6.3
_LONGEST_FOCAL_MM = 1000.0  # chosen: no phone says more, and a camera that does photographs no card
_EXIF_FOCAL_35MM = 0xA405  # Exif 2.32, FocalLengthIn35mmFilm


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
    """Open one picture file, upright, as RGB, a large one halved unless `finest`. Raises PhotoFileError; ImportError
    where OpenCV can't be loaded, which is done only here and as late as can be."""
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
                return _photo_of(picture, path, finest, grid)
    except (PhotoFileError, ImportError):
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
    if width * height > most or held_bytes(picture) > MOST_COEFFICIENT_BYTES:
        raise PhotoFileError(_too_large(path, f"{width} x {height} pixels"))


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


def _photo_of(picture: Image.Image, path: Path, finest: bool, grid: Grid | None) -> Photo:
    coefficients = held_bytes(picture)
    halvings = _halvings(picture, finest)
    finer = halvings > _halvings(picture, finest=True)
    if coefficients > _MANY_COEFFICIENT_BYTES:
        # Before OpenCV and NumPy are loaded: there is no room for both beside the coefficients.
        finer, halvings = False, drafted(picture, halvings)
        picture.load()
    from vision.reading.pixels import upright_pixels

    pixels = upright_pixels(picture, path, halvings, grid)
    return Photo(path.name, pixels, _focal_35mm(picture.getexif()), path if finer else None)


def _halvings(picture: Image.Image, finest: bool) -> int:
    """How often a picture is halved while it is opened."""
    count, pixels = 0, picture.width * picture.height
    while pixels > FINEST_PIXELS or (not finest and pixels >= 4 * ENOUGH_PIXELS):
        count, pixels = count + 1, pixels // 4
    return count


def _focal_35mm(exif: Image.Exif) -> float | None:
    value = exif.get_ifd(_EXIF_SUB_IFD).get(_EXIF_FOCAL_35MM)
    try:
        focal = float(value) if value is not None else 0.0
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return focal if 0.0 < focal < _LONGEST_FOCAL_MM else None
