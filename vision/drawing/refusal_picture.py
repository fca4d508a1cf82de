"""What was seen in a photo that could not be read: the photo, small, its trouble circled, the sentence under it.

In:    the photo's pixels, the `PhotoError`, points in the photo [px] (none: nothing is circled).
Out:   an RGB picture 1080 px wide.
Fails: ValueError for pixels that are no colour picture; points outside the photo are shown at its edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from PIL import Image

from vision.arrays import RgbImage
from vision.drawing.colours import INK, WHITE, YELLOW
from vision.drawing.lettering import BODY_PT, TITLE_PT, width_mm
from vision.drawing.pen import SHEET_MM
from vision.drawing.picture_pen import PicturePen
from vision.drawing.picture_sheet import ROOM_MM, Heading, sheet_of
from vision.drawing.rows import Row
from vision.errors import PhotoError

WIDTH_PX = 1080  # chosen: the photo itself is at hand, this one only points at things
_TALLEST = 1.25  # chosen: the photo's height over the sheet's width
_RING_SHARE = 0.045  # chosen: a ring's radius over the photo's longer side
_LEAST_RING_MM = 2.1  # chosen
_RING_MM = ((INK, 1.6), (WHITE, 1.2), (YELLOW, 0.75))  # dark, light and yellow together show on any table
_UNDER_PHOTO_MM = 2.6  # chosen
HEADING = "I could not read this photo"


def draw_refusal(
    pixels: RgbImage, error: PhotoError, points_px: Sequence[tuple[float, float]] = ()
) -> Image.Image:
    """The refusal as a picture; `points_px` are x, y in the photo as a viewer shows it.

    Raises ValueError for a picture that is none.
    """
    if pixels.ndim != 3 or pixels.shape[2] != 3 or 0 in pixels.shape:
        raise ValueError(f"pixels must be (H, W, 3) and not empty, got {pixels.shape}")
    px_per_mm = WIDTH_PX / SHEET_MM
    photo, scale = _small(pixels, round(ROOM_MM * px_per_mm), round(_TALLEST * WIDTH_PX))
    _ring(photo, [(x * scale, y * scale) for x, y in points_px if math.isfinite(x + y)], px_per_mm)
    # The heading stands on one line, in smaller type if need be.
    size_pt = max(BODY_PT, min(TITLE_PT, TITLE_PT * ROOM_MM / width_mm(HEADING, TITLE_PT, "bold")))
    rows = [Row(str(error))]
    return sheet_of(photo, WIDTH_PX, Heading(HEADING, size_pt), rows, foot_mm=_UNDER_PHOTO_MM).image


def _small(pixels: RgbImage, width: int, height: int) -> tuple[Image.Image, float]:
    """The photo within a box, and its scale; a long strip keeps at least one pixel each way."""
    photo = Image.fromarray(np.ascontiguousarray(pixels))
    scale = min(width / photo.width, height / photo.height)
    size = (max(1, round(photo.width * scale)), max(1, round(photo.height * scale)))
    # Pillow's reducing_gap shrinks by whole steps first: a 48-megapixel photo stays quick.
    return photo.resize(size, Image.Resampling.BICUBIC, reducing_gap=2.0), scale


def _ring(photo: Image.Image, points: Sequence[tuple[float, float]], px_per_mm: float) -> None:
    """Circle the points on the photo itself."""
    pen = PicturePen(photo, px_per_mm)
    radius = max(_LEAST_RING_MM, _RING_SHARE * max(photo.size) / px_per_mm)
    for x, y in points:
        at = (
            (min(max(x, 0.0), photo.width - 1.0) + 0.5) / px_per_mm,
            (min(max(y, 0.0), photo.height - 1.0) + 0.5) / px_per_mm,
        )
        for colour, width in _RING_MM:
            pen.circle(at, radius, colour, width)
