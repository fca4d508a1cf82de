"""Rows of lights that are spaced wider or narrower in another plan.

In:    the lights of two plans.
Out:   the rows that are in both, with other gaps, light by light.
Fails: never; where no row is spaced anew there is none.

A row is three or more lights along a straight line, evenly spaced as far as a hand does that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from circuit.arrays import Floats
from circuit.layout import LightMark, Point

_LEAST_IN_ROW = 3  # chosen
# A light of a pencilled row lies so near its place at most: chosen. [mm]
_EVEN_MM = 1.5
_NEXT_MM = 2 * _EVEN_MM  # two lights' own faults add up to where the third is looked for
# What single lights went besides is at most this share of what the row's end lights went by the other spacing; else it
# was single lights that went elsewhere: chosen.
_BESIDES = 1 / 3
_MOST_LIGHTS = 40  # chosen: of more on a card nobody would speak of a row, and each pair of them is a try


@dataclass(frozen=True, slots=True)
class RowSpacedAnew:
    """A row of lights in order along it, before and after: from one to the next, and where its middle lies. [mm]"""

    before: tuple[LightMark, ...]
    after: tuple[LightMark, ...]
    gaps_mm: tuple[float, float]
    middles_mm: tuple[Point, Point]
    uncertainty_mm: float

    @property
    def pairs(self) -> tuple[tuple[LightMark, LightMark], ...]:
        """Each light before and after."""
        return tuple(zip(self.before, self.after, strict=True))


class _Row:
    """Lights taken as an evenly spaced row: the nearest such row by least squares."""

    def __init__(self, lights: Sequence[LightMark]) -> None:
        self.lights = tuple(lights)
        self.places = np.array([light.centre for light in lights])
        self.steps = np.arange(len(lights)) - (len(lights) - 1) / 2
        self.middle = self.places.mean(axis=0)
        self.step = self.steps @ (self.places - self.middle) / (self.steps @ self.steps)
        self.gap_mm = math.hypot(*self.step)

    def off_mm(self, step: Floats) -> float:
        """How far a light lies at most from its place in the row with this step about the same middle."""
        return float(np.hypot(*(self.places - self.middle - self.steps[:, None] * step).T).max())


def rows_spaced_anew(
    ours: Sequence[LightMark], theirs: Sequence[LightMark], near_mm: float
) -> tuple[RowSpacedAnew, ...]:
    """The rows of both, the longest first, that have other gaps; a row's middle went no farther than `near_mm`."""
    found: list[RowSpacedAnew] = []
    ours, theirs = list(ours), list(theirs)
    while max(len(ours), len(theirs)) <= _MOST_LIGHTS:
        row, other = _longest(ours), _longest(theirs)
        anew = None if row is None or other is None else _spaced_anew(row, other, near_mm)
        if anew is None:
            break
        found.append(anew)
        ours = [light for light in ours if all(light is not a for a in anew.before)]
        theirs = [light for light in theirs if all(light is not b for b in anew.after)]
    return tuple(found)


def whole_row_gap_mm(lights: Sequence[LightMark]) -> float | None:
    """From one light to the next where all of them are one row; None where they are not."""
    row = _longest(lights) if len(lights) <= _MOST_LIGHTS else None
    return row.gap_mm if row is not None and len(row.lights) == len(lights) else None


def _spaced_anew(row: _Row, other: _Row, near_mm: float) -> RowSpacedAnew | None:
    """The two as one row that was spaced anew; None where they are not."""
    if len(row.lights) != len(other.lights) or math.dist(row.middle, other.middle) > near_mm:
        return None
    if row.step @ other.step < 0:
        other = _Row(other.lights[::-1])
    ends_mm = abs(other.gap_mm - row.gap_mm) * row.steps[-1]
    # The spacing alone: a row that was turned as well has lights that went besides.
    besides_mm = max(row.off_mm(row.step), other.off_mm(row.step * (other.gap_mm / row.gap_mm)))
    unsure_mm = max(
        math.hypot(a.uncertainty_mm, b.uncertainty_mm) for a, b in zip(row.lights, other.lights, strict=True)
    )
    if ends_mm <= unsure_mm or besides_mm > _BESIDES * ends_mm:
        return None
    x, y = zip(row.middle.tolist(), other.middle.tolist(), strict=True)
    middles = ((x[0], y[0]), (x[1], y[1]))
    return RowSpacedAnew(row.lights, other.lights, (row.gap_mm, other.gap_mm), middles, unsure_mm)


def _longest(lights: Sequence[LightMark]) -> _Row | None:
    """The longest row among these lights, the first of several; None where there is none."""
    best: _Row | None = None
    for first, second in permutations(lights, 2):
        # Of lights nearer than that nobody could say where the next one would be.
        if math.dist(first.centre, second.centre) <= _NEXT_MM:
            continue
        lights_along = _from(first, second, lights)
        if len(lights_along) < _LEAST_IN_ROW or (best and len(lights_along) <= len(best.lights)):
            continue
        row = _Row(lights_along)
        if row.off_mm(row.step) <= _EVEN_MM:
            best = row
    return best


def _from(first: LightMark, second: LightMark, lights: Sequence[LightMark]) -> list[LightMark]:
    """The row that begins with these two, as far as it goes."""
    row = [first, second]
    while True:
        steps = len(row) - 1
        x = row[-1].x_mm + (row[-1].x_mm - first.x_mm) / steps
        y = row[-1].y_mm + (row[-1].y_mm - first.y_mm) / steps
        left = [light for light in lights if all(light is not one for one in row)]
        following = min(left, key=lambda light: math.dist(light.centre, (x, y)), default=None)
        if following is None or math.dist(following.centre, (x, y)) > _NEXT_MM:
            return row
        row.append(following)
