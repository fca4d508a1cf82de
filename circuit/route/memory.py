"""Which lights a chain of links remembers at each light: those that it may not come back to.

In:    a catalogue, how many lights are to be remembered.
Out:   `Memory`: bit masks and how they change from light to light.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from circuit.route.catalogue import Catalogue
from circuit.route.passages import Ints


@dataclass(frozen=True)
class Memory:
    """Which lights are remembered where, as bit masks.

    `near` : (places, G) the lights that each place remembers (0: none). `after` : (places, places, 2**G) the mask
    at the second place, having come from the first with a mask; -1 where the first remembers the second.
    """

    near: Ints
    after: Ints

    @property
    def masks(self) -> int:
        return int(self.after.shape[2])

    def of_visited(self, place: Ints, visited: Ints) -> Ints:
        """The mask at each place when these lights (bit k: light k) have all been passed."""
        masks = np.zeros(len(place), dtype=np.int64)
        for bit in range(self.near.shape[1]):
            light = self.near[place, bit]
            masks |= ((visited >> light) & (light > 0)) << bit
        return masks


def memory_of(catalogue: Catalogue, remembered: int) -> Memory:
    """Each place remembers the nearest lights, as many as said."""
    lights = catalogue.site.lights
    count = len(lights)
    size = max(1, min(remembered, count - 1))
    near = np.zeros((count + 1, size), dtype=np.int64)
    if count > 1:
        apart = np.abs(lights[:, None] - lights[None, :])
        near[1:] = np.argsort(apart, axis=1, kind="stable")[:, 1 : size + 1] + 1
    bit_of = np.full((count + 1, count + 1), -1, dtype=np.int64)  # [place, light]
    for bit in range(size):
        rows = np.flatnonzero(near[:, bit])
        bit_of[rows, near[rows, bit]] = bit
    masks = np.arange(1 << size)
    after = np.zeros((count + 1, count + 1, len(masks)), dtype=np.int64)
    for a in range(count + 1):
        for light, marked in [(a, np.ones(len(masks), dtype=bool))] * (a > 0) + [
            (int(near[a, bit]), (masks >> bit & 1) == 1) for bit in range(size) if near[a, bit]
        ]:
            bits = bit_of[:, light]
            told = np.where(bits >= 0, np.left_shift(1, np.maximum(bits, 0)), 0)
            after[a] |= told[:, None] * marked[None, :]
        for bit in range(size):
            if near[a, bit]:
                after[a, near[a, bit], (masks >> bit & 1) == 1] = -1
    return Memory(near, after)
