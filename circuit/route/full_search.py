"""Every lane of a small catalogue: clashes known beforehand, chains without a future given up.

In:    a catalogue and its lower bound.
Out:   `Found`; complete, and so a proof, where nothing had to be cut.
Fails: never.

A chain is dropped if a cheaper one of the same state (lights passed, present passage) forbids no more of what
is left, or if what it forbids leaves no way through the lights ahead (`circuit.route.forbidden`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.chains import Found, Search, by_state, cheapest
from circuit.route.clash_matrix import clash_matrix
from circuit.route.forbidden import Columns, Words, bit
from circuit.route.lower_bound import LowerBound
from circuit.route.passages import Ints

_ALIKE = 40  # chosen: chains of one state; with more the full search takes longer than it is worth
_LOOKED_THROUGH = 3  # of this many times as many steps as may stay, the cheapest are looked at: chosen


def search_all(
    catalogue: Catalogue,
    bound: LowerBound,
    limit: float,
    *,
    most: int,
    alike: int = _ALIKE,
) -> Found:
    """Every lane up to `limit`, unless a level grows beyond `most` chains or a state beyond `alike`."""
    keep = np.flatnonzero(bound.through <= limit + 1e-9)
    small = catalogue.some(keep)
    search = Search(small, bound, limit)
    place, dst = search.place, small.links.dst
    ends = np.unique(dst[small.ends[dst]])
    columns = Columns.of(small, ends)
    forbids = columns.packed(clash_matrix(small, ends), ends)
    useless = _useless_bits(small, ends, columns)
    level, complete = search.begin(), True
    forbidden = np.repeat(
        columns.packed(np.zeros((1, len(keep) + len(ends)), dtype=bool), ends), len(level.cost), axis=0
    )
    for number in range(search.count):
        last = number == search.count - 1
        steps = search.steps(level, number)
        steps = steps.some(~bit(forbidden, steps.parent, columns.link[steps.link]))
        if last:
            column = columns.end[dst[steps.link]]
            steps = steps.some(~(bit(forbidden, steps.parent, column) | bit(forbids, steps.link, column)))
        if len(steps.link) > _LOOKED_THROUGH * most:
            complete = False
            steps = steps.some(cheapest(steps.bound, _LOOKED_THROUGH * most))
        now = forbidden[steps.parent] | forbids[steps.link]
        if not last:
            alive = columns.alive(now, steps.visited, place[dst[steps.link]])
            steps, now = steps.some(alive), now[alive]
        if not len(steps.link):
            return search.nothing(complete, number)
        here = dst[steps.link]
        _forget_useless(now, steps.visited, place[here], useless)
        kept, crowded = _undominated(steps.visited, here, steps.bound, now, alike)
        complete &= not crowded
        if len(kept) > most:
            complete = False
            kept = kept[cheapest(steps.bound[kept], most)]
        level, forbidden = search.level(level, steps.some(kept)), now[kept]
    found = search.found(level, complete)
    return replace(found, chains=keep[found.chains])


def _useless_bits(catalogue: Catalogue, ends: Ints, columns: Columns) -> tuple[Words, Words]:
    """For each place: links that enter it; links that leave it and ends at it."""
    place, links = catalogue.passages.place, catalogue.links
    places = np.arange(len(catalogue.site.lights) + 1)[:, None]
    no_end = np.zeros((len(places), len(ends)), dtype=bool)
    into = np.concatenate([place[links.dst][None, :] == places, no_end], axis=1)
    out_of = np.concatenate([place[links.src][None, :] == places, place[ends][None, :] == places], axis=1)
    return columns.packed(into, ends), columns.packed(out_of, ends)


def _forget_useless(forbidden: Words, visited: Ints, here: Ints, useless: tuple[Words, Words]) -> None:
    """Sets what no longer matters: links into lights passed, links out of those but the present one."""
    into, out_of = useless
    for light in range(1, len(into)):
        passed = np.flatnonzero(visited >> light & 1)
        forbidden[passed] |= into[light]
        left = passed[here[passed] != light]
        forbidden[left] |= out_of[light]


def _undominated(visited: Ints, here: Ints, bound: Floats, forbidden: Words, alike: int) -> tuple[Ints, bool]:
    """Steps that no cheaper one of their state makes needless, and whether more than `alike` had to be cut."""
    order, new = by_state(visited, here, bound)
    state = np.cumsum(new) - 1
    kept: list[Ints] = []
    for _ in range(alike):
        if not len(order):
            return np.sort(np.concatenate(kept)), False
        # The cheapest one left of each state stays, and takes with it all that it makes needless.
        head = np.flatnonzero(np.diff(state, prepend=-1))
        kept.append(order[head])
        leader = np.repeat(head, np.diff(np.append(head, len(order))))
        rest = np.ones(len(order), dtype=bool)
        rest[head] = False
        rows = np.flatnonzero(rest)
        more = (forbidden[order[leader[rows]]] & ~forbidden[order[rows]]).any(axis=1)
        rows = rows[more]
        order, state = order[rows], state[rows]
    return np.sort(np.concatenate(kept)), len(order) > 0
