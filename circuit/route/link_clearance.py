"""Whether the lanes of many links keep off other lights, the battery zone and the switch.

In:    which places each link joins, (N,); runs of its midline, (N,) complex [mm].
Out:   (N,) bool.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from circuit.route.passages import Ints
from circuit.route.plane import Bools, Points, dot, point_nearer, unit
from circuit.route.site import Site, under_switch


@dataclass(frozen=True, slots=True)
class Clearance:
    """from_, to : the places that each link joins, 0 the cell. from_cell : all of them begin at the cell."""

    site: Site
    from_: Ints
    to: Ints
    from_cell: bool

    def clear(self, entries: Ints, hinge: Points, corners: tuple[Points, ...]) -> Bools:
        """Whether the lane along these corners keeps off all but its own two places."""
        good = np.ones(len(entries), dtype=bool)
        for number, (a, b) in enumerate(pairwise(corners)):
            first, last = number == 0, number == len(corners) - 2
            rows = np.flatnonzero(good)
            good[rows] = self.of_others(entries[rows], a[rows], b[rows], first=first, last=last)
            if not first:
                rows = np.flatnonzero(good)
                good[rows] = self._of_switch(hinge[rows], a[rows], b[rows])
        return good

    def of_others(
        self, entries: Ints, a: Points, b: Points, *, first: bool = False, last: bool = False
    ) -> Bools:
        """Whether the lane along runs a-b of these entries keeps off other lights' bodies and, but for the end
        run, out of the battery zone. `first`, `last`: runs that start, that end at a passage."""
        good = np.ones(len(a), dtype=bool)
        if not len(a):
            return good
        reach = self.site.past_body
        ahead = unit(b - a)
        if not (first and self.from_cell):
            # Measured on the outer edges, not round the ends: a lane leaving the zone straight
            # out may begin nearer than one that passes by.
            beside = ahead * (1j * self.site.sizes.outer)
            for side in (beside, -beside):
                good &= ~point_nearer(self.site.battery, a + side, b + side, self.site.sizes.zone)
        rows, light = np.nonzero(self._lights_about(entries, a, b) & good[:, None])
        here, ahead, a, b = self.site.lights[light], ahead[rows], a[rows], b[rows]
        meets = point_nearer(here, a, b, self.site.sizes.outer + reach)
        # The lane goes straight on over a light it serves, so a neighbour ahead of a run that ends
        # there, or behind one that starts there, need only keep its own body off the run.
        if first and not self.from_cell:
            meets &= dot(ahead, here - a) > -reach
        if last:
            meets &= dot(ahead, here - b) < reach
        good[rows[meets]] = False
        return good

    def _lights_about(self, entries: Ints, a: Points, b: Points) -> Bools:
        """(N, lights): other lights than these entries' own two that lie near enough to runs a-b to be measured."""
        middle, lights = (a + b) / 2, self.site.lights
        reach = np.abs(b - a) / 2 + (self.site.sizes.outer + self.site.body_reach)
        x, y = middle.real[:, None] - lights.real, middle.imag[:, None] - lights.imag
        near = x * x + y * y < (reach * reach)[:, None]
        row = np.arange(len(entries))
        near[row, self.to[entries] - 1] = False
        if not self.from_cell:
            near[row, self.from_[entries] - 1] = False
        return np.asarray(near)

    def _of_switch(self, hinge: Points, a: Points, b: Points) -> Bools:
        """Whether runs a-b of links from the cell, the end run aside, keep off their own switch's outline."""
        good = np.ones(len(a), dtype=bool)
        if self.from_cell:
            beside = unit(b - a) * (1j * self.site.sizes.outer)
            edges = [np.concatenate([end + beside, end - beside]) for end in (a, b)]
            under = under_switch(self.site, np.concatenate([hinge, hinge]), edges[0], edges[1])
            good = ~(under[: len(a)] | under[len(a) :])
        return good
