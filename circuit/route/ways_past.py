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

from circuit.route.bits import ROWS, Bytes, bits_by_kind, packed
from circuit.route.catalogue import Catalogue
from circuit.route.clash_matrix import clash_matrix
from circuit.route.passages import Ints
from circuit.route.plane import Bools


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
        for low in range(0, len(rows), ROWS):
            some = rows[low : low + ROWS]
            still[low : low + ROWS] = _ways(catalogue, into, out_of, some)
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
        column, kinds, head = bits_by_kind(passages)
        return cls(packed(matrix, column, int(head[-1]), rest=False), column, head[:-1], kinds)

    def of_useful(self, useful: Bools) -> _ByPassage:
        """Without the bits of links that are of no use."""
        kept = packed(useful[None, :], self.column, self.bits.shape[1], rest=False)
        return _ByPassage(self.bits & kept, self.column, self.heads, self.passage)

    def any(self, rows: Ints, passages: int) -> Bools:
        """(rows, passages): whether any bit of that passage is set."""
        found = np.zeros((len(rows), passages), dtype=bool)
        found[:, self.passage] = np.bitwise_or.reduceat(self.bits[rows], self.heads, axis=1) != 0
        return found


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
