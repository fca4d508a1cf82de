"""A card moved as suggested and planned again is clean; and how small the moves are is told."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from circuit.check import check
from circuit.layout import BatteryMark, Layout
from circuit.mark_changes import shift_from, shifted, with_moves
from circuit.moves import suggest_moves
from circuit.moves.needs import mark_needs
from circuit.moves.on_grid import EACH_MARK_MM, grid_mm, lights_to_move, nearest_cards
from circuit.plan_card import plan_card
from circuit.route import lay_traces
from circuit.settings import Settings
from circuit.telling import how_small, move_words, units_of_moves
from tests.benchmarks.moves import broken_cards
from tests.circuit.hand_made import CARD, card_with

DEFAULTS = Settings()
READ_MM = 0.33  # what a phone photo's reading may be unsure of


def read(layout, uncertainty_mm=READ_MM):
    """The card as a photo would give it: every mark unsure."""
    lights = tuple(replace(light, uncertainty_mm=uncertainty_mm) for light in layout.lights)
    return replace(layout, lights=lights, battery=replace(layout.battery, uncertainty_mm=uncertainty_mm))


def broken(kind, seed):
    return next(broken_cards(kind, np.random.default_rng([seed, len(kind)]), most_lights=6))[0]


BROKEN = [
    *(broken(kind, seed) for kind in ("lights-too-close", "light-near-edge") for seed in (4, 5)),
    card_with((54, 93), (30, 60)),  # a light under the switch
    card_with((54, 60), (54, 55), (47, 56), (80, 30)),
]


@pytest.mark.parametrize("exact", BROKEN)
def test_moved_as_suggested_and_planned_again_nothing_is_left(exact):
    layout = read(exact)
    plan = plan_card(layout, DEFAULTS).plan
    if not plan.must_fix:
        pytest.skip("within what the reading is unsure of: there is nothing to move")
    assert plan.moves and plan.moves_found is not None
    moved = with_moves(layout, plan.moves)
    again = plan_card(moved, DEFAULTS).plan
    assert [problem for problem in again.problems if problem.level == "must-fix"] == []
    marks = {move.about for move in plan.moves}
    before = {(problem.name, problem.about) for problem in plan.problems if problem.level == "look-again"}
    doubts = [problem for problem in again.problems if marks & set(problem.about)]
    assert [problem for problem in doubts if (problem.name, problem.about) not in before] == []
    # Never finer than a hand can do.
    for move in plan.moves:
        steps = (np.array(move.to_mm) - move.from_mm) / 0.5
        assert steps == pytest.approx(np.round(steps), abs=1e-6)  # rounding alone


def followed(layout, plan, units):
    """The card with its marks moved as a maker reads it, by the words alone."""
    for move in plan.moves:
        words = move_words(move, units_of_moves(plan, units)).removeprefix("move ")
        layout = shifted(layout, shift_from(words.replace("the battery circle", "battery")))
    return layout


@pytest.mark.parametrize("planned", ["mm", "in"])
@pytest.mark.parametrize("unsure_mm", [0.0, READ_MM])
@pytest.mark.parametrize("exact", [BROKEN[0], BROKEN[2], card_with((54, 60), (54.03, 54.77), (80, 30))])
def test_the_moves_as_they_are_told_are_those_that_were_checked(exact, unsure_mm, planned):
    layout, settings = read(exact, unsure_mm), Settings(units=planned)
    plan = plan_card(layout, settings).plan
    if not plan.must_fix:
        pytest.skip("within what the reading is unsure of: there is nothing to move")
    assert plan.moves
    checked = with_moves(layout, plan.moves)
    for shown in ("mm", "in"):
        told = followed(layout, plan, shown)
        for one, other in zip((*told.lights, told.battery), (*checked.lights, checked.battery), strict=True):
            assert one.centre == pytest.approx(other.centre, abs=1e-6)  # rounding alone
    assert not plan_card(told, settings).plan.must_fix


def test_an_older_plans_moves_are_told_in_the_units_asked_for():
    plan = plan_card(read(card_with((54, 60), (54, 54.2))), DEFAULTS).plan
    assert units_of_moves(plan, "in") == "mm"
    for found in (None, replace(plan.moves_found, grid_mm=0.0)):
        assert units_of_moves(replace(plan, moves_found=found), "in") == "in"


def test_the_least_on_the_grid_is_what_trying_every_place_says():
    layout = read(card_with((54, 60), (54, 54.2), (80, 40)))
    step = grid_mm(layout, 0, "mm")
    advice = suggest_moves(layout, DEFAULTS, lay_traces(layout, DEFAULTS), route=lay_traces)
    assert advice.found.least and advice.found.grid_mm == step
    to_do = sum(move.by_mm + EACH_MARK_MM for move in advice.moves)
    need = 7.0 + np.hypot(READ_MM, READ_MM)
    places = {}
    for k in (0, 1):
        home = np.array(layout.lights[k].centre)
        steps = range(-8, 9)
        near = [home + np.array([i, j]) * step for i, j in product(steps, steps)]
        places[k] = [home, *near]

    def of(place, k):
        away = np.hypot(*(place - places[k][0]))
        return away + EACH_MARK_MM * (away > 0)

    best = min(of(a, 0) + of(b, 1) for a in places[0] for b in places[1] if np.hypot(*(a - b)) >= need)
    assert to_do == pytest.approx(
        best, abs=1e-3
    )  # the spare hundredth that moves clear a limit by falls within a step


def test_cards_come_least_moved_first_and_keep_every_need():
    layout = read(card_with((54, 60), (54, 54.5)))
    needs = mark_needs(layout, DEFAULTS)
    lights = lights_to_move(layout, needs)
    assert lights == (0, 1)
    cards = list(nearest_cards(layout, needs, lights, 4.5, "mm"))
    totals = [total for total, _ in cards]
    assert totals == sorted(totals) and totals[-1] < 4.5
    for _, card in cards[:20]:
        assert check(card, None, DEFAULTS) == ()


def test_one_mark_is_moved_rather_than_two_by_as_much():
    plan = plan_card(read(card_with((54, 60), (54, 54.2), (80, 40))), DEFAULTS).plan
    assert len(plan.moves) == 1


def test_a_move_that_the_rules_alone_settle_is_told_as_the_least():
    layout = card_with((50, 50), (56, 50))
    plan = plan_card(layout, DEFAULTS).plan
    assert plan.moves_found.least and plan.moves_found.grid_mm == 0.1
    assert how_small(plan, "mm") == "No smaller moves do, tried in steps of 0.1 mm."
    older = replace(plan, moves_found=replace(plan.moves_found, grid_mm=0.0))
    assert how_small(older, "mm") == "No smaller moves do."


def test_a_move_that_only_makes_room_is_told_as_the_smallest_found():
    layout = Layout(
        CARD, card_with((54, 60), (54, 51.5), (61, 55), (47.5, 55)).lights, BatteryMark(54, 110, 20.4)
    )
    plan = plan_card(layout, DEFAULTS).plan
    if not plan.moves:
        pytest.skip("a lane goes through it as it is")
    if any(move.why == "no-lane" for move in plan.moves):
        assert not plan.moves_found.least
        assert "smallest moves I found" in how_small(plan, "mm")


def test_steps_are_told_in_the_makers_units():
    layout = read(card_with((54, 60), (54, 54.2)))
    assert "steps of 0.5 mm" in how_small(plan_card(layout, DEFAULTS).plan, "mm")
    assert "steps of 1/32 in" in how_small(plan_card(layout, Settings(units="in")).plan, "in")


@pytest.mark.parametrize(("units", "told"), [("mm", "0.5 mm"), ("in", "1/32 in")])
def test_a_light_a_hair_too_near_is_moved_by_what_a_hand_can_do(units, told):
    # 0.08 mm short of 7 mm, read to 0.02 mm: 0.1 mm would do.
    layout = read(card_with((54, 60), (54, 53.08), (80, 40)), 0.02)
    settings = Settings(units=units)
    plan = plan_card(layout, settings).plan
    [move] = plan.moves
    assert move_words(move, units) in (f"move {move.about} {told} {way}" for way in ("up", "down"))
    assert f"move one of them at least {told} away" in plan.must_fix[0].advice
    assert plan_card(with_moves(layout, plan.moves), settings).plan.problems == ()
