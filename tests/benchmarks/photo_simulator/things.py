"""Things that lie about: upright prisms and a few details on their tops, drawn in the picture itself.

A `Thing` is a list of parts, each a convex outline on the table with a foot and a top height; parts
are painted from the table up: walls first, those facing away before those facing the lens, then tops.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.card_kit.camera import Camera, Points
from tests.card_kit.outlines import turned

Light = NDArray[np.float32]
Colour = tuple[float, float, float]
SHIFT = 4  # cv2's fixed-point bits for sub-pixel corners


@dataclass(frozen=True, slots=True)
class Part:
    outline_mm: Points
    foot_mm: float
    top_mm: float
    colour: Colour
    shine: float = 0.15


@dataclass(frozen=True, slots=True)
class Thing:
    """`lines` are (path on the table, height, colour, width in mm) drawn on top of it."""

    name: str
    parts: tuple[Part, ...]
    lines: tuple[tuple[Points, float, Colour, float], ...] = field(default=())

    def moved(self, at: Points, turn_deg: float) -> Thing:
        parts = tuple(replace(p, outline_mm=turned(p.outline_mm, turn_deg) + at) for p in self.parts)
        return Thing(
            self.name, parts, tuple((turned(path, turn_deg) + at, h, c, w) for path, h, c, w in self.lines)
        )

    def lifted(self, by_mm: float) -> Thing:
        """The same thing lying on the card instead of on the table."""
        parts = tuple(replace(p, foot_mm=p.foot_mm + by_mm, top_mm=p.top_mm + by_mm) for p in self.parts)
        return Thing(self.name, parts, tuple((path, h + by_mm, c, w) for path, h, c, w in self.lines))

    def silhouettes(self, camera: Camera) -> list[Points]:
        """For each part and line the (N, 2) hull in pixels of all that it covers."""
        hulls = []
        for part in self.parts:
            both = np.vstack([_at_height(part.outline_mm, h) for h in (part.foot_mm, part.top_mm)])
            hulls.append(cv2.convexHull(camera.project(both).astype(np.float32))[:, 0].astype(np.float64))
        for path, height, _, width in self.lines:
            spread = np.vstack(
                [path + np.array([dx, dy]) for dx in (-width, width) for dy in (-width, width)]
            )
            shown = camera.project(_at_height(spread, height))
            hulls.append(cv2.convexHull(shown.astype(np.float32))[:, 0].astype(np.float64))
        return hulls

    def footprint_mm(self) -> Points:
        """The (N, 2) hull of all that it covers, seen straight from above."""
        everything = [part.outline_mm for part in self.parts] + [path for path, *_ in self.lines]
        return cv2.convexHull(np.vstack(everything).astype(np.float32))[:, 0].astype(np.float64)


def _at_height(outline: Points, height: float) -> Points:
    return np.column_stack([outline, np.full(len(outline), -height)])


def paint(light: Light, thing: Thing, camera: Camera, toward_light: Points) -> None:
    """Paint `thing` into the linear-light picture, lit evenly; lamps and shadows come later."""
    for part in thing.parts:
        foot = camera.project(_at_height(part.outline_mm, part.foot_mm))
        top = camera.project(_at_height(part.outline_mm, part.top_mm))
        walls = []
        count = len(foot)
        for k in range(count):
            m = (k + 1) % count
            edge = part.outline_mm[m] - part.outline_mm[k]
            outward = np.array([edge[1], -edge[0]]) / max(float(np.linalg.norm(edge)), 1e-9)
            middle = (part.outline_mm[k] + part.outline_mm[m]) / 2
            facing = float(outward @ (camera.eye[:2] - middle))
            shade = 0.55 + 0.3 * float(outward @ toward_light)
            shade += part.shine * max(0.0, float(outward @ toward_light)) ** 6
            walls.append((facing, np.array([foot[k], foot[m], top[m], top[k]]), shade))
        for _, quad, shade in sorted(walls, key=lambda wall: wall[0]):
            _fill(light, quad, tuple(c * shade for c in part.colour))
        _fill(light, top, part.colour)
    scale = _px_per_mm(camera)
    for path, height, colour, width in thing.lines:
        px = np.round(camera.project(_at_height(path, height)) * (1 << SHIFT)).astype(np.int32)
        cv2.polylines(light, [px], False, colour, max(1, round(width * scale)), cv2.LINE_AA, SHIFT)


def _px_per_mm(camera: Camera) -> float:
    return camera.focal_px / abs(float(camera.eye[2]))


def _fill(light: Light, polygon: Points, colour: tuple[float, ...]) -> None:
    cv2.fillPoly(light, [np.round(polygon * (1 << SHIFT)).astype(np.int32)], colour, cv2.LINE_AA, SHIFT)


def _disc(radius: float, count: int = 48) -> Points:
    a = np.linspace(0, 2 * math.pi, count, endpoint=False)
    return radius * np.column_stack([np.cos(a), np.sin(a)])


def _slab(w: float, h: float, r: float = 0.0) -> Points:
    if r <= 0:
        return np.array([(-w, -h), (w, -h), (w, h), (-w, h)]) / 2
    corners = ((w / 2 - r, -h / 2 + r, -90), (w / 2 - r, h / 2 - r, 0), (-w / 2 + r, h / 2 - r, 90))
    out = []
    for x, y, a in (*corners, (-w / 2 + r, -h / 2 + r, 180)):
        t = np.radians(np.linspace(a, a + 90, 7))
        out.append(np.column_stack([x + r * np.cos(t), y + r * np.sin(t)]))
    return np.vstack(out)


def _colour(rng: np.random.Generator, low: float = 0.04, high: float = 0.6) -> Colour:
    r, g, b = rng.uniform(low, high, 3)
    return float(r), float(g), float(b)


def coin(rng: np.random.Generator) -> Thing:
    r = rng.uniform(8, 14)
    metal: Colour = ((0.42, 0.40, 0.37), (0.45, 0.30, 0.12), (0.30, 0.14, 0.07))[int(rng.integers(3))]
    dark: Colour = (metal[0] * 0.45, metal[1] * 0.45, metal[2] * 0.45)
    rings = [(np.vstack([_disc(r * k), _disc(r * k)[:1]]), 1.9, dark, 0.25) for k in (0.93, 0.62)]
    rays = [
        (np.outer([0.1 * r, 0.5 * r], (math.cos(a), math.sin(a))), 1.9, dark, 0.4)
        for a in (0.3, 1.7, 2.9, 4.4)
    ]
    return Thing("coin", (Part(_disc(r), 0, 1.9, metal, 0.5),), (*rings, *rays))


def cell(rng: np.random.Generator) -> Thing:
    """A coin cell, left lying: the very size of the battery circle."""
    dark: Colour = (0.25, 0.25, 0.24)
    rim = (np.vstack([_disc(8.9), _disc(8.9)[:1]]), 3.2, dark, 0.3)
    return Thing("coin cell", (Part(_disc(10.0), 0, 3.2, (0.48, 0.48, 0.46), 0.6),), (rim,))


def button(rng: np.random.Generator) -> Thing:
    c = _colour(rng)
    holes = [
        (p + _disc(1.0), 2.5, (0.02, 0.02, 0.02), 0.5) for p in np.array([(2, 2), (-2, 2), (2, -2), (-2, -2)])
    ]
    return Thing("button", (Part(_disc(rng.uniform(7, 12)), 0, 2.5, c),), tuple(holes))


def eraser(rng: np.random.Generator) -> Thing:
    w, h, t = rng.uniform(30, 60), rng.uniform(15, 25), rng.uniform(8, 13)
    sleeve = _slab(w * 0.6, h + 0.4) - (w * 0.18, 0)
    return Thing(
        "eraser", (Part(_slab(w, h), 0, t, (0.7, 0.69, 0.68)), Part(sleeve, 0, t + 0.3, _colour(rng)))
    )


def pencil(rng: np.random.Generator) -> Thing:
    long = rng.uniform(90, 175)
    c = _colour(rng)
    edge: Colour = (c[0] * 0.6, c[1] * 0.6, c[2] * 0.6)
    wood = np.array([(long / 2, -3.3), (long / 2 + 18, -0.6), (long / 2 + 18, 0.6), (long / 2, 3.3)])
    lead = np.array([(long / 2 + 15, -1.0), (long / 2 + 19.5, 0), (long / 2 + 15, 1.0)])
    body = Part(_slab(long, 7.2), 0, 6.5, c, 0.4)
    ridges = [(np.array([(-long / 2, y), (long / 2, y)]), 6.6, edge, 0.3) for y in (-1.9, 1.9)]
    return Thing(
        "pencil",
        (Part(wood, 1.0, 4.5, (0.55, 0.38, 0.2)), Part(lead, 2.5, 3.6, (0.03, 0.03, 0.03)), body),
        tuple(ridges),
    )


def mug(rng: np.random.Generator) -> Thing:
    r, t = rng.uniform(35, 43), rng.uniform(60, 95)
    c = _colour(rng, 0.03, 0.75)
    handle = _slab(26, 12, 4) + np.array([r + 10, 0])
    inside: Colour = (0.10, 0.05, 0.025) if rng.random() < 0.6 else (0.6, 0.6, 0.58)
    return Thing(
        "mug",
        (
            Part(handle, 15, t * 0.8, c),
            Part(_disc(r), 0, t, c, 0.3),
            Part(_disc(r - 4), t - 1, t - 0.5, inside),
        ),
    )


def tape_roll(rng: np.random.Generator) -> Thing:
    r, t = rng.uniform(25, 48), rng.uniform(10, 24)
    c: Colour = ((0.55, 0.28, 0.13), (0.6, 0.5, 0.3), (0.2, 0.3, 0.5))[int(rng.integers(3))]
    hole = Part(_disc(r * 0.62), t, t + 0.1, (0.12, 0.09, 0.06))
    rings = [
        (np.vstack([_disc(r * k), _disc(r * k)[:1]]), t, (c[0] * 0.7, c[1] * 0.7, c[2] * 0.7), 0.3)
        for k in (0.95, 0.8)
    ]
    return Thing("tape roll", (Part(_disc(r), 0, t, c, 0.4), hole), tuple(rings))


def phone(rng: np.random.Generator) -> Thing:
    dark = rng.random() < 0.7
    c: Colour = (0.012, 0.012, 0.014) if dark else (0.55, 0.55, 0.6)
    bump = Part(_slab(24, 24, 5) + np.array([-18, -50]), 8.5, 10, (0.03, 0.03, 0.03))
    return Thing("phone", (Part(_slab(74, 150, 9), 0, 8.5, c, 0.6), bump))


def scissors(rng: np.random.Generator) -> Thing:
    c = _colour(rng)
    steel: Colour = (0.42, 0.43, 0.44)
    blades = [
        Part(np.array([(0, s * 1), (70, s * 5), (72, s * 3), (8, -s * 5)]), 0, 3 + s, steel, 0.7)
        for s in (-1, 1)
    ]
    loops = []
    for s in (-1, 1):
        ring = _disc(1.0, 30) * (20, 12) + (-34, s * 15)
        loops.append((np.vstack([ring, ring[:1]]), 4.0, c, 5.0))
        loops.append((np.array([(-18, s * 10), (2, s * 1)]), 4.0, c, 6.0))
    return Thing("scissors", tuple(blades), tuple(loops))


def ruler(rng: np.random.Generator) -> Thing:
    c: Colour = ((0.62, 0.48, 0.26), (0.5, 0.52, 0.54), (0.7, 0.75, 0.3))[int(rng.integers(3))]
    ticks = []
    for k in range(0, 151, 2):
        size = 7.0 if k % 10 == 0 else 3.0
        ticks.append((np.array([(k - 75, -14), (k - 75, -14 + size)]), 2.1, (0.04, 0.04, 0.04), 0.25))
    return Thing("ruler", (Part(_slab(156, 30), 0, 2, c),), tuple(ticks))


def notebook(rng: np.random.Generator) -> Thing:
    return Thing(
        "notebook",
        (
            Part(
                _slab(rng.uniform(90, 150), rng.uniform(130, 210), 3),
                0,
                rng.uniform(4, 16),
                _colour(rng, 0.01, 0.5),
            ),
        ),
    )


def sticky(rng: np.random.Generator) -> Thing:
    c: Colour = ((0.8, 0.72, 0.2), (0.75, 0.3, 0.45), (0.35, 0.6, 0.7))[int(rng.integers(3))]
    return Thing("sticky notes", (Part(_slab(76, 76), 0, rng.uniform(0.3, 8), c),))


def dark_square(rng: np.random.Generator) -> Thing:
    """A scrap of dark paper with about the look of a plain square, but oblong or five-cornered."""
    w = rng.uniform(20, 50)
    return Thing(
        "dark scrap", (Part(_slab(w, w * rng.uniform(0.45, 0.78)), 0, 0.2, (0.03, 0.03, 0.035), 0.0),)
    )


def paper_clip(rng: np.random.Generator) -> Thing:
    loop = np.vstack([_slab(30, 8, 3.9), _slab(30, 8, 3.9)[:1]])
    inner = np.vstack([_slab(22, 5, 2.4) + np.array([2, 0]), (_slab(22, 5, 2.4) + np.array([2, 0]))[:1]])
    c: Colour = (0.35, 0.35, 0.36) if rng.random() < 0.5 else _colour(rng)
    return Thing("paper clip", (), ((loop, 1.0, c, 0.9), (inner, 1.0, c, 0.9)))


def foil_strip(rng: np.random.Generator) -> Thing:
    return Thing("copper tape", (Part(_slab(rng.uniform(40, 110), 5.0), 0, 0.15, (0.55, 0.26, 0.13), 0.8),))


def fingertip(rng: np.random.Generator) -> Thing:
    """Two fingers that hold the card down at its rim."""
    skin: Colour = ((0.55, 0.33, 0.24), (0.35, 0.19, 0.12), (0.16, 0.08, 0.05))[int(rng.integers(3))]
    nail: Colour = (min(1.0, skin[0] * 1.25), min(1.0, skin[1] * 1.3), min(1.0, skin[2] * 1.35))
    parts = []
    for y in (-9.0, 9.0):
        parts.append(Part(_slab(110, 16, 7.9) + np.array([58, y]), 2, 12, skin, 0.1))
        parts.append(Part(_slab(11, 10, 4.5) + np.array([10, y]), 12, 12.3, nail, 0.1))
    return Thing("fingers", tuple(parts))


ON_TABLE: tuple[Callable[[np.random.Generator], Thing], ...] = (
    *(coin, cell, button, eraser, pencil, mug, tape_roll, phone, scissors, ruler, notebook, sticky),
    *(dark_square, paper_clip, foil_strip),
)
ON_CARD: tuple[Callable[[np.random.Generator], Thing], ...] = (
    coin,
    cell,
    button,
    eraser,
    paper_clip,
    foil_strip,
)
