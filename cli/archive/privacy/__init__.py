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

from PIL import Image

from cli.archive.privacy.exif import FOCAL_35MM, ORIENTATION, SUB_IFD, Kept
from cli.archive.privacy.heif import strip_heif
from cli.archive.privacy.jpeg import strip_jpeg
from cli.archive.privacy.png import strip_png
from cli.archive.privacy.tiff import strip_tiff
from cli.archive.privacy.trouble import CantStripError
from cli.archive.privacy.webp import strip_webp

__all__ = ["CantStripError", "strip_photo"]

_STRIPPERS = (
    (lambda head: head.startswith(b"\xff\xd8"), strip_jpeg),
    (lambda head: head.startswith(b"\x89PNG\r\n\x1a\n"), strip_png),
    (lambda head: head[:4] == b"RIFF" and head[8:12] == b"WEBP", strip_webp),
    (lambda head: head[:4] in (b"II*\0", b"MM\0*"), strip_tiff),
    (lambda head: head[4:8] == b"ftyp", strip_heif),
)


def strip_photo(data: bytes) -> bytes:
    """The photo without what the camera wrote. Raises CantStripError."""
    for fits, strip in _STRIPPERS:
        if fits(data[:16]):
            try:
                stripped = strip(data, _kept(data))
            except (IndexError, ValueError, OverflowError) as error:  # a length that points past the end
                raise CantStripError("it is damaged") from error
            _require_clean(stripped)
            return stripped
    raise CantStripError("it is of a kind that this is not known for")


def _kept(data: bytes) -> Kept:
    exif = _exif(data)
    focal = exif.get_ifd(SUB_IFD).get(FOCAL_35MM)
    orientation = exif.get(ORIENTATION)
    return Kept(
        orientation if isinstance(orientation, int) and 2 <= orientation <= 8 else None,
        int(focal) if isinstance(focal, int | float) and 0 < focal < 1000 else None,
    )


def _exif(data: bytes) -> Image.Exif:
    if data[4:8] == b"ftyp":
        import pillow_heif

        pillow_heif.register_heif_opener()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data)) as picture:
                return picture.getexif()
    except Exception as error:  # Pillow's readers raise nearly anything on damaged data
        raise CantStripError("it can't be opened") from error


def _require_clean(data: bytes) -> None:
    """Ask a reader that knows nothing of this package. TIFF keeps its picture in tags, which are no matter."""
    exif = _exif(data)
    if data[:4] in (b"II*\0", b"MM\0*"):
        left = set(exif.get_ifd(SUB_IFD)) - {FOCAL_35MM}
    else:
        left = (set(exif) - {ORIENTATION, SUB_IFD}) | (set(exif.get_ifd(SUB_IFD)) - {FOCAL_35MM})
    if left:
        raise CantStripError("something of it would be left")
