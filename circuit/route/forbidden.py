"""What a chain of links forbids, as bits, and whether what is left still leads through every light.

In:    a catalogue and its clash matrix.
Out:   rows of bits, one for each chain; `Columns` tells what they say.
Fails: never.

Bits of links between the same two lights stand together, each lot begun on a byte of its own, so that a look at the
bytes tells whether any way from the one light to the other is left. A chain is dead

    when a light ahead can't be come to any more from where it is, over links that are left,
    when no light ahead is left that it could end at,
    or when two lights ahead can't be left any more, or one that can't be the last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.route.bits import BYTE, ROWS, bits_by_kind, packed
from circuit.route.catalogue import Catalogue
from circuit.route.passages import Ints
from circuit.route.plane import Bools

Words = NDArray[np.uint64]
_WORD = 64


@dataclass(frozen=True)
class Columns:
    """Where each link's bit is, and the bit of each passage where the lane might end (-1: none).

    `heads` : the first byte of each lot; `src`, `dst` : the lots' lights, the ends' lots at the end of `src`.
    """

    link: Ints
    end: Ints
    words: int
    heads: Ints
    src: Ints
    dst: Ints
    places: int

    @classmethod
    def of(cls, catalogue: Catalogue, ends: Ints) -> Columns:
        place, links = catalogue.passages.place, catalogue.links
        places = len(catalogue.site.lights) + 1
        lots = np.concatenate([place[links.src] * places + place[links.dst], places**2 + place[ends]])
        column, kinds, head = bits_by_kind(lots)
        end = np.full(len(place), -1)
        end[ends] = column[len(links) :]
        between = kinds < places**2
        src = np.where(between, kinds // places, kinds - places**2)
        return cls(
            column[: len(links)],
            end,
            max(1, -(-int(head[-1]) * BYTE // _WORD)),
            head[:-1],
            src,
            kinds[between] % places,
            places,
        )

    def packed(self, matrix: Bools, ends: Ints) -> Words:
        """Rows of (links + ends) yes and no as bits; what stands for nothing is set."""
        column = np.concatenate([self.link, self.end[ends]])
        return packed(matrix, column, self.words * _WORD // BYTE, rest=True).view(np.uint64)

    def alive(self, forbidden: Words, visited: Ints, here: Ints) -> Bools:
        """Which chains may still become lanes; `here` : the light that each has come to."""
        good = np.zeros(len(visited), dtype=bool)
        for low in range(0, len(visited), ROWS):
            rows = slice(low, low + ROWS)
            good[rows] = self._alive(forbidden[rows], visited[rows], here[rows])
        return good

    def _alive(self, forbidden: Words, visited: Ints, here: Ints) -> Bools:
        left = np.bitwise_or.reduceat((~forbidden).view(np.uint8), self.heads, axis=1) != 0
        between = len(self.dst)
        weights = np.zeros((between, self.places))
        weights[np.arange(between), self.src[:between]] = np.exp2(self.dst)
        # Of each light: bits of the next.
        onward = (left[:, :between].astype(float) @ weights).astype(np.int64)
        may_end = (left[:, between:] * np.left_shift(1, self.src[between:])).sum(axis=1)
        ahead = ((1 << self.places) - 2) & ~visited
        reached = np.left_shift(1, here)
        for _ in range(self.places):
            before = reached.copy()
            for place in range(1, self.places):
                reached |= np.where(reached >> place & 1, onward[:, place], 0)
            if np.array_equal(before, reached):
                break
        leads_on = np.zeros(len(visited), dtype=np.int64)
        for place in range(1, self.places):
            leads_on |= np.where(onward[:, place] & ahead, 1 << place, 0)
        stuck = ahead & ~leads_on
        good = (ahead & ~reached) == 0
        good &= (stuck & (stuck - 1)) == 0  # one at most
        good &= (stuck & ~may_end) == 0
        return np.asarray(good & ((ahead & may_end) != 0))


def bit(words: Words, row: Ints, column: Ints) -> Bools:
    """The bit of each row in its column."""
    word = words[row, column // _WORD]
    return np.asarray((word >> (column % _WORD).astype(np.uint64)) & np.uint64(1), dtype=bool)
