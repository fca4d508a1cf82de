"""Graphite on paper: strokes become darkness where the pencil's pressure meets the paper's tooth.

The paper is a height map. A stroke presses its own profile into it; where pressure exceeds what the
tooth's valleys lie deep, graphite stays. Going over again fills more, less each time. The card's face
is painted once at `PX_PER_MM`, in linear light.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import cv2
import numpy as np

from tests.benchmarks.photo_simulator.hand import Stroke
from tests.benchmarks.photo_simulator.layout import Pencilling
from tests.card_kit.outlines import Plane, Points, span
from tests.card_kit.pencil import along_run, fit_circle

PX_PER_MM = 12.0  # chosen: finer than a 3-megapixel photo of a card (8 to 11 px/mm)
TILE = 1024  # the tooth repeats after 85 mm, which no reader looks for
FULL_DARK = 0.10  # light that a well filled HB mark gives back, as a share of the paper's; judged by eye

Truth = dict[str, float]
_CIRCLE = ("x_mm", "y_mm", "diameter_mm")


@lru_cache(maxsize=8)
def paper_tooth(kind: str) -> Plane:
    """(TILE, TILE) depth of the tooth, 0 on the peaks to 1 in the deepest valleys; wraps around."""
    rng = np.random.default_rng(sum(map(ord, kind)))
    sizes = {"smooth": (0.5, 1.5), "drawing": (0.75, 2.0), "rough": (1.1, 2.8), "laid": (0.7, 2.0)}[kind]
    field = np.zeros((TILE, TILE), np.float32)
    for size, weight in zip(sizes, (1.0, 0.6), strict=True):
        noise = rng.standard_normal((TILE, TILE)).astype(np.float32)
        wrapped = cv2.copyMakeBorder(noise, 32, 32, 32, 32, cv2.BORDER_WRAP)
        soft = cv2.GaussianBlur(wrapped, (0, 0), size)[32:-32, 32:-32]
        field += weight * soft / soft.std()
    if kind == "laid":
        field += 0.6 * np.sin(2 * math.pi * np.arange(TILE) / 8)[None, :].astype(np.float32)
    ranks = np.argsort(np.argsort(field, axis=None)).reshape(field.shape)  # equal share of every depth
    return (ranks / field.size).astype(np.float32)


def press(shape: tuple[int, int], strokes: list[Stroke], scale: float = PX_PER_MM) -> Plane:
    """Pressure left by the strokes, (H, W); each adds to what lies there, less the more there is."""
    total = np.zeros(shape, np.float32)
    for stroke in strokes:
        box = _press_one(stroke, scale, shape)
        if box is not None:
            rows, columns, pressed = box
            spot = total[rows, columns]
            np.subtract(spot + pressed, 0.72 * np.minimum(spot, pressed), out=spot)
    return total


def _press_one(stroke: Stroke, scale: float, shape: tuple[int, int]) -> tuple[slice, slice, Plane] | None:
    path = stroke.path_mm * scale - 0.5
    half = stroke.width_mm * scale / 2
    reach = float(half.max()) + 2
    rows = span(path[:, 1], reach, shape[0])
    columns = span(path[:, 0], reach, shape[1])
    if rows.stop <= rows.start or columns.stop <= columns.start:
        return None
    pressed = np.zeros((rows.stop - rows.start, columns.stop - columns.start), np.float32)
    path = path - (columns.start, rows.start)
    # Three short pieces share one window; one at a time would mostly pay for numpy's overhead.
    for first in range(0, len(path) - 1, 3):
        part = slice(first, min(first + 4, len(path)))
        p, h, f = path[part], half[part], stroke.pressure[part]
        r = span(p[:, 1], reach, pressed.shape[0])
        c = span(p[:, 0], reach, pressed.shape[1])
        if r.stop <= r.start or c.stop <= c.start:
            continue
        x = np.arange(c.start, c.stop, dtype=np.float32)[None, :]
        y = np.arange(r.start, r.stop, dtype=np.float32)[:, None]
        spot = pressed[r, c]
        for (a, b), (h0, h1), (f0, f1) in zip(pairwise(p), pairwise(h), pairwise(f), strict=True):
            t, away = along_run(x, y, a, b)
            # A worn point presses evenly over its middle and less towards its rim.
            inside = np.clip((h0 + (h1 - h0) * t - away) / 2.2 + 0.5, 0, 1)
            np.maximum(spot, inside * (f0 + (f1 - f0) * t), out=spot)
    return rows, columns, pressed


def deposit(pressure: Plane, tooth: Plane) -> Plane:
    """Share of full darkness that stays on the paper."""
    catches = np.clip((pressure * 1.2 - tooth) * 1.7 + 0.45, 0, 1)
    return catches * np.clip(0.25 + 0.75 * pressure, 0, 1) * np.minimum(pressure * 6, 1)


class Face:
    """The card's face being painted: (H, W) transmittance of the marks over a plain paper."""

    def __init__(self, width_mm: float, height_mm: float, paper: str, rng: np.random.Generator) -> None:
        self.shape = (math.ceil(height_mm * PX_PER_MM) + 1, math.ceil(width_mm * PX_PER_MM) + 1)
        self.tooth = np.empty(self.shape, np.float32)
        tile = np.roll(paper_tooth(paper), tuple(rng.integers(0, TILE, 2)), axis=(0, 1))
        for top in range(0, self.shape[0], TILE):
            for left in range(0, self.shape[1], TILE):
                spot = self.tooth[top : top + TILE, left : left + TILE]
                spot[:] = tile[: spot.shape[0], : spot.shape[1]]
        self.marks = np.ones(self.shape, np.float32)

    def pencil(self, what: Pencilling, darkest: float) -> tuple[list[Truth], list[Truth]]:
        """Lay down all graphite; the truth of each dot (`x_mm`, `y_mm`, `diameter_mm` of its own
        graphite) and of each ring (least-squares circle of its stroke's centre line)."""
        lights = []
        loose = press(self.shape, what.others + what.rings)
        for dot in what.dots:
            alone, rows, columns = self._alone(dot.strokes)
            stays = deposit(alone, self.tooth[rows, columns])
            lights.append(_dot_truth(stays, rows, columns))
            spot = loose[rows, columns]
            np.subtract(spot + alone, 0.72 * np.minimum(spot, alone), out=spot)
        self.marks *= 1 - (1 - darkest) * deposit(loose, self.tooth)
        for path, width, strength in what.smudges:
            self._smudge(path, width, strength)
        return lights, [dict(zip(_CIRCLE, fit_circle(ring.path_mm), strict=True)) for ring in what.rings]

    def _alone(self, strokes: tuple[Stroke, ...]) -> tuple[Plane, slice, slice]:
        points = np.vstack([s.path_mm for s in strokes]) * PX_PER_MM
        rows = span(points[:, 1], 8, self.shape[0])
        columns = span(points[:, 0], 8, self.shape[1])
        shift = np.array([columns.start, rows.start]) / PX_PER_MM
        moved = [Stroke(s.path_mm - shift, s.width_mm, s.pressure) for s in strokes]
        return press((rows.stop - rows.start, columns.stop - columns.start), moved), rows, columns

    def _smudge(self, path: Points, width: float, strength: float) -> None:
        rows = span(path[:, 1] * PX_PER_MM, width * 3 * PX_PER_MM, self.shape[0])
        columns = span(path[:, 0] * PX_PER_MM, width * 3 * PX_PER_MM, self.shape[1])
        if rows.stop - rows.start < 8 or columns.stop - columns.start < 8:
            return
        line = np.zeros((rows.stop - rows.start, columns.stop - columns.start), np.float32)
        a, b = (np.round(p * PX_PER_MM - (columns.start, rows.start)).astype(int).tolist() for p in path)
        cv2.line(line, a, b, 1.0, max(1, round(width * PX_PER_MM * 0.7)))
        soft = cv2.GaussianBlur(line, (0, 0), width * PX_PER_MM * 0.35)
        streaks = 0.7 + 0.6 * self.tooth[rows, columns]
        self.marks[rows, columns] *= 1 - strength * soft * streaks


def _dot_truth(stays: Plane, rows: slice, columns: slice) -> Truth:
    y, x = np.mgrid[rows, columns]
    weight = float(stays.sum())
    # The area a person would call the dot: graphite with its tooth's white specks filled in.
    filled = cv2.GaussianBlur(stays, (0, 0), 0.12 * PX_PER_MM) > 0.4 * float(np.percentile(stays, 98))
    return {
        "x_mm": (float((x * stays).sum()) / weight + 0.5) / PX_PER_MM,
        "y_mm": (float((y * stays).sum()) / weight + 0.5) / PX_PER_MM,
        "diameter_mm": 2 * math.sqrt(float(filled.sum()) / math.pi) / PX_PER_MM,
    }
