"""What lies on cards, sticks to them, is punched through or printed on them and is no mark: for lessons, not scores.

In:    a card's size and marks, where the light comes from, and dice of this module's own.
Out:   `Litter`: colours to lay over the card's face, and where the table shows through it.
Fails: never; what finds no room is left out.

Crumbs, flecks, rolls of a rubber, punched holes, reinforcing rings, stickers, staples, pin heads, fasteners, sequins,
drops, biro specks, printed bullets, and ruled, squared or dotted paper. Sizes are those of the things themselves (a
file punch's holes are 6 mm wide and 80 mm apart, ISO 838; else chosen by eye).

A felt-tip's dot in a light's place is a filled-in dot, and so a light: on some cards all of them are gone over in ink.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np

from tests.benchmarks.photo_simulator.graphite import PX_PER_MM
from tests.benchmarks.photo_simulator.hand import smooth_noise
from tests.benchmarks.photo_simulator.layout import Pencilling
from tests.benchmarks.photo_simulator.rare import free_place
from tests.card_kit.outlines import Plane, Points, span, turned

Colour = tuple[float, float, float]
CLEAR_MM = (
    1.0  # chosen: things keep so far from lights' rims; nearer ones are part of what the light looks like
)
KINDS_ON_CARD = (2, 12)  # chosen: so many kinds of things on one card, of each the one or several
DARK: Colour = (0.03, 0.03, 0.035)
INKS: tuple[Colour, ...] = (DARK, (0.02, 0.04, 0.25), (0.4, 0.03, 0.04), (0.03, 0.2, 0.08))
RULES: tuple[Colour, ...] = ((0.25, 0.4, 0.7), (0.4, 0.4, 0.42), (0.3, 0.5, 0.45), (0.5, 0.35, 0.55))
PUNCH_MM, PUNCHED_APART_MM, PUNCHED_IN_MM = 3.0, 80.0, 12.0  # ISO 838: radius, apart, from the edge
SOFT_MM = 0.05  # chosen: under a photo's pixel; edges of things are sharp


class Litter:
    """stained : (H, W, 3) share of light that ink and stains let through, at the scale of the card's face. over :
    (H, W, 4) colour times share, and share, of what covers it. gone : (H, W) share of the card that is punched out.
    lit_through : how much brighter the table is there than in the card's whole shadow. kinds : names of it all."""

    def __init__(self, shape: tuple[int, int], toward: Points, lit_through: float) -> None:
        self.stained = np.ones((*shape, 3), np.float32)
        self.over = np.zeros((*shape, 4), np.float32)
        self.gone = np.zeros(shape, np.float32)
        self.toward, self.lit_through = toward, lit_through
        self.kinds: list[str] = []

    def lay(self, outline: Points, colour: Colour, share: float = 1.0, soft_mm: float = SOFT_MM) -> None:
        """Cover the inside of a closed outline, its rim so soft. [mm]"""
        rows, columns, mask = self._mask(outline, soft_mm)
        if mask.size:
            spot = self.over[rows, columns]
            spot *= 1 - share * mask[:, :, None]
            spot += share * mask[:, :, None] * np.float32((*colour, 1.0))

    def stain(self, outline: Points, colour: Colour, share: float = 1.0, soft_mm: float = SOFT_MM) -> None:
        """Let paper and pencil show through in this colour. [mm]"""
        rows, columns, mask = self._mask(outline, soft_mm)
        if mask.size:
            self.stained[rows, columns] *= 1 - share * mask[:, :, None] * (1 - np.float32(colour))

    def shadow(self, outline: Points, height_mm: float, dark: float) -> None:
        """What a thing of this outline and height keeps from the light beside it."""
        for part in (0.3, 1.0):
            away = outline - self.toward * height_mm * part
            self.lay(away, (0.0, 0.0, 0.0), dark / 2, 0.08 + 0.25 * height_mm * part)

    def body(
        self, rng: np.random.Generator, outline: Points, colour: Colour, height_mm: float, shine: float = 0.2
    ) -> None:
        """A thing with its shadow, lighter where it faces the light."""
        self.shadow(outline, height_mm, rng.uniform(0.25, 0.7))
        self.lay(outline, colour)
        middle = outline.mean(axis=0)
        lit = middle + (outline - middle) * 0.55 + self.toward * 0.2 * float(np.ptp(outline, axis=0).min())
        bright = tuple(min(c + shine, 1.2) for c in colour)
        self.lay(lit, (bright[0], bright[1], bright[2]), 0.7, 0.12)

    def punch(self, outline: Points, thick_mm: float) -> None:
        """Cut the card away; its upper edge shades the table, its far side catches the light."""
        rows, columns, mask = self._mask(outline, SOFT_MM)
        if mask.size:
            spot = self.gone[rows, columns]
            np.maximum(spot, mask, out=spot)
            self.over[rows, columns] *= 1 - mask[:, :, None]
            lit = self._mask(outline - self.toward * thick_mm, 0.1 + 0.2 * thick_mm)[2]
            if lit.shape == mask.shape:  # else it is cut off by the card's edge
                self.over[rows, columns, 3] = np.maximum(self.over[rows, columns, 3], 0.6 * mask * (1 - lit))

    def _mask(self, outline: Points, soft_mm: float) -> tuple[slice, slice, Plane]:
        soft = soft_mm * PX_PER_MM
        rows, columns = (
            span(outline[:, axis] * PX_PER_MM, 4 * soft + 14, self.gone.shape[1 - axis]) for axis in (1, 0)
        )
        mask = np.zeros((max(rows.stop - rows.start, 0), max(columns.stop - columns.start, 0)), np.float32)
        if mask.size:
            at = outline * PX_PER_MM - 0.5 - (columns.start, rows.start)
            cv2.fillPoly(mask, [np.round(at * 16).astype(np.int32)], 1.0, cv2.LINE_AA, 4)
            mask = np.asarray(cv2.GaussianBlur(mask, (0, 0), max(soft, 0.3)), np.float32)
        return rows, columns, mask


def strew(
    rng: np.random.Generator,
    shape: tuple[int, int],
    marks: Pencilling,
    size_mm: tuple[float, float],
    toward: Points,
) -> Litter:
    """Some kinds of things, each once or several times, clear of the lights and of the circle's stroke."""
    litter = Litter(shape, toward, float(rng.uniform(0.9, 1.8)))
    if rng.random() < 0.25:
        _ruled(rng, litter, *size_mm)
    if rng.random() < 0.12:
        _inked_over(rng, litter, marks)
    if rng.random() < 0.25:
        _filed(rng, litter, marks, *size_mm)
    if rng.random() < 0.15:
        _printed(rng, litter, marks, *size_mm)
    for make in rng.choice(len(STREWN), int(rng.integers(*KINDS_ON_CARD)), replace=False):
        name, reach_mm, most, draw = STREWN[int(make)]
        for _ in range(int(rng.integers(1, most + 1))):
            place = free_place(rng, marks, *size_mm, reach_mm, CLEAR_MM)
            if place is not None:
                draw(rng, litter, np.array(place))
                litter.kinds.append(name)
    return litter


def _blob(rng: np.random.Generator, radius: float, rough: float, count: int = 40) -> Points:
    """A round outline about (0, 0) whose radius wanders by that share."""
    angle = np.linspace(0, 2 * math.pi, count, endpoint=False)
    ease = np.sin(angle / 2) ** 0.5  # ends meet
    reach = radius * np.maximum(1 + rough * ease * smooth_noise(rng, count, count / 4), 0.3)
    return np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])


def _grey(rng: np.random.Generator, low: float, high: float, tint: float = 0.03) -> Colour:
    r, g, b = np.clip(rng.uniform(low, high) + rng.normal(0, tint, 3), 0.01, 1.0)
    return float(r), float(g), float(b)


def _vivid(rng: np.random.Generator) -> Colour:
    r, g, b = rng.permutation([rng.uniform(0.5, 0.9), rng.uniform(0.03, 0.6), rng.uniform(0.02, 0.2)])
    return float(r), float(g), float(b)


def _stripe(path: Points, width: Points | float) -> Points:
    """Closed outline of a stripe along a path."""
    way = np.gradient(path, axis=0)
    across = np.column_stack([-way[:, 1], way[:, 0]]) / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    half = across * np.reshape(np.broadcast_to(width, len(path)), (-1, 1)) / 2
    return np.vstack([path + half, (path - half)[::-1]])


def _crumb(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    long = float(rng.uniform(0.4, 2.6))
    outline = turned(_blob(rng, long, 0.35) * (1.0, rng.uniform(0.35, 1.0)), rng.uniform(0, 360)) + at
    bread = rng.uniform(0.5, 1.3) * np.array([0.5, 0.32, 0.14]) + rng.normal(0, 0.02, 3)
    light, dark = _grey(rng, 0.55, 0.9), _grey(rng, 0.04, 0.3)
    colour = (light, dark, (float(bread[0]), float(bread[1]), float(max(bread[2], 0.02))))[
        int(rng.choice(3, p=(0.45, 0.15, 0.4)))
    ]
    litter.body(rng, outline, colour, float(rng.uniform(0.2, 0.9)) * min(long, 1.5), rng.uniform(0, 0.25))
    for _ in range(int(rng.integers(0, 4))):  # pores and cracks
        pore = _blob(rng, long * rng.uniform(0.08, 0.25), 0.3, 12) + at + rng.normal(0, long * 0.3, 2)
        litter.lay(pore, (colour[0] * 0.4, colour[1] * 0.4, colour[2] * 0.4), 0.7)


def _roll(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    """A roll of what a rubber leaves, thick in the middle, bent."""
    t = np.linspace(-1, 1, 24)
    long, bend = rng.uniform(0.8, 3.5), rng.uniform(-0.8, 0.8)
    path = turned(np.column_stack([long * t, long * bend * t**2]), rng.uniform(0, 360)) + at
    outline = _stripe(path, rng.uniform(0.4, 1.2) * (1.05 - t**2))
    litter.body(rng, outline, _grey(rng, 0.12, 0.75), float(rng.uniform(0.3, 0.9)), 0.1)


def _fleck(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    """A snippet of paper, flat or with a raised end."""
    corners = _blob(rng, float(rng.uniform(0.6, 3.0)), 0.4, int(rng.integers(3, 7)))
    colour = _grey(rng, 0.6, 0.9) if rng.random() < 0.6 else _vivid(rng)
    litter.shadow(corners + at, float(rng.uniform(0.1, 0.8)), rng.uniform(0.2, 0.6))
    litter.lay(corners + at, colour)


def _sticker(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    radius = float(rng.uniform(1.5, 6.5))
    outline = _blob(rng, radius, 0.0)
    if rng.random() < 0.4:  # a star
        points = 2 * int(rng.integers(4, 8))
        turns = np.linspace(0, 2 * math.pi, points, endpoint=False)
        reach = radius * np.where(np.arange(points) % 2, rng.uniform(0.4, 0.6), 1.0)
        outline = np.column_stack([reach * np.cos(turns), reach * np.sin(turns)])
    outline = turned(outline, rng.uniform(0, 360))
    colour = _vivid(rng) if rng.random() < 0.75 else _grey(rng, 0.03, 0.8, 0.0)
    litter.shadow(outline + at, 0.15, rng.uniform(0.1, 0.4))
    litter.lay(outline + at, colour)
    if rng.random() < 0.6:  # a print on it: a dot, a ring, eyes
        ink = DARK if rng.random() < 0.6 else _grey(rng, 0.7, 0.95)
        for off in (-0.35, 0.35) if rng.random() < 0.3 else (0.0,):
            litter.lay(_blob(rng, radius * rng.uniform(0.15, 0.45), 0.05) + at + (off * radius, 0), ink)
        if rng.random() < 0.3:
            litter.lay(_blob(rng, radius * 0.15, 0.0) + at, colour)


def _staple(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    half = rng.uniform(3.0, 6.5)
    path = turned(np.column_stack([np.linspace(-half, half, 20), np.zeros(20)]), rng.uniform(0, 360)) + at
    litter.shadow(_stripe(path, 0.5), 0.4, 0.7)
    litter.lay(_stripe(path, rng.uniform(0.4, 0.6)), _grey(rng, 0.25, 0.7))
    litter.lay(_stripe(path, 0.15), _grey(rng, 0.7, 1.0), 0.7)
    for end in (path[0], path[-1]):  # the legs go in there
        litter.lay(_blob(rng, 0.4, 0.2, 12) + end, DARK, rng.uniform(0.3, 0.9), 0.1)


def _head(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    """A pin's or a fastener's head: a ball or a cap with a spot of light on it."""
    radius = float(rng.uniform(1.0, 4.5))
    metal = (0.55, 0.4, 0.15) if rng.random() < 0.5 else _grey(rng, 0.3, 0.6)
    colour = (_vivid(rng), metal, _grey(rng, 0.02, 0.9, 0.0))[int(rng.integers(3))]
    outline = _blob(rng, radius, 0.0) + at
    litter.shadow(outline, radius * rng.uniform(0.3, 1.2), rng.uniform(0.3, 0.7))
    litter.lay(outline, (colour[0] * 0.6, colour[1] * 0.6, colour[2] * 0.6))
    litter.lay(_blob(rng, radius * 0.75, 0.0) + at + litter.toward * radius * 0.15, colour, 1.0, 0.2 * radius)
    litter.lay(_blob(rng, radius * 0.2, 0.1) + at + litter.toward * radius * 0.4, (1.1, 1.1, 1.1), 0.8, 0.15)


def _sequin(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    radius = float(rng.uniform(1.3, 4.0))
    litter.body(rng, _blob(rng, radius, 0.0) + at, _vivid(rng), 0.3, rng.uniform(0.0, 0.6))
    litter.lay(_blob(rng, rng.uniform(0.3, 0.6), 0.0) + at, DARK, rng.uniform(0.3, 0.9))


def _drop(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    """A dried stain, darkest at its rim, or a standing drop that shines."""
    outline = _blob(rng, float(rng.uniform(0.6, 4.0)), 0.08)
    brown = (0.22, 0.11, 0.04) if rng.random() < 0.6 else _grey(rng, 0.05, 0.3)
    strength = rng.uniform(0.1, 0.75)
    litter.stain(outline + at, brown, strength)
    if rng.random() < 0.7:
        litter.stain(
            _stripe(np.vstack([outline, outline[:1]]) + at, 0.3), brown, strength * rng.uniform(0, 0.7), 0.15
        )
    if rng.random() < 0.4:
        litter.shadow(outline + at, 0.4, 0.4)
        litter.lay(
            outline * 0.3 + at + litter.toward * 0.4 * float(np.ptp(outline)) / 2, (1.1,) * 3, 0.9, 0.1
        )


def _speck(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    """Where a biro rested."""
    litter.stain(_blob(rng, float(rng.uniform(0.2, 0.55)), 0.15) + at, _ink(rng), rng.uniform(0.6, 1.0), 0.08)


def _ring(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    """A reinforcing ring, mostly with the hole that it is for."""
    litter.shadow(_blob(rng, 7.0, 0.0) + at, 0.1, 0.3)
    litter.lay(
        _blob(rng, float(rng.uniform(6.0, 7.0)), 0.0) + at, _grey(rng, 0.75, 0.95), rng.uniform(0.3, 1)
    )
    litter.punch(_blob(rng, PUNCH_MM, 0.0) + at, 0.3)


def _hole(rng: np.random.Generator, litter: Litter, at: Points) -> None:
    """Of a punch, an eyelet, a thick needle."""
    litter.punch(_blob(rng, float(rng.uniform(0.7, 3.5)), 0.02) + at, float(rng.uniform(0.15, 0.6)))


def _ink(rng: np.random.Generator) -> Colour:
    return INKS[int(rng.choice(len(INKS), p=(0.5, 0.3, 0.15, 0.05)))]


def _filed(rng: np.random.Generator, litter: Litter, marks: Pencilling, width: float, height: float) -> None:
    """A file punch's two holes along one edge, or those of a ring binder."""
    apart = PUNCHED_APART_MM if rng.random() < 0.6 and height > 95 else float(rng.uniform(20, height - 25))
    x = PUNCHED_IN_MM + rng.normal(0, 1.5) if rng.random() < 0.5 else width - PUNCHED_IN_MM
    y, thick = (height - apart) / 2 + rng.normal(0, 2), float(rng.uniform(0.15, 0.5))
    for place in ((x, y), (x, y + apart)):
        if all(math.dist(place, (d.x_mm, d.y_mm)) > PUNCH_MM + d.diameter_mm + CLEAR_MM for d in marks.dots):
            litter.punch(_blob(rng, PUNCH_MM * rng.uniform(0.85, 1.0), 0.0) + place, thick)
            litter.kinds.append("hole")


def _ruled(rng: np.random.Generator, litter: Litter, width: float, height: float) -> None:
    """Lined, squared or dotted paper."""
    way, colour = str(rng.choice(("lined", "squared", "dotted"))), RULES[int(rng.integers(len(RULES)))]
    step = rng.uniform(6, 9) if way == "lined" else rng.uniform(3.9, 7.1)
    across, down = (np.arange(rng.uniform(1, step), side, step) for side in (width, height))
    wide, much = float(rng.uniform(0.12, 0.35)), float(rng.uniform(0.3, 0.9))
    if way == "dotted":
        for x, y in ((x, y) for x in across for y in down):
            litter.stain(_blob(rng, 1.6 * wide, 0.0, 10) + np.array([x, y]), colour, much)
        return
    lines = [((0, y), (width, y)) for y in down]
    lines += [((x, 0), (x, height)) for x in across] if way == "squared" else []
    for ends in lines:
        litter.stain(_stripe(np.array(ends, dtype=float), wide), colour, much)


def _printed(
    rng: np.random.Generator, litter: Litter, marks: Pencilling, width: float, height: float
) -> None:
    """A printed list: bullets, each with a few letters behind it."""
    radius, step = float(rng.uniform(0.4, 0.95)), float(rng.uniform(5, 9))
    start = np.array([rng.uniform(6, width / 2), rng.uniform(6, height / 2)])
    for k in range(int(rng.integers(1, 6))):
        at = start + np.array([0.0, k * step])
        if any(math.dist(at, (d.x_mm, d.y_mm)) < d.diameter_mm + radius + CLEAR_MM for d in marks.dots):
            continue
        litter.stain(_blob(rng, radius, 0.0) + at, DARK, rng.uniform(0.7, 1.0))
        litter.kinds.append("bullet")
        for j in range(int(rng.integers(0, 9))):
            place = at + np.array([2.5 + radius + j * 1.7, 0.0])
            if all(math.dist(place, (d.x_mm, d.y_mm)) > d.diameter_mm + CLEAR_MM for d in marks.dots):
                angle = rng.uniform(0, 2 * math.pi) + np.linspace(0, rng.uniform(2, 6.2), 12)
                letter = np.column_stack([0.55 * np.cos(angle), 0.9 * np.sin(angle)]) + place
                litter.stain(_stripe(letter, 0.25), DARK, 0.9)


def _inked_over(rng: np.random.Generator, litter: Litter, marks: Pencilling) -> None:
    """All dots gone over with a felt-tip or a biro."""
    ink, much = _ink(rng), float(rng.uniform(0.75, 1.0))
    for dot in marks.dots:
        rim = _blob(rng, dot.diameter_mm / 2 * rng.uniform(0.95, 1.1), 0.05)
        litter.stain(rim + np.array([dot.x_mm, dot.y_mm]), ink, much, 0.1)
    litter.kinds.append("ink on the dots")


Draw = Callable[[np.random.Generator, Litter, Points], None]
STREWN: tuple[tuple[str, float, int, Draw], ...] = (
    # name, how far it reaches [mm], the most of them on one card, how it is drawn
    ("crumb", 2.0, 12, _crumb),
    ("roll of a rubber", 3.0, 10, _roll),
    ("fleck", 2.5, 6, _fleck),
    ("sticker", 6.5, 3, _sticker),
    ("staple", 6.5, 2, _staple),
    ("head", 4.5, 3, _head),
    ("sequin", 4.0, 5, _sequin),
    ("drop", 4.0, 6, _drop),
    ("speck", 1.0, 5, _speck),
    ("ring", 7.0, 1, _ring),
    ("hole", 3.5, 3, _hole),
)
