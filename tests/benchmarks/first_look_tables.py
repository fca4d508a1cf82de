"""Tables to lay cards on while learning: made-up patterns, and photographs that scikit-image brings along.

Out:   a list of (448, 448, 3) uint8 tiles. Not one of them is drawn as the photo simulator draws its own, and
       scikit-image's cat and cup of coffee are left out: tests lay cards on those.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

TILE = 448
PHOTOS = (
    "brick",
    "grass",
    "gravel",
    "rocket",
    "hubble_deep_field",
    "moon",
    "page",
    "text",
    "coins",
    "retina",
)
PHOTOS_MORE = ("immunohistochemistry", "colorwheel", "clock", "cell")
DRAWN_EACH = 40
Light = NDArray[np.float32]


def _noise(rng: np.random.Generator, wave_x: float, wave_y: float) -> Light:
    """(TILE, TILE) in 0..1 of waves of these lengths [px]."""
    small = rng.random((max(2, int(TILE / wave_y)), max(2, int(TILE / wave_x)))).astype(np.float32)
    return np.asarray(cv2.resize(small, (TILE, TILE), interpolation=cv2.INTER_CUBIC))


def _grid() -> tuple[Light, Light]:
    at = np.arange(TILE, dtype=np.float32)
    return at[None, :].repeat(TILE, 0), at[:, None].repeat(TILE, 1)


def _even(rng: np.random.Generator) -> Light:
    return 0.5 + 0.3 * (_noise(rng, 200, 150) - 0.5) + 0.1 * (_noise(rng, 1.5, 1.5) - 0.5)


def _grain(rng: np.random.Generator) -> Light:
    long = float(rng.uniform(60, 300))
    _, y = _grid()
    rings = np.sin((y + 60 * _noise(rng, long * 2, 90)) / float(rng.uniform(2, 14)))
    return 0.5 + 0.25 * rings + 0.4 * (_noise(rng, long, float(rng.uniform(1.5, 8))) - 0.5)


def _boards(rng: np.random.Generator) -> Light:
    _, y = _grid()
    wide = float(rng.uniform(25, 130))
    tone = rng.random(40).astype(np.float32)[(y / wide).astype(int) % 40]
    seam = (y % wide) < float(rng.uniform(1, 4))
    return np.asarray(_grain(rng) * 0.5 + tone * 0.5 - 0.4 * seam, np.float32)


def _stripes(rng: np.random.Generator) -> Light:
    x, _ = _grid()
    period = float(np.exp(rng.uniform(np.log(4), np.log(120))))
    share = float(rng.uniform(0.2, 0.8))
    bend = float(rng.uniform(0, 30)) * _noise(rng, 300, 300)
    on = (((x + bend) / period) % 1 < share).astype(np.float32)
    return on + 0.3 * (_noise(rng, 2, 2) - 0.5)


def _bands(rng: np.random.Generator) -> Light:
    """Stripes of several tones and widths, as deck chairs and runners have them."""
    x, _ = _grid()
    widths = rng.uniform(3, 45, 9)
    rims = np.cumsum(widths)
    bend = float(rng.uniform(0, 20)) * _noise(rng, 300, 300)
    which = np.searchsorted(rims, (x + bend) % rims[-1])
    return np.asarray(rng.random(10).astype(np.float32)[which] + 0.2 * (_noise(rng, 2, 2) - 0.5), np.float32)


def _checks(rng: np.random.Generator) -> Light:
    x, y = _grid()
    period = float(np.exp(rng.uniform(np.log(6), np.log(110))))
    across = ((x / period) % 1 < 0.5).astype(np.float32)
    down = ((y / period) % 1 < 0.5).astype(np.float32)
    both = 0.5 * (across + down) if rng.random() < 0.6 else np.abs(across - down)
    return np.asarray(both + 0.25 * (_noise(rng, 2, 2) - 0.5), np.float32)


def _lined(rng: np.random.Generator) -> Light:
    x, y = _grid()
    period, wide = float(rng.uniform(8, 70)), float(rng.uniform(0.7, 3))
    lines = ((x % period) < wide) | ((y % period) < wide)
    every = ((x % (5 * period)) < 1.6 * wide) | ((y % (5 * period)) < 1.6 * wide)
    return np.asarray(0.4 + 0.3 * lines + 0.3 * every + 0.2 * (_noise(rng, 3, 3) - 0.5), np.float32)


def _tiled(rng: np.random.Generator) -> Light:
    x, y = _grid()
    wide, high = rng.uniform(30, 200, 2)
    row = (y / high).astype(int)
    x = x + (row % 2) * wide * float(rng.choice((0, 0.5)))
    tone = rng.random((30, 30)).astype(np.float32)[row % 30, (x / wide).astype(int) % 30]
    seam = ((x % wide) < 4) | ((y % high) < 4)
    return np.asarray(0.3 + 0.5 * tone - 0.5 * seam + 0.2 * _noise(rng, 20, 20), np.float32)


def _speckled(rng: np.random.Generator) -> Light:
    size = float(rng.uniform(2, 12))
    tone = (_noise(rng, size, size) > rng.uniform(0.4, 0.8)).astype(np.float32)
    return tone + 0.5 * (_noise(rng, 1.5 * size, 1.5 * size) > 0.7) + 0.2 * _noise(rng, 2, 2)


def _veined(rng: np.random.Generator) -> Light:
    x, y = _grid()
    bend = 250 * _noise(rng, 150, 150) + 80 * _noise(rng, 50, 50)
    vein = np.abs(np.sin((x + y + bend) / float(rng.uniform(20, 60))))
    return np.asarray(np.minimum(vein * float(rng.uniform(1, 6)), 1) + 0.2 * _noise(rng, 30, 30), np.float32)


def _woven(rng: np.random.Generator) -> Light:
    x, y = _grid()
    period = float(rng.uniform(1.5, 5))
    weave = np.sin(x / period + 3 * _noise(rng, 60, 20)) * np.sin(y / period + 3 * _noise(rng, 20, 60))
    return np.asarray(0.5 + 0.3 * weave + 0.3 * (_noise(rng, 90, 90) - 0.5), np.float32)


def _strewn(rng: np.random.Generator) -> Light:
    """Shapes of all kinds over each other: prints, leaves, scraps."""
    canvas = np.full((TILE, TILE), float(rng.random()), np.float32)
    size = float(rng.uniform(6, 50))
    for _ in range(int(rng.uniform(30, 400))):
        at = rng.integers(0, TILE, 2)
        axes = (max(1, int(size * rng.uniform(0.2, 1))), max(1, int(size * rng.uniform(0.2, 1))))
        centre = (int(at[0]), int(at[1]))
        if rng.random() < 0.5:
            cv2.ellipse(canvas, centre, axes, float(rng.uniform(0, 180)), 0, 360, float(rng.random()), -1)
        else:
            corners = at + rng.normal(0, size / 2, (3, 2))
            cv2.fillPoly(canvas, [corners.astype(np.int32)], float(rng.random()))
    return canvas


PATTERNS: tuple[Callable[[np.random.Generator], Light], ...] = (
    *(
        _even,
        _grain,
        _boards,
        _stripes,
        _stripes,
        _bands,
        _bands,
        _checks,
        _lined,
        _tiled,
        _speckled,
        _veined,
        _woven,
        _strewn,
    ),
)


def _coloured(tone: Light, rng: np.random.Generator) -> NDArray[np.uint8]:
    low, high = rng.uniform(0, 255, (2, 3))
    if rng.random() < 0.4:  # shades of one colour
        high = np.clip(low * rng.uniform(0.5, 1.6) + rng.normal(0, 10, 3), 0, 255)
    share = np.clip(tone, 0, 1)[..., None]
    return np.asarray(low + (high - low) * share, np.uint8)


def _photographs() -> list[NDArray[np.uint8]]:
    from skimage import data

    tiles = []
    for name in (*PHOTOS, *PHOTOS_MORE):
        try:
            photo = np.asarray(getattr(data, name)())
        except Exception:  # not in every release's package
            continue
        photo = photo.astype(np.uint8) if photo.ndim == 3 else np.repeat(photo[..., None], 3, axis=2)
        photo = photo[..., :3].astype(np.uint8)
        tiles.append(np.asarray(cv2.resize(photo, (TILE, TILE), interpolation=cv2.INTER_AREA)))
        if min(photo.shape[:2]) > TILE:
            tiles.append(np.asarray(photo[:TILE, :TILE]))
    return tiles


def table_bank(seed: int) -> list[NDArray[np.uint8]]:
    """All tiles: each pattern many times over, each photograph as often as a few of them."""
    rng = np.random.default_rng(seed)
    drawn = [_coloured(pattern(rng), rng) for pattern in PATTERNS for _ in range(DRAWN_EACH)]
    return drawn + 4 * _photographs()
