"""The search for one lane, from plain links to roundabout ones, from few passages to many.

In:    a `Site`, the length below which a lane is short enough, how long to look.
Out:   `Outcome`: the best lane that holds, or none and what was proven.
Fails: never.

    plain     straight runs, one fold, two folds as near to the lights as may be
    hooks     two folds that lead further round
    lacking   links that miss up to 1.2 mm of straight tape; turning a heading may mend them
    closer    along the best orders, many more passages round those found

Each stage is looked through by `circuit.route.solve`; later ones only where the earlier gave no lane, or a long one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from circuit.route.catalogue import Catalogue, Network, catalogues_along
from circuit.route.closer import closer_passages, order_of
from circuit.route.lane import Lane, clashes
from circuit.route.lower_bound import Phase
from circuit.route.passages import Ints
from circuit.route.short_look import ShortLook, short_look
from circuit.route.site import Site
from circuit.route.solve import (
    BRIEF,
    FURTHER,
    GLANCE,
    LOOK,
    NARROW,
    Effort,
    Proof,
    Solved,
    has_lane,
    solve,
)
from circuit.route.varied import solve_varied

ORDERS = 3  # looked at closer: chosen, the coarse best order is now and then not the best one
CLOSEST = 2  # of those, looked at closer still: chosen
HOPE_MM = 12.0  # chosen: what looking closer may still take off a rough lane's cost
WORSE_MM = 0.5  # what plain links may cost more than the lane that is looked closer at: chosen
CLOSER = ((12.0, 3), (3.0, 2), (0.8, 2))  # chosen: degrees either way, steps to each side
# Along one order few links are left: chosen so that a closer look takes some 50 ms.
ALONG = Effort(
    phases=(Phase(1, 1, 12.0),),
    gap_mm=11.0,
    links=(300, 800),
    widths=(800,),
    most_chains=2000,
    alike=2,
    same_light=100,
    prove=False,
)
ALONG_WIDE = replace(ALONG, phases=(Phase(1, 3, 60.0),), gap_mm=60.0)


@dataclass(frozen=True)
class NoLane:
    """`proven` : that there is none. `dead_ends` : places of lights each of which could only be a lane's last, where
    that is what rules it out, or seems to."""

    proven: bool
    dead_ends: Ints


@dataclass(frozen=True)
class Outcome:
    """`lane` : holds every rule the router knows, or None. `proof` : BEST, it came from the cheapest lane of the
    catalogue that it was found in. `solved` : where none was found, what the search ended with; `none` : and what is
    known of there being none."""

    lane: Lane | None
    proof: Proof
    solved: Solved | None = None
    none: NoLane | None = None


# What closer looks found, by the site, how close, the order and the ways through it.
Closer = dict[tuple[object, ...], Solved | None]


class _Best:
    """The cheapest lane so far."""

    def __init__(self, site: Site, closer: Closer) -> None:
        self.site, self.closer = site, closer
        self.lane: Lane | None = None
        self.cost = float("inf")

    def note(self, catalogue: Catalogue, chain: Sequence[int]) -> None:
        lane = catalogue.lane(chain)
        cost = lane.length + self.site.prices.fold * lane.folds
        if lane.lacks <= 0 and cost < self.cost and not clashes(lane, self.site):
            self.lane, self.cost = lane, cost


def find_lane(network: Network, site: Site, enough_mm: float, *, effort: int = 1) -> Outcome:
    """The best lane found; one of at most `enough_mm` ends the search."""
    best = _Best(site, network.looked_closer)
    plain = solve(_whole(network.catalogue(site, hooks=False)), (BRIEF.times(effort),))
    _look_closer(best, plain)
    proof, solved = plain.proof, plain
    if best.lane is None or best.lane.length > enough_mm:
        solved = _look_further(best, network, site, effort, plain)
        proof = proof if plain.chains else solved.proof
    if best.lane is None:
        return Outcome(None, Proof.UNKNOWN, solved)
    return Outcome(best.lane, Proof.BEST if proof is Proof.BEST else Proof.FOUND)


def _look_further(best: _Best, network: Network, site: Site, effort: int, plain: Solved) -> Solved:
    """With roundabout links; where no lane is known, by a longer search too."""
    hooked = network.catalogue(site, hooks=True)
    if best.lane is None and _short_look(network, site).none:
        return replace(plain, proof=Proof.UNKNOWN, catalogue=hooked, chains=(), costs=())
    below = min(plain.costs, default=np.inf)
    solved = solve(hooked, ((NARROW if plain.chains else FURTHER).times(effort),), below, plain)
    _look_closer(best, solved)
    if best.lane is None and solved.chains:
        # All that was found lacks straight tape which could not be won: now without such links.
        solved = solve(_whole(hooked), (FURTHER.times(effort),), before=solved)
        _look_closer(best, solved)
    if best.lane is None:
        # Whatever a quick look finds is found by a long one: a narrow search with links that lack straight tape goes
        # other ways now and then.
        _look_closer(best, solve(network.catalogue(site, hooks=False), (GLANCE,)), soon=True)
    return solved


def look_harder(network: Network, site: Site, before: Solved, *, effort: int = 1) -> Outcome:
    """What `find_lane` did not find, among links of every kind. `before` : what that ended with."""
    best, hooked = _Best(site, network.looked_closer), network.catalogue(site, hooks=True)
    if not _short_look(network, site).none:
        _look_closer(best, solve_varied(hooked, before, effort=effort))
    return Outcome(best.lane, Proof.UNKNOWN if best.lane is None else Proof.FOUND, before)


def find_any_lane(
    network: Network, site: Site, before: Solved | None = None, *, hooks: bool = True, soon: bool = False
) -> Lane | None:
    """Some lane, with `hooks` of roundabout links too, without looking long. `before` : of the same lights, to learn
    from. `soon` : the first one that holds will do, and roundabout links, which take most of the time, are made only
    where plain ones give none."""
    best = _Best(site, network.looked_closer)
    if soon and hooks:
        before = solve(network.catalogue(site, hooks=False), (GLANCE,), before=before)
        _look_closer(best, before, soon=True)
    known = network.short_looks.values()
    if known and all(look.none for look in known) and _short_look(network, site).none:
        return None  # nor is there one, it seems, with this switch
    if best.lane is None:
        solved = solve(network.catalogue(site, hooks=hooks), (LOOK,), before=before)
        _look_closer(best, solved, soon=soon)
    return best.lane


def _whole(catalogue: Catalogue) -> Catalogue:
    """Without links that lack straight tape."""
    return catalogue.some(catalogue.links.lacks <= 0)


def no_lane(network: Network, site: Site, roomiest: Site, *, effort: int = 1) -> NoLane:
    """Whether it is proven that no lane with room for the `roomiest` site's switch, which leaves more ways open than
    `site`, exists which has at most two folds between lights next to one another on it.

    Proven for the passages and turns that the router knows, its few ways out of the cell for each passage, all pairs
    of lights, and as near to other lights as their bodies allow; links that miss up to 1.2 mm of straight tape count
    as whole.
    """
    look = _short_look(network, site)
    if look.none:
        look = _short_look(network, roomiest)
    near = network.catalogue(site, hooks=True)
    many = len(near.links) > _PROOF_LINKS * effort
    if many and not (look.none or short_look(_as_good_as_whole(near)).none):
        return NoLane(False, look.dead_ends)
    narrow = replace(roomiest, narrow=True)
    all_pairs = _as_good_as_whole(Network(narrow, every_pair=True).catalogue(narrow, hooks=True))
    if has_lane(all_pairs, effort=effort) is Proof.NONE:
        return NoLane(True, short_look(all_pairs).dead_ends)
    return NoLane(False, _short_look(network, roomiest).dead_ends)


def _as_good_as_whole(catalogue: Catalogue) -> Catalogue:
    """Without links that lack more than finer turns may mend."""
    return catalogue.some(catalogue.links.lacks <= _AS_GOOD_AS_WHOLE_MM)


def _short_look(network: Network, site: Site) -> ShortLook:
    """At links of every kind; taken once."""
    if site not in network.short_looks:
        network.short_looks[site] = short_look(network.catalogue(site, hooks=True))
    look: ShortLook = network.short_looks[site]
    return look


# What finer turns, and passing a light beside its middle, may mend from one light to the next. Measured: with 0.9 mm a
# ring of twelve lights that can be laid was said to have no lane; with this none of 93 laid cards, nor of 7 whose marks
# were moved just so far that they can be laid.
_AS_GOOD_AS_WHOLE_MM = 1.2
# Times the effort; chosen: with more, too many are left for a proof, but where a short look suggests it. In hand-like
# cards with fewer the lights lie in one or two clusters.
_PROOF_LINKS = 11_000


def _look_closer(best: _Best, solved: Solved, *, soon: bool = False) -> None:
    """The cheapest lane of each of the cheapest orders, among many more passages near its own; or `soon` the first
    that holds."""
    looked: list[tuple[float, int, Catalogue, Sequence[int]]] = []
    for chain in _orders(solved):
        best.note(solved.catalogue, chain)
    for number, chain in enumerate(_orders(solved)):
        if soon and best.lane is not None:
            return
        # Once a lane is known, one that is dearer than it by more than looking closer may take off is of no use.
        below = np.inf if best.lane is None else min((cost + HOPE_MM for cost, *_ in looked), default=np.inf)
        closer = _closer(solved.catalogue, chain, *CLOSER[0], best.closer, below)
        if closer is not None:
            best.note(closer.catalogue, closer.chains[0])
            looked.append((closer.costs[0], number, closer.catalogue, closer.chains[0]))
    looked.sort(key=lambda item: item[:2])
    for cost, _, catalogue, chain in looked[:CLOSEST]:
        if cost > looked[0][0] + HOPE_MM / 2:
            break
        for spread_deg, steps in CLOSER[1:]:
            if soon and best.lane is not None:
                return
            closer = _closer(catalogue, chain, spread_deg, steps, best.closer)
            if closer is None:
                break
            catalogue, chain = closer.catalogue, closer.chains[0]
            best.note(catalogue, chain)


def _orders(solved: Solved) -> list[Sequence[int]]:
    """The cheapest chain of each of the cheapest orders of lights."""
    seen: set[tuple[int, ...]] = set()
    found: list[Sequence[int]] = []
    for cost, chain in zip(solved.costs, solved.chains, strict=True):
        order = order_of(solved.catalogue, chain)
        if order in seen:
            continue
        if len(found) == ORDERS or cost > solved.costs[0] + HOPE_MM:
            break
        seen.add(order)
        found.append(chain)
    return found


def _closer(
    catalogue: Catalogue,
    chain: Sequence[int],
    spread_deg: float,
    steps: int,
    known: Closer,
    below: float = np.inf,
) -> Solved | None:
    """The same order among more passages; None where nothing was found that costs less than `below`. `known` : what
    was found before."""
    cost = float(catalogue.links.cost[list(chain)].sum())
    picked = catalogue.links.src[chain[0]], *catalogue.links.dst[list(chain)]
    ways = (*catalogue.passages.at[list(picked)].tolist(), *catalogue.passages.ahead[list(picked)].tolist())
    key = (catalogue.site, spread_deg, steps, order_of(catalogue, chain), ways, cost, below)
    if key not in known:
        known[key] = _along(catalogue, chain, spread_deg, steps, cost, below)
    return known[key]


def _along(
    catalogue: Catalogue, chain: Sequence[int], spread_deg: float, steps: int, cost: float, below: float
) -> Solved | None:
    site, passages = closer_passages(catalogue, chain, spread_deg, steps)
    if not (passages.place == 0).any():
        return None
    solved = None
    costs = catalogue.links.cost[list(chain)]
    for along in catalogues_along(site, passages, order_of(catalogue, chain), costs):
        solved = solve(along, (ALONG, ALONG_WIDE), below)
        if solved.chains and solved.costs[0] <= cost + WORSE_MM:
            break
    return solved if solved is not None and solved.chains else None
