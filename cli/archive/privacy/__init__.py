"""Photos without what the camera wrote about place, time and itself; every pixel stays as it was.

In:    a photo file's bytes: JPEG, PNG, WebP, TIFF, HEIC or AVIF.
Out:   the same picture, not recompressed. Of all that is not picture only what reading a card needs is
       left: which way is up, and the lens's focal length by the 35 mm film frame.
Fails: `CantStripError` for a kind of file, or damage, that this can't be done to with certainty.

Each kind goes by what is kept, not by what is dropped: a block that is not known to be picture goes.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterable, Mapping
from typing import Any

from PIL import Image

from cli.archive.privacy.exif import FOCAL_35MM, ORIENTATION, SUB_IFD, Kept
from cli.archive.privacy.heif import strip_heif
from cli.archive.privacy.jpeg import strip_jpeg
from cli.archive.privacy.png import strip_png
from cli.archive.privacy.tiff import PICTURE_TAGS, strip_tiff
from cli.archive.privacy.trouble import CantStripError
from cli.archive.privacy.webp import strip_webp

__all__ = ["CantStripError", "strip_photo"]

PLACE_IFD = 0x8825  # Exif 2.32, section 4.6.3: GPS
SHORTEST_WORD = 5  # chosen: shorter words turn up in any picture's bytes by chance
_TIFF_HEADS = (b"II*\0", b"MM\0*")
_STRIPPERS = (
    (lambda head: head.startswith(b"\xff\xd8"), strip_jpeg),
    (lambda head: head.startswith(b"\x89PNG\r\n\x1a\n"), strip_png),
    (lambda head: head[:4] == b"RIFF" and head[8:12] == b"WEBP", strip_webp),
    (lambda head: head[:4] in _TIFF_HEADS, strip_tiff),
    (lambda head: head[4:8] == b"ftyp", strip_heif),
)


def strip_photo(data: bytes) -> bytes:
    """The photo without what the camera wrote. Raises CantStripError."""
    for fits, strip in _STRIPPERS:
        if fits(data[:16]):
            before = _tags(data)
            try:
                stripped = strip(data, _kept(*before[:2]))
            except (IndexError, ValueError, OverflowError) as error:  # a length that points past the end
                raise CantStripError("it is damaged") from error
            _require_clean(data, stripped, before)
            return stripped
    raise CantStripError("it is of a kind that this is not known for")


def _kept(exif: Mapping[int, Any], sub: Mapping[int, Any]) -> Kept:
    orientation, focal = exif.get(ORIENTATION), sub.get(FOCAL_35MM)
    return Kept(
        orientation if isinstance(orientation, int) and 2 <= orientation <= 8 else None,
        int(focal) if isinstance(focal, int | float) and 0 < focal < 1000 else None,
    )


def _tags(data: bytes) -> tuple[dict[int, Any], dict[int, Any], dict[int, Any]]:
    """The EXIF directories as Pillow reads them: the main one, the camera's, the place's."""
    if data[4:8] == b"ftyp":
        import pillow_heif

        pillow_heif.register_heif_opener()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about size, and the odd tags that many phones write
            with Image.open(io.BytesIO(data)) as picture:
                exif = picture.getexif()
                return dict(exif), dict(exif.get_ifd(SUB_IFD)), dict(exif.get_ifd(PLACE_IFD))
    except Exception as error:  # Pillow's readers raise nearly anything on damaged data
        raise CantStripError("it is damaged, or can't be opened") from error


def _require_clean(data: bytes, stripped: bytes, before: Iterable[Mapping[int, Any]]) -> None:
    """Ask a reader that knows nothing of this package, and look for what it read before in every byte."""
    exif, sub, place = _tags(stripped)
    # TIFF keeps the picture itself in tags, which are no matter.
    mine = set(exif) if data[:4] in _TIFF_HEADS else {ORIENTATION, SUB_IFD}
    if place or set(exif) - mine or set(sub) - {FOCAL_35MM}:
        raise CantStripError("something of it would be left")
    for tag, value in (item for tags in before for item in tags.items()):
        if tag in PICTURE_TAGS:
            continue
        text = value.encode("utf-8", "replace") if isinstance(value, str) else value
        if (
            isinstance(text, bytes)
            and len(text.strip(b"\0 ")) >= SHORTEST_WORD
            and text.strip(b"\0 ") in stripped
        ):
            raise CantStripError("something of it would be left")
