"""From printed pages to a photo: pieces cut out along their lines, laid on a table, seen at an angle."""

from __future__ import annotations

import math

import cv2
import numpy as np

from tests.card_kit import camera as phone
from tests.card_kit.outlines import rectangle
from tests.card_kit.tone import STEPS, light_of, tone_curve
from tests.cli.pages.measure import PX_PER_MM, Printed
from vision.drawing.box import Box

# Shares of the light that falls on them; lens and sensor add light up, and only then is it coded.
TABLE = (0.12, 0.07, 0.045)  # a dark wood
PAPER_WHITE = 0.80
AROUND_MM = 70  # of table round the pieces
INK_BLACK = 0.03


def cut_out(page: Printed, box: Box) -> np.ndarray:
    """That part of the page, cut along its line to a fraction of a pixel."""
    size = (round(box.width * PX_PER_MM), round(box.height * PX_PER_MM))
    scale = np.array([box.width * PX_PER_MM / size[0], box.height * PX_PER_MM / size[1]])
    # Piece pixel centre (i + 0.5) / PX_PER_MM * scale = millimetres from the piece's corner.
    move = np.array(
        [
            [scale[0], 0, box.left * PX_PER_MM + 0.5 * scale[0] - 0.5],
            [0, scale[1], box.top * PX_PER_MM + 0.5 * scale[1] - 0.5],
        ]
    )
    return cv2.warpAffine(page.pixels, move, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)


def photo_of(
    pieces: list[tuple[np.ndarray, Box, tuple[float, float], float]],
    *,
    tilt_deg: float,
    toward_deg: float,
    roll_deg: float,
    size: tuple[int, int] = (1600, 1200),
    seed: int = 1,
) -> np.ndarray:
    """(H, W, 3) uint8 RGB. Each piece comes with its size, the place of its corner on the table [mm]
    and its turn; the camera looks at the middle of them all."""
    rng = np.random.default_rng(seed)
    places = [_placing(box, corner, turn) for _, box, corner, turn in pieces]
    corners = np.vstack(
        [rectangle(box.width, box.height) @ m[:, :2].T + m[:, 2] for (_, box, _, _), m in zip(pieces, places)]
    )
    low, high = corners.min(axis=0) - AROUND_MM, corners.max(axis=0) + AROUND_MM
    width, height = np.ceil((high - low) * PX_PER_MM).astype(int)

    table = np.empty((height, width, 3), np.float32)
    table[:] = TABLE
    grain = rng.normal(1.0, 0.07, (height // 60 + 2, width // 200 + 2)).astype(np.float32)
    table *= cv2.resize(grain, (width, height), interpolation=cv2.INTER_CUBIC)[:, :, None]
    for (image, box, _, _), place in zip(pieces, places):
        px = np.array([image.shape[1] / box.width, image.shape[0] / box.height])
        # Piece pixels to table pixels: to millimetres (centres at halves), placed, then to pixels.
        to_mm = np.array([[1 / px[0], 0, 0.5 / px[0]], [0, 1 / px[1], 0.5 / px[1]], [0, 0, 1]])
        to_px = np.array(
            [[PX_PER_MM, 0, -low[0] * PX_PER_MM - 0.5], [0, PX_PER_MM, -low[1] * PX_PER_MM - 0.5]]
        )
        matrix = to_px @ np.vstack([place, [0, 0, 1]]) @ to_mm
        shown = INK_BLACK + light_of(image.astype(np.float32)) * (PAPER_WHITE - INK_BLACK)
        layer = cv2.warpAffine(shown, matrix, (int(width), int(height)), borderMode=cv2.BORDER_REPLICATE)
        cover = cv2.warpAffine(np.ones(image.shape[:2], np.float32), matrix, (int(width), int(height)))
        table += cover[:, :, None] * (layer - table)

    middle = (low + high) / 2
    focal_px = 0.7 * math.hypot(*size)  # a phone's usual lens
    extent = high - low - 2 * AROUND_MM
    scale = 0.8 * min(size[0] / extent[0], size[1] / extent[1]) * math.cos(math.radians(tilt_deg))
    lens = phone.camera_before(
        np.append(middle, 0.0),
        focal_px / scale,
        phone.orientation(tilt_deg, toward_deg, roll_deg),
        size_px=size,
        equivalent_mm=0.7 * phone.FULL_FRAME_DIAGONAL_MM,
    )
    table = cv2.GaussianBlur(table, (0, 0), max(0.5 * PX_PER_MM / scale, 0.6))
    x, y = lens.sampling_maps(phone.TABLE, (0, 0, *size))
    at = ((x - np.float32(low[0])) * PX_PER_MM - 0.5, (y - np.float32(low[1])) * PX_PER_MM - 0.5)
    picture = cv2.remap(table, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=TABLE)
    shade = np.linspace(1.0, 0.7, size[0], dtype=np.float32)[None, :, None]
    levels = tone_curve()[(np.clip(picture * shade, 0, 1) * (STEPS - 1) + 0.5).astype(np.uint16)]
    levels += rng.normal(0, 2.0, picture.shape).astype(np.float32)
    return np.clip(levels, 0, 255).astype(np.uint8)


def _placing(box: Box, corner: tuple[float, float], turn_deg: float) -> np.ndarray:
    """(2, 3): millimetres from the piece's corner to millimetres on the table."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return np.array([[c, -s, corner[0]], [s, c, corner[1]]])
