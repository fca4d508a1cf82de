"""Samples to learn card and square from: simulated photos on tables that nobody drew for them.

In:    folders of NAME.jpg with NAME.json, reduced once (`keep_small`).
Out:   (N, 3, 320, 320) float32 pictures in -1..1 and (N, 2, 160, 160) float32 maps, 0..1, of the card's
       whole face (things that lie on it make no hole) and of the square's dark area.

What is learnt from drawn tables must hold on real ones, so most samples get another table, other things on
it, other paper, other light, another lens; many cut card or square off, some have neither.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.first_look_tables import table_bank

KEPT = 400  # long side of the photos kept [px]
SIDE, MAP = 320, 160
SEEN_KEPT, MOST_TIMES = 3000, 5  # samples that may be shown again, and how often
LONG_SIDES = ((4, 3), (3, 4), (4, 3), (3, 4), (16, 9), (9, 16), (1, 1), (3, 2))
SIDE_POINTS = 12  # along each side: lenses bend them
FULL_FRAME_DIAGONAL_MM = 43.2666
Picture = NDArray[np.uint8]
Light = NDArray[np.float32]


def _bent(corners: NDArray[np.float64], truth: dict[str, Any]) -> NDArray[np.float64]:
    """The outline in photo px, its sides bent as the lens bends them."""
    image, camera = truth["image"], truth["camera"]
    size = np.array([image["width"], image["height"]], dtype=np.float64)
    focal = camera["equivalent_mm"] / FULL_FRAME_DIAGONAL_MM * float(np.hypot(*size))
    middle, k1, k2 = (size - 1) / 2, camera["k1"], camera["k2"]
    bent = (corners - middle) / focal
    goal = np.linalg.norm(bent, axis=1)
    radius = goal.copy()
    for _ in range(6):
        value = radius * (1 + k1 * radius**2 + k2 * radius**4) - goal
        radius = radius - value / (1 + 3 * k1 * radius**2 + 5 * k2 * radius**4)
    flat = bent * (radius / np.maximum(goal, 1e-12))[:, None]
    t = np.arange(SIDE_POINTS)[:, None] / SIDE_POINTS
    ring = np.vstack([flat[k] + t * (flat[(k + 1) % 4] - flat[k]) for k in range(4)])
    square = (ring**2).sum(axis=1, keepdims=True)
    return np.asarray(ring * (1 + k1 * square + k2 * square**2) * focal + middle)


def keep_small(folders: list[Path], out: Path) -> None:
    """Reduce all photos once and keep them with their outlines in reduced pixels."""
    pictures, sizes, cards, squares, kinds = [], [], [], [], []
    for file in sorted(file for folder in folders for file in folder.glob("*.json")):
        truth = json.loads(file.read_text(encoding="utf-8"))
        if truth["reason"] == "too dark":
            continue
        bgr = cv2.imread(str(file.with_suffix(".jpg")), cv2.IMREAD_COLOR)  # turns it upright by its tag
        assert bgr is not None, file
        height, width = bgr.shape[:2]
        scale = KEPT / max(height, width)
        size = (round(width * scale), round(height * scale))
        canvas = np.zeros((KEPT, KEPT, 3), np.uint8)
        canvas[: size[1], : size[0]] = cv2.resize(bgr, size, interpolation=cv2.INTER_AREA)[:, :, ::-1]
        nothing = np.full((4 * SIDE_POINTS, 2), np.nan)
        rings = []
        for part in ("card", "square"):
            corners = None if truth[part] is None else np.array(truth[part]["corners_px"])
            rings.append(nothing if corners is None else (_bent(corners, truth) + 0.5) * scale - 0.5)
        pictures.append(canvas)
        sizes.append(size)
        cards.append(rings[0])
        squares.append(rings[1])
        kinds.append(0 if truth["square"] is None else 1 if truth["square"]["kind"] == "coded" else 2)
    np.savez(out, pictures=pictures, sizes=sizes, cards=cards, squares=squares, kinds=kinds)


def _moved(points: NDArray[np.float64], homography: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(cv2.perspectiveTransform(points[None], homography)[0])


def _area(ring: NDArray[np.float64], size: tuple[int, int], scale: float = 1.0, finer: int = 2) -> Light:
    """(h, w) share of each pixel that lies in the ring; all 0 without one. `scale`: of the picture."""
    canvas = np.zeros((size[1] * finer, size[0] * finer), np.uint8)
    if np.isfinite(ring).all():
        fine = ((ring + 0.5) * scale * finer - 0.5) * 16
        cv2.fillPoly(canvas, [np.round(fine).astype(np.int32)], 255, cv2.LINE_8, 4)
    return np.asarray(cv2.resize(canvas, size, interpolation=cv2.INTER_AREA), np.float32) / 255


@dataclass(slots=True)
class _Seen:
    """A sample, what it cost when it was last shown, and how often it was."""

    picture: Picture
    maps: Light
    loss: float = 1.0
    times: int = 0


class Samples:
    """An endless row of samples, the same for the same seed."""

    def __init__(self, kept: Path, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        with np.load(kept) as values:
            self.pictures, self.sizes = values["pictures"], values["sizes"]
            self.cards, self.squares, self.kinds = values["cards"], values["squares"], values["kinds"]
        self.tables = table_bank(seed)
        self.seen: list[_Seen] = []
        self.shown: list[_Seen] = []

    def batch(self, count: int) -> tuple[Light, Light]:
        """Half of it new; the rest seen before, now turned, the worst learnt likeliest."""
        again = min(count // 2, len(self.seen))
        fresh = [_Seen(*self.sample()) for _ in range(count - again)]
        odds = np.array([seen.loss for seen in self.seen])
        old = []
        if again:
            old = [self.seen[int(k)] for k in self.rng.choice(len(odds), again, False, odds / odds.sum())]
        shown = [(seen.picture, seen.maps) for seen in fresh] + [self._turned(seen) for seen in old]
        self.shown = fresh + old
        pictures = np.stack([picture for picture, _ in shown]).astype(np.float32) / 127.5 - 1
        return np.ascontiguousarray(pictures.transpose(0, 3, 1, 2)), np.stack([maps for _, maps in shown])

    def learnt(self, losses: NDArray[np.float64]) -> None:
        """What each sample of the last batch cost. Some can't be learnt, so none is shown for ever."""
        for seen, loss in zip(self.shown, losses, strict=True):
            seen.loss, seen.times = float(loss), seen.times + 1
        both = self.seen + [seen for seen in self.shown if seen.times == 1]
        self.seen = [seen for seen in both if seen.times < MOST_TIMES][-SEEN_KEPT:]

    def _turned(self, seen: _Seen) -> tuple[Picture, Light]:
        picture, maps = seen.picture, seen.maps
        turns, flip = int(self.rng.integers(4)), bool(self.rng.integers(2))
        picture, maps = np.rot90(picture, turns), np.rot90(maps, turns, (1, 2))
        if flip:
            picture, maps = picture[:, ::-1], maps[:, :, ::-1]
        # Not the grey beside the picture: it stays within a step of itself.
        gain = np.exp(self.rng.normal(0, 0.06, 3)) * np.exp(self.rng.normal(0, 0.1))
        gained = np.where(picture == 127, 127, np.clip(picture * gain, 0, 255)).astype(np.uint8)
        return gained, maps

    def sample(self) -> tuple[Picture, Light]:
        """(320, 320, 3) with grey beside the picture, and its (2, 160, 160) maps."""
        rng = self.rng
        which = int(rng.integers(len(self.pictures)))
        card, square = self.cards[which], self.squares[which]
        aspect = LONG_SIDES[int(rng.integers(len(LONG_SIDES)))]
        width, height = (round(SIDE * a / max(aspect)) for a in aspect)
        homography, sees_all = self._framing(which, (width, height))
        source = self.pictures[which][: self.sizes[which][1], : self.sizes[which][0]]
        picture = cv2.warpPerspective(
            source, homography, (width, height), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE
        ).astype(np.float32)
        card = _moved(card, homography)
        square = _moved(square, homography) if np.isfinite(square).all() else square
        inside = cv2.warpPerspective(
            np.full(source.shape[:2], 255, np.uint8), homography, (width, height)
        ).astype(np.float32)
        if rng.random() < 0.25:
            _tint(picture, rng, _area(card, (width, height))[..., None], 0.35)
        chance = rng.random()
        # A replaced table may leave out the card or the square; the part that lies on the other stays.
        if sees_all and (chance < 0.62 or inside.min() < 128):
            on_card = np.isfinite(square).all() and bool(
                cv2.pointPolygonTest(card.astype(np.float32), tuple(map(float, square.mean(axis=0))), False)
                > 0
            )
            drop = rng.random()
            no_card, no_square = drop < 0.07, 0.07 <= drop < 0.14 and not on_card
            card = np.full_like(card, np.nan) if no_card else card
            square = np.full_like(square, np.nan) if no_square else square
            picture = self._on_another_table(picture, card, square, int(self.kinds[which]))
        elif chance < 0.75:
            free = 1 - np.maximum(_area(card, (width, height)), _area(square, (width, height)))
            _tint(picture, rng, free[..., None], 0.5)
        picture = _photographed(picture, rng)
        return _letterboxed(picture, card, square)

    def _framing(self, which: int, size: tuple[int, int]) -> tuple[NDArray[np.float64], bool]:
        """Source px to picture px, and whether all of card and square lie in the source."""
        rng = self.rng
        rings = [self.cards[which]]
        if np.isfinite(self.squares[which]).all():
            rings.append(self.squares[which])
        points = np.vstack(rings)
        limits = self.sizes[which] - 1.0
        sees_all = bool(((points > 1) & (points < limits - 1)).all())
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        turn = rng.integers(4) * np.pi / 2 + rng.normal(0, 0.15)
        cosine, sine = np.cos(turn), np.sin(turn)
        flip = 1.0 if rng.random() < 0.5 else -1.0
        linear = np.array([[cosine, -sine], [sine, cosine]]) @ np.array([[flip, 0], [0, 1.0]])
        linear = linear @ (np.eye(2) + rng.normal(0, 0.05, (2, 2)))
        moved = (points - middle) @ linear.T
        reach = np.abs(moved).max(axis=0)
        fit = float((np.array(size) / 2 / reach).min())
        if not sees_all:
            fill, stray = rng.uniform(1.0, 1.25), 0.1
            fit = max(fit, float((np.array(size) / limits).max()))
        elif rng.random() < 0.7:
            fill, stray = rng.uniform(0.45, 0.98), 1.0
        else:
            fill, stray = rng.uniform(0.8, 1.5), 0.6  # some of it is cut off
        scale = fit * fill
        free = np.maximum(np.array(size) / 2 - reach * scale, 0.06 * np.array(size) * (fill > 0.98))
        shift = np.array(size) / 2 + stray * rng.uniform(-1, 1, 2) * free
        affine = np.eye(3)
        affine[:2, :2] = linear * scale
        affine[:2, 2] = shift - linear @ middle * scale
        tilt = np.eye(3)
        tilt[2, :2] = rng.normal(0, 0.12, 2) / max(size) * (rng.random() < 0.5)
        back = np.eye(3)
        back[:2, 2] = np.array(size) / 2
        away = np.eye(3)
        away[:2, 2] = -np.array(size) / 2
        return back @ tilt @ away @ affine, sees_all

    def _table(self, size: tuple[int, int], like: NDArray[np.float64] | None) -> Light:
        """A table of chance, in perspective of chance; as light and coloured as `like` if given."""
        rng = self.rng
        tile = self.tables[int(rng.integers(len(self.tables)))].astype(np.float32)
        turn, scale = rng.uniform(0, 2 * np.pi), float(np.exp(rng.uniform(-0.9, 0.9)))
        affine = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1.0]])
        affine[:2] *= scale
        affine[:2, 2] = rng.uniform(-400, 400, 2)
        affine[2, :2] = rng.normal(0, 2e-4, 2)
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        table = cv2.warpPerspective(
            tile, np.linalg.inv(affine), size, flags=flags, borderMode=cv2.BORDER_REFLECT
        )
        if rng.random() < 0.4:
            table = table[..., rng.permutation(3)]
        if rng.random() < 0.25:
            table = cv2.cvtColor(cv2.cvtColor(table, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
        mean = np.float32(cv2.mean(table)[:3])
        contrast = float(np.exp(rng.uniform(-1.6, 0.3)))
        goal = rng.uniform(10, 235) + rng.normal(0, 18, 3) if like is None else like + rng.normal(0, 9, 3)
        if like is not None and rng.random() < 0.5:  # one of the table's tones is it, not their mean
            down, across = int(rng.integers(table.shape[0])), int(rng.integers(table.shape[1]))
            goal = goal - (table[down, across] - mean) * contrast
        return np.clip((table - mean) * np.float32(contrast) + goal.astype(np.float32), 0, 255)

    def _on_another_table(
        self, picture: Light, card: NDArray[np.float64], square: NDArray[np.float64], kind: int
    ) -> Light:
        rng = self.rng
        size = (picture.shape[1], picture.shape[0])
        kept = _area(card, size)
        square_paper = square
        if kind == 1 and np.isfinite(square).all():  # a coded square has white paper about it
            square_paper = square.mean(axis=0) + (square - square.mean(axis=0)) * 1.28
        kept = np.maximum(kept, _area(square_paper, size))
        like = None
        of_card = False
        chance = rng.random()
        if chance < 0.3 and np.isfinite(card).all():
            like, of_card = _mean(picture, _area(card, size)), True
        elif chance < (0.4 if kind == 1 else 0.5) and np.isfinite(square).all():
            like = _mean(picture, _area(square, size))
        table = self._table(size, like)
        if rng.random() < 0.2:  # two tables meet, or a cloth's hem
            share = _half_plane(size, rng)
            table = table * share + self._table(size, None) * (1 - share)
        for _ in range(int(rng.choice((0, 1, 2, 4), p=(0.35, 0.3, 0.2, 0.15)))):
            # a thing of the square's colour at the border could as well be a square that is cut off
            self._lay_thing(table, like if of_card else None)
        shadow = cv2.GaussianBlur(kept, (0, 0), float(rng.uniform(1, 8)))
        away = rng.normal(0, 4, 2)
        shadow = cv2.warpAffine(shadow, np.array([[1, 0, away[0]], [0, 1, away[1]]]), size)
        table = table * (1 - float(rng.uniform(0, 0.6)) * shadow[..., None])
        soft = cv2.GaussianBlur(kept, (0, 0), float(rng.uniform(0.3, 0.7)))[..., None]
        return np.asarray(picture * soft + table * (1 - soft), np.float32)

    def _lay_thing(self, table: Light, like: NDArray[np.float64] | None) -> None:
        """Something on the table that is neither card nor square: a pen, a coin, a strip, a shade."""
        rng = self.rng
        height, width = table.shape[:2]
        at = rng.uniform((0, 0), (width, height))
        turn = float(rng.uniform(0, 180))
        patch = np.zeros((height, width), np.float32)
        kind = int(rng.integers(4))
        centre = (float(at[0]), float(at[1]))
        if kind == 0:
            radius = int(rng.uniform(4, 40))
            cv2.circle(patch, (int(at[0]), int(at[1])), radius, 1.0, -1, cv2.LINE_AA)
        elif kind == 1:  # oblong, not to pass for a square
            long = rng.uniform(20, 150)
            box = cv2.boxPoints((centre, (long, long * rng.uniform(0.03, 0.6)), turn))
            cv2.fillPoly(patch, [np.round(box).astype(np.int32)], 1.0, cv2.LINE_AA)
        elif kind == 2:
            corners = at + rng.normal(0, rng.uniform(8, 40), (int(rng.choice((3, 5, 6))), 2))
            cv2.fillPoly(patch, [np.round(cv2.convexHull(corners.astype(np.float32))).astype(np.int32)], 1.0)
        else:
            axes = (int(rng.uniform(5, 60)), int(rng.uniform(3, 20)))
            cv2.ellipse(patch, (int(at[0]), int(at[1])), axes, turn, 0, 360, 1.0, -1, cv2.LINE_AA)
        colour = rng.uniform(5, 250) + rng.normal(0, 25, 3)
        if like is not None and rng.random() < 0.3:
            colour = like
        table[patch > 0.5] = np.clip(colour, 0, 255)


def _mean(picture: Light, share: Light) -> NDArray[np.float64]:
    return np.array(cv2.mean(picture, (share > 0.5).astype(np.uint8))[:3])


def _half_plane(size: tuple[int, int], rng: np.random.Generator) -> Light:
    x, y = np.meshgrid(np.linspace(-1, 1, size[0]), np.linspace(-1, 1, size[1]))
    turn = rng.uniform(0, 2 * np.pi)
    far = x * np.cos(turn) + y * np.sin(turn) - rng.uniform(-0.9, 0.9)
    return np.clip(far * 80 + 0.5, 0, 1).astype(np.float32)[..., None]


def _tint(picture: Light, rng: np.random.Generator, share: Light, most: float) -> None:
    gain = np.exp(rng.normal(0, most / 2) + rng.normal(0, most / 2, 3)).astype(np.float32)
    picture *= 1 + share * (np.clip(gain, 0.3, 1.3) - 1)


@cache
def _grain() -> Light:
    """Noise to cut a piece from: drawing it afresh takes longer than all the rest."""
    return np.random.default_rng(5).standard_normal((2 * SIDE, 2 * SIDE, 3)).astype(np.float32)


def _photographed(picture: Light, rng: np.random.Generator) -> Picture:
    """Another light and another phone: fall-off, shade, gain, tint, blur, noise, JPEG."""
    height, width = picture.shape[:2]
    x, y = np.meshgrid(
        np.linspace(-1, 1, width, dtype=np.float32), np.linspace(-1, 1, height, dtype=np.float32)
    )
    turn = rng.uniform(0, 2 * np.pi)
    slope = rng.uniform(0, 0.45) * (rng.random() < 0.7)
    light = 1 + slope * (x * np.cos(turn) + y * np.sin(turn))
    if rng.random() < 0.25:  # a shadow's edge across it all
        soft = rng.uniform(3, 80)
        turn = rng.uniform(0, 2 * np.pi)
        far = x * np.cos(turn) + y * np.sin(turn) - rng.uniform(-0.8, 0.8)
        light = light * (1 - rng.uniform(0.15, 0.6) / (1 + np.exp(-far * soft)))
    gain = np.exp(rng.normal(0, 0.22) + rng.normal(0, 0.06, 3))
    picture = picture * (light[..., None] * gain).astype(np.float32)
    # Phones expose for the bright parts: little is burnt out.
    bright = float(np.quantile(picture[::4, ::4], 0.96))
    picture *= np.float32(min(1.0, rng.uniform(235, 275) / max(bright, 1.0)))
    if rng.random() < 0.5:
        middle = rng.uniform(90, 160)
        picture = (picture - middle) * rng.uniform(0.55, 1.25) + middle
    if rng.random() < 0.35:
        picture = cv2.GaussianBlur(picture, (0, 0), float(rng.uniform(0.3, 1.6)))
    down, across = rng.integers(0, SIDE, 2)
    picture += _grain()[down : down + height, across : across + width] * np.float32(rng.uniform(0, 5))
    whole = np.clip(picture, 0, 255).astype(np.uint8)
    if rng.random() < 0.15:
        whole = np.repeat(cv2.cvtColor(whole, cv2.COLOR_RGB2GRAY)[..., None], 3, axis=2)
    if rng.random() < 0.3:
        _, coded = cv2.imencode(".jpg", whole, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(40, 90))])
        whole = np.asarray(cv2.imdecode(coded, cv2.IMREAD_COLOR), np.uint8)
    return np.asarray(whole)


def _letterboxed(
    picture: Picture, card: NDArray[np.float64], square: NDArray[np.float64]
) -> tuple[Picture, Light]:
    height, width = picture.shape[:2]
    left, top = (SIDE - width) // 2, (SIDE - height) // 2
    boxed = np.full((SIDE, SIDE, 3), 127, np.uint8)
    boxed[top : top + height, left : left + width] = picture
    seen = np.zeros((SIDE, SIDE), np.float32)
    seen[top : top + height, left : left + width] = 1
    seen = cv2.resize(seen, (MAP, MAP), interpolation=cv2.INTER_AREA)
    at = np.array([left, top])
    maps = [_area(ring + at, (MAP, MAP), MAP / SIDE, 4) * seen for ring in (card, square)]
    return boxed, np.stack(maps).astype(np.float32)
