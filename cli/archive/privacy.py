"""Photos without what the camera wrote about place, time and itself; the picture stays as it was.

In:    a photo file's bytes, of any kind that `open_photo` reads.
Out:   a file made anew from the picture alone: a JPEG from the very coefficients of a JPEG, else a PNG of the
       same pixels, upright. Beside the picture it tells what its colours mean, the lens's focal length by the
       35 mm film frame and, in a JPEG, which way is up: as numbers, written here.
Fails: `CantStripError` for a file that is damaged or too large.

Nothing is copied that is not picture, so there is nothing to look for and leave out.
"""

from __future__ import annotations

import io
import subprocess
import sys
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from PIL import Image

from cli.archive.colour_profile import own_profile
from vision.reading.jpeg_size import coefficient_bytes
from vision.reading.photo import load_heif_reader
from vision.reading.pixels import upright, without_palette

MOST_PIXELS = 100_000_000  # chosen: what can be decoded within a gigabyte
# Chosen: a larger JPEG is rebuilt where that takes no more. Besides the coefficients it takes 12 times the file
# (measured on files of 5 to 33 MB, 108 to 210 megapixels: 10 to 12 times).
_MOST_REBUILD_BYTES, _TIMES_THE_FILE = 900_000_000, 12
_KINDS = ("JPEG", "MPO", "PNG", "WEBP", "TIFF", "HEIF", "AVIF", "BMP", "GIF")
_ORIENTATION, _SUB_IFD, _FOCAL_35MM = 0x0112, 0x8769, 0xA405  # Exif 2.32, sections 4.6.3 to 4.6.5
_SOI = b"\xff\xd8"
_APP0, _APP1, _APP2 = 0xE0, 0xE1, 0xE2  # ITU-T T.81, table B.1
_ICC_HEAD = b"ICC_PROFILE\0\x01\x01"  # ICC.1:2022, annex B.4: part one of one
_LONGEST_SEGMENT = 65_533
_REBUILD = (
    "import sys; from mozjpeg_lossless_optimization import optimize; "
    "sys.stdout.buffer.write(optimize(sys.stdin.buffer.read()))"
)
_MOST_S = 60.0  # chosen: ten times what the largest photo takes
_Result = TypeVar("_Result")


class CantStripError(ValueError):
    """The message goes on after "because": `it is damaged`."""


@dataclass(frozen=True, slots=True)
class Stripped:
    """`ending` is that of the file's kind now."""

    data: bytes
    ending: str


@dataclass(frozen=True, slots=True)
class _Kept:
    orientation: int
    focal_35mm: int | None
    profile: bytes | None


def strip_photo(data: bytes) -> Stripped:
    """The photo without what the camera wrote. Raises CantStripError."""
    if data[4:8] == b"ftyp":
        load_heif_reader()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about size, and the odd tags that many phones write
        if data.startswith(_SOI):
            try:
                return Stripped(_rebuilt_jpeg(data, _reading(data, _kept, rebuilt=True)), ".jpg")
            except subprocess.SubprocessError:  # damaged, or coded in a way that the rebuilder does not know
                pass
        return Stripped(_reading(data, _as_png), ".png")


def _reading(data: bytes, work: Callable[[Image.Image], _Result], *, rebuilt: bool = False) -> _Result:
    try:
        with Image.open(io.BytesIO(data)) as picture:
            if picture.format not in _KINDS:
                raise CantStripError(f"it is of a kind ({picture.format}) that no camera makes")
            pixels = picture.width * picture.height
            needed = coefficient_bytes(picture) + _TIMES_THE_FILE * len(data)
            if pixels > MOST_PIXELS and not (rebuilt and needed <= _MOST_REBUILD_BYTES):
                raise CantStripError(f"it has too many megapixels ({pixels / 1e6:.0f}) to be made anew")
            return work(picture)
    except CantStripError:
        raise
    except Exception as error:  # Pillow's readers raise nearly anything on damaged data
        raise CantStripError("it is damaged, or of a kind that can't be opened") from error


_LONGEST_FOCAL_MM = 1000  # chosen: 35 mm film's; beyond any lens that photographs a card


def _kept(picture: Image.Image) -> _Kept:
    exif = picture.getexif()
    orientation, focal = exif.get(_ORIENTATION), exif.get_ifd(_SUB_IFD).get(_FOCAL_35MM)
    return _Kept(
        orientation if isinstance(orientation, int) and 2 <= orientation <= 8 else 1,
        round(focal) if isinstance(focal, int | float) and 0.5 < focal < _LONGEST_FOCAL_MM else None,
        own_profile(picture.info.get("icc_profile")),
    )


def _own_exif(orientation: int, focal_35mm: int | None) -> bytes:
    exif = Image.Exif()
    if orientation != 1:
        exif[_ORIENTATION] = orientation
    if focal_35mm is not None:
        exif.get_ifd(_SUB_IFD)[_FOCAL_35MM] = focal_35mm
    return exif.tobytes() if len(exif) or focal_35mm is not None else b""


_SEGMENT_LENGTH = slice(4, 6)  # ITU-T T.81, B.1.1.4: of the first segment, behind its marker


def _rebuilt_jpeg(data: bytes, kept: _Kept) -> bytes:
    """Coded anew from its coefficients, so that whatever lies between, behind or in them stays out."""
    # In a process of its own, since that library ends its process on some damaged photos.
    rebuilt = subprocess.run(
        [sys.executable, "-I", "-c", _REBUILD], input=data, capture_output=True, check=True, timeout=_MOST_S
    ).stdout
    after_jfif = 2
    if rebuilt[2:4] == bytes((0xFF, _APP0)):
        after_jfif += 2 + int.from_bytes(rebuilt[_SEGMENT_LENGTH])
    head = rebuilt[:after_jfif]
    exif = _own_exif(kept.orientation, kept.focal_35mm)
    if exif:
        head += _segment(_APP1, exif)
    if kept.profile is not None and len(kept.profile) + len(_ICC_HEAD) <= _LONGEST_SEGMENT:
        head += _segment(_APP2, _ICC_HEAD + kept.profile)
    return head + rebuilt[after_jfif:]


def _segment(marker: int, body: bytes) -> bytes:
    return bytes((0xFF, marker)) + (len(body) + 2).to_bytes(2) + body


def _as_png(picture: Image.Image) -> bytes:
    picture.load()
    kept = _kept(
        picture
    )  # asked only now: TIFF and HEIC readers turn the picture themselves while loading it
    plain = without_palette(picture)
    pixels = upright(np.array(plain), kept.orientation)
    if plain.mode in ("RGBA", "LA"):
        pixels[pixels[..., -1] == 0] = 0  # what nobody sees may be what somebody blotted out
    clean = Image.fromarray(pixels)
    buffer = io.BytesIO()
    clean.save(buffer, "PNG", exif=_own_exif(1, kept.focal_35mm), icc_profile=kept.profile)
    return buffer.getvalue()
