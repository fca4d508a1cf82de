"""Cards that moves are tried on: dead ends freed, crowds spread, marks nudged."""

from functools import partial
from itertools import combinations
from math import dist

import numpy as np
import pytest

from circuit.check import check, must_fix_on_card
from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.moves import suggest_moves
from circuit.moves.needs import mark_needs
from circuit.moves.shift import marks_of
from circuit.moves.trial_cards import freed, nudged, spread
from circuit.route import lay_traces
from circuit.settings import Settings

DEFAULTS = Settings()


def card_of(width, height, cell, *lights):
    marks = tuple(LightMark(f"L{k}", x, y) for k, (x, y) in enumerate(lights, start=1))
    return Layout(Card(width, height), marks, BatteryMark(*cell, 20.5))


# One light in each corner, 9 mm from both edges: a lane that comes to such a corner can't go on from there.
IN_CORNERS = card_of(148, 210, (74, 105), (9, 9), (139, 9), (139, 201), (9, 201))
# Two groups, of which the one by the cell leaves a hand's breadth too little room for a lane through all of it.
CROWD = card_of(
    90,
    120,
    (45, 90),
    (30, 40),
    (38, 38),
    (34, 47.5),
    (42, 46),
    (50, 42),
    (46.5, 33.5),
    (54.5, 50.5),
    (38.5, 55),
)


def test_of_the_dead_ends_one_stays_and_the_others_come_off_the_edges():
    rounds = [freed(IN_CORNERS, ("L1", "L3", "L4"), DEFAULTS, by_mm) for by_mm in (1.0, 3.0)]
    for trials in rounds:
        for trial in trials:
            moved = [
                label for label in ("L1", "L2", "L3", "L4") if trial.light(label) != IN_CORNERS.light(label)
            ]
            assert len(moved) == 2 and "L2" not in moved
            for label in moved:
                (x, y), (home_x, home_y) = trial.light(label).centre, IN_CORNERS.light(label).centre
                assert abs(x - 74) < abs(home_x - 74) and abs(y - 105) < abs(home_y - 105)
    first, last = rounds[0][0], rounds[-1][0]
    assert total(IN_CORNERS, first) < total(IN_CORNERS, last)


def test_one_dead_end_is_a_lanes_own():
    assert freed(IN_CORNERS, ("L1",), DEFAULTS, 2.0) == []


def test_a_crowd_is_spread_to_the_distance_asked_for():
    needs = mark_needs(CROWD, DEFAULTS)
    apart = spread(CROWD, needs, 9.25)
    least = min(dist(a.centre, b.centre) for a, b in combinations(apart.lights, 2))
    # A thousandth: where the search for the least shift stops.
    assert least == pytest.approx(9.25, abs=1e-3)
    assert apart.battery == CROWD.battery


def test_lights_that_stand_apart_are_not_spread():
    assert spread(IN_CORNERS, mark_needs(IN_CORNERS, DEFAULTS), 9.25) == IN_CORNERS


def test_nudged_cards_move_one_mark_each_by_the_same_distance():
    for trials in nudged(CROWD, DEFAULTS):
        ways = [np.hypot(*(marks_of(trial) - marks_of(CROWD)).T) for trial in trials]
        assert all((way > 0).sum() == 1 for way in ways)
        assert max(way.max() for way in ways) == pytest.approx(min(way.max() for way in ways))


def advice_of(layout):
    routed = lay_traces(layout, DEFAULTS)
    assert routed.traces is None
    quick, soon = partial(lay_traces, quick=True), partial(lay_traces, give_up_soon=True)
    return suggest_moves(layout, DEFAULTS, routed, route=soon, quick_route=quick, dead_ends=routed.dead_ends)


def test_lights_in_corners_are_told_to_move_out_of_them():
    advice = advice_of(IN_CORNERS)
    assert 0 < len(advice.moves) < 4
    assert must_fix_on_card(check(advice.moved_layout, advice.moved_traces, DEFAULTS)) == []
    # From a trial of the rules: 10 mm from two edges are hardly enough, so a millimetre or two each way free it.
    assert all(0.5 < move.by_mm < 4.0 for move in advice.moves)


def total(layout, moved):
    return float(np.hypot(*(marks_of(moved) - marks_of(layout)).T).sum())


def test_a_crowded_ring_is_told_how_little_more_room_it_needs():
    # Eight lights on a ring, 8.3 mm from one to the next: a fold between lights needs about 9 (a trial of the rules).
    radius = 8.3 / 2 / np.sin(np.pi / 8)
    ring = [complex(54, 45) + radius * np.exp(2j * np.pi * (k + 0.3) / 8) for k in range(8)]
    layout = card_of(107.95, 139.7, (54, 112), *((float(z.real), float(z.imag)) for z in ring))
    quick = partial(lay_traces, quick=True)
    routed = quick(layout, DEFAULTS)
    assert routed.traces is None
    advice = suggest_moves(
        layout, DEFAULTS, routed, route=partial(lay_traces, give_up_soon=True), quick_route=quick
    )
    assert advice.moves
    assert must_fix_on_card(check(advice.moved_layout, advice.moved_traces, DEFAULTS)) == []
    # Less than a ring of 9.5 mm would ask for: eight lights, each 1.6 mm outwards.
    assert sum(move.by_mm for move in advice.moves) < 8 * 1.6
