"""Draw how the window will look lit, in a dim room.

In:    a `GlowField` (numbers in card millimetres), a caption.
Out:   a PIL image of the front card, RGB.
Fails: ValueError for a scale that is not above 0.

Colour: each layer's lux and CIE 1931 x, y to linear light of IEC 61966-2-1 (sRGB), exposed as a camera
would so that most of the window keeps its colour and the hot spots run to white, then encoded.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import Image, ImageDraw

from circuit.glow import GlowField
from vision.arrays import Floats
from vision.drawing.lettering import BODY_PT, capitals_mm, line_mm, wrapped
from vision.drawing.picture_pen import PicturePen
from vision.drawing.rows import write_lines

# Linear sRGB of XYZ, IEC 61966-2-1:1999 (from memory, held against scikit-image in the tests).
_XYZ_TO_RGB = np.array(
    [
        [3.2406, -1.5372, -0.4986],
        [-0.9689, 1.8758, 0.0415],
        [0.0557, -0.2040, 1.0570],
    ]
)
# Chosen: a white card in a room just light enough to see it by, and the table round it. Linear light.
# sRGB's curve: straight up to a value, then a power. IEC 61966-2-1:1999.
_SRGB_LINEAR_TO, _SRGB_SLOPE, _SRGB_OFFSET, _SRGB_GAMMA = 0.0031308, 12.92, 0.055, 2.4
_CARD_RGB = (0.055, 0.052, 0.050)
_UNLIT_WINDOW_RGB = (0.030, 0.029, 0.028)
_TABLE_RGB = (0.006, 0.006, 0.007)
_BRIGHT_PERCENTILE = 80.0  # so much of the window stays below full exposure. Chosen
_EXPOSURE = 1.1
_LEAK = 0.03  # chosen
_BORDER_MM = 8.0
_CAPTION_MM = 2.5  # height of capitals: readable on a phone
_CAPTION_RGB = (214, 214, 214)
_WIDEST_PX = 1600


def draw_glow(field: GlowField, caption: str = "", px_per_mm: float = 8.0) -> Image.Image:
    """The front card, its window lit; with the caption under it. The card and its border stay within 1600 pixels.

    Raises ValueError for a scale that is not above 0.
    """
    if not px_per_mm > 0:
        raise ValueError(f"px_per_mm must be above 0, got {px_per_mm}")
    card = field.card
    scale = min(px_per_mm, _WIDEST_PX / (max(card.width_mm, card.height_mm) + 2 * _BORDER_MM))
    width, height = (round((side + 2 * _BORDER_MM) * scale) for side in (card.width_mm, card.height_mm))
    linear = np.empty((height, width, 3))
    linear[:] = _TABLE_RGB
    border = round(_BORDER_MM * scale)
    linear[border : height - border, border : width - border] = _CARD_RGB

    mask = _mask(field, scale, (width, height))[..., None]
    light = _exposed(_light_rgb(field), field.inside)
    window = _placed(light, field, scale, (width, height)) * mask
    linear = linear * (1 - mask) + np.array(_UNLIT_WINDOW_RGB) * mask
    linear += window
    encoded = np.round(255 * encode_srgb(np.clip(linear, 0.0, 1.0))).astype(np.uint8)
    return _captioned(Image.fromarray(encoded), caption, scale)


def encode_srgb(linear: ArrayLike) -> Floats:
    """Linear light in 0..1, of any shape, to sRGB values in 0..1 of the same shape (IEC 61966-2-1:1999)."""
    value = np.asarray(linear, dtype=float)
    encoded: Floats = np.where(
        value <= _SRGB_LINEAR_TO,
        _SRGB_SLOPE * value,
        (1 + _SRGB_OFFSET) * np.maximum(value, _SRGB_LINEAR_TO) ** (1 / _SRGB_GAMMA) - _SRGB_OFFSET,
    )
    return encoded


def chromaticity_rgb(x: float, y: float) -> Floats:
    """(3,) linear sRGB of a light of luminance 1. Pure colours lie outside what a screen shows: channels
    below 0 are cut off. A little of the strongest channel leaks into all three, as in a camera, so that
    overexposed spots run to white and not to a neighbouring hue."""
    rgb: Floats = np.clip(_XYZ_TO_RGB @ np.array([x / y, 1.0, (1 - x - y) / y]), 0.0, None)
    leak: Floats = rgb + _LEAK * rgb.max()
    return leak


def _light_rgb(field: GlowField) -> Floats:
    """(H, W, 3) linear light of all layers together, in lux."""
    total = np.zeros((*field.inside.shape, 3))
    for (x, y), lux in field.layers:
        total += lux[..., None] * chromaticity_rgb(x, y)
    return total


def _exposed(light: Floats, inside: NDArray[np.bool_]) -> Floats:
    """As film or a sensor's shoulder answers: even for faint light, full light runs towards white."""
    strongest = light.max(axis=2)[inside]
    full = float(np.percentile(strongest, _BRIGHT_PERCENTILE)) if strongest.size else 0.0
    exposed: Floats = 1 - np.exp(-_EXPOSURE * light / max(full, 1e-12))
    return exposed


def _placed(light: Floats, field: GlowField, scale: float, size: tuple[int, int]) -> Floats:
    """The grid's light enlarged to pixels and laid where it belongs; 0 elsewhere."""
    step_x, step_y = (float(axis[1] - axis[0]) for axis in (field.x_mm, field.y_mm))
    left = round((field.x_mm[0] - step_x / 2 + _BORDER_MM) * scale)
    top = round((field.y_mm[0] - step_y / 2 + _BORDER_MM) * scale)
    wide = max(round(step_x * len(field.x_mm) * scale), 1)
    high = max(round(step_y * len(field.y_mm) * scale), 1)
    canvas = np.zeros((size[1], size[0], 3))
    for channel in range(3):
        grid = Image.fromarray(light[..., channel].astype(np.float32))
        patch = np.asarray(grid.resize((wide, high), Image.Resampling.BICUBIC))
        room = canvas[top : top + high, left : left + wide, channel]
        room[:] = np.clip(patch[: room.shape[0], : room.shape[1]], 0.0, 1.0)
    return canvas


def _mask(field: GlowField, scale: float, size: tuple[int, int]) -> Floats:
    """(H, W) share of each pixel that lies in the window, smooth at its rim; where none is drawn, in the card:
    the light on a sheet all over it."""
    fine = 3
    card = field.card
    whole = ((0.0, 0.0), (card.width_mm, 0.0), (card.width_mm, card.height_mm), (0.0, card.height_mm))
    outline = field.outline if field.has_window else whole
    picture = Image.new("L", (size[0] * fine, size[1] * fine))
    corners = [((x + _BORDER_MM) * scale * fine, (y + _BORDER_MM) * scale * fine) for x, y in outline]
    ImageDraw.Draw(picture).polygon(corners, fill=255)
    return np.asarray(picture.resize(size, Image.Resampling.BOX), dtype=float) / 255


def _captioned(picture: Image.Image, caption: str, scale: float) -> Image.Image:
    """The picture with the caption below it, in letters of a size that is legible on a phone."""
    if not caption:
        return picture
    px_per_mm = scale * _CAPTION_MM / capitals_mm(BODY_PT)
    margin = _BORDER_MM * scale / px_per_mm
    lines = wrapped(caption, BODY_PT, picture.width / px_per_mm - 2 * margin)
    table = tuple(round(255 * float(value)) for value in encode_srgb(np.array(_TABLE_RGB)))
    below = round((line_mm(BODY_PT) * len(lines) + margin / 2) * px_per_mm)
    taller = Image.new("RGB", (picture.width, picture.height + below), table)
    taller.paste(picture, (0, 0))
    top = picture.height / px_per_mm
    write_lines(PicturePen(taller, px_per_mm), lines, margin, top, colour=_CAPTION_RGB)
    return taller
