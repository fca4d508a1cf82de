"""What is told and kept of branches: the file, the tape list, the sentences, the whole plan."""

import json
from contextlib import nullcontext
from dataclasses import replace

import pytest

from circuit.difference import differences
from circuit.errors import LayoutFileError
from circuit.layout import Branch, Move
from circuit.plan_card import plan_as_drawn, plan_card, with_moves
from circuit.plan_json import plan_from_dict, plan_to_dict
from circuit.plan_limits import MOST_BRANCHES
from circuit.settings import Settings
from circuit.supplies import supplies
from circuit.switch import switch_on
from circuit.tape_list import fold_take_up_mm, light_places, tape_list
from circuit.telling import joint_or_moves, moves_heading, other_ways, verdict
from circuit.worked_out import PlanChoices
from tests.circuit.branches.cards import FOLDED, LEFT, RIGHT, card_of, planned, straight_lane


def as_file(plan):
    return json.loads(json.dumps(plan_to_dict(plan)))


def test_branches_stand_beside_the_traces_in_their_form_and_come_back():
    plan = planned(RIGHT, LEFT)
    value = as_file(plan)
    assert set(value["traces"]) == {"tape_width_mm", "gap_mm", "positive", "negative"}
    assert [set(branch) for branch in value["branches"]] == [{"positive", "negative"}] * 2
    assert value["branches"][0]["positive"] == [[50.24, 57.5], [85.0, 57.5]]
    assert plan_from_dict(value) == plan
    assert as_file(plan_from_dict(value)) == value


def test_a_plan_without_branches_has_no_such_key_and_older_plans_open():
    plan = planned(lights=((54.0, 75.0), (54.0, 35.0)))
    value = as_file(plan)
    assert "branches" not in value and "branches" not in value["traces"]
    assert plan_from_dict(value).branches == ()


def test_branches_of_no_lane_are_none_and_nonsense_is_one_sentence():
    value = as_file(planned(RIGHT))
    assert plan_from_dict({**value, "traces": None}).branches == ()
    with pytest.raises(LayoutFileError, match=r"branches\[0\]"):
        plan_from_dict(
            {**value, "branches": [{"positive": [[1.0, 2.0]], "negative": [[1.0, 2.0], [3.0, 4.0]]}]}
        )
    with pytest.raises(LayoutFileError, match="branches"):
        plan_from_dict({**value, "branches": value["branches"] * (MOST_BRANCHES + 1)})
    with pytest.raises(LayoutFileError, match="points in a trace"):
        plan_from_dict({**value, "branches": [{"positive": [[1.0, 2.0]] * 3000, "negative": []}]})


def test_the_tape_list_counts_each_branch_with_its_folded_end():
    layout, traces = straight_lane(FOLDED, lights=((54.0, 75.0), (54.0, 35.0), (80.0, 40.0)))
    settings = Settings()
    switch = switch_on(layout, traces, settings)
    tapes = tape_list(traces, switch, settings)
    (branch,) = tapes.branches
    assert [round(run.length_mm, 2) for run in branch.positive.runs] == [27.26, 37.5]
    assert [round(run.length_mm, 2) for run in branch.negative.runs] == [27.26, 42.5]
    corner = fold_take_up_mm(90.0, 2.5)
    assert branch.positive.needed_mm == pytest.approx(27.26 + 37.5 + corner + 2.5)
    # 27.26 + 42.5 + one fold + the end folded under + 10 to hold it by, to the next 5 mm.
    assert branch.strip_mm == 85.0
    assert branch.crossing == "positive" and branch.clear_mm == pytest.approx((6.5, 6.5))
    assert tapes.strips_mm == (tapes.strip_mm, 85.0)
    alone = tape_list(replace(traces, branches=()), switch, settings)
    assert alone.strip_mm == tapes.strip_mm  # the lane's own strip is as it was
    for copies in (1, 24):
        with_branch, without = (
            supplies(copies, layout.card, 3, some, switch, settings) for some in (tapes, alone)
        )
        assert with_branch.tape_mm - without.tape_mm == pytest.approx(copies * 85.0)
        assert with_branch.clear_tape_mm - without.clear_tape_mm == pytest.approx(copies * 6.5)


def test_lights_on_a_branch_are_measured_from_its_joint():
    layout, traces = straight_lane(RIGHT)
    places = light_places(layout.lights, traces, tape_list(traces, None, Settings()))
    assert [(place.label, place.branch) for place in places] == [("L1", 0), ("L2", 0), ("L3", 1)]
    assert places[2].along_positive_mm == pytest.approx(80.0 - 50.24)
    assert places[2].along_negative_mm == pytest.approx(80.0 - 55.24)
    assert places[0].along_negative_mm == pytest.approx(114.5 - 75.0)


def test_a_maker_is_told_the_choice_in_one_sentence():
    plan = planned(RIGHT)
    place = "54.0 mm from the right edge and 60.0 mm from the top"
    assert joint_or_moves(plan, "mm") == f"No single lane passes all lights: make one joint, {place}."
    moved = replace(plan, moves=(Move("L3", (80.0, 60.0), (70.0, 60.0), "no-lane"),))
    assert joint_or_moves(moved, "mm") == (
        f"No single lane passes all lights: either move L3, or make one joint, {place}."
    )
    left = replace(plan, leave_out=("L3",))
    assert "either leave L3 out, or make one joint" in joint_or_moves(left, "mm")
    assert other_ways(left) == ()  # it is told already
    two = joint_or_moves(planned(RIGHT, LEFT), "in")
    assert "make two joints" in two and two.count("; and ") == 1
    assert "no joint" in moves_heading(plan)
    plain = planned(lights=((54.0, 75.0), (54.0, 35.0)))
    assert joint_or_moves(plain, "mm") == "" and "joint" not in moves_heading(plain)
    assert verdict(plan) == "Look again at 1 thing"


def test_a_comparison_tells_of_joints():
    before, after = planned(lights=((54.0, 75.0), (54.0, 35.0), (80.0, 60.0))), planned(RIGHT)
    said = differences(before, after)
    assert "It has 1 joint, had 0." in said
    # The branch's two tapes: 34.76 and 29.76 mm.
    assert any("64.5 mm longer" in sentence for sentence in said)


def test_a_card_without_a_lane_is_shown_first_and_then_offers_joint_or_moves():
    layout = card_of([(7.6, 7.6), (100.35, 7.6), (40.0, 40.0), (68.0, 40.0)])
    drawn = plan_as_drawn(layout, Settings())
    assert drawn.planned.plan.traces is None
    assert [problem.name for problem in drawn.planned.plan.must_fix] == ["no-lane"]
    whole = with_moves(drawn)
    plan = whole.plan
    assert len(plan.branches) == 1 and plan.must_fix == ()
    assert [(one.name, one.level) for one in plan.problems] == [("joint", "look-again")]
    assert plan.moves and whole.corrected is not None
    assert whole.corrected.branches == () and whole.corrected.must_fix == ()
    assert set(plan.sides_deg) == {"L1", "L2", "L3", "L4"}
    assert {light.label for light in plan.electrics.fresh.lights} == {"L1", "L2", "L3", "L4"}
    assert plan.electrics.contact.joint[1] < 1
    assert len(plan.lane.order) == 3  # the lane's own
    assert not any("could save" in detail for detail in whole.details)
    assert plan_from_dict(as_file(plan)).branches[0].positive[0] == pytest.approx(
        plan.branches[0].positive[0], abs=1e-3
    )


def test_where_small_moves_mend_a_card_branches_are_looked_for_only_when_asked():
    layout = card_of([(10.2, 10.2), (97.8, 10.2), (40.0, 40.0), (68.0, 40.0)])
    looked_for = []

    def looking_for(mend):
        looked_for.append(mend)
        return nullcontext()

    plan = with_moves(plan_as_drawn(layout, Settings()), looking_for).plan
    assert sum(move.by_mm for move in plan.moves) < 3.0
    assert looked_for == ["moves"] and plan.branches == ()
    assert other_ways(plan) == ("Side branches were not looked for, since such small moves mend the card.",)
    assert plan_from_dict(as_file(plan)).branches_not_sought
    asked = with_moves(plan_as_drawn(layout, Settings(), PlanChoices(effort=2)), looking_for).plan
    assert looked_for == ["moves", "moves", "branches"]
    assert len(asked.branches) == 1 and not asked.branches_not_sought and other_ways(asked) == ()


def test_a_card_with_a_lane_gets_no_branch():
    layout = card_of([(20.0, 20.0), (54.0, 30.0), (88.0, 20.0)])
    plan = plan_card(layout, Settings()).plan
    assert plan.traces is not None and plan.branches == ()


def test_a_branch_that_is_no_pair_of_parallel_lines_is_listed_as_it_is():
    ragged = Branch(RIGHT.positive, ((55.24, 62.5), (60.0, 62.5), (85.0, 62.5)))
    plan = planned(ragged)
    (tapes,) = tape_list(plan.traces, None, Settings()).branches
    assert [len(path.runs) for path in (tapes.positive, tapes.negative)] == [1, 1]  # it goes straight on
