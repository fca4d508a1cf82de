"""Yes and no as rows of bits, those of one kind side by side and begun on a byte of their own.

In:    the kind of each column of a matrix; the matrix.
Out:   where each column's bit is, where each kind's bytes begin; the bits.
Fails: never.

A look at the bytes then tells whether any of a kind is set: `np.bitwise_or.reduceat` at the kinds' first bytes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from circuit.route.passages import Ints
from circuit.route.plane import Bools

Bytes = NDArray[np.uint8]
BYTE = 8
ROWS = 1024  # rows looked at together: chosen, a few megabytes


def bits_by_kind(kind: Ints) -> tuple[Ints, Ints, Ints]:
    """(N,) where the bit of each column is, whose (N,) kinds are given; (K,) the kinds; (K + 1,) the first byte of
    each, and the byte after the last one."""
    order = np.argsort(kind, kind="stable")
    kinds, start, size = np.unique(kind[order], return_index=True, return_counts=True)
    head = np.concatenate([[0], np.cumsum(-(-size // BYTE))])
    column = np.empty(len(kind), dtype=np.int64)
    column[order] = np.arange(len(kind)) + np.repeat(head[:-1] * BYTE - start, size)
    return column, kinds, head


def packed(matrix: Bools, column: Ints, size: int, *, rest: bool) -> Bytes:
    """(N, size) bytes of (N, M) yes and no, each of M in its column; `rest` : what bits that stand for nothing say."""
    # Looked up column by column, one more for what stands for nothing: faster than to set each where it belongs.
    from_column = np.full(size * BYTE, matrix.shape[1])
    from_column[column] = np.arange(matrix.shape[1])
    found = np.empty((len(matrix), size), dtype=np.uint8)
    for low in range(0, len(matrix), ROWS):
        rows = matrix[low : low + ROWS]
        rows = np.concatenate([rows, np.full((len(rows), 1), rest)], axis=1).take(from_column, axis=1)
        found[low : low + ROWS] = np.packbits(rows, axis=1, bitorder="little")
    return found
