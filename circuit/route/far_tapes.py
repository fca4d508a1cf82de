"""Which links' tapes come too close, of links without a light in common.

In:    a `Catalogue`.
Out:   (links, links) yes and no, walked as they are and with one of them walked the other way.
Fails: never.

Most pairs of a catalogue are of this kind. Boxes are held against one another first, then edges with half the digits,
and with all of them only where a distance is close to its limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.passages import Ints
from circuit.route.plane import Bools, dot, squares_apart, unit

BLOCK = 30_000  # pairs measured at a time: few enough to stay in a processor's fast memory
_ROWS = 64  # links held against all others at a time: chosen, for the same reason
_ROUNDING_MM = 0.01  # what boxes in float32 are wider by
# What a squared distance about as long as a limit may be off in float32, on cards of two metres, and more. [mm2]
_CLOSE_MM2 = 0.05


def far_tapes_meet(stretches: Catalogue) -> tuple[Bools, Bools]:
    """(N, N): whether the tapes of two links without a light in common come too close, walked as they are and with
    one of them walked the other way."""
    sizes, count = stretches.site.sizes, len(stretches.links)
    along, against = np.zeros((count, count), dtype=bool), np.zeros((count, count), dtype=bool)
    e, f = _near_one_another(stretches)
    itself, apart = sizes.itself**2, sizes.apart**2
    reach, enough = sizes.apart + _ROUNDING_MM, max(min(itself, apart) - _CLOSE_MM2, 0.0)
    # Nearly all can be told with half the digits, twice as fast; only what is close to a limit is measured again.
    rough, exact = _Edges.of(stretches, np.float32), _Edges.of(stretches, np.float64)
    for low in range(0, len(e), BLOCK):
        r, s = e[low : low + BLOCK], f[low : low + BLOCK]
        same, mixed = rough.least_apart(r, s, reach, enough)
        close = [np.abs(least - limit) < _CLOSE_MM2 for least in (same, mixed) for limit in (itself, apart)]
        again = np.flatnonzero(np.any(close, axis=0))
        same, mixed = same.astype(np.float64), mixed.astype(np.float64)
        same[again], mixed[again] = exact.least_apart(r[again], s[again], reach, 0.0)
        for square, near in (
            (along, (same < itself) | (mixed < apart)),
            (against, (same < apart) | (mixed < itself)),
        ):
            square[r[near], s[near]] = square[s[near], r[near]] = True
    return along, against


@dataclass(frozen=True)
class _Edges:
    """Outer edges of many links, as arrays of (N,). `corners` : [x or y][side][corner]. `boxes` : [run] least x, most
    x, least y, most y. `across` : [run] x and y of the unit vector square to it, and least and most along that of its
    two edges. `runs` : how many of a link's runs count."""

    corners: Sequence[Sequence[Sequence[Floats]]]
    boxes: Sequence[Sequence[Floats]]
    across: Sequence[Sequence[Floats]]
    runs: Ints

    @classmethod
    def of(cls, catalogue: Catalogue, exactness: type[np.floating[Any]]) -> _Edges:
        edges, boxes = catalogue.edges, catalogue.run_boxes
        square = unit(np.diff(edges, axis=2).sum(axis=1)) * 1j
        at = np.sort(dot(square[:, None], edges[:, :, :-1]), axis=1)
        across = square.real, square.imag, at[:, 0], at[:, 1]
        return cls(
            [
                [[part[:, side, k].astype(exactness) for k in range(4)] for side in (0, 1)]
                for part in (edges.real, edges.imag)
            ],
            [[side[:, run].astype(exactness) for side in boxes] for run in range(3)],
            [[part[:, run].astype(exactness) for part in across] for run in range(3)],
            np.asarray(catalogue.links.folds + 1),
        )

    def least_apart(self, r: Ints, s: Ints, reach: float, enough: float) -> tuple[Floats, Floats]:
        """The least squares of the distances between edges of links r and s that come within `reach`: both on one side
        of their lanes, and on different sides. Not looked for further where one of the two is below `enough`."""
        same, mixed = (np.full(len(r), np.inf, dtype=self.boxes[0][0].dtype) for _ in range(2))
        for i in range(3):
            for j in range(3):
                rows = np.flatnonzero(
                    (i < self.runs[r]) & (j < self.runs[s]) & (np.minimum(same, mixed) > enough)
                )
                rows = rows[_boxes_near(self.boxes[i], self.boxes[j], r[rows], s[rows], reach)]
                rows = rows[self._beside(r[rows], i, s[rows], j, reach)]
                rows = rows[self._beside(s[rows], j, r[rows], i, reach)]
                for side, other, least in ((0, 1, mixed), (1, 0, mixed), (0, 0, same), (1, 1, same)):
                    a, b = self._edge(side, i, r[rows])
                    c, d = self._edge(other, j, s[rows])
                    now = np.minimum(least[rows], squares_apart(a, b, c, d))
                    least[rows] = now
                    rows = rows[now > enough]
        return same, mixed

    def _beside(self, r: Ints, i: int, s: Ints, j: int, reach: float) -> Bools:
        """Whether run j of links s, seen along run i of links r, comes within `reach` of it."""
        x, y, least, most = (part[r] for part in self.across[i])
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = (*self._edge(0, j, s), *self._edge(1, j, s))
        a, b, c, d = ax * x + ay * y, bx * x + by * y, cx * x + cy * y, dx * x + dy * y
        near = np.minimum(np.minimum(a, b), np.minimum(c, d)) < most + reach
        return np.asarray(near & (np.maximum(np.maximum(a, b), np.maximum(c, d)) > least - reach))

    def _edge(self, side: int, run: int, links: Ints) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
        """Begin and end of one run's edge."""
        x, y = (part[side] for part in self.corners)
        return (x[run][links], y[run][links]), (x[run + 1][links], y[run + 1][links])


def _boxes_near(one: Sequence[Floats], other: Sequence[Floats], r: Ints, s: Ints, reach: float) -> Bools:
    """Whether boxes r and s (least x, most x, least y, most y) come within `reach` of one another."""
    near = one[0][r] < other[1][s] + reach
    near &= other[0][s] < one[1][r] + reach
    near &= one[2][r] < other[3][s] + reach
    near &= other[2][s] < one[3][r] + reach
    return np.asarray(near)


def _near_one_another(stretches: Catalogue) -> tuple[Ints, Ints]:
    """Pairs, each once, without a light in common whose boxes come near enough for their tapes to be."""
    reach = np.float32(stretches.site.sizes.apart + _ROUNDING_MM)
    low_x, high_x, low_y, high_y = np.ascontiguousarray(stretches.boxes.T, dtype=np.float32)
    place = stretches.passages.place.astype(np.int8)
    a, b = place[stretches.links.src], place[stretches.links.dst]
    found = [np.zeros((2, 0), dtype=np.int64)]
    for low in range(0, len(a), _ROWS):
        here, later = slice(low, low + _ROWS), slice(low, None)
        near = low_x[None, later] < high_x[here, None] + reach
        near &= high_x[None, later] > low_x[here, None] - reach
        near &= low_y[None, later] < high_y[here, None] + reach
        near &= high_y[None, later] > low_y[here, None] - reach
        near &= (a[None, later] != a[here, None]) & (a[None, later] != b[here, None])
        near &= (b[None, later] != a[here, None]) & (b[None, later] != b[here, None])
        found.append(np.stack(np.nonzero(np.triu(near, 1))) + low)
    one, other = np.concatenate(found, axis=1)
    return one, other
