"""The card's picture in the panel: from the photo, its lighting evened out, or drawn when there is no photo.

In:    a `StraightCard` or a `Layout`, and the `Panel`.
Out:   a `Backdrop`: the panel's pixels, and how dark the pencil is at each of them.
Fails: never; a picture that is black all over stays black.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from circuit.layout import Layout
from vision.drawing.colours import SHEET, Colour
from vision.drawing.panel import Panel
from vision.drawing.pencilled import draw_pencil
from vision.straight_card import StraightCard

_AROUND_MM = 2.0  # chosen: a rim of the table, so that one sees whether the card's edge was met
_AROUND_FADE = 0.45  # chosen: how far that rim fades into the sheet
_RIM_MM = 1.0  # chosen: the card's rim may hold a sliver of table or shadow
_COARSE_PX = 110  # chosen: lighting is evened at this picture size, about 1 mm a pixel
_LIGHTEST, _DARKEST = 240.0, 150.0  # chosen: grey level the paper is brought to, within these bounds
_GAIN = (0.6, 3.0)  # chosen: no pixel is brightened more than this
_BLUR_PX = 3.0  # of the coarse picture: about 3 mm, wider than a pencil dot
_LEAST_WEIGHT = 1e-3  # arithmetic: where hardly any paper is near, the card's usual tone counts
_BRIGHT_PERCENTILE, _BRIGHTER = (
    90,
    1.05,
)  # chosen: the card is brought to its own bright parts, and a little more
_GRAIN = 1.6  # chosen: grey levels by which a drawn card's paper varies
_PAPER_SHARE = 0.55  # chosen: darker than this share of the card's usual tone is no bare paper
_CLEAR_PENCIL = 0.92  # chosen: paper grain above this share of the paper's tone is no pencil

_CARD: Colour = (250, 248, 243)  # the drawn card

_LEVELS = 256  # of a picture of 8 bits
# Each level of the three bands as the rim shows it.
_FADED = np.rint(
    np.arange(_LEVELS)[None, :, None] * (1 - _AROUND_FADE) + np.array(SHEET) * _AROUND_FADE
).astype(np.uint8)


@dataclass(frozen=True, slots=True)
class Backdrop:
    """`pixels` (H, W, 3) uint8 RGB; `bare` (H, W) float32, 1 on bare paper down to 0 under black pencil."""

    pixels: NDArray[np.uint8]
    bare: NDArray[np.float32]


def photographed(straight: StraightCard, panel: Panel) -> Backdrop:
    """The straightened photo brought to the panel's scale."""
    around_mm = min(_AROUND_MM, max(0.0, straight.margin_mm))
    grown = round(around_mm * panel.px_per_mm)
    left, top, right, bottom = panel.card_box
    box = (max(0, left - grown), max(0, top - grown), right + grown, min(panel.height_px, bottom + grown))
    box = (box[0], box[1], min(panel.width_px, box[2]), box[3])
    seen = _resampled(straight, panel, box)
    hidden = _square_mask(straight, panel, box, seen.shape[:2])
    inset = round(_RIM_MM * panel.px_per_mm)
    on_card = np.zeros_like(hidden)
    on_card[
        top + inset - box[1] : bottom - inset - box[1], left + inset - box[0] : right - inset - box[0]
    ] = True
    gain = _even_gain(seen, hidden | ~on_card)
    even = cv2.merge([cv2.multiply(seen[..., band], gain, dtype=cv2.CV_8U) for band in range(3)])

    pixels = _bare_sheet(panel)
    pixels[box[1] : box[3], box[0] : box[2]] = cv2.LUT(even, _FADED)
    inner = even[top - box[1] : bottom - box[1], left - box[0] : right - box[0]]
    pixels[top:bottom, left:right] = inner
    return Backdrop(pixels, _bareness(pixels, panel))


def drawn(layout: Layout, panel: Panel) -> Backdrop:
    """A plain paper card with the marks pencilled in: what a plan from a layout file is laid on."""
    pixels = _bare_sheet(panel)
    left, top, right, bottom = panel.card_box
    grain = np.random.default_rng(seed=len(layout.lights)).normal(0, _GRAIN, (bottom - top, right - left, 1))
    pixels[top:bottom, left:right] = np.clip(np.array(_CARD) + grain, 0, 255).astype(np.uint8)
    picture = Image.fromarray(pixels)
    draw_pencil(panel.pen(picture), panel.placing, layout)
    pixels = np.array(picture)
    return Backdrop(pixels, _bareness(pixels, panel))


def _bare_sheet(panel: Panel) -> NDArray[np.uint8]:
    line = np.tile(np.array(SHEET, dtype=np.uint8), panel.width_px)  # whole lines are copied ten times sooner
    return np.tile(line, (panel.height_px, 1)).reshape(panel.height_px, panel.width_px, 3)


def _resampled(straight: StraightCard, panel: Panel, box: tuple[int, int, int, int]) -> NDArray[np.uint8]:
    """The photo under one box of the panel. Shrunk by area first: a coarse grid would lose pencil lines."""
    pixels, scale = straight.pixels, straight.px_per_mm
    shrink = panel.px_per_mm / scale
    if shrink < 1:
        height, width = pixels.shape[:2]
        smaller = (max(1, round(width * shrink)), max(1, round(height * shrink)))
        pixels = cv2.resize(pixels, smaller, interpolation=cv2.INTER_AREA)
        per_mm_x, per_mm_y = scale * smaller[0] / width, scale * smaller[1] / height
    else:
        per_mm_x = per_mm_y = scale
    step_x, step_y = per_mm_x / panel.px_per_mm, per_mm_y / panel.px_per_mm
    inverse = np.array(
        [
            [step_x, 0.0, (box[0] + 0.5 - panel.left_px) * step_x + straight.margin_mm * per_mm_x - 0.5],
            [0.0, step_y, (box[1] + 0.5 - panel.top_px) * step_y + straight.margin_mm * per_mm_y - 0.5],
        ]
    )
    return np.asarray(
        cv2.warpAffine(
            np.ascontiguousarray(pixels),
            inverse,
            (box[2] - box[0], box[3] - box[1]),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        dtype=np.uint8,
    )


def _square_mask(
    straight: StraightCard, panel: Panel, box: tuple[int, int, int, int], shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """True where the reference square hides the paper."""
    mask = np.zeros(shape, dtype=np.uint8)
    if straight.square_mm is not None:
        corners = [panel.at((float(x), float(y))) for x, y in straight.square_mm]
        cv2.fillConvexPoly(mask, np.round(np.array(corners) - box[:2]).astype(np.int32), 1)
    return mask.astype(np.bool_)


def _even_gain(seen: NDArray[np.uint8], hidden: NDArray[np.bool_]) -> NDArray[np.float32]:
    """What to multiply each pixel with so that shadows and lamp spots fade and the card keeps its colour."""
    grey = cv2.cvtColor(seen, cv2.COLOR_RGB2GRAY)
    height, width = grey.shape
    shrink = max(1.0, max(height, width) / _COARSE_PX)
    size = (max(1, round(width / shrink)), max(1, round(height / shrink)))
    coarse = cv2.resize(grey, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    coarse = np.asarray(
        cv2.morphologyEx(coarse, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)), dtype=np.float32
    )
    covered = cv2.resize(hidden.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0
    usual = float(np.median(coarse[~covered])) if not covered.all() else float(np.median(coarse))
    paper = ((coarse > _PAPER_SHARE * usual) & ~covered).astype(np.float32)
    weight = cv2.GaussianBlur(paper, (0, 0), _BLUR_PX)
    tone = cv2.GaussianBlur(coarse * paper, (0, 0), _BLUR_PX) / np.maximum(weight, _LEAST_WEIGHT)
    tone = np.where(weight > 10 * _LEAST_WEIGHT, tone, usual).astype(np.float32)
    target = min(max(float(np.percentile(tone, _BRIGHT_PERCENTILE)) * _BRIGHTER, _DARKEST), _LIGHTEST)
    gain = np.clip(target / np.maximum(tone, 1.0), *_GAIN).astype(np.float32)
    return np.asarray(cv2.resize(gain, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _bareness(pixels: NDArray[np.uint8], panel: Panel) -> NDArray[np.float32]:
    left, top, right, bottom = panel.card_box
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    inside = grey[top:bottom, left:right]
    tone = max(1.0, float(np.median(inside[::4, ::4])))
    bare = np.ones(grey.shape, dtype=np.float32)
    of_level = np.clip(np.arange(_LEVELS, dtype=np.float32) / (tone * _CLEAR_PENCIL), 0, 1)
    bare[top:bottom, left:right] = cv2.LUT(inside, of_level)
    return bare
