"""What one short look at a catalogue shows: that it has no lane, or which lights only a lane's end can reach.

In:    a catalogue.
Out:   `ShortLook`.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from circuit.route.catalogue import Catalogue
from circuit.route.lower_bound import Phase, bound_links
from circuit.route.passages import Ints


@dataclass(frozen=True)
class ShortLook:
    """`none` : that the catalogue has no lane. `dead_ends` : places of lights that nothing leads on from to another
    light, where there are two or more, since a lane has one end only; else empty."""

    none: bool
    dead_ends: Ints


def short_look(catalogue: Catalogue) -> ShortLook:
    """By one pass of the bound."""
    bound, rest = bound_links(catalogue, (Phase(1, 2, np.inf),))
    found, none = _lights_passed_by_nothing(catalogue), not bound.possible
    if bound.possible:
        without = lights_without_way_on(rest)
        found, none = np.union1d(found, without), len(without) > 1
    return ShortLook(none, found if len(found) > 1 else found[:0])


def _lights_passed_by_nothing(catalogue: Catalogue) -> Ints:
    """Places of lights at none of whose passages a link comes in from one place and another leaves for a second one."""
    place, links = catalogue.passages.place, catalogue.links
    shape = (len(place), len(catalogue.site.lights) + 1)
    comes, goes = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    comes[links.dst, place[links.src]] = True
    goes[links.src, place[links.dst]] = True
    # One place to come from and the same alone to go to is no way on.
    on = comes.any(axis=1) & goes.any(axis=1) & ((comes | goes).sum(axis=1) > 1)
    passed = np.zeros(shape[1], dtype=bool)
    passed[place[on]] = True
    return np.flatnonzero(~passed[1:]) + 1


def lights_without_way_on(catalogue: Catalogue) -> Ints:
    """Places of lights that no link leaves: each can only be a lane's last."""
    place = catalogue.passages.place
    leaves = np.zeros(len(catalogue.site.lights) + 1, dtype=bool)
    leaves[place[catalogue.links.src]] = True
    return np.flatnonzero(~leaves[1:]) + 1
