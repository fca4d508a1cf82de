"""The cheapest lanes of one catalogue: bound, proven search, quick search, in stages.

In:    a catalogue.
Out:   `Solved`: chains of links cheapest first, and what was proven.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.chains import Found
from circuit.route.full_search import search_all
from circuit.route.lower_bound import NEVER, LowerBound, Phase, bound_links
from circuit.route.quick_search import search_some
from circuit.route.room_to_pass import have_room_to_pass
from circuit.route.short_look import lights_without_way_on
from circuit.route.ways_past import with_ways_past


class Proof(Enum):
    """What is known of a catalogue's lanes."""

    BEST = "no cheaper lane exists in the catalogue"
    FOUND = "a lane was found; a cheaper one may exist"
    NONE = "the catalogue has no lane"
    UNKNOWN = "no lane was found"


@dataclass(frozen=True)
class Solved:
    """Chains of links of `catalogue` (fewer links than were given), cheapest first, and their costs. `prices` : those
    that the bound ended with, and `least`, the bound: good to begin with on a catalogue much like this one."""

    proof: Proof
    catalogue: Catalogue
    chains: Sequence[Sequence[int]] = ()
    costs: Sequence[float] = ()
    prices: Floats | None = None
    least: float = -np.inf


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to look, in counted steps and never in seconds, so that an answer repeats.

    `phases` : of the bound. `links` : how many of those nearest to the bound the proven search looks through, in turn,
    up to `gap_mm` above it. `widths` : of the quick search, in turn. `most_chains` : that the proven search keeps of
    one length. `alike`, `same_light` : that the quick search keeps of one state. `prove` : whether what the quick
    search found is to be proven, too.
    """

    phases: tuple[Phase, ...]
    gap_mm: float
    links: tuple[int, ...]
    widths: tuple[int, ...]
    most_chains: int = 8000
    alike: int = 4
    same_light: int = 60
    prove: bool = True

    def times(self, effort: int) -> Effort:
        """The same search, that many times as broad."""
        return replace(
            self,
            widths=tuple(width * effort for width in self.widths),
            most_chains=self.most_chains * effort,
            alike=self.alike * min(effort, 4),
            same_light=self.same_light * effort,
        )


# Chosen, from a trial on 120 cards: most lanes lie within 10 mm of the bound, nearly all within 30.
NARROW = Effort(
    phases=(Phase(8, 1, 80.0), Phase(12, 2, 45.0), Phase(8, 4, 30.0), Phase(5, 6, 25.0)),
    gap_mm=20.0,
    links=(300, 1000),
    widths=(3000,),
)
BRIEF = replace(NARROW, links=(300, 600), widths=(1500,))
# For who only wants to know whether there is one.
LOOK = replace(NARROW, links=(300,), widths=(1500,), prove=False)
# For plain links, before roundabout ones are made: most cards that are laid at all are laid by this.
GLANCE = replace(LOOK, phases=(Phase(6, 1, 80.0), Phase(6, 3, 40.0)), widths=(300,))
# Where plain links give no lane, the bound tells little: far more is kept, and fewer lights are remembered with it.
FURTHER = Effort(
    phases=(Phase(4, 2, 100.0), Phase(6, 4, 80.0)),
    gap_mm=60.0,
    links=(300, 1000),
    widths=(2500,),
)
# Chosen: with more, so much can be laid that a proof of the best lane hardly ever comes about.
_MOST_LIGHTS_PROVEN = 14
_QUICK_GAP_MM = 200.0  # the quick search may go on to anything that the bound left in: chosen


def solve(
    catalogue: Catalogue,
    efforts: Sequence[Effort],
    below: float = np.inf,
    before: Solved | None = None,
) -> Solved:
    """Lanes of the catalogue that cost less than `below`, looked for with one effort after the other until one
    gives any. `before` : of a catalogue like this one, to learn from."""
    rest, prices = catalogue, None if before is None else before.prices
    least = -np.inf if before is None else before.least
    for effort in efforts:
        for wider in _WIDER:
            # Prices learnt before are good to begin with.
            share = 1 if prices is None else 2
            phases = [
                Phase(-(-phase.steps // share), phase.remembered, phase.keep_mm * wider)
                for phase in effort.phases
            ]
            bound, rest = bound_links(catalogue, phases, prices, below, least + effort.gap_mm)
            prices = bound.prices
            least = bound.value if bound.possible else least
            if bound.possible or np.isinf(bound.within) or bound.within >= below:
                break
        if not bound.possible:
            proof = Proof.NONE if np.isinf(min(bound.within, below)) else Proof.UNKNOWN
            return Solved(proof, rest, prices=prices, least=least)
        solved = replace(_search(rest, bound, effort), prices=prices, least=least)
        if solved.proof is not Proof.UNKNOWN:
            return solved
    return Solved(Proof.UNKNOWN, rest, prices=prices, least=least)


# A bound that starts low, as where lights lie far apart, drops too much; then it is worked out again with this many
# times as much kept. Chosen.
_WIDER = (1.0, 4.0, np.inf)


def _search(catalogue: Catalogue, bound: LowerBound, effort: Effort) -> Solved:
    """The proven search where few links are left, else the quick one and then a proof of what it found."""
    ranked = np.sort(bound.through)
    limit = -np.inf
    for links in effort.links:
        whole = len(ranked) <= links
        last, limit = (
            limit,
            min(bound.value + effort.gap_mm, bound.within, np.inf if whole else _below(ranked[links])),
        )
        if limit <= max(last, bound.value):
            break
        found = search_all(catalogue, bound, limit, most=effort.most_chains)
        if found:
            return solved_by(found, catalogue, proven=found.complete)
        if found.complete and np.isinf(bound.within) and limit >= ranked[-1]:
            return Solved(Proof.NONE, catalogue)
    for width in effort.widths:
        limit = min(bound.value + _QUICK_GAP_MM, bound.within)
        some = search_some(
            catalogue, bound, limit, most=width, alike=effort.alike, same_light=effort.same_light
        )
        if some and effort.prove and len(catalogue.site.lights) <= _MOST_LIGHTS_PROVEN:
            return _better(catalogue, bound, some, effort)
        if some:
            return solved_by(some, catalogue, proven=False)
    return Solved(Proof.UNKNOWN, catalogue)


def _below(cost: float) -> float:
    """A little less, so that rounding brings nothing dearer in."""
    return cost - 1e-6


def _better(catalogue: Catalogue, bound: LowerBound, some: Found, effort: Effort) -> Solved:
    """The lane found says how far a proof has to look."""
    cost = float(some.costs[0])
    if cost > bound.within:
        return solved_by(some, catalogue, proven=False)
    closer, rest = bound_links(catalogue, _PROOF_PHASES, bound.prices, cost + _ROUNDING_MM)
    if not closer.possible:
        return solved_by(some, catalogue, proven=True)
    if len(rest.links) <= _BEST_LINKS:
        useful = np.flatnonzero(have_room_to_pass(rest))
        rest, closer = rest.some(useful), closer.of(useful)
        found = search_all(rest, closer, cost, most=effort.most_chains)
        if found:
            return solved_by(found, rest, proven=found.complete)
    return solved_by(some, catalogue, proven=False)


# With the cost of a lane to go by, links are dropped without losing a proof, and the fewer are left the more lights can
# be remembered: chosen.
_PROOF_PHASES = (Phase(6, 5, np.inf), Phase(6, 7, np.inf), Phase(6, 9, np.inf))
_BEST_LINKS = 4000  # chosen: with more, clashes take a second, and no proof has come of it
_ROUNDING_MM = 0.01  # so that the lane found stays within what is looked through


def solved_by(found: Found, catalogue: Catalogue, *, proven: bool) -> Solved:
    """The chains that a search found. `proven` : that none is cheaper."""
    proof = Proof.BEST if proven else Proof.FOUND
    chains = [[int(link) for link in chain] for chain in found.chains]
    return Solved(proof, catalogue, chains, [float(cost) for cost in found.costs])


# To prove that there is no lane nothing may be dropped for its cost; what no chain goes through goes, and the
# fewer links are left the more lights are remembered. Chosen, to stay within a second.
_PROOF_REMEMBERED = (1, 3, 5, 7)
_PROOF_STATES = 3_000_000  # links times masks
# Links of which all clashes are worked out, times the effort: chosen, they take a second.
_PROOF_LINKS = 5500
_MOST_PROOF_LINKS = 10_000  # chosen: what is known of all pairs takes half a gigabyte
# Links beside which it is asked whether each light has room: chosen, with more it takes two seconds and hardly ever
# leaves few enough.
_ROOM_LINKS = 20_000
_WORTH_ANOTHER = 0.8  # of the links left: chosen; while so many go, others may follow
_PROOF_CHAINS = 8000
_PROOF_ALIKE = 100


def has_lane(catalogue: Catalogue, *, effort: int = 1) -> Proof:
    """NONE where the catalogue is proven to have no lane, FOUND where it has one, else UNKNOWN."""
    bound, rest = _on_some_chain(catalogue)
    bound, rest = _again(bound, rest, _with_room, _ROOM_LINKS)
    most = min(_PROOF_LINKS * effort, _MOST_PROOF_LINKS)
    bound, rest = _again(bound, rest, with_ways_past, most)
    if not bound.possible:
        return Proof.NONE
    if len(rest.links) > most:
        return Proof.UNKNOWN
    found = search_all(rest, bound, NEVER / 4, most=_PROOF_CHAINS, alike=_PROOF_ALIKE)
    if found:
        return Proof.FOUND
    return Proof.NONE if found.complete else Proof.UNKNOWN


def _again(
    bound: LowerBound, rest: Catalogue, without_useless: Callable[[Catalogue], Catalogue], most: int
) -> tuple[LowerBound, Catalogue]:
    """Without links that are of no use, and those that lie on no chain then, as long as many go; not where there are
    more than `most`."""
    while bound.possible and len(rest.links) <= most:
        before = len(rest.links)
        bound, rest = _on_some_chain(without_useless(rest))
        if len(rest.links) > _WORTH_ANOTHER * before:
            break
    return bound, rest


def _with_room(catalogue: Catalogue) -> Catalogue:
    return catalogue.some(have_room_to_pass(catalogue))


def _on_some_chain(catalogue: Catalogue) -> tuple[LowerBound, Catalogue]:
    """The links that lie on a chain through all lights; the bound is not `possible` where there is none."""
    for remembered in _PROOF_REMEMBERED:
        if remembered > 1 and len(catalogue.links) << remembered > _PROOF_STATES:
            break
        bound, catalogue = bound_links(catalogue, (Phase(1, remembered, np.inf),))
        if bound.possible and len(lights_without_way_on(catalogue)) > 1:
            bound = replace(bound, possible=False)
        if not bound.possible:
            break
    return bound, catalogue
