"""Lanes of crowded cards: links of every kind are looked through, not only the cheapest.

In:    a catalogue; what an earlier search learnt.
Out:   `Solved`, never with a proof.
Fails: never.

Where many lights stand in one another's way, the links that a lane would like best forbid one another, and what goes
on from a light to the next one by a roundabout way is dearer than hundreds of links elsewhere. So of each pair of
lights the cheapest links are kept, and fewer the more there are of that pair; then all clashes between them are
worked out, and chains without a future are given up at once (`circuit.route.full_search`).
"""

from __future__ import annotations

import numpy as np

from circuit.route.catalogue import Catalogue
from circuit.route.chains import Found, rank_among_alike
from circuit.route.full_search import search_all
from circuit.route.lower_bound import NEVER, LowerBound, Phase, bound_links
from circuit.route.passages import Ints
from circuit.route.solve import Proof, Solved, solved_by

# How many links are looked through: first these, and more where that gives a lane, so that it may be a cheaper one, or
# is promising. Measured on 27 of 192 hand-like cards, those that get here: five are laid, two with the first number, as
# cheaply with the second as with any more, all with the third, no other with 6,000.
_LINKS, _WITH_A_LANE, _IF_PROMISING = 3000, 4000, 5000
# Promising is where chains come through more than this share of the lights. On those cards: of the five all do with the
# first number, through 81 % and more; of the 22 that are not laid three do.
_PROMISING = 0.75
_DEARER_MM = 0.5  # chosen: what a link counts as dearer for each one of its pair that is cheaper
# Chosen: of one length and of one state; three times as many found no other card's lane.
_CHAINS, _ALIKE = 2000, 4
# Prices have to be right before links are chosen by them: with half as many steps, a bound that is 100 mm too low.
_PHASES = (Phase(12, 1, 300.0), Phase(12, 2, 200.0), Phase(8, 3, 200.0))


def solve_varied(catalogue: Catalogue, before: Solved, *, effort: int = 1) -> Solved:
    """Lanes among links of every kind. `before` : of a catalogue with the same lights."""
    bound, rest = bound_links(catalogue, _PHASES, before.prices)
    if not bound.possible:
        return Solved(Proof.UNKNOWN, rest)
    found, solved = _among(rest, bound, _LINKS, NEVER / 4, effort)
    if found:
        better, cheaper = _among(rest, bound, _WITH_A_LANE, float(found.costs[0]), effort)
        return cheaper if better else solved
    if found.passed > _PROMISING * len(catalogue.site.lights):
        _, solved = _among(rest, bound, _IF_PROMISING, NEVER / 4, effort)
    return solved


def _among(
    catalogue: Catalogue, bound: LowerBound, links: int, limit: float, effort: int
) -> tuple[Found, Solved]:
    """Lanes that cost up to `limit` among so many links."""
    chosen = np.sort(_of_every_pair(catalogue, bound, links))
    some = catalogue.some(chosen)
    found = search_all(some, bound.of(chosen), limit, most=_CHAINS * effort, alike=_ALIKE * effort)
    return found, solved_by(found, some, proven=False) if found else Solved(Proof.UNKNOWN, some)


def _of_every_pair(catalogue: Catalogue, bound: LowerBound, most: int) -> Ints:
    """So many links, those first that are cheap among the links between the same two lights."""
    links, place = catalogue.links, catalogue.passages.place
    rank = rank_among_alike(place[links.src], place[links.dst], bound.through)
    return np.argsort(bound.through + _DEARER_MM * rank, kind="stable")[:most]
