"""What was seen in a photo that could not be read: the photo, small, its trouble circled, the sentence under it.

In:    the photo's pixels, the `PhotoError`, points in the photo [px] (none: nothing is circled).
Out:   an RGB picture 1080 px wide.
Fails: ValueError for pixels that are no colour picture; points outside the photo are shown at its edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from PIL import Image, ImageDraw

from vision.arrays import RgbImage
from vision.drawing.overlay.ink import Ink
from vision.drawing.overlay.style import BASE_WIDTH_PX, INK, PAPER, WHITE, YELLOW, Style, typeface
from vision.drawing.overlay.text import draw_lines, line_height, wrap
from vision.errors import PhotoError

WIDTH_PX = 1080  # chosen: the photo itself is at hand, this one only points at things
_TALLEST = 1.25  # chosen: the photo's height over the sheet's width
_RING_SHARE = 0.045  # chosen: a ring's radius over the photo's longer side
HEADING = "I could not read this photo"


def draw_refusal(
    pixels: RgbImage, error: PhotoError, points_px: Sequence[tuple[float, float]] = ()
) -> Image.Image:
    """The refusal as a picture; `points_px` are x, y in the photo as a viewer shows it."""
    if pixels.ndim != 3 or pixels.shape[2] != 3 or 0 in pixels.shape:
        raise ValueError(f"pixels must be (H, W, 3) and not empty, got {pixels.shape}")
    style = Style(WIDTH_PX)
    inner = WIDTH_PX - 2 * style.margin
    photo, scale = _small(pixels, inner, round(_TALLEST * WIDTH_PX))
    photo = _ringed(photo, [(x * scale, y * scale) for x, y in points_px if math.isfinite(x + y)], style)

    size = _heading_size(style, inner)
    heading = wrap(HEADING, typeface("bold", size), inner)
    lines = wrap(str(error), typeface("regular", style.body), inner)
    photo_top = style.px(44) + line_height(typeface("bold", size)) * len(heading) + style.px(28)
    words_top = photo_top + photo.height + style.px(36)
    step = line_height(typeface("regular", style.body))
    sheet = Image.new("RGB", (WIDTH_PX, words_top + step * len(lines) + style.margin), PAPER)
    sheet.paste(photo, ((WIDTH_PX - photo.width) // 2, photo_top))
    draw = ImageDraw.Draw(sheet)
    draw_lines(draw, heading, style.margin, style.px(44), typeface("bold", size), INK)
    draw_lines(draw, lines, style.margin, words_top, typeface("regular", style.body), INK)
    return sheet


def _small(pixels: RgbImage, width: int, height: int) -> tuple[Image.Image, float]:
    """The photo within a box, and its scale; a long strip keeps at least one pixel each way."""
    photo = Image.fromarray(np.ascontiguousarray(pixels))
    scale = min(width / photo.width, height / photo.height)
    size = (max(1, round(photo.width * scale)), max(1, round(photo.height * scale)))
    # Pillow's reducing_gap shrinks by whole steps first: a 48-megapixel photo stays quick.
    return photo.resize(size, Image.Resampling.BICUBIC, reducing_gap=2.0), scale


def _ringed(photo: Image.Image, points: Sequence[tuple[float, float]], style: Style) -> Image.Image:
    if not points:
        return photo
    radius = max(float(style.px(26)), _RING_SHARE * max(photo.size))
    ink = Ink(photo.size)
    for x, y in points:
        at = (min(max(x, 0.0), photo.width - 1.0), min(max(y, 0.0), photo.height - 1.0))
        # Dark, light and yellow together show on any table.
        for colour, width in ((INK, 15), (WHITE, 11), (YELLOW, 7)):
            ink.ring(at, radius, colour, style.px(width * BASE_WIDTH_PX / WIDTH_PX))
    return ink.laid_on(photo)


def _heading_size(style: Style, room: int) -> int:
    """The heading's type size, made smaller until it stands on one line."""
    size = style.heading
    while size > style.body and typeface("bold", size).getlength(HEADING) > room:
        size -= 2
    return size
