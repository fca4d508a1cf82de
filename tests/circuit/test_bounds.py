"""The lower bound of a lane: exact where it says so, never too long, never shorter for one light more."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from circuit.bounds import path_bound, shortest_path_bound

PLACE = st.tuples(st.floats(0, 150), st.floats(0, 150))


def by_brute_force(battery, radius, lights):
    best = math.inf
    for order in itertools.permutations(lights):
        way = max(math.dist(battery, order[0]) - radius, 0.0)
        way += sum(math.dist(a, b) for a, b in itertools.pairwise(order))
        best = min(best, way)
    return best


@given(st.lists(PLACE, min_size=1, max_size=6))
@example([(50.0, 50.0)])  # a light in the middle of the battery circle
@example([(0.0, 0.0), (0.0, 0.0), (10.0, 0.0)])  # two lights in one place
@settings(deadline=None, max_examples=40)
def test_it_is_the_shortest_path_by_brute_force(lights):
    found = shortest_path_bound((50.0, 50.0), 10.0, lights)
    assert found.exact
    assert found.length_mm == pytest.approx(by_brute_force((50.0, 50.0), 10.0, lights), abs=1e-6)
    assert sorted(found.order) == list(range(len(lights)))


@given(st.lists(PLACE, min_size=2, max_size=18), st.data())
@settings(deadline=None, max_examples=25)
def test_leaving_a_light_out_never_lengthens_it(lights, data):
    left_out = data.draw(st.integers(0, len(lights) - 1))
    rest = lights[:left_out] + lights[left_out + 1 :]
    more = shortest_path_bound((20.0, 130.0), 10.0, lights)
    fewer = shortest_path_bound((20.0, 130.0), 10.0, rest)
    assert fewer.length_mm <= more.length_mm + 1e-6


@given(st.lists(PLACE, min_size=1, max_size=16))
@settings(deadline=None, max_examples=25)
def test_the_lagrangian_bound_is_never_above_the_exact_one(lights):
    places = np.asarray(lights)
    between = np.hypot(*np.moveaxis(places[:, None] - places[None, :], 2, 0))
    start = np.hypot(*(places - 75.0).T)
    end = np.zeros(len(places))
    floor = path_bound(start, between, end, states_at_most=0).length_mm
    assert floor <= path_bound(start, between, end).length_mm + 1e-9  # rounding of sums


def test_twenty_scattered_lights_are_still_exact():
    lights = np.random.default_rng(4).uniform(0, 200, (20, 2)).tolist()
    assert shortest_path_bound((100.0, 100.0), 10.0, lights).exact


def test_no_lights_no_length():
    found = shortest_path_bound((0.0, 0.0), 10.0, [])
    assert (found.length_mm, found.exact, found.order) == (0.0, True, ())


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="shapes"):
        path_bound(np.zeros(3), np.zeros((2, 2)), np.zeros(3))
