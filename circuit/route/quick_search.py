"""Some lanes of a catalogue, soon: clashes are measured as they are met, and few chains of each state are kept.

In:    a catalogue and its lower bound.
Out:   `Found`, never complete.
Fails: never.
"""

from __future__ import annotations

import numpy as np

from circuit.route.catalogue import Catalogue
from circuit.route.chains import Found, Level, Search, Steps, cheapest, no_steps, ranked_below
from circuit.route.clash import ends_clash, links_clash
from circuit.route.lower_bound import LowerBound
from circuit.route.passages import Ints
from circuit.route.plane import Bools

_WORD = 64  # bits of a machine word
_ALIKE = 4  # chosen: the short search keeps variety rather than near copies of one chain
_SAME_LIGHT = 60  # chosen: chains that end on one light after the same others, over all passages of it


def search_some(
    catalogue: Catalogue,
    bound: LowerBound,
    limit: float,
    *,
    most: int,
    alike: int = _ALIKE,
    same_light: int = _SAME_LIGHT,
) -> Found:
    """Lanes up to `limit` among the `most` cheapest chains of each length, of which few share a state: `alike` of
    the same passage, `same_light` of the same light after the same others."""
    search = Search(catalogue, bound, limit)
    level = search.begin()
    for number in range(search.count):
        steps = search.steps(level, number)
        steps = steps.some(cheapest(steps.bound, _LOOKED_THROUGH * most))
        steps = steps.some(ranked_below(steps, catalogue.links.dst[steps.link], _LOOKED_THROUGH * alike))
        kept = no_steps()
        for low in range(0, len(steps.link), most):
            # Cheapest first, and no more than are needed: measuring clashes is what costs.
            some = steps.some(slice(low, low + most))
            some = some.some(_clear_so_far(search, level, some))
            if number == search.count - 1:
                some = some.some(_clear_at_end(search, level, some))
            kept = kept.and_more(some)
            here = catalogue.links.dst[kept.link]
            kept = kept.some(ranked_below(kept, here, alike))
            kept = kept.some(ranked_below(kept, search.place[catalogue.links.dst[kept.link]], same_light))
            if len(kept.link) >= most:
                break
        kept = kept.some(slice(0, most))
        if not len(kept.link):
            return search.nothing(False, number)
        level = search.level(level, kept)
    return search.found(level, False)


# Of this many times as many steps as may stay, the cheapest, clashes are measured: chosen.
_LOOKED_THROUGH = 6


def _clear_so_far(search: Search, level: Level, steps: Steps) -> Bools:
    """Which steps' links clash with none of their chain's."""
    length = level.chain.shape[1]
    good = np.ones(len(steps.link), dtype=bool)
    if not length or not len(good):
        return good
    earlier = level.chain[steps.parent].ravel()
    later = np.repeat(steps.link, length)
    first, like = _first_of_each(earlier * len(search.links) + later)
    bad = np.zeros(len(later), dtype=bool)
    bad[first] = links_clash(search.catalogue, earlier[first], later[first])
    return np.asarray(~bad[like].reshape(-1, length).any(axis=1))


def _first_of_each(keys: Ints) -> tuple[Ints, Ints]:
    """Places of `keys` that stand for all others, and for each key a place among them with the same key.

    By a table of hashed keys, several times as fast as sorting. Where two keys share an entry, the one that
    did not get it stands for itself: then a key may stand there more than once.
    """
    bits = max(len(keys).bit_length() + 1, 1)
    entry = ((keys.astype(np.uint64) * _MIXER) >> np.uint64(_WORD - bits)).astype(np.int64)
    table = np.zeros(1 << bits, dtype=np.int64)
    places = np.arange(len(keys))
    table[entry] = places
    like = table[entry]
    like = np.where(keys[like] == keys, like, places)
    return np.flatnonzero(like == places), like


_MIXER = np.uint64(0x9E3779B97F4A7C15)  # 2**64 over the golden ratio (Knuth, Sorting and Searching, 6.4)


def _clear_at_end(search: Search, level: Level, steps: Steps) -> Bools:
    """Which steps end the lane clear of the chain's links."""
    chain = np.concatenate([level.chain[steps.parent], steps.link[:, None]], axis=1)
    end = np.repeat(search.links.dst[steps.link], chain.shape[1])
    return np.asarray(~ends_clash(search.catalogue, end, chain.ravel()).reshape(chain.shape).any(axis=1))
