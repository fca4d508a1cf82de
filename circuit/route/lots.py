"""Links sorted into lots, so that the least of what each kind of them costs comes from whole arrays at once.

In:    the kind of each link (its source, say), how many values belong to a link.
Out:   `Lots`.
Fails: never.

Kinds with about as many links make a lot, a block of (links of one kind, kinds); where a kind has too few links its
last one stands in again. The least along the first axis is then some three times as fast as taken kind by kind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from circuit.route.passages import Ints

# How many links a kind counts as: the next of these, a seventh too many on the average.
_SIZES = np.unique([scale << power for scale in (1, 3) for power in range(40)])
# Links times values worked on together: chosen, a quarter of a megabyte of float32.
_AT_ONCE = 65_536


@dataclass(frozen=True, slots=True)
class Lot:
    """`rows` of its piece, to be taken as (`size`, kinds): the links of `kinds`."""

    rows: slice
    size: int
    kinds: slice


@dataclass(frozen=True, slots=True)
class Piece:
    """A few lots, few enough for a processor's fast memory: these `rows` of all."""

    rows: slice
    lots: tuple[Lot, ...]


@dataclass(frozen=True)
class Lots:
    """`links` : lot by lot, some of them twice. `kinds` : in the lots' order."""

    links: Ints
    kinds: Ints
    pieces: tuple[Piece, ...]

    @classmethod
    def of(cls, kind: Ints, links: Ints, values: int) -> Lots:
        """`kind` : (N,) of each of these `links`. `values` : that belong to one link."""
        order = np.argsort(kind, kind="stable")
        first = np.flatnonzero(np.diff(kind[order], prepend=-1))
        count = np.diff(np.append(first, len(order)))
        size = _SIZES[np.searchsorted(_SIZES, count)]
        by_size = np.argsort(size, kind="stable")
        pieces, lots, rows = [], list[Lot](), [np.zeros(0, dtype=np.int64)]
        begin = end = low = 0  # the piece's rows, the lot's first kind
        while low < len(by_size):
            links_each = int(size[by_size[low]])
            room = (_AT_ONCE // values - (end - begin)) // links_each
            if room < 1 and lots:
                pieces.append(Piece(slice(begin, end), tuple(lots)))
                lots, begin = [], end
                continue
            alike = int(np.searchsorted(size[by_size], links_each, side="right"))
            high = min(low + max(room, 1), alike)
            here = by_size[low:high]
            number = np.minimum(np.arange(links_each)[:, None], count[here] - 1)
            rows.append((first[here] + number).ravel())
            after = end + links_each * (high - low)
            lots.append(Lot(slice(end - begin, after - begin), links_each, slice(low, high)))
            low, end = high, after
        if lots:
            pieces.append(Piece(slice(begin, end), tuple(lots)))
        return cls(links[order[np.concatenate(rows)]], kind[order[first[by_size]]], tuple(pieces))
