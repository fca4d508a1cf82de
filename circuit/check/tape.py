"""The shape of a folded tape: straight strips, and at every fold the mitred outer corner.

In:    a centre line, the tape's width.
Out:   a `Tape`: its straight runs and, as shapely polygons that stay inside `circuit.check`, their
       strips and the fold corners.
Fails: never; repeated points and points on a straight line are dropped first.

A tape is turned by folding it back and then over, which leaves the whole outer corner under copper:
that corner, up to the tip where the two outer edges meet, is part of the tape here.

        strip 0        . tip
    ----------------+--+
    . . . . . . . . P  |      P: the fold's point on the centre line
    -------------+  .  |
                 |  .  |  strip 1
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.arrays import Floats, Indices
from circuit.layout import Polyline
from circuit.polyline import SHARPEST_FOLD_DEG

_SAME_POINT_MM = 1e-9
# Below this a corner is rounding in a file (0.1° strays 0.2 mm over a whole card), not a bend. [deg]
STRAIGHT_DEG = 0.1
# The tip of the sharpest fold that lies flat; a sharper one that someone drew is cut off there.
_LONGEST_TIP = 1 / math.cos(math.radians(SHARPEST_FOLD_DEG / 2))


@dataclass(frozen=True)
class Tape:
    """A tape of `width_mm` along `points` (N, 2): N - 1 straight runs, N - 2 folds."""

    points: Floats
    width_mm: float

    @cached_property
    def directions(self) -> Floats:
        """Unit vector of each run, (N - 1, 2)."""
        steps = np.diff(self.points, axis=0)
        return np.asarray(steps / np.hypot(steps[:, 0], steps[:, 1])[:, None], dtype=np.float64)

    @cached_property
    def lengths(self) -> Floats:
        """Length of each run, (N - 1,). [mm]"""
        steps = np.diff(self.points, axis=0)
        return np.asarray(np.hypot(steps[:, 0], steps[:, 1]), dtype=np.float64)

    @cached_property
    def starts_along(self) -> Floats:
        """How far along the tape each point lies, (N,). [mm]"""
        return np.concatenate([[0.0], np.cumsum(self.lengths)])

    @cached_property
    def turns_deg(self) -> Floats:
        """Unsigned turn at each fold, (N - 2,)."""
        before, after = self.directions[:-1], self.directions[1:]
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        dot = np.sum(before * after, axis=1)
        return np.asarray(np.degrees(np.abs(np.arctan2(cross, dot))), dtype=np.float64)

    @property
    def folds(self) -> Floats:
        """The folds' points, (N - 2, 2)."""
        return self.points[1:-1]

    @cached_property
    def strips(self) -> NDArray[Any]:
        """One rectangle per run, cut square at both ends."""
        zeros = np.zeros(len(self.lengths))
        return strip_parts(self, np.arange(len(self.lengths)), zeros, self.lengths)

    @cached_property
    def corners(self) -> NDArray[Any]:
        """Outer corner of each fold, (N - 2,) polygons: fold point, outer edges' ends, tip between."""
        half = self.width_mm / 2
        before, after = self.directions[:-1], self.directions[1:]
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        side = np.where(cross > 0, 1.0, -1.0)[:, None]  # the outer side is opposite to the turn
        out_before = side * np.stack([before[:, 1], -before[:, 0]], axis=1)
        out_after = side * np.stack([after[:, 1], -after[:, 0]], axis=1)
        reach = half / np.maximum(np.cos(np.radians(self.turns_deg) / 2), 1 / _LONGEST_TIP)
        middle = out_before + out_after
        size = np.hypot(middle[:, 0], middle[:, 1])[:, None]
        # A tape folded straight back on itself has no outer side: its tip lies ahead.
        middle = np.where(size > _SAME_POINT_MM, middle / np.maximum(size, _SAME_POINT_MM), before)
        rings = np.stack(
            [
                self.folds,
                self.folds + half * out_before,
                self.folds + reach[:, None] * middle,
                self.folds + half * out_after,
            ],
            axis=1,
        )
        return np.asarray(shapely.polygons(rings)) if len(rings) else np.empty(0, dtype=object)

    @cached_property
    def pieces(self) -> NDArray[Any]:
        """Everything that is copper: the strips, then the corners."""
        return np.concatenate([self.strips, self.corners])

    @property
    def in_order(self) -> NDArray[Any]:
        """The same along the tape: run 0, corner 0, run 1, corner 1, ..."""
        ordered = np.empty(len(self.pieces), dtype=object)
        ordered[0::2], ordered[1::2] = self.strips, self.corners
        return ordered


def beyond_end_run(tapes: Sequence[Tape]) -> NDArray[Any]:
    """(K,) polygons of a lane's tape and its branches' without its first straight run and what lies over that one's own
    strip."""
    pieces = np.concatenate([tapes[0].pieces[1:], *(tape.pieces for tape in tapes[1:])])
    rest = shapely.difference(pieces, tapes[0].strips[0])
    return np.asarray(rest[~shapely.is_empty(rest)])


def tape_along(line: Polyline, width_mm: float, wobble_mm: float = 0.0) -> Tape:
    """The tape along a centre line; a drawn line is straightened within `wobble_mm` first."""
    points = np.asarray(line, dtype=np.float64)
    steps = np.diff(points, axis=0)
    keep = np.concatenate([[True], np.hypot(steps[:, 0], steps[:, 1]) > _SAME_POINT_MM])
    points = points[keep]
    if wobble_mm > 0 and len(points) > 2:
        straightened = shapely.simplify(shapely.linestrings(points), wobble_mm, preserve_topology=False)
        points = shapely.get_coordinates(straightened)
    while len(points) > 2:
        tape = Tape(points, width_mm)
        bent = np.concatenate([[True], tape.turns_deg > STRAIGHT_DEG, [True]])
        if bent.all():
            break
        # One at a time: dropping every point of a slow curve at once would straighten the curve.
        points = np.delete(points, int(np.flatnonzero(~bent)[0]), axis=0)
    return Tape(points, width_mm)


def strip_parts(tape: Tape, runs: Indices, start: Floats, end: Floats) -> NDArray[Any]:
    """(K,) rectangles of tape along the K runs numbered `runs`, from `start` to `end` along each. [mm]"""
    if len(runs) == 0:
        return np.empty(0, dtype=object)
    half = tape.width_mm / 2
    along = tape.directions[runs]
    across = np.stack([-along[:, 1], along[:, 0]], axis=1) * half
    first = tape.points[runs] + along * start[:, None]
    last = tape.points[runs] + along * end[:, None]
    rings = np.stack([first + across, last + across, last - across, first - across], axis=1)
    return np.asarray(shapely.polygons(rings))
