"""What the router says is best, or not there at all, against a search that tries everything."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.route.catalogue import made_of
from circuit.route.clash import body_in_tapes, ends_clash, links_clash
from circuit.route.clash_matrix import clash_matrix
from circuit.route.lane import as_complex, clashes
from circuit.route.link_builder import links_between
from circuit.route.lower_bound import Phase, bound_links
from circuit.route.passages import Passages, begin_at, switch_fits
from circuit.route.room_to_pass import have_room_to_pass
from circuit.route.short_look import lights_without_way_on, short_look
from circuit.route.site import Site
from circuit.route.sizes import sizes_for
from circuit.route.solve import FURTHER, NARROW, Proof, has_lane, solve
from circuit.route.switch_shape import switch_shape
from circuit.route.varied import solve_varied
from circuit.route.ways_past import with_ways_past
from circuit.settings import Settings

DEFAULTS = Settings()


def small_catalogue(places, battery, card, headings, turn=0.0, *, narrow=False):
    """Few headings a light, so that every chain of links can be tried."""
    layout = Layout(
        Card(*card),
        tuple(LightMark(f"L{i}", *xy) for i, xy in enumerate(places)),
        BatteryMark(*battery, 20.4),
    )
    site = Site(
        as_complex(places),
        complex(*battery),
        sizes_for(layout, DEFAULTS, 2.5),
        switch_shape(DEFAULTS),
        narrow=narrow,
    )
    fan = np.exp(1j * (turn + 2 * np.pi * np.arange(headings) / headings))
    rows = [[(begin_at(0.0, complex(h), site), complex(h), -1) for h in fan]]
    rows[0] = switch_fits(rows[0], site)
    rows += [[(complex(*xy), complex(h), -1) for h in fan] for xy in places]
    passages = Passages.of(rows)
    src, dst = (x.ravel() for x in np.indices((len(passages), len(passages))))
    able = (passages.place[dst] > 0) & (passages.place[src] != passages.place[dst])
    return made_of(site, passages, [links_between(passages, src[able], dst[able], site, hooks=True)])


def every_chain(catalogue):
    """All chains of links that visit every light once and may end where they do, cheapest first."""
    links, place = catalogue.links, catalogue.passages.place
    after = [np.flatnonzero(links.src == passage) for passage in range(len(place))]
    chains = [([], passage, 0) for passage in np.flatnonzero(place == 0)]
    for _ in range(len(catalogue.site.lights)):
        chains = [
            ([*chain, int(link)], links.dst[link], seen | 1 << place[links.dst[link]])
            for chain, passage, seen in chains
            for link in after[passage]
            if not seen >> place[links.dst[link]] & 1
        ]
    whole = [chain for chain, passage, _ in chains if catalogue.ends[passage]]
    return sorted(whole, key=lambda chain: links.cost[chain].sum())


def best_by_trying(catalogue):
    """The cheapest lane's cost by trying chain after chain on the whole lane; infinite where there is none."""
    for chain in every_chain(catalogue):
        if not clashes(catalogue.lane(chain), catalogue.site):
            return float(catalogue.links.cost[chain].sum())
    return np.inf


@st.composite
def small_cards(draw, *, narrow=False):
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    count, headings = draw(st.sampled_from([(2, 12), (3, 8), (4, 6), (5, 5)]))
    # Small cards, so that some have no lane.
    width, height = rng.uniform(75, 120, 2)
    battery = rng.uniform((27, 27), (width - 27, height - 27))
    places: list = []
    for _ in range(400):
        place = rng.uniform((8, 8), (width - 8, height - 8))
        if np.hypot(*(place - battery)) > 20 and all(np.hypot(*(place - other)) > 7.5 for other in places):
            places.append(place)
        if len(places) == count:
            break
    return small_catalogue(
        [tuple(map(float, place)) for place in places],
        tuple(map(float, battery)),
        (float(width), float(height)),
        headings,
        draw(st.floats(0, 1)),
        narrow=narrow,
    )


@given(small_cards())
@settings(deadline=None, max_examples=40)
def test_the_best_lane_and_there_being_none_are_as_trying_everything_says(catalogue):
    best = best_by_trying(catalogue)
    solved = solve(catalogue, (NARROW, FURTHER))
    proof = has_lane(catalogue)
    if np.isinf(best):
        assert proof is Proof.NONE
        assert solved.proof in (Proof.NONE, Proof.UNKNOWN)
        return
    assert (proof, solved.proof) == (Proof.FOUND, Proof.BEST)
    assert solved.costs[0] == pytest.approx(best, abs=1e-6)  # rounding alone


@given(small_cards(narrow=True))
@settings(deadline=None, max_examples=30)
def test_there_is_none_as_near_to_other_lights_as_may_be_either(catalogue):
    proof = has_lane(catalogue)
    if np.isinf(best_by_trying(catalogue)):
        assert proof in (Proof.NONE, Proof.FOUND)  # found: but for a light that a link passes itself
    else:
        assert proof is Proof.FOUND


@given(small_cards())
@settings(deadline=None, max_examples=15)
def test_as_near_as_may_be_there_are_more_links_and_none_the_dearer(catalogue):
    site = replace(catalogue.site, narrow=True)
    src, dst = (x.ravel() for x in np.indices((len(catalogue.passages),) * 2))
    place = catalogue.passages.place
    able = (place[dst] > 0) & (place[src] != place[dst])
    wide, narrow = (
        links_between(catalogue.passages, src[able], dst[able], one, hooks=True)
        for one in (catalogue.site, site)
    )
    cost = np.full((len(place),) * 2, np.inf)
    cost[narrow.src, narrow.dst] = narrow.cost
    assert (cost[wide.src, wide.dst] <= wide.cost + 1e-6).all()


@pytest.mark.parametrize("with_use", [lambda links: links.some(have_room_to_pass(links)), with_ways_past])
@given(catalogue=small_cards(), crowded=st.booleans())
@settings(deadline=None, max_examples=20)
def test_no_lane_has_a_link_beside_which_a_light_cannot_be_passed(with_use, catalogue, crowded):
    if crowded:  # few links, so that some leave no way
        catalogue = catalogue.some(np.arange(len(catalogue.links)) % 3 > 0)
    links = catalogue.links
    kept = with_use(catalogue).links
    keys = set(zip(kept.src.tolist(), kept.dst.tolist(), strict=True))
    lanes = [
        chain for chain in every_chain(catalogue)[:300] if not clashes(catalogue.lane(chain), catalogue.site)
    ]
    for chain in lanes:
        assert keys.issuperset(zip(links.src[chain].tolist(), links.dst[chain].tolist(), strict=True))


def test_where_no_light_can_be_passed_no_link_is_left():
    # A light with another to every side, all as near as may be: whatever joins two of them shuts a third one in.
    places = [(40.0 + 7.2 * i, 40.0 + 7.2 * j) for i in range(3) for j in range(3)]
    catalogue = small_catalogue(places, (54.0, 110.0), (107.95, 139.7), 8)
    assert len(catalogue.links) > 0
    assert len(with_ways_past(catalogue).links) == 0
    assert not have_room_to_pass(catalogue).all()


@given(small_cards())
@settings(deadline=None, max_examples=20)
def test_links_of_every_kind_give_a_lane_where_there_is_one(catalogue):
    solved = solve_varied(catalogue, solve(catalogue, (NARROW,)))
    best = best_by_trying(catalogue)
    assert bool(solved.chains) is bool(np.isfinite(best))
    if solved.chains:
        assert not clashes(solved.catalogue.lane(solved.chains[0]), catalogue.site)
        assert solved.costs[0] == pytest.approx(best, abs=1e-6)  # rounding alone


@given(small_cards())
@settings(deadline=None, max_examples=20)
def test_no_lane_costs_less_than_the_bound_nor_less_than_its_links_ask(catalogue):
    phases = (Phase(4, 1, np.inf), Phase(6, 3, np.inf))
    bound, rest = bound_links(catalogue, phases)
    if not bound.possible:
        assert not every_chain(catalogue)
    for chain in every_chain(rest)[:200]:
        cost = rest.links.cost[chain].sum()
        assert cost >= bound.value - 1e-6
        assert (cost >= bound.through[chain] - 1e-6).all()


@given(small_cards(), st.data())
@settings(deadline=None, max_examples=30)
def test_chains_clash_link_by_link_where_the_whole_lane_does(catalogue, data):
    chains = every_chain(catalogue)
    if not chains:
        return
    chain = np.array(data.draw(st.sampled_from(chains[:500])))
    i, j = np.triu_indices(len(chain), 1)
    pairs = links_clash(catalogue, chain[i], chain[j]).any()
    end = np.full(len(chain), catalogue.links.dst[chain[-1]])
    told = bool(pairs or ends_clash(catalogue, end, chain).any())
    assert told or not clashes(catalogue.lane(chain), catalogue.site)


@given(small_cards())
@settings(deadline=None, max_examples=20)
def test_the_matrix_of_clashes_says_what_pairs_of_links_say(catalogue):
    links, passages = catalogue.links, catalogue.passages
    every = np.arange(len(links))
    ends = np.unique(links.dst[catalogue.ends[links.dst]])
    matrix = clash_matrix(catalogue, ends)
    e, f = (x.ravel() for x in np.indices((len(links), len(links))))
    pairs = links_clash(catalogue, e, f).reshape(len(links), len(links))
    np.fill_diagonal(pairs, val=False)
    square = matrix[:, : len(links)]
    assert (square == square.T).all()
    assert not (pairs & ~square).any()
    # Beyond them only what meets the body at the passage where the other one begins.
    e, f = np.nonzero(square & ~pairs)
    able = passages.place[links.src] > 0
    beyond = able[f] & body_in_tapes(catalogue, e, np.where(able[f], links.src[f], passages.first[1]))
    beyond |= able[e] & body_in_tapes(catalogue, f, np.where(able[e], links.src[e], passages.first[1]))
    assert beyond.all()
    end, link = (x.ravel() for x in np.meshgrid(ends, every))
    assert (matrix[:, len(links) :].ravel() == ends_clash(catalogue, end, link)).all()


@given(small_cards(), st.integers(1, 2))
@settings(deadline=None, max_examples=20)
def test_lights_that_can_only_be_the_last_rule_out_what_trying_does_not_find(catalogue, many):
    place = catalogue.passages.place[catalogue.links.src]
    cut = catalogue.some((place == 0) | (place > many))
    assert set(range(1, many + 1)) <= set(lights_without_way_on(cut))
    best = best_by_trying(cut)
    assert has_lane(cut) is (Proof.NONE if np.isinf(best) else Proof.FOUND)
    assert many == 1 or np.isinf(best)
    ends = set(short_look(cut).dead_ends)
    assert ends >= {1, 2} if many == 2 else (1 in ends or not ends)


@given(small_cards())
@settings(deadline=None, max_examples=20)
def test_no_chain_goes_on_from_a_dead_end(catalogue):
    crowded = catalogue.some(np.arange(len(catalogue.links)) % 4 == 0)  # few links, so that there are some
    ends, place = short_look(crowded).dead_ends, crowded.passages.place
    for chain in every_chain(crowded):
        assert not np.isin(ends, place[crowded.links.dst[chain[:-1]]]).any()
