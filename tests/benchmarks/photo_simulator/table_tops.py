"""What lies under the card. Each kind is a square tile that wraps around, painted once a process.

Out:   (TILE, TILE, 3) uint8, square-root encoded light; `TILE_PX_PER_MM` pixels a millimetre.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.photo_simulator.letters import GLYPHS

TILE = 1536
TILE_PX_PER_MM = 6.0
Light = NDArray[np.float32]


def _noise(rng: np.random.Generator, wave_x: float, wave_y: float) -> Light:
    """(TILE, TILE) of unit deviation, wrapping; waves in millimetres."""
    columns = max(2, round(TILE / TILE_PX_PER_MM / wave_x))
    rows = max(2, round(TILE / TILE_PX_PER_MM / wave_y))
    if columns >= TILE or rows >= TILE:
        columns, rows = min(columns, TILE), min(rows, TILE)
    small = rng.standard_normal((rows, columns)).astype(np.float32)
    small = cv2.copyMakeBorder(small, 3, 3, 3, 3, cv2.BORDER_WRAP)
    fx, fy = TILE / columns, TILE / rows
    big = cv2.resize(
        small, (round((columns + 6) * fx), round((rows + 6) * fy)), interpolation=cv2.INTER_CUBIC
    )
    left, top = round(3 * fx), round(3 * fy)
    out = big[top : top + TILE, left : left + TILE]
    return np.asarray(out / (out.std() + 1e-6))


def _mixed(low: tuple[float, ...], high: tuple[float, ...], share: Light) -> Light:
    share = np.clip(share, 0, 1)[:, :, None]
    return np.asarray(np.float32(low) * (1 - share) + np.float32(high) * share, np.float32)


def _grid_mm() -> tuple[Light, Light]:
    at = (np.arange(TILE, dtype=np.float32) + 0.5) / TILE_PX_PER_MM
    return at[None, :].repeat(TILE, 0), at[:, None].repeat(TILE, 1)


def planks(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    """Boards sawn from rings: the rings' radius, wandering along the board, decides the tone."""
    _, y = _grid_mm()
    width = TILE / TILE_PX_PER_MM / 3
    board = np.floor(y / width)
    shift = np.array([0.0, 137.0, 71.0], np.float32)[board.astype(int) % 3]
    wander = 2.5 * _noise(rng, 90, 14) + 0.8 * _noise(rng, 30, 5)
    across = (y % width) - width * 0.4 + shift * 0.2
    rings = np.sin((np.hypot(across, 9.0) * 1.7 + wander + shift) * 1.9)
    pores = _noise(rng, 7, 0.35)
    tone = 0.5 + 0.22 * rings + 0.12 * pores + 0.12 * _noise(rng, 120, 40)
    out = _mixed(low, high, tone)
    seam = np.minimum(y % width, width - y % width)
    return np.asarray(out * (1 - 0.65 * np.exp(-((seam / 0.5) ** 2)))[:, :, None])


def chipped(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    """Pressed board: flakes of all directions."""
    out = _mixed(low, high, 0.5 + 0.1 * _noise(rng, 20, 20))
    for _ in range(3000):
        at = rng.integers(0, TILE, 2)
        size = (rng.uniform(10, 60), rng.uniform(4, 14))
        box = cv2.boxPoints(((float(at[0]), float(at[1])), size, float(rng.uniform(0, 180))))
        tone = rng.uniform(0.15, 1.0)
        colour = [float(a + (b - a) * tone) for a, b in zip(low, high, strict=True)]
        cv2.fillConvexPoly(out, np.round(box).astype(np.int32), colour, cv2.LINE_AA)
    return out * (1 + 0.05 * _noise(rng, 0.6, 0.6)[:, :, None])


def mat(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    """A cutting mat: lines every 10 mm, stronger every 50, ticks every millimetre, digits."""
    x, y = _grid_mm()
    out = _mixed(low, low, x) * (1 + 0.05 * _noise(rng, 0.5, 0.5) + 0.03 * _noise(rng, 15, 15))[:, :, None]
    period = TILE / TILE_PX_PER_MM / 25  # 10.24 mm: a mat is no gauge
    line = np.zeros((TILE, TILE), np.float32)
    for at in (x, y):
        near = np.abs((at / period + 0.5) % 1 - 0.5) * period
        every5 = np.abs((at / period / 5 + 0.5) % 1 - 0.5) * period * 5
        line = np.maximum(line, 0.6 * (near < 0.15))
        line = np.maximum(line, 1.0 * (every5 < 0.3))
    ticks = (np.abs((x / period * 10 + 0.5) % 1 - 0.5) * period / 10 < 0.12) & (y % (period * 5) < 2.0)
    line = np.maximum(line, 0.8 * ticks)
    for k in range(0, 25, 2):
        _write(line, str(k), (k * period + 0.8, 4.8), 2.6)
    line = cv2.GaussianBlur(line, (0, 0), 0.6)
    return np.asarray(out + line[:, :, None] * (np.float32(high) - out))


def cloth(
    rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...], check: float = 0.0
) -> Light:
    """Woven threads; with `check` a gingham of that many millimetres."""
    x, y = _grid_mm()
    thread = 2 * math.pi / (TILE / TILE_PX_PER_MM / round(TILE / TILE_PX_PER_MM / 0.8))
    weave = np.sin(x * thread + 0.7 * _noise(rng, 8, 2)) * np.sin(y * thread + 0.7 * _noise(rng, 2, 8))
    share = 0.5 + 0.0 * x
    if check:
        period = TILE / TILE_PX_PER_MM / round(TILE / TILE_PX_PER_MM / (2 * check))
        share = 0.5 * ((x / period) % 1 < 0.5) + 0.5 * ((y / period) % 1 < 0.5)
        share = cv2.GaussianBlur(share.astype(np.float32), (0, 0), 1.5)
    return _mixed(low, high, share) * (1 + 0.14 * weave + 0.05 * _noise(rng, 40, 40))[:, :, None]


def stripes(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    x, _ = _grid_mm()
    period = TILE / TILE_PX_PER_MM / int(rng.integers(8, 16))
    share = cv2.GaussianBlur(
        (((x + 0.6 * _noise(rng, 60, 60)) / period) % 1 < 0.45).astype(np.float32), (0, 0), 1.2
    )
    return _mixed(low, high, share) * (1 + 0.07 * _noise(rng, 0.5, 1.5))[:, :, None]


def marble(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    x, y = _grid_mm()
    warp = 16 * _noise(rng, 90, 90) + 6 * _noise(rng, 30, 30)
    turn = 2 * math.pi / TILE * TILE_PX_PER_MM
    vein = np.abs(np.sin((x * 2 + y) * turn + warp * 0.09))
    tone = 1 - np.exp(-vein * 9) * 0.9 + 0.08 * _noise(rng, 25, 25)
    return _mixed(low, high, tone)


def speckled(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    """Granite or terrazzo: crystals of two sizes."""
    tone = (
        0.45
        + 0.2 * (_noise(rng, 1.6, 1.6) > 0.8)
        - 0.3 * (_noise(rng, 2.6, 2.6) > 1.1)
        + 0.1 * _noise(rng, 0.5, 0.5)
    )
    return _mixed(low, high, cv2.GaussianBlur(tone.astype(np.float32), (0, 0), 0.7))


def plain(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    """A painted or laminate desk: nearly even, faint wiping marks."""
    tone = 0.5 + 0.16 * _noise(rng, 70, 40) + 0.10 * _noise(rng, 0.6, 0.6) + 0.08 * _noise(rng, 20, 1.5)
    return _mixed(low, high, tone)


def tiles(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    x, y = _grid_mm()
    side = TILE / TILE_PX_PER_MM / int(rng.choice((2, 3, 4)))
    seam = np.minimum.reduce([x % side, side - x % side, y % side, side - y % side])
    grout = np.clip((1.6 - seam) / 0.5, 0, 1)
    each = rng.uniform(0.85, 1.1, (4, 4)).astype(np.float32)
    own = each[(np.floor(y / side) % 4).astype(int), (np.floor(x / side) % 4).astype(int)]
    out = _mixed(high, low, grout) * (1 + 0.04 * _noise(rng, 12, 12))[:, :, None]
    return np.asarray(out * own[:, :, None])


def newspaper(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    """Columns of print: rows of small made-up words, headlines, grey picture boxes."""
    ink = np.zeros((TILE, TILE), np.float32)
    column = TILE / TILE_PX_PER_MM / 5
    letters = "aceimnorstuw"
    for c in range(5):
        y = rng.uniform(2, 6)
        while y < TILE / TILE_PX_PER_MM - 6:
            kind = rng.random()
            if kind < 0.06:
                word = "".join(rng.choice(list("HOARTIMENS"), int(rng.integers(4, 6))))
                _write(ink, word, (c * column + 2, y + 8), 8, thick=3)
                y += 11
            elif kind < 0.10:
                tall = rng.uniform(15, 40)
                a = (int((c * column + 2) * 6), int(y * 6))
                b = (int((c * column + column - 2) * 6), int((y + tall) * 6))
                cv2.rectangle(ink, a, b, float(rng.uniform(0.3, 0.6)), -1)
                y += tall + 2
            else:
                x = c * column + 2.0
                while x < (c + 1) * column - 7:
                    word = "".join(rng.choice(list(letters), int(rng.integers(2, 7))))
                    x = _write(ink, word, (x, y + 1.7), 2.3) + 1.0
                y += 3.2
    return (
        _mixed(high, low, cv2.GaussianBlur(ink, (0, 0), 0.6) * 0.9)
        * (1 + 0.03 * _noise(rng, 1, 1))[:, :, None]
    )


def tufts(rng: np.random.Generator, low: tuple[float, ...], high: tuple[float, ...]) -> Light:
    """Felt or carpet."""
    tone = 0.5 + 0.25 * _noise(rng, 1.2, 1.2) + 0.15 * _noise(rng, 0.5, 0.5) + 0.12 * _noise(rng, 40, 40)
    return _mixed(low, high, tone)


def _write(canvas: Light, word: str, at_mm: tuple[float, float], height_mm: float, thick: int = 1) -> float:
    x = at_mm[0]
    for letter in word:
        glyph = GLYPHS.get(letter)
        if glyph is None:
            x += height_mm * 0.4
            continue
        for line in glyph.strokes:
            points = np.column_stack([x + line[:, 0] * height_mm, at_mm[1] - line[:, 1] * height_mm])
            whole = np.round(points * TILE_PX_PER_MM * 8).astype(np.int32)
            cv2.polylines(canvas, [whole], False, 1.0, thick, cv2.LINE_AA, shift=3)
        x += (glyph.width + 0.16) * height_mm
    return x


Paint = Callable[[np.random.Generator], Light]
TABLES: dict[str, Paint] = {
    "oak": lambda r: planks(r, (0.20, 0.11, 0.05), (0.46, 0.30, 0.16)),
    "walnut": lambda r: planks(r, (0.045, 0.024, 0.014), (0.15, 0.08, 0.045)),
    "ash": lambda r: planks(r, (0.42, 0.33, 0.22), (0.66, 0.57, 0.43)),
    "chipboard": lambda r: chipped(r, (0.22, 0.14, 0.07), (0.6, 0.45, 0.27)),
    "green mat": lambda r: mat(r, (0.015, 0.10, 0.055), (0.55, 0.6, 0.35)),
    "grey mat": lambda r: mat(r, (0.07, 0.075, 0.08), (0.5, 0.5, 0.5)),
    "pink mat": lambda r: mat(r, (0.55, 0.22, 0.32), (0.85, 0.75, 0.8)),
    "gingham": lambda r: cloth(r, (0.72, 0.70, 0.66), (0.42, 0.03, 0.04), check=9.0),
    "linen": lambda r: cloth(r, (0.46, 0.41, 0.33), (0.50, 0.45, 0.37)),
    "denim": lambda r: cloth(r, (0.03, 0.06, 0.14), (0.05, 0.09, 0.20)),
    "stripes": lambda r: stripes(r, (0.70, 0.68, 0.62), (0.06, 0.13, 0.26)),
    "marble": lambda r: marble(r, (0.22, 0.22, 0.23), (0.70, 0.69, 0.68)),
    "granite": lambda r: speckled(r, (0.03, 0.03, 0.035), (0.5, 0.48, 0.46)),
    "white desk": lambda r: plain(r, (0.66, 0.66, 0.65), (0.76, 0.76, 0.75)),
    "cream desk": lambda r: plain(r, (0.56, 0.52, 0.44), (0.64, 0.60, 0.52)),
    "black desk": lambda r: plain(r, (0.018, 0.018, 0.02), (0.03, 0.03, 0.033)),
    "teal desk": lambda r: plain(r, (0.03, 0.16, 0.17), (0.05, 0.22, 0.23)),
    "tiles": lambda r: tiles(r, (0.35, 0.34, 0.32), (0.50, 0.30, 0.20)),
    "white tiles": lambda r: tiles(r, (0.30, 0.30, 0.29), (0.68, 0.69, 0.70)),
    "newspaper": lambda r: newspaper(r, (0.05, 0.05, 0.05), (0.58, 0.55, 0.49)),
    "felt": lambda r: tufts(r, (0.10, 0.015, 0.02), (0.22, 0.05, 0.06)),
    "carpet": lambda r: tufts(r, (0.10, 0.10, 0.11), (0.32, 0.31, 0.30)),
}
NEAR_WHITE = ("white desk", "cream desk", "marble", "white tiles")


@cache
def table_tile(kind: str) -> NDArray[np.uint8]:
    """The tile of that kind, square-root encoded."""
    light = TABLES[kind](np.random.default_rng(sum(map(ord, kind)) + 7))
    return np.asarray(np.sqrt(np.clip(light, 0, 1)) * 255 + 0.5, np.uint8)
