"""What marks need, as straight rows for one step of a linear program.

In:    a layout, its `Needs`, where the marks are at present.
Out:   `StraightRow`s: each asks for at least what the need does, as long as no mark moves further than
       `FARTHEST_STEP_MM`.
Fails: never.

Two marks keep apart along the line through both, a mark keeps to its side of each nearby piece of the window's outline.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.enclosed import outside_distance
from circuit.layout import Layout, Polyline
from circuit.moves.needs import Needs

# A step moves no mark further than this, so that the directions it was made with still mean something: chosen. [mm]
FARTHEST_STEP_MM = 6.0
ONE_PLACE_MM = 1e-3  # nearer than this two places are one: chosen, a hundredth of what moves are told to
# Directions for marks that lie on one spot: multiples of the golden angle never come near one another.
_GOLDEN_ANGLE = math.pi * (3 - math.sqrt(5))
_FAR_APART = 7  # chosen: gives each pair another multiple


@dataclass(frozen=True)
class StraightRow:
    """sum of coefficient * coordinate >= bound; coordinates are numbered 2 k and 2 k + 1 for mark k."""

    coordinates: tuple[int, ...]
    coefficients: tuple[float, ...]
    bound: float


def short_of(row: StraightRow, marks: Floats) -> float:
    """What a row misses at these (n, 2) places, below 0 where it is kept. [mm]"""
    return row.bound - float(marks.ravel()[list(row.coordinates)] @ np.asarray(row.coefficients))


def rows_of(layout: Layout, needs: Needs, now: Floats) -> Iterator[StraightRow]:
    """Every need that a step could bring into play, made straight at the present (n, 2) places."""
    count = len(layout.lights)
    battery = count if layout.battery is not None else None
    for i in range(count):
        for j in range(i):
            yield from _apart(i, j, now, needs.apart[i, j])
        if battery is not None:
            yield from _apart(i, battery, now, needs.zone[i])
        yield from _edges(i, layout, needs.edge[i])
        if layout.window is not None:
            yield from _inside(i, now[i], layout.window, needs.inside[i])
    if battery is not None:
        yield from _edges(battery, layout, needs.cell_edge)
        if layout.window is not None:
            yield from _outside(battery, now[battery], layout.window, needs.cell_window)


def _apart(i: int, j: int, now: Floats, need: float) -> Iterator[StraightRow]:
    between = now[i] - now[j]
    distance = math.hypot(*between)
    if distance > need + 2 * math.sqrt(2) * FARTHEST_STEP_MM:
        return  # not even two full steps towards each other could bring them too near
    if distance < ONE_PLACE_MM:
        # Two marks on one spot have no direction: any will do, another one for each pair.
        angle = _GOLDEN_ANGLE * (i + _FAR_APART * j)
        between, distance = np.array([math.cos(angle), math.sin(angle)]), 1.0
    x, y = between / distance
    yield StraightRow((2 * i, 2 * i + 1, 2 * j, 2 * j + 1), (x, y, -x, -y), float(need))


def _edges(k: int, layout: Layout, need: Floats) -> Iterator[StraightRow]:
    left, right, top, bottom = (float(value) for value in need)
    yield StraightRow((2 * k,), (1.0,), left)
    yield StraightRow((2 * k,), (-1.0,), right - layout.card.width_mm)
    yield StraightRow((2 * k + 1,), (1.0,), top)
    yield StraightRow((2 * k + 1,), (-1.0,), bottom - layout.card.height_mm)


def _inside(k: int, here: Floats, window: Polyline, need: float) -> Iterator[StraightRow]:
    feet, inwards, distances, within = _feet(here, window)
    if not within:
        nearest = int(np.argmin(distances))
        yield _half_plane(k, feet[nearest], inwards[nearest], need)
        return
    for foot, normal, distance in zip(feet, inwards, distances, strict=True):
        if distance < need + math.sqrt(2) * FARTHEST_STEP_MM:
            yield _half_plane(k, foot, normal, need)


def _outside(k: int, here: Floats, window: Polyline, need: float) -> Iterator[StraightRow]:
    feet, inwards, distances, _ = _feet(here, window)
    # The nearest point alone: half planes at every side of a round window would ask for too much.
    nearest = int(np.argmin(distances))
    yield _half_plane(k, feet[nearest], -inwards[nearest], need)


def _half_plane(k: int, foot: Floats, normal: Floats, need: float) -> StraightRow:
    x, y = float(normal[0]), float(normal[1])
    return StraightRow((2 * k, 2 * k + 1), (x, y), float(need + normal @ foot))


def _feet(here: Floats, window: Polyline) -> tuple[Floats, Floats, Floats, bool]:
    """For each side of the window: the nearest point on it, the direction inwards there, the distance;
    and whether `here` is within. The direction at a corner is the one from or to `here`."""
    corners = np.asarray(window, dtype=np.float64)
    steps = np.roll(corners, -1, axis=0) - corners
    sizes = np.hypot(steps[:, 0], steps[:, 1])
    corners, steps, sizes = corners[sizes > 0], steps[sizes > 0], sizes[sizes > 0]
    share = np.clip(np.sum((here - corners) * steps, axis=1) / sizes**2, 0.0, 1.0)
    feet = corners + share[:, None] * steps
    distances = np.hypot(*(here - feet).T)
    outside, _ = outside_distance((float(here[0]), float(here[1])), window)
    within = outside <= 0
    x, y = corners.T
    next_x, next_y = np.roll(corners, -1, axis=0).T
    clockwise = np.sign(np.sum(x * next_y - next_x * y)) or 1.0
    inwards = clockwise * np.stack([-steps[:, 1], steps[:, 0]], axis=1) / sizes[:, None]
    clear = distances > ONE_PLACE_MM
    towards = (here - feet)[clear] / distances[clear][:, None]
    inwards[clear] = towards if within else -towards
    return feet, inwards, distances, bool(within)
