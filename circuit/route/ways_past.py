"""Links beside which a lane can still be begun, pass every light, and end.

In:    a catalogue.
Out:   the catalogue without the other links: no lane has them.
Fails: never.

A link is of no use if some light has no passage left that a link which gets on with it enters and another one leaves.
Without it others are of no use, too, so this goes on until nothing more goes. In a crowded card that takes most links
away, now and then all. (Constraint programming calls it arc consistency.)
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from circuit.route.catalogue import Catalogue
from circuit.route.clash_matrix import clash_matrix
from circuit.route.passages import Ints
from circuit.route.plane import Bools

Bytes = NDArray[np.uint8]
_BYTE = 8
_ROWS = 1024  # links looked at together: chosen, a few megabytes


def with_ways_past(catalogue: Catalogue) -> Catalogue:
    """The links that a lane may have."""
    links = catalogue.links
    entered = np.zeros(len(catalogue.passages), dtype=bool)
    entered[links.dst] = True
    ends = np.flatnonzero(catalogue.ends & entered)
    get_on = clash_matrix(catalogue, ends)
    np.logical_not(get_on, out=get_on)
    entering = _ByPassage.of(links.dst, get_on[:, : len(links)])
    leaving = _ByPassage.of(np.concatenate([links.src, ends]), get_on)
    useful = np.ones(len(links), dtype=bool)
    while True:
        rows = np.flatnonzero(useful)
        into = entering.of_useful(useful)
        out_of = leaving.of_useful(np.concatenate([useful, np.ones(len(ends), dtype=bool)]))
        still = np.zeros(len(rows), dtype=bool)
        for low in range(0, len(rows), _ROWS):
            some = rows[low : low + _ROWS]
            still[low : low + _ROWS] = _ways(catalogue, into, out_of, some)
        still &= get_on[rows, len(links) :].any(axis=1)
        useful[rows] = still
        if still.all():
            return catalogue.some(useful)


@dataclass(frozen=True)
class _ByPassage:
    """Rows of bits, those of one passage together and begun on a byte of their own.

    `column` : where each link's bit is; `heads` : each lot's first byte; `passage` : the lots' passages.
    """

    bits: Bytes
    column: Ints
    heads: Ints
    passage: Ints

    @classmethod
    def of(cls, passages: Ints, matrix: Bools) -> _ByPassage:
        order = np.argsort(passages, kind="stable")
        kinds, start, size = np.unique(passages[order], return_index=True, return_counts=True)
        head = np.concatenate([[0], np.cumsum(-(-size // _BYTE))])
        column = np.empty(len(passages), dtype=np.int64)
        column[order] = np.arange(len(passages)) + np.repeat(head[:-1] * _BYTE - start, size)
        return cls(_packed(matrix, column, int(head[-1])), column, head[:-1], kinds)

    def of_useful(self, useful: Bools) -> _ByPassage:
        """Without the bits of links that are of no use."""
        kept = _packed(useful[None, :], self.column, self.bits.shape[1])
        return _ByPassage(self.bits & kept, self.column, self.heads, self.passage)

    def any(self, rows: Ints, passages: int) -> Bools:
        """(rows, passages): whether any bit of that passage is set."""
        found = np.zeros((len(rows), passages), dtype=bool)
        found[:, self.passage] = np.bitwise_or.reduceat(self.bits[rows], self.heads, axis=1) != 0
        return found


def _packed(matrix: Bools, column: Ints, size: int) -> Bytes:
    """Rows of bits in `size` bytes, each value in its column."""
    # Looked up column by column, one more for what stands for nothing: faster than to set each where it belongs.
    from_column = np.full(size * _BYTE, matrix.shape[1])
    from_column[column] = np.arange(matrix.shape[1])
    packed = np.empty((len(matrix), size), dtype=np.uint8)
    for low in range(0, len(matrix), _ROWS):
        rows = matrix[low : low + _ROWS]
        rows = np.concatenate([rows, np.zeros((len(rows), 1), dtype=bool)], axis=1).take(from_column, axis=1)
        packed[low : low + _ROWS] = np.packbits(rows, axis=1, bitorder="little")
    return packed


def _ways(catalogue: Catalogue, into: _ByPassage, out_of: _ByPassage, rows: Ints) -> Bools:
    """Whether beside each of these links a lane can begin and every light has a passage entered and left.

    A link gets on with itself and with no other that enters or leaves one of its own lights elsewhere.
    """
    passages = catalogue.passages
    first = passages.first
    leaves = out_of.any(rows, len(passages))
    through = into.any(rows, len(passages)) & leaves
    good = leaves[:, : first[1]].any(axis=1)
    for low, high in pairwise(first[1:]):
        good &= through[:, low:high].any(axis=1)
    return np.asarray(good)
