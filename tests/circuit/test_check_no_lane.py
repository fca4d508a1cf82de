"""How it is told that no lane was found: who, where, proven or not."""

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


def test_a_proven_block_names_its_lights_and_says_so():
    problem = no_lane_problem(LAYOUT, [Block(("L1", "L2"), "The gap is 3 mm", True)])
    assert (problem.name, problem.level, problem.about) == ("no-lane", "must-fix", ("L1", "L2"))
    assert problem.where_mm == pytest.approx((30, 40))
    assert problem.measured is None and problem.limit is None
    assert (
        problem.advice == "There is no lane here. The gap is 3 mm. Move L1 or L2, or leave one or more out."
    )


def test_a_search_that_found_nothing_does_not_claim_a_proof():
    problem = no_lane_problem(LAYOUT, [Block(("L3", "battery"), "No way was found.", False)])
    assert problem.about == ("L3", "battery")
    assert "There may be one that the search missed" in problem.advice
    assert "move L3 or the battery" in problem.advice


def test_one_unproven_block_makes_the_whole_unproven():
    blocks = [Block(("L1",), "One.", True), Block(("L2", "L1"), "Two.", False)]
    problem = no_lane_problem(LAYOUT, blocks)
    assert problem.about == ("L1", "L2")
    assert problem.advice.startswith("No lane was found. One. Two.")


def test_nothing_named_concerns_all_lights():
    problem = no_lane_problem(LAYOUT, [])
    assert problem.about == ("L1", "L2", "L3")
    assert problem.where_mm == pytest.approx((40, 50))
    assert "No lane was found. No lane was found" not in problem.advice
