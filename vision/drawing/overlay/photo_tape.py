"""The two tapes over a photo: in colour at their true width, the pencil under them still in sight.

In:    the panel's `Backdrop`, centre lines in its pixels.
Out:   pixels with the tape on.
Fails: never; repeated points are passed over, tape that leaves the picture is cut at its edge.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from circuit.layout import Point
from vision.drawing.backdrop import Backdrop
from vision.drawing.colours import polarity_colour
from vision.drawing.draw_tapes import BAR_EVERY_MM, BAR_MM
from vision.drawing.look import BAR_OPACITY, TAPE_OPACITY
from vision.drawing.picture_pen import FINER
from vision.drawing.shapes import Crease, bars, creases, tape_pieces

# Chosen by eye.
_EDGE_MM, _EDGE_OPACITY, _EDGE_DARKER = 0.2, 0.95, 0.35
_CREASE_MM = 0.3
_CASING_MM, _CASING_OPACITY = 0.22, 0.6  # white round the tape, so that it stands out from any card
_PENCIL_CONTRAST = 1.6  # grey pencil under colour needs help to be seen
_PENCIL_DEPTH = 0.25  # how bright the tape stays over black pencil
_MOST_LEVEL = 255  # of a mask of 8 bits: wholly covered
_PEN_PX = 1 / FINER  # Pillow fills a polygon to the far side of its edge pixels: so much too wide


def painted(
    backdrop: Backdrop, lines_px: Iterable[tuple[Sequence[Point], bool]], width_px: float, px_per_mm: float
) -> NDArray[np.uint8]:
    """The panel's pixels, (H, W, 3), with the tapes laid on, one after the other; each line comes with whether it is
    positive."""
    pixels = backdrop.pixels.copy()
    for line_px, positive in lines_px:
        left, top, right, bottom = _around(line_px, width_px, px_per_mm, pixels.shape)
        line = [(x - left, y - top) for x, y in line_px]
        spot = (slice(top, bottom), slice(left, right))
        if right > left and bottom > top:
            pixels[spot] = _laid(
                pixels[spot], backdrop.bare[spot], line, width_px, px_per_mm, positive=positive
            )
    return pixels


def _around(
    line: Sequence[Point], width: float, px_per_mm: float, shape: tuple[int, ...]
) -> tuple[int, int, int, int]:
    """The pixels that a tape and its casing may touch."""
    points = [*line, *(point for piece in tape_pieces(line, width) for point in piece)]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    reach = math.ceil(_CASING_MM * px_per_mm) + 2
    return (
        max(0, math.floor(min(xs)) - reach),
        max(0, math.floor(min(ys)) - reach),
        min(shape[1], math.ceil(max(xs)) + reach),
        min(shape[0], math.ceil(max(ys)) + reach),
    )


def tape_mask(size: tuple[int, int], line_px: Sequence[Point], width_px: float) -> NDArray[np.uint8]:
    """255 where the tape lies, (H, W) of that size, each FINER times larger."""
    return _filled(size, tape_pieces(line_px, width_px - _PEN_PX))


def _laid(
    under: NDArray[np.uint8],
    bare: NDArray[np.float32],
    line: Sequence[Point],
    width: float,
    px_per_mm: float,
    *,
    positive: bool,
) -> NDArray[np.uint8]:
    size = (under.shape[1], under.shape[0])
    fine = tape_mask(size, line, width)
    rim_px = 2 * max(1, round(_EDGE_MM * px_per_mm * FINER)) + 1
    rim = fine - np.asarray(cv2.erode(fine, np.ones((rim_px, rim_px), np.uint8), borderValue=255))
    dark = np.maximum(rim, _lines(fine, creases(line, width), _CREASE_MM * px_per_mm))
    # A pale line just outside the tape lifts it off a card of its own tone.
    rim_out = max(1, round(_CASING_MM * px_per_mm * FINER))
    grown = np.asarray(cv2.dilate(fine, np.ones((2 * rim_out + 1, 2 * rim_out + 1), np.uint8)))
    touched = _reduced(grown) > 0  # a tenth of the picture: all that follows is done for these pixels alone

    def share(of: NDArray[np.uint8]) -> NDArray[np.float32]:
        levels = _reduced(of)[touched].astype(np.float32)
        return np.asarray(levels / _MOST_LEVEL, dtype=np.float32)[:, None]

    cover, dark_share = share(fine), share(dark)
    # The pencil stays readable because the tape's own colour is darkened where the paper is.
    shade = bare[touched][:, None] ** _PENCIL_CONTRAST
    tape = np.array(polarity_colour(positive), dtype=np.float32) * (
        _PENCIL_DEPTH + (1 - _PENCIL_DEPTH) * shade
    )
    if not positive:
        across = _filled(size, bars(line, width, BAR_MM * px_per_mm, BAR_EVERY_MM * px_per_mm))
        tape += (255 - tape) * (share(np.minimum(across, fine)) * BAR_OPACITY * shade)
    tape *= 1 - _EDGE_DARKER * dark_share
    strength = cover * np.maximum(TAPE_OPACITY, dark_share * _EDGE_OPACITY)
    seen = under[touched]
    pale = seen + (255 - seen) * (share(grown - fine) * _CASING_OPACITY * shade)
    laid = under.copy()
    laid[touched] = np.clip(pale + (tape - pale) * strength + 0.5, 0, 255).astype(np.uint8)
    return laid


def _finer(points: Iterable[Point]) -> list[Point]:
    """Positions in a picture drawn FINER times larger, pixel centres at integers in both."""
    return [((x + 0.5) * FINER - 0.5, (y + 0.5) * FINER - 0.5) for x, y in points]


def _filled(size: tuple[int, int], pieces: Iterable[Sequence[Point]]) -> NDArray[np.uint8]:
    image = Image.new("L", (size[0] * FINER, size[1] * FINER), 0)
    draw = ImageDraw.Draw(image)
    for piece in pieces:
        draw.polygon(_finer(piece), fill=255)
    return np.array(image)


def _lines(within: NDArray[np.uint8], folds: Sequence[Crease], width: float) -> NDArray[np.uint8]:
    image = Image.new("L", (within.shape[1], within.shape[0]), 0)
    draw = ImageDraw.Draw(image)
    for fold in folds:
        draw.line(_finer((fold.inner, fold.outer)), fill=255, width=max(1, round(width * FINER)))
    return np.asarray(np.minimum(np.asarray(image), within))


def _reduced(fine: NDArray[np.uint8]) -> NDArray[np.uint8]:
    size = (fine.shape[1] // FINER, fine.shape[0] // FINER)
    return np.asarray(cv2.resize(fine, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
