"""Draw straightened cards with pencil marks whose truth is exact, for the tests of the mark finders.

In:    calls such as `sheet.dot(...)`, `sheet.ring(...)`, in card millimetres.
Out:   `sheet.straight()`, a `StraightCard`; every call hands back the truth of what it drew.
Fails: nothing here fails.

Graphite sits on the peaks of the paper's grain: the harder the pencil is pressed, the more of the grain
is covered. Strokes tremble, dots are ragged, words are a font's letters drawn again along their middle lines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.morphology import skeletonize

from circuit.layout import Card
from tests.card_kit.outlines import Points
from tests.card_kit.pencil import fit_circle
from vision.straight_card import StraightCard

FINE_PX_PER_MM = 16.0  # twice what the finders see
GRAIN_MM = 0.06
WHITE = (236, 234, 228)
KRAFT = (196, 152, 102)
PINK = (240, 200, 206)
BLUE = (178, 204, 228)


class Sheet:
    """One card, drawn on at `FINE_PX_PER_MM`."""

    def __init__(
        self, width_mm: float = 80.0, height_mm: float = 100.0, seed: int = 0, margin_mm: float = 3.0
    ) -> None:
        self.card = Card(width_mm, height_mm)
        self.margin_mm = margin_mm
        self.rng = np.random.default_rng(seed)
        size = (self._px(height_mm + 2 * margin_mm), self._px(width_mm + 2 * margin_mm))
        self.press = np.zeros(size, np.float32)  # how hard the pencil was pressed, 0..1
        grain = self.rng.normal(size=size).astype(np.float32)
        grain = cv2.GaussianBlur(grain, (0, 0), GRAIN_MM * FINE_PX_PER_MM)
        self.grain = grain / grain.std()
        self.light = np.ones(size, np.float32)
        self.things: list[tuple[NDArray[np.uint8], tuple[int, int, int]]] = []

    @staticmethod
    def _px(mm: float) -> int:
        return round(mm * FINE_PX_PER_MM)

    def at(self, points_mm: Points) -> Points:
        """Fine pixels of card millimetres."""
        return (np.asarray(points_mm, dtype=float) + self.margin_mm) * FINE_PX_PER_MM - 0.5

    def _lay(self, mask: NDArray[np.uint8], press: float) -> None:
        self.press = np.maximum(self.press, mask.astype(np.float32) / 255 * press)

    def _mask(self) -> NDArray[np.uint8]:
        return np.zeros(self.press.shape, np.uint8)

    def dot(
        self,
        x: float,
        y: float,
        diameter: float = 3.0,
        press: float = 0.8,
        ragged: float = 0.07,
        patchy: float = 0.0,
        hatched: bool = False,
    ) -> tuple[float, float, float]:
        """A filled-in dot: its true centroid and the diameter of the circle with its area.

        `patchy` is how unevenly it was filled (0..1); `hatched`: filled with strokes to and fro.
        """
        angles = np.linspace(0, 2 * np.pi, 181)[:-1]
        radius = np.ones_like(angles)
        for wave in range(2, 9):
            radius += (
                ragged / wave**0.5 * self.rng.normal() * np.cos(wave * angles + self.rng.uniform(0, 6.3))
            )
        radius = np.maximum(radius, 0.5) * diameter / 2
        outline = np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)])
        mask = self._mask()
        cv2.fillPoly(mask, [self._shifted(outline)], 255, cv2.LINE_AA, 4)
        self._lay(self._filled(mask, x, y, diameter, patchy, hatched), press)
        moments = cv2.moments(outline.astype(np.float32).reshape(-1, 1, 2))
        area = moments["m00"]
        return moments["m10"] / area, moments["m01"] / area, 2 * math.sqrt(area / math.pi)

    def _filled(
        self, mask: NDArray[np.uint8], x: float, y: float, diameter: float, patchy: float, hatched: bool
    ) -> NDArray[np.uint8]:
        """The dot's mask, shaded as unevenly as a hurried hand fills it."""
        if not patchy and not hatched:
            return mask
        middle = np.round(self.at(np.array([[x, y]]))[0]).astype(int)
        reach = self._px(diameter)
        low = np.maximum(middle - reach, 0)
        part = mask[low[1] : middle[1] + reach, low[0] : middle[0] + reach]
        shade = np.ones(part.shape, np.float32)
        if hatched:
            rows, columns = np.mgrid[0 : part.shape[0], 0 : part.shape[1]].astype(np.float32)
            way, pitch = self.rng.uniform(0, math.pi), self.rng.uniform(0.35, 0.6) * FINE_PX_PER_MM
            across = columns * math.cos(way) + rows * math.sin(way)
            shade *= 0.8 + 0.25 * np.cos(2 * math.pi * across / pitch).astype(np.float32)
        if patchy:
            uneven = self.rng.normal(size=part.shape).astype(np.float32)
            uneven = cv2.GaussianBlur(uneven, (0, 0), diameter / 6 * FINE_PX_PER_MM)
            shade *= np.clip(1 + 0.35 * patchy * uneven / max(float(uneven.std()), 1e-6), 0.45, 1.1)
        filled = mask.copy()
        filled[low[1] : middle[1] + reach, low[0] : middle[0] + reach] = np.clip(part * shade, 0, 255)
        return filled

    def _shifted(self, points_mm: Points) -> NDArray[np.int32]:
        return np.round(self.at(points_mm) * 16).astype(np.int32).reshape(-1, 1, 2)

    def stroke(
        self,
        points: Sequence[tuple[float, float]],
        width: float = 0.5,
        press: float = 0.6,
        tremble: float = 0.08,
        closed: bool = False,
    ) -> Points:
        """A pencil line along `points`; its true centre line, as drawn. [mm]"""
        corners = np.array([*points, points[0]] if closed else points, dtype=float)
        lengths = np.hypot(*np.diff(corners, axis=0).T)
        travelled = np.concatenate([[0], np.cumsum(lengths)])
        count = max(2, round(travelled[-1] / 0.5))
        where = np.unique(np.concatenate([np.linspace(0, travelled[-1], count), travelled]))
        line = np.column_stack([np.interp(where, travelled, corners[:, axis]) for axis in (0, 1)])
        noise = self.rng.normal(size=(len(line), 2))
        noise = cv2.GaussianBlur(noise, (1, 0), 0.1, sigmaY=4.0) * 5.0 * tremble
        if closed:
            noise *= np.minimum(1, np.minimum(where, travelled[-1] - where) / 3.0)[:, None]
        line = line + noise
        self._draw(line, width, press)
        return line

    def _draw(self, line: Points, width: float, press: float) -> None:
        mask = self._mask()
        half = max(1, round(width * FINE_PX_PER_MM))
        cv2.polylines(mask, [self._shifted(line)], False, 255, half, cv2.LINE_AA, 4)
        # the pencil's pressure rises and falls along the way
        wave = self.rng.normal(size=len(line))
        wave = cv2.GaussianBlur(wave.reshape(-1, 1), (1, 0), 0.1, sigmaY=12.0).ravel() * 6.0
        at = np.round(self.at(line)).astype(int)
        inside = (at >= 0).all(axis=1) & (at[:, 0] < mask.shape[1]) & (at[:, 1] < mask.shape[0])
        pressed = np.zeros(mask.shape, np.float32)
        for (column, row), value in zip(at[inside], wave[inside]):
            size = half + 2
            low_r, low_c = max(0, row - size), max(0, column - size)
            pressed[low_r : row + size + 1, low_c : column + size + 1] = value
        share = mask.astype(np.float32) / 255 * np.clip(press * (1 + 0.15 * pressed), 0.0, 1.0)
        self.press = np.maximum(self.press, share)

    def ring(
        self,
        x: float,
        y: float,
        diameter: float = 20.6,
        wobble: float = 0.15,
        start_deg: float = 40.0,
        sweep_deg: float = 365.0,
        width: float = 0.5,
        press: float = 0.6,
    ) -> tuple[float, float, float]:
        """A circle round the cell: the least-squares circle of its centre line."""
        turns = np.radians(start_deg + np.linspace(0, sweep_deg, 400))
        radius = np.full_like(turns, diameter / 2)
        for wave in (2, 3, 4):
            radius += wobble / wave * self.rng.normal() * np.cos(wave * turns + self.rng.uniform(0, 6.3))
        line = np.column_stack([x + radius * np.cos(turns), y + radius * np.sin(turns)])
        self._draw(line, width, press)
        return fit_circle(line[: max(3, round(400 * min(1.0, 360 / sweep_deg)))])  # once round

    def cross_out(self, x: float, y: float, arm: float = 3.5, turn_deg: float = 0.0) -> None:
        """An X over whatever is there."""
        for angle in (45.0, 135.0):
            way = math.radians(angle + turn_deg + self.rng.normal(0, 6))
            dx, dy = arm * math.cos(way), arm * math.sin(way)
            off = self.rng.normal(0, 0.25, 2)
            self.stroke(
                [(x - dx + off[0], y - dy + off[1]), (x + dx + off[0], y + dy + off[1])], 0.55, 0.75, 0.04
            )

    def word(
        self,
        text: str,
        x: float,
        y: float,
        height: float = 4.0,
        turn_deg: float = 0.0,
        press: float = 0.6,
        width: float = 0.45,
        font: int = cv2.FONT_HERSHEY_SIMPLEX,
    ) -> None:
        """Handwriting: a font's letters thinned to their middle line and drawn again with the pencil,
        the first one's foot at (x, y), capitals about `height` high."""
        scale = height * FINE_PX_PER_MM / 22.0
        (wide, high), below = cv2.getTextSize(text, font, scale, 1)
        pad = self._px(3.0)
        letters = np.zeros((high + below + 2 * pad, wide + 2 * pad), np.uint8)
        cv2.putText(letters, text, (pad, pad + high), font, scale, 255, 1, cv2.LINE_AA)
        thin = skeletonize(cv2.GaussianBlur(letters, (0, 0), 1.0) > 90).astype(np.uint8) * 255
        size = max(1, round(width * FINE_PX_PER_MM))
        pen = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
        written = cv2.GaussianBlur(cv2.dilate(thin, pen), (0, 0), 1.0)
        shake = self.rng.normal(size=(*letters.shape, 2)).astype(np.float32)
        shake = cv2.GaussianBlur(shake, (0, 0), 1.2 * FINE_PX_PER_MM) * FINE_PX_PER_MM**2 * 0.7
        rows, columns = np.mgrid[0 : letters.shape[0], 0 : letters.shape[1]].astype(np.float32)
        written = cv2.remap(written, columns + shake[..., 0], rows + shake[..., 1], cv2.INTER_LINEAR)
        origin = self.at(np.array([[x, y]]))[0]
        turn = cv2.getRotationMatrix2D((float(pad), float(pad + high)), -turn_deg, 1.0)
        turn[:, 2] += origin - (pad, pad + high)
        self._lay(cv2.warpAffine(written, turn, self.press.shape[::-1]), press)

    def plus(self, x: float, y: float, size: float = 3.0) -> None:
        """A plus sign."""
        self.stroke([(x - size / 2, y), (x + size / 2, y)], 0.5, 0.6, 0.03)
        self.stroke([(x, y - size / 2), (x, y + size / 2)], 0.5, 0.6, 0.03)

    def minus(self, x: float, y: float, size: float = 3.0) -> None:
        """A minus sign."""
        self.stroke([(x - size / 2, y), (x + size / 2, y)], 0.5, 0.6, 0.03)

    def speck(self, x: float, y: float, diameter: float = 0.7) -> None:
        """A crumb of graphite, as dark as a dot."""
        self.dot(x, y, diameter, 0.9, 0.15)

    def smudge(self, x: float, y: float, length: float = 9.0, turn_deg: float = 20.0) -> None:
        """What a rubber leaves: wide and pale."""
        mask = self._mask()
        way = np.array([math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))]) * length / 2
        ends = np.array([x, y]) + np.array([-way, way])
        cv2.polylines(mask, [self._shifted(ends)], False, 255, self._px(3.0), cv2.LINE_AA, 4)
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 0.9 * FINE_PX_PER_MM) / 255
        self.light *= 1 - 0.13 * soft

    def shade(self, strength: float = 0.45, soft_mm: float = 4.0, turn_deg: float = 30.0) -> None:
        """The shadow of a hand: half of the card darker, its edge soft."""
        height, width = self.light.shape
        rows, columns = np.mgrid[0:height, 0:width].astype(np.float32)
        way = math.radians(turn_deg)
        side = (columns - width / 2) * math.cos(way) + (rows - height / 2) * math.sin(way)
        side = side / (soft_mm * FINE_PX_PER_MM) + 0.6 * np.sin(rows / height * 6).astype(np.float32)
        self.light *= (1 - strength / (1 + np.exp(np.clip(-3 * side, -50, 50)))).astype(np.float32)

    def coin(
        self, x: float, y: float, diameter: float = 20.0, colour: tuple[int, int, int] = (205, 203, 198)
    ) -> None:
        """A coin that lies on the card: its own colour, a dark rim, a raised ring, a cast shadow."""
        shadow = self._mask()
        centre = self.at(np.array([[x + 0.5, y + 0.6]]))[0]
        cv2.circle(shadow, (int(centre[0]), int(centre[1])), self._px(diameter / 2), 255, -1, cv2.LINE_AA)
        soft = cv2.GaussianBlur(shadow.astype(np.float32), (0, 0), 0.4 * FINE_PX_PER_MM) / 255
        self.light *= 1 - 0.35 * soft
        spot = tuple(int(v) for v in self.at(np.array([[x, y]]))[0])
        for radius, tone, fill in ((0.5, 1.0, -1), (0.47, 0.75, 6), (0.3, 0.8, 5)):
            mask = self._mask()
            cv2.circle(mask, spot, self._px(diameter * radius), 255, fill, cv2.LINE_AA)
            self.things.append((mask, tuple(int(c * tone) for c in colour)))

    def straight(
        self,
        paper: tuple[int, int, int] = WHITE,
        px_per_mm: float = 8.0,
        blur_mm: float = 0.08,
        noise: float = 2.0,
        jpeg: int = 85,
        square_mm: Points | None = None,
    ) -> StraightCard:
        """What a camera sees of it, straight from above."""
        # pressed at 0.5 the pencil covers half of the grain
        cover = 1 / (1 + np.exp(-4 * (self.grain * 0.5 + 3.2 * (self.press - 0.5))))
        cover *= np.clip(self.press * 4, 0, 1)
        picture = np.array(paper, np.float32) * self.light[..., None] * (1 - 0.72 * cover[..., None])
        for mask, colour in self.things:
            share = mask[..., None].astype(np.float32) / 255
            picture = picture * (1 - share) + np.array(colour, np.float32) * share
        low = np.round(self.at(np.array([[0, 0], [self.card.width_mm, self.card.height_mm]]))).astype(int)
        table = np.full_like(picture, 96.0)
        table[low[0, 1] : low[1, 1], low[0, 0] : low[1, 0]] = picture[
            low[0, 1] : low[1, 1], low[0, 0] : low[1, 0]
        ]
        if square_mm is not None:
            cv2.fillPoly(table, [np.round(self.at(square_mm)).astype(np.int32)], (30, 30, 32))
        table = cv2.GaussianBlur(table, (0, 0), max(0.3, blur_mm * FINE_PX_PER_MM))
        scale = px_per_mm / FINE_PX_PER_MM
        size = (round(table.shape[1] * scale), round(table.shape[0] * scale))
        small = cv2.resize(table, size, interpolation=cv2.INTER_AREA)
        small = small + self.rng.normal(0, noise, small.shape)
        pixels = np.clip(np.round(small), 0, 255).astype(np.uint8)
        if jpeg:
            _, packed = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, jpeg])
            pixels = np.ascontiguousarray(cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1])
        return StraightCard(pixels, px_per_mm, self.card, self.margin_mm, square_mm)


def three_dots(seed: int) -> Sheet:
    """A card with a battery circle and three plain dots."""
    sheet = Sheet(80, 100, seed)
    sheet.ring(24, 74, 20.6)
    for x, y in ((20, 20), (60, 24), (58, 70)):
        sheet.dot(x, y, 3.0)
    return sheet
