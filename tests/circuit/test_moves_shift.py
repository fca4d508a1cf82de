"""The smallest shift: against closed forms, against brute force, and what must hold of any answer."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuit.check import check
from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.moves.needs import SPARE_MM, mark_needs
from circuit.moves.shift import marks_of, smallest_shift
from circuit.settings import Settings
from tests.circuit.hand_made import BATTERY, CARD, card_with, lights_at

DEFAULTS = Settings()
WINDOW = ((20.0, 15.0), (90.0, 15.0), (90.0, 70.0), (20.0, 70.0))


def shifted(layout, **kwargs):
    return smallest_shift(layout, mark_needs(layout, DEFAULTS), **kwargs)


def total(layout, moved):
    return float(np.hypot(*(marks_of(moved) - marks_of(layout)).T).sum())


def moved_labels(layout, moved):
    return [a.label for a, b in zip(layout.lights, moved.lights, strict=True) if a.centre != b.centre]


# layout, total shift in closed form (each distance that is won gets SPARE_MM more), who moves
CASES = [
    (card_with((50, 50), (56, 50)), 1.0 + SPARE_MM, ["L2"]),
    (card_with((4.5, 50)), 3.0 + SPARE_MM, ["L1"]),
    (card_with((54, 95)), 3.5 + SPARE_MM, ["L1"]),
    # In the middle of three that are 6 mm apart on a line, only the outer two can go outwards.
    (card_with((44, 50), (50, 50), (56, 50)), 2 * (1.0 + SPARE_MM), ["L1", "L3"]),
    (replace(card_with((18, 40)), window=WINDOW), 2.0 + SPARE_MM, ["L1"]),
    # A corner: both edges at once, along the diagonal.
    (card_with((4.5, 4.5)), math.hypot(3.0 + SPARE_MM, 3.0 + SPARE_MM), ["L1"]),
]


@pytest.mark.parametrize(("layout", "expected", "who"), CASES)
def test_the_total_is_the_closed_forms(layout, expected, who):
    moved = shifted(layout)
    assert check(moved, None, DEFAULTS) == ()
    # Twice the thousandth of a millimetre at which the search stops.
    assert total(layout, moved) == pytest.approx(expected, abs=2e-3)
    assert moved_labels(layout, moved) == who


def test_the_tie_between_two_lights_can_go_either_way():
    layout = card_with((50, 50), (56, 50))
    assert moved_labels(layout, shifted(layout, later_first=False)) == ["L1"]


def test_three_lights_on_one_spot_part_to_the_corners_of_a_triangle():
    # Fermat point of an equilateral triangle of side s: its corners are 3 s / sqrt 3 from it in all, less than
    # the 2 s of moving two of them (textbook geometry).
    layout = card_with((50, 50), (50, 50), (50, 50))
    side = 7.0 + SPARE_MM
    # The chain of linear programs may end a little beside the best place: half a percent.
    assert total(layout, shifted(layout)) == pytest.approx(math.sqrt(3) * side, rel=5e-3)


def test_a_cell_under_the_window_can_only_be_mended_by_moving_the_battery():
    layout = replace(card_with((54, 40)), window=WINDOW, battery=replace(BATTERY, y_mm=84.0))
    assert shifted(layout) is None
    moved = shifted(layout, move_battery=True)
    assert check(moved, None, DEFAULTS) == ()
    # Twice the thousandth of a millimetre at which the search stops.
    assert moved.battery.y_mm == pytest.approx(86.0 + SPARE_MM, abs=2e-3)
    assert moved.lights == layout.lights


def test_a_battery_inside_the_window_is_brought_out_the_nearest_way():
    layout = replace(card_with((80, 30)), window=WINDOW, battery=replace(BATTERY, x_mm=50.0, y_mm=66.0))
    moved = shifted(layout, move_battery=True)
    assert check(moved, None, DEFAULTS) == ()
    # Across the way out any place within its slack is as short to a thousandth.
    assert moved.battery.centre == pytest.approx((50.0, 86.0 + SPARE_MM), abs=2e-2)


def test_no_place_is_an_honest_none():
    # A card so small that a light and the foam frame can't both be on it.
    layout = Layout(Card(40, 40), (LightMark("L1", 20, 20),), BatteryMark(20, 20, 20.9))
    assert shifted(layout) is None


def test_a_moved_mark_is_moved_beyond_doubt_and_an_unmoved_one_may_stay_doubtful():
    layout = replace(
        card_with((50, 50), (56.5, 50), (50, 80), (57.1, 80), uncertainty_mm=0.2),
    )
    moved = shifted(layout)
    left = check(moved, None, DEFAULTS)
    assert [(problem.level, problem.about) for problem in left] == [("look-again", ("L3", "L4"))]
    assert moved_labels(layout, moved) == ["L2"]


def test_brute_force_finds_no_shorter_way_for_one_light_among_others():
    # Every place on a fine grid round the light, kept rules only: the nearest is the truth to half a step's diagonal.
    rng = np.random.default_rng(11)
    for _ in range(12):
        others = rng.uniform((20, 20), (40, 40), (3, 2))
        while min(math.dist(a, b) for i, a in enumerate(others) for b in others[:i]) < 7.5:
            others = rng.uniform((20, 20), (40, 40), (3, 2))
        light = others.mean(axis=0)
        layout = card_with(*[tuple(map(float, place)) for place in (*others, light)])
        fixed = others
        step = 0.05
        grid = np.stack(np.meshgrid(np.arange(-12, 12, step), np.arange(-12, 12, step)), axis=-1).reshape(
            -1, 2
        )
        places = light + grid
        fine = np.hypot(*(places[:, None] - fixed[None]).transpose(2, 0, 1)).min(axis=1) >= 7.0
        fine &= (places >= 7.5).all(axis=1)
        nearest = np.hypot(*grid[fine].T).min()
        # Others may move as well, so ours can be shorter; longer only by the grid's step and the spare.
        assert total(layout, shifted(layout)) <= nearest + step + 2 * SPARE_MM


places = st.tuples(st.floats(3, 104), st.floats(3, 136))


@given(st.lists(places, min_size=1, max_size=5), st.booleans())
@settings(max_examples=25, deadline=None)
def test_what_is_shifted_keeps_the_rules_and_never_beats_the_worst_miss(lights, move_battery):
    layout = Layout(CARD, lights_at(*lights), BATTERY)
    moved = shifted(layout, move_battery=move_battery)
    if moved is None:
        return  # where the marks are crowded into a corner the search may end without an answer
    assert check(moved, None, DEFAULTS) == ()
    misses = [
        problem.limit - problem.measured
        for problem in check(layout, None, DEFAULTS)
        if problem.level == "must-fix"
    ]
    assert total(layout, moved) >= max(misses, default=0.0) - 1e-3
    if not misses:
        assert moved == layout
