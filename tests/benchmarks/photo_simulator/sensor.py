"""From light to a picture file: blur, noise, tone, sharpening, shrinking, JPEG, orientation tag."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.card_kit.tone import tone_curve

Light = NDArray[np.float32]
Picture = NDArray[np.uint8]
_STORED_AS = {
    1: 0,
    3: 2,
    6: 1,
    8: 3,
}  # quarter turns (anticlockwise) from the picture as shown to the one stored


@dataclass(frozen=True, slots=True)
class Sensor:
    """Blur in pixels of the rendered picture; noise as the deviation at white (shot) and at black."""

    lens_px: float
    defocus_px: float
    motion_px: float
    motion_deg: float
    shot: float
    read: float
    exposure: float
    contrast: float
    sharpen: float
    shrink_to: int | None
    jpeg_quality: int
    orientation: int | None


def expose(light: Light, sensor: Sensor, rng: np.random.Generator) -> Picture:
    """Linear light, 1 = white at exposure 1, to picture levels as a viewer shows them."""
    light = cv2.GaussianBlur(light, (0, 0), max(sensor.lens_px, 0.3))
    if sensor.defocus_px > 0.4:
        light = cv2.filter2D(light, -1, _disc_kernel(sensor.defocus_px))
    if sensor.motion_px > 0.6:
        light = cv2.filter2D(light, -1, _line_kernel(sensor.motion_px, sensor.motion_deg))
    light *= sensor.exposure
    rows, columns = light.shape[:2]
    spread = np.sqrt(np.maximum(light[:, :, 1], 0) * sensor.shot**2 + sensor.read**2)
    grain = rng.standard_normal((rows, columns), dtype=np.float32)
    # The grey part of the noise is fresh everywhere; colour noise comes from a tile, softer and weaker.
    tile = rng.standard_normal((256, 256, 3), dtype=np.float32)
    tile = cv2.GaussianBlur(np.tile(tile, (2, 2, 1)), (0, 0), 1.0)[128:384, 128:384] * 2.2
    repeats = (math.ceil(rows / 256), math.ceil(columns / 256))
    for channel in range(3):
        colour = np.tile(tile[:, :, channel], repeats)[:rows, :columns]
        light[:, :, channel] += (grain * 0.8 + colour) * spread
    levels = tone_curve(sensor.contrast)[np.clip(light * 4095, 0, 4095).astype(np.uint16)]
    if sensor.sharpen > 0:
        soft = cv2.GaussianBlur(levels, (0, 0), 1.3)
        levels = cv2.addWeighted(levels, 1 + sensor.sharpen, soft, -sensor.sharpen, 0)
    picture = np.clip(levels + 0.5, 0, 255).astype(np.uint8)
    if sensor.shrink_to is not None and max(picture.shape[:2]) > sensor.shrink_to:
        factor = sensor.shrink_to / max(picture.shape[:2])
        size = (round(columns * factor), round(rows * factor))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return picture


def save(picture: Picture, sensor: Sensor, path: Path) -> None:
    """Write the JPEG; with an orientation tag the pixels are stored turned."""
    turns = _STORED_AS[sensor.orientation or 1]
    stored = np.ascontiguousarray(np.rot90(picture, turns))
    exif = Image.Exif()
    if sensor.orientation is not None:
        exif[0x0112] = sensor.orientation
    Image.fromarray(stored).save(path, quality=sensor.jpeg_quality, exif=exif)


def _disc_kernel(radius: float) -> Light:
    reach = math.ceil(radius) + 1
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    kernel = np.clip(radius + 0.5 - np.hypot(x, y), 0, 1)
    return np.asarray(kernel / kernel.sum(), np.float32)


def _line_kernel(length: float, angle_deg: float) -> Light:
    reach = math.ceil(length / 2) + 1
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    a = math.radians(angle_deg)
    along = np.clip(length / 2 + 0.5 - np.abs(x * math.cos(a) + y * math.sin(a)), 0, 1)
    across = np.clip(1.0 - np.abs(-x * math.sin(a) + y * math.cos(a)), 0, 1)
    kernel = along * across
    return np.asarray(kernel / kernel.sum(), np.float32)
