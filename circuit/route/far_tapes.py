"""Which links' tapes come too close, of links without a light in common.

In:    a `Catalogue`.
Out:   (links, links) yes and no, walked as they are and with one of them walked the other way.
Fails: never.

Most pairs of a catalogue are of this kind. Runs' boxes, upright ones and ones set on their corner, are held against one
another first, then edges with half the digits, and with all of them only where a distance is close to its limit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.passages import Ints
from circuit.route.plane import Bools, dot, squares_apart, unit

_ROWS = 64  # links whose boxes are held against all others' at a time: chosen, for a processor's fast memory
AT_ONCE = 30_000  # pairs measured at a time: chosen, for the same reason
_ROUNDING_MM = 0.01  # what boxes in float32 are wider by
# What a squared distance about as long as a limit may be off in float32, on cards of two metres, and more. [mm2]
_CLOSE_MM2 = 0.05
_RUNS = 3  # of a link, at most
# Sides of two lanes that are held against one another, unlike ones first: they come close the sooner.
_SIDES = ((0, 1), (1, 0), (0, 0), (1, 1))
_LONGER = (1.0, 1.0, 2**0.5, 2**0.5)  # how many times a distance counts along each way of boxes


def far_tapes_meet(stretches: Catalogue, along: Bools, against: Bools) -> None:
    """Marks in (N, N) which pairs of links without a light in common have tapes that come too close: walked `along` as
    they are, and with one of them walked the other way, `against` it."""
    sizes = stretches.site.sizes
    itself, apart = sizes.itself**2, sizes.apart**2
    reach, enough = sizes.apart + _ROUNDING_MM, max(min(itself, apart) - _CLOSE_MM2, 0.0)

    def mark(r: Ints, s: Ints, alike: bool, squares: Floats, spare: float) -> None:
        for marks, limit in ((along, itself if alike else apart), (against, apart if alike else itself)):
            near = np.flatnonzero(squares < limit - spare)
            one, other = r[near], s[near]
            marks[one, other] = marks[other, one] = True

    # Nearly all can be told with half the digits, twice as fast; only what is close to a limit is measured again.
    rough, exact = _Edges.of(stretches, np.float32), _Edges.of(stretches, np.float64)
    again = [np.zeros((2, 0), dtype=np.int64)]
    pairs = _near_one_another(stretches, rough.boxes, reach)
    for low in range(0, pairs.shape[1], AT_ONCE):
        r, s = pairs[:, low : low + AT_ONCE]
        close = np.zeros(len(r), dtype=bool)
        for pair, alike, squares in rough.measured(r, s, reach, enough):
            mark(r[pair], s[pair], alike, squares, _CLOSE_MM2)
            for limit in (itself, apart):
                close[pair[np.abs(squares - squares.dtype.type(limit)) <= _CLOSE_MM2]] = True
        again.append(np.stack([r[close], s[close]]))
    r, s = np.concatenate(again, axis=1)
    for pair, alike, squares in exact.measured(r, s, reach, enough):
        mark(r[pair], s[pair], alike, squares, 0.0)


def _near_one_another(
    stretches: Catalogue, boxes: Sequence[Sequence[Sequence[Floats]]], reach: float
) -> Ints:
    """(2, N) pairs, each once, without a light in common whose runs' `boxes` together come within `reach`."""
    place = stretches.passages.place.astype(np.int8)
    a, b = place[stretches.links.src], place[stretches.links.dst]
    whole = [
        (np.minimum.reduce([low for low, _ in along]), np.maximum.reduce([high for _, high in along]) + wide)
        for along, wide in zip(zip(*boxes, strict=True), _widened(reach), strict=True)
    ]
    found = [np.zeros((2, 0), dtype=np.int64)]
    for first in range(0, len(a), _ROWS):
        here, later = slice(first, first + _ROWS), slice(first, None)
        near = (a[here, None] != a[later]) & (a[here, None] != b[later])
        near &= (b[here, None] != a[later]) & (b[here, None] != b[later])
        for low, high in whole:
            near &= low[here, None] < high[later]
            near &= high[here, None] > low[later]
        found.append(np.stack(np.nonzero(np.triu(near, 1))) + first)
    return np.concatenate(found, axis=1)


def _widened(reach: float) -> tuple[np.float32, ...]:
    """How far boxes may lie apart along each of their ways."""
    return tuple(np.float32(reach * longer) for longer in _LONGER)


@dataclass(frozen=True)
class _Edges:
    """Outer edges of many links, as arrays of (N,).

    `begins`, `ways` : [side][run] x and y of where an edge begins, and of how far it goes. `boxes` : [run][across the
    card, down it, and twice aslant] least and most; nothing lies in those of runs that a link lacks. `across` : [run] x
    and y of the unit vector square to it, and least and most along that of its two edges.
    """

    begins: Sequence[Sequence[Sequence[Floats]]]
    ways: Sequence[Sequence[Sequence[Floats]]]
    boxes: Sequence[Sequence[Sequence[Floats]]]
    across: Sequence[Sequence[Floats]]

    @classmethod
    def of(cls, catalogue: Catalogue, exactness: type[np.floating[Any]]) -> _Edges:
        edges, folds = catalogue.edges, catalogue.links.folds
        ways = np.diff(edges, axis=2)
        square = unit(ways.sum(axis=1)) * 1j
        at = np.sort(dot(square[:, None], edges[:, :, :-1]), axis=1)

        def run_by_run(*parts: Floats) -> list[list[Floats]]:
            return [[part[:, run].astype(exactness) for part in parts] for run in range(_RUNS)]

        boxes = []
        for along in (edges.real, edges.imag, edges.real + edges.imag, edges.real - edges.imag):
            least, most = along.min(axis=1), along.max(axis=1)
            least, most = np.minimum(least[:, 1:], least[:, :-1]), np.maximum(most[:, 1:], most[:, :-1])
            lacking = np.arange(_RUNS) > folds[:, None]
            boxes.append((np.where(lacking, np.inf, least), np.where(lacking, -np.inf, most)))
        return cls(
            [run_by_run(edges[:, side].real, edges[:, side].imag) for side in (0, 1)],
            [run_by_run(ways[:, side].real, ways[:, side].imag) for side in (0, 1)],
            list(zip(*(run_by_run(*box) for box in boxes), strict=True)),
            run_by_run(square.real, square.imag, at[:, 0], at[:, 1]),
        )

    def measured(self, r: Ints, s: Ints, reach: float, enough: float) -> Iterator[tuple[Ints, bool, Floats]]:
        """Run by run and edge by edge, of links r and s whose runs come within `reach`: which pairs; whether these are
        edges on one side of their lanes; the squares of the distances between them. Pairs with one below `enough` are
        not looked at further."""
        sought = np.arange(len(r))
        for i, j in product(range(_RUNS), repeat=2):
            pair = sought
            for (low_i, high_i), (low_j, high_j), wide in zip(
                self.boxes[i], self.boxes[j], _widened(reach), strict=True
            ):
                one, other = r[pair], s[pair]
                near = low_i[one] < high_j[other] + wide
                near &= high_i[one] > low_j[other] - wide
                pair = pair[near]
            pair = pair[self._beside(r[pair], i, s[pair], j, reach)]
            found = np.zeros(len(r), dtype=bool)
            for side, facing in _SIDES:
                squares = squares_apart(*self._edge(side, i, r[pair]), *self._edge(facing, j, s[pair]))
                yield pair, side == facing, squares
                open_ = squares > enough
                found[pair[~open_]] = True
                pair = pair[open_]
            sought = sought[~found[sought]]

    def _beside(self, r: Ints, i: int, s: Ints, j: int, reach: float) -> Bools:
        """Whether run j of links s, seen along run i of links r, comes within `reach` of it."""
        x, y, least, most = (part[r] for part in self.across[i])
        low, high = most + least.dtype.type(reach), least - least.dtype.type(reach)
        below, above = np.zeros(len(r), dtype=bool), np.zeros(len(r), dtype=bool)
        for side in (0, 1):
            (begin_x, begin_y), (way_x, way_y) = self._edge(side, j, s)
            begin = begin_x * x + begin_y * y
            end = begin + (way_x * x + way_y * y)
            below |= np.minimum(begin, end) < low
            above |= np.maximum(begin, end) > high
        return below & above

    def _edge(self, side: int, run: int, links: Ints) -> tuple[Sequence[Floats], Sequence[Floats]]:
        """Where one run's edge begins, and how far it goes."""
        return [part[links] for part in self.begins[side][run]], [
            part[links] for part in self.ways[side][run]
        ]
