"""Links: stretches of lane from one passage to the next, as flat arrays.

A link is a straight run, or one fold where the two headings' lines meet, or two folds with a straight
run between. It keeps every rule that can be judged by looking at it alone; how two links get on
is in `circuit.route.clash`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.route.passages import Ints, Passages
from circuit.route.plane import Points


@dataclass(frozen=True, slots=True)
class Links:
    """N links. `src`, `dst` : passages. `cost` : mm of lane and the price of folds. `folds` : 0 to 2, how many of
    `first`, `second` (midline points) count. `lacks` : how much straight tape is missing before or after
    a fold [mm]; a link with any is a hint for a closer look, never part of a finished lane."""

    src: Ints
    dst: Ints
    cost: Floats
    folds: NDArray[np.int8]
    first: Points
    second: Points
    lacks: Floats

    def __len__(self) -> int:
        return len(self.src)

    def some(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> Links:
        """Those links, (N,) numbers or flags, in that order."""
        return Links(*(getattr(self, name)[which] for name in self.__slots__))

    def renumbered(self, by: int) -> Links:
        """The same links when that many passages come before theirs."""
        return replace(self, src=self.src + by, dst=self.dst + by)

    def walked_back(self, passages: Passages) -> Links:
        """The same stretches walked the other way; every passage must have its opposite."""
        back = passages.turned_about()
        return Links(
            back[self.dst], back[self.src], self.cost, self.folds, self.second, self.first, self.lacks
        )


def all_of(parts: Sequence[Links]) -> Links:
    """Links of one or more parts together."""
    return Links(*(np.concatenate([getattr(part, name) for part in parts]) for name in Links.__slots__))
