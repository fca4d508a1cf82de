"""The shape of a card that stands off the table: it bends about one direction, unevenly.

Paper bends along one direction only and does not stretch, so that a bend is a curve of heights over the length along
that direction: an end or a corner that rises, an arch over the whole card, both ends or two opposite corners that rise
from its middle on, or an S, each departing from its even curve by a share that changes slowly along it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.polynomial import legendre, polynomial

from vision.arrays import Floats

# Marks lie on the card; so far beyond its edge, as a share of the way there, a bend is held back, for edge points in
# error; chosen.
BEYOND = 1.2
# How a bend departs from its even curve, as a share of it: Legendre polynomials of these degrees along the card.
DEGREES = np.arange(1, 5)
# (1 + degrees, powers) the Legendre polynomial of each degree from 0 on, the lowest power first.
LEGENDRE = np.array(
    [np.pad(legendre.leg2poly(np.eye(k + 1)[k]), (0, len(DEGREES) - k)) for k in (0, *DEGREES)]
)
# A bend that grows evenly from one end, where it points down, to the other, where it points up. On a table it rests on
# the one end and in its trough: the third Chebyshev polynomial, between 0 and 1, the lowest power first.
S_HEIGHTS = (0.5, -1.5, 0.0, 2.0)


Kind = Literal["none", "one end", "arch", "ends", "s"]


@dataclass(frozen=True)
class Lift:
    """How a card stands off the table: an edge or a corner that bends up, the middle of an arch, both ends, or an S.

    angle : direction in which it rises [rad], 0 along x, a right angle along y;
    start : where it begins, as a share of the way from the card's middle (0) to its farthest corner (1);
        flat up to there, a parabola beyond. kind : `arch` and `ends` are one parabola over the whole card, highest or
        lowest in its middle, and `start` means nothing then, nor for an `s`: one end rises, the other half is an arc of
        the same height. uneven : share of its height that the polynomial of each
        of `DEGREES` adds.
    """

    angle: float = 0.0
    start: float = 0.0
    kind: Kind = "one end"
    uneven: tuple[float, ...] = (0.0,) * len(DEGREES)

    @classmethod
    def nowhere(cls) -> Lift:
        """For a card of which no edge bends up."""
        return cls(kind="none")

    @property
    def all_over(self) -> bool:
        """Whether it bends over the whole card, from end to end."""
        return self.kind in ("arch", "ends", "s")

    @cached_property
    def direction(self) -> Floats:
        """(2,) unit vector toward where it rises."""
        return np.array([np.cos(self.angle), np.sin(self.angle)])

    def farthest(self, half: Floats) -> float:
        """How far a card of these half sides, (2,), reaches along the direction, from its middle. [mm]"""
        return float(np.abs(self.direction) @ half)

    def shape(self, points_mm: Floats, half: Floats) -> Floats:
        """Height for a lift of 1, (N,)."""
        return _at(self._heights, self._risen(self._along(points_mm, half)))

    def slope(self, points_mm: Floats, half: Floats) -> Floats:
        """(N, 2) derivatives of `shape` with the place. [1 / mm]"""
        slope: Floats = self._steep(self._along(points_mm, half))[:, None] * (
            self.direction / self.farthest(half)
        )
        return slope

    def drawn_in(self, points_mm: Floats, half: Floats) -> Floats:
        """(N, 2) by how much less far places reach along the table, for a lift of 1; it grows with the lift's square:
        half the integral of the slope's square from the middle on, the arc's length to second order. [mm]"""
        shorter = _at(self._lengths, self._risen(self._along(points_mm, half)))
        middle = _at(self._lengths, self._risen(np.zeros(1)))
        drawn: Floats = ((shorter - middle) / self.farthest(half))[:, None] * self.direction
        return drawn

    def by_figures(self, points_mm: Floats, half: Floats) -> Floats:
        """(N, 2 + degrees) derivatives of `shape` with angle, start and each share of `uneven`."""
        along = self._along(points_mm, half)
        turned = np.array([-self.direction[1], self.direction[0]])
        wider = float((np.sign(self.direction) * turned) @ half)
        by_angle = points_mm @ turned / self.farthest(half) - along * wider / self.farthest(half)
        by_start = np.zeros(len(along))
        if not self.all_over:
            from_start = np.maximum(along - self.start, 0.0)
            share = _at(self._share, along)
            by_start = -2 * from_start * (1 - along) / (1 - self.start) ** 3 * share
        even = self.even(along)
        return np.column_stack([self._steep(along) * by_angle, by_start, even[:, None] * polynomials(along)])

    def _along(self, points_mm: Floats, half: Floats) -> Floats:
        along: Floats = np.clip(points_mm @ self.direction / self.farthest(half), -BEYOND, BEYOND)
        return along

    def _risen(self, along: Floats) -> Floats:
        """The way along, but for what lies before the bend begins, which is as flat as its start."""
        return along if self.all_over else np.maximum(along, self.start)

    def even(self, along: Floats) -> Floats:
        """(...,) height of 1 mm of the bend without its unevenness, at places -1..1 along it."""
        return _at(self._even, self._risen(along))

    def _steep(self, along: Floats) -> Floats:
        """Derivative of the shape with the way along, which stands still where it is held back."""
        return np.where(np.abs(along) < BEYOND, _at(self._slopes, self._risen(along)), 0.0)

    # Polynomials in the way along, the lowest power first; a fit makes them anew at every step, in a few operations.

    @cached_property
    def _even(self) -> Floats:
        """Heights of the even bend."""
        if self.kind == "arch":
            return np.array([1.0, 0.0, -1.0])
        if self.kind == "ends":
            return np.array([0.0, 0.0, 1.0])
        if self.kind == "s":
            return np.array(S_HEIGHTS)
        return np.array([self.start**2, -2 * self.start, 1.0]) / (1 - self.start) ** 2

    @cached_property
    def _share(self) -> Floats:
        """How much of the even bend's height there is at each place."""
        share: Floats = np.array([1.0, *self.uneven]) @ LEGENDRE
        return share

    @cached_property
    def _heights(self) -> Floats:
        return np.convolve(self._even, self._share)

    @cached_property
    def _slopes(self) -> Floats:
        heights = self._heights
        slopes: Floats = heights[1:] * np.arange(1, len(heights))
        return slopes

    @cached_property
    def _lengths(self) -> Floats:
        """By how much the way along is longer than it reaches, times the farthest reach."""
        longer = np.convolve(self._slopes, self._slopes) / 2
        return np.concatenate([[0.0], longer / np.arange(1, len(longer) + 1)])


def polynomials(along: Floats) -> Floats:
    """(..., D) for D degrees, the shares by which a bend may be uneven, at places -1..1 along it."""
    return _up_to_highest(along)[..., 1:]


def _up_to_highest(along: Floats) -> Floats:
    return np.asarray(legendre.legvander(along, int(DEGREES[-1])), dtype=np.float64)


def _at(coefficients: Floats, along: Floats) -> Floats:
    return np.asarray(polynomial.polyval(along, coefficients, tensor=False), dtype=np.float64)


def bend_heights(points_mm: Floats, half: Floats, lifts: Sequence[Lift]) -> Floats:
    """(N, lifts, 1 + degrees) height at each place for 1 mm of each even curve and of each of its polynomials."""
    directions = np.array([lift.direction for lift in lifts])
    along = np.clip(points_mm @ directions.T / (np.abs(directions) @ half), -BEYOND, BEYOND)
    even = np.stack([lift.even(way) for lift, way in zip(lifts, along.T, strict=True)], axis=1)
    heights: Floats = even[:, :, None] * _up_to_highest(along)
    return heights
