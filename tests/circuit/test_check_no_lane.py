"""How it is told that no lane was found: who, where, proven or not."""

import math
from dataclasses import dataclass

import pytest

from circuit.check import no_lane_problem
from tests.circuit.hand_made import card_with

LAYOUT = card_with((20, 30), (40, 50), (60, 70))


@dataclass(frozen=True)
class Block:
    labels: tuple[str, ...]
    reason: str
    proven: bool
    of_parts: bool = False


def test_a_proven_block_names_its_lights_and_says_so():
    problem = no_lane_problem(LAYOUT, [Block(("L1", "L2"), "The gap is 3 mm", True)])
    assert (problem.name, problem.level, problem.about) == ("no-lane", "must-fix", ("L1", "L2"))
    assert problem.where_mm == pytest.approx((20, 30))  # at one of them, not between
    assert problem.measured is None and problem.limit is None
    assert (
        problem.advice == "Move L1 or L2, or leave one or more out: there is no lane here. The gap is 3 mm."
    )


def test_a_search_that_found_nothing_does_not_claim_a_proof():
    problem = no_lane_problem(LAYOUT, [Block(("L3", "battery"), "No way was found.", False)])
    assert problem.about == ("L3", "battery")
    assert "lay a lane by eye, which the search may have missed" in problem.advice
    assert problem.advice.startswith("Move L3 or the battery, leave")  # what to do stands before the reason


def test_one_unproven_block_makes_the_whole_unproven():
    blocks = [Block(("L1",), "One.", True), Block(("L2", "L1"), "Two.", False)]
    problem = no_lane_problem(LAYOUT, blocks)
    assert problem.about == ("L1", "L2")
    assert problem.advice.endswith(". No lane was found. One. Two.")


def test_where_nobody_is_known_to_block_nobody_is_named():
    for blocked in ([], [Block((), "Short ways were looked through.", False)]):
        problem = no_lane_problem(LAYOUT, blocked)
        assert problem.about == ()
        # Amid the lights, of which the middle one lies in their very middle, yet at none of them.
        assert math.dist(problem.where_mm, (40, 50)) == pytest.approx(8, abs=1.5)  # a step of 2 mm, aslant
        assert problem.advice.startswith("Move some of the lights, leave")
        assert problem.advice.count("No lane was found.") == 1


def test_parts_that_no_lane_suits_move_no_light():
    problem = no_lane_problem(LAYOUT, [Block((), "The gap is wider than the lights", True, of_parts=True)])
    assert problem.about == ()
    assert "with these parts. The gap is wider than the lights." in problem.advice
    assert "No light has to move" in problem.advice
