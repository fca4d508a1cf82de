"""Window outlines that makers cut: each a closed polygon about (0, 0), its longer side 1."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

Points = NDArray[np.float64]


def _arc(
    cx: float, cy: float, rx: float, ry: float, start_deg: float, end_deg: float, count: int = 24
) -> Points:
    angle = np.radians(np.linspace(start_deg, end_deg, count))
    return np.column_stack([cx + rx * np.cos(angle), cy + ry * np.sin(angle)])


def _polar(radius: Callable[[Points], Points], count: int = 120) -> Points:
    angle = np.linspace(0, 2 * math.pi, count, endpoint=False)
    r = radius(angle)
    return np.column_stack([r * np.cos(angle), r * np.sin(angle)])


def disc(rng: np.random.Generator) -> Points:
    return _polar(lambda a: np.full_like(a, 0.5))


def oval(rng: np.random.Generator) -> Points:
    return _arc(0, 0, 0.5, rng.uniform(0.3, 0.42), 0, 357, 100)


def star(rng: np.random.Generator) -> Points:
    points = int(rng.integers(5, 9))
    inner = rng.uniform(0.45, 0.6)
    angle = np.arange(2 * points) * math.pi / points - math.pi / 2
    r = np.where(np.arange(2 * points) % 2, inner, 1.0)
    return np.column_stack([r * np.cos(angle), r * np.sin(angle)])


def heart(rng: np.random.Generator) -> Points:
    t = np.linspace(0, 2 * math.pi, 100, endpoint=False)
    y = -(13 * np.cos(t) - 5 * np.cos(2 * t) - 2 * np.cos(3 * t) - np.cos(4 * t))
    return np.column_stack([16 * np.sin(t) ** 3, y])


def crescent(rng: np.random.Generator) -> Points:
    outer = _arc(0, 0, 1, 1, 50, 310, 60)
    start, end = outer[-1], outer[0]
    inner = _arc(0.45, 0, 0.79, 0.79, 0, 0, 1)
    a0 = math.degrees(math.atan2(start[1], start[0] - 0.45)) % 360
    a1 = math.degrees(math.atan2(end[1], end[0] - 0.45)) % 360
    r = math.hypot(end[0] - 0.45, end[1])
    inner = _arc(0.45, 0, r, r, a0, a1, 40)
    return np.vstack([outer, inner[1:-1]])


def fish(rng: np.random.Generator) -> Points:
    body = _arc(0, 0, 0.7, 0.38, 25, 335, 60)
    tail = np.array([(1.0, -0.42), (0.88, 0.0), (1.0, 0.42)])
    return np.vstack([body, tail])


def leaf(rng: np.random.Generator) -> Points:
    t = np.linspace(0, 1, 40)
    side = 0.33 * np.sin(math.pi * t**0.8)
    upper = np.column_stack([t - 0.5, -side])
    lower = np.column_stack([t - 0.5, side])[::-1]
    return np.vstack([upper, lower[1:-1]])


def mushroom(rng: np.random.Generator) -> Points:
    cap = _arc(0, 0, 0.5, 0.42, 180, 360, 40)
    stem = np.array([(0.14, 0.0), (0.17, 0.45), (-0.17, 0.45), (-0.14, 0.0)])
    return np.vstack([cap, stem])


def cloud(rng: np.random.Generator) -> Points:
    puffs = [_arc(-0.5, 0, 0.26, 0.26, 90, 250, 14), _arc(-0.15, -0.22, 0.32, 0.32, 190, 330, 16)]
    puffs += [_arc(0.35, -0.12, 0.28, 0.28, 225, 380, 14), _arc(0.6, 0.06, 0.2, 0.2, 300, 450, 12)]
    return np.vstack(puffs)


def balloon(rng: np.random.Generator) -> Points:
    top = _arc(0, -0.2, 0.42, 0.46, 140, 400, 60)
    basket = np.array([(0.1, 0.48), (0.1, 0.66), (-0.1, 0.66), (-0.1, 0.48)])
    return np.vstack([top, basket])


def bell(rng: np.random.Generator) -> Points:
    dome = _arc(0, -0.1, 0.3, 0.4, 180, 360, 30)
    rim = np.array([(0.36, 0.3), (0.5, 0.42), (-0.5, 0.42), (-0.36, 0.3)])
    return np.vstack([dome, rim])


def archway(rng: np.random.Generator) -> Points:
    top = _arc(0, -0.15, 0.32, 0.35, 180, 360, 30)
    return np.vstack([top, [(0.32, 0.5), (-0.32, 0.5)]])


def teapot(rng: np.random.Generator) -> Points:
    lid = _arc(0, -0.28, 0.16, 0.12, 190, 350, 12)
    right = np.array([(0.3, -0.2), (0.62, -0.34), (0.7, -0.28), (0.42, 0.1), (0.3, 0.3)])
    left = np.array([(-0.3, 0.3), (-0.45, 0.1), (-0.66, 0.06), (-0.66, -0.2), (-0.34, -0.2)])
    return np.vstack([lid, right, left])


def rocket(rng: np.random.Generator) -> Points:
    right = np.array([(0.0, -0.6), (0.14, -0.38), (0.17, 0.1), (0.36, 0.4), (0.15, 0.34), (0.1, 0.46)])
    return np.vstack([right, (right * (-1, 1))[:0:-1]])


def cactus(rng: np.random.Generator) -> Points:
    left = [
        (-0.12, 0.5),
        (-0.12, 0.2),
        (-0.36, 0.2),
        (-0.36, -0.15),
        (-0.24, -0.15),
        (-0.24, 0.08),
        (-0.12, 0.08),
    ]
    middle = [
        (-0.12, -0.4),
        (0.0, -0.5),
        (0.12, -0.4),
        (0.12, 0.0),
        (0.26, 0.0),
        (0.26, -0.22),
        (0.38, -0.22),
    ]
    return np.array([*left, *middle, (0.38, 0.12), (0.12, 0.12), (0.12, 0.5)])


def umbrella(rng: np.random.Generator) -> Points:
    dome = _arc(0, 0, 0.6, 0.45, 180, 360, 40)
    scallops = [_arc(cx, 0.0, 0.2, 0.1, 0, -180, 12)[1:-1] for cx in (0.4, 0.0, -0.4)]
    return np.vstack([dome, *scallops])


def many_sided(rng: np.random.Generator) -> Points:
    count = int(rng.integers(5, 9))
    angle = np.sort((np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2 * math.pi / count)
    r = rng.uniform(0.75, 1.0, count)
    return np.column_stack([r * np.cos(angle), r * np.sin(angle)])


def box(rng: np.random.Generator) -> Points:
    half = rng.uniform(0.25, 0.5)
    return np.array([(-0.5, -half), (0.5, -half), (0.5, half), (-0.5, half)])


def rounded_box(rng: np.random.Generator) -> Points:
    w, h, r = 0.5, rng.uniform(0.3, 0.5), 0.12
    corners = ((w - r, -h + r, -90), (w - r, h - r, 0), (-w + r, h - r, 90), (-w + r, -h + r, 180))
    return np.vstack([_arc(x, y, r, r, a, a + 90, 8) for x, y, a in corners])


def blob(rng: np.random.Generator) -> Points:
    waves = [(k, rng.normal(0, 0.12 / k), rng.uniform(0, 6.3)) for k in (2, 3, 4)]
    return _polar(lambda a: 1 + sum(size * np.cos(k * a + at) for k, size, at in waves))


def whale(rng: np.random.Generator) -> Points:
    back = _arc(-0.1, 0.05, 0.5, 0.34, 160, 330, 30)
    tail = np.array([(0.55, -0.28), (0.46, -0.42), (0.6, -0.36), (0.76, -0.44), (0.64, -0.26), (0.5, 0.2)])
    belly = _arc(-0.1, 0.05, 0.5, 0.24, 25, 150, 20)
    return np.vstack([back, tail, belly])


def house(rng: np.random.Generator) -> Points:
    eaves, chimney = rng.uniform(-0.2, 0.0), rng.uniform(0.12, 0.25)
    roof = [(-0.45, eaves), (0.0, -0.5), (chimney, -0.5 + chimney), (chimney, -0.55), (chimney + 0.1, -0.55)]
    return np.array([*roof, (0.45, eaves), (0.4, eaves), (0.4, 0.45), (-0.4, 0.45), (-0.4, eaves)])


def joined(rng: np.random.Generator) -> Points:
    """Two or three plain shapes grown together: a jar with its lid, a ship with its funnel."""
    whole = shapely.Polygon(rounded_box(rng))
    for _ in range(int(rng.integers(1, 3))):
        part = (disc, box, rounded_box, many_sided)[int(rng.integers(4))](rng) * rng.uniform(0.3, 0.7)
        away = rng.uniform(0, 2 * math.pi)
        at = rng.uniform(0.35, 0.6) * np.array([math.cos(away), math.sin(away)])
        both = shapely.union(whole, shapely.Polygon(part + at)).buffer(-0.04).buffer(0.04)
        if isinstance(both, shapely.Polygon):  # too thin a neck would part them
            whole = both
    return np.asarray(whole.exterior.simplify(0.004).coords[:-1], dtype=np.float64)


def towers(rng: np.random.Generator) -> Points:
    """A row of blocks of unlike heights, some with a gable, with narrow gaps among them."""
    widths = rng.uniform(0.5, 1.5, int(rng.integers(4, 8)))
    at = np.concatenate([[0.0], np.cumsum(widths / widths.sum())]) - 0.5
    points = [(0.5, 0.4), (-0.5, 0.4)]
    for left, right in pairwise(at):
        top = rng.uniform(-0.5, 0.2)
        points += [(left, top)]
        if rng.random() < 0.25:
            points += [((left + right) / 2, top - rng.uniform(0.04, 0.12))]
        points += [(right, top)]
    return np.array(points)


def slotted(rng: np.random.Generator) -> Points:
    """A plain shape with one or two deep, narrow notches."""
    plain = (disc, oval, box, rounded_box, many_sided, blob)[int(rng.integers(6))](rng)
    whole = shapely.Polygon(plain / np.ptp(plain, axis=0).max())
    for _ in range(int(rng.integers(1, 3))):
        away = rng.uniform(0, 2 * math.pi)
        way = np.array([math.cos(away), math.sin(away)])
        side = np.array([-way[1], way[0]]) * rng.uniform(0.03, 0.09)
        tip, mouth = way * rng.uniform(0.05, 0.25), way * 1.0
        narrow = rng.uniform(0.1, 1.0)
        notch = shapely.Polygon([mouth - side, mouth + side, tip + side * narrow, tip - side * narrow])
        cut = shapely.difference(whole, notch)
        if isinstance(cut, shapely.Polygon):
            whole = cut
    return np.asarray(whole.exterior.coords[:-1], dtype=np.float64)


OUTLINES: dict[str, Callable[[np.random.Generator], Points]] = {
    f.__name__.replace("_", " "): f
    for f in (disc, oval, star, heart, crescent, fish, leaf, mushroom, cloud, balloon, bell, archway, teapot)
} | {
    f.__name__.replace("_", " "): f
    for f in (
        rocket,
        cactus,
        umbrella,
        many_sided,
        box,
        rounded_box,
        blob,
        whale,
        house,
        joined,
        towers,
        slotted,
    )
}


def outline(rng: np.random.Generator, name: str, size_mm: float, turn_deg: float) -> Points:
    """The named outline with its longer side `size_mm`, turned, middle of its box at (0, 0). [mm]"""
    shape = OUTLINES[name](rng)
    turn = math.radians(turn_deg)
    shape = shape @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    low, high = shape.min(axis=0), shape.max(axis=0)
    return (shape - (low + high) / 2) * (size_mm / float(np.max(high - low)))
