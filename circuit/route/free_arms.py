"""How far a lane can go straight on from each passage before it comes upon another light.

In:    the passages, the site.
Out:   `FreeArms`: the longest arm that a link may have at its passage.
Fails: never.

In a crowded card most passages have less room than a fold asks for, so most pairs of them need not be looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.route.passages import Ints, Passages
from circuit.route.plane import Points
from circuit.route.site import Site

_ROUNDING_MM = 1e-6


@dataclass(frozen=True)
class FreeArms:
    """(passages,) arms [mm] up to the first light in the way, which light that is, and arms up to the second one."""

    to_first: Floats
    first: Ints
    to_second: Floats

    @classmethod
    def of(cls, passages: Passages, site: Site, *, ahead: bool) -> FreeArms:
        """Ahead of the passages or back from them."""
        if not len(site.lights):
            return cls(
                np.zeros(len(passages)), np.zeros(len(passages), dtype=np.int64), np.zeros(len(passages))
            )
        arms = _arms(passages, site, passages.ahead if ahead else -passages.ahead)
        every, first = np.arange(len(passages)), arms.argmin(axis=1)
        to_first = arms[every, first]
        arms[every, first] = np.inf
        return cls(to_first, first + 1, arms.min(axis=1))

    def towards(self, passage: Ints, place: Ints) -> Floats:
        """(N,) the longest arms at these passages of links to, or from, these places, which are in nobody's way."""
        return np.where(self.first[passage] == place, self.to_second[passage], self.to_first[passage])


def _arms(passages: Passages, site: Site, heading: Points) -> Floats:
    """(passages, lights) how long a straight run may be before it comes too close to each light but its own, by the
    same measure as `Clearance.of_others`."""
    near = site.sizes.outer + site.past_body
    seen = (site.lights - passages.at[:, None]) * np.conj(heading)[:, None]
    half = np.sqrt(np.maximum(near**2 - seen.imag**2, 0.0))
    meets = (np.abs(seen.imag) < near) & (seen.real > -site.past_body) & (seen.real + half > 0)
    meets &= passages.place[:, None] != np.arange(1, len(site.lights) + 1)
    return np.where(meets, seen.real - half + _ROUNDING_MM, np.inf)
