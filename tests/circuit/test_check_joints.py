"""The joint's rule on a lane drawn by hand: what just holds, what just misses."""

import pytest

from circuit.check import check
from circuit.layout import Branch
from circuit.settings import Settings
from circuit.spacing import nearest_distances
from tests.circuit.branches.cards import RIGHT, straight_lane


def told(layout, traces, **settings):
    return {(one.name, one.level) for one in check(layout, traces, Settings(**settings))}


def of_joint(layout, traces):
    return [one for one in check(layout, traces, Settings()) if one.name == "joint"]


def moved(branch, x=0.0, y=0.0):
    return Branch(*(tuple((a + x, b + y) for a, b in line) for line in (branch.positive, branch.negative)))


def test_a_good_joint_is_looked_at_again_and_nothing_else_is_told():
    (problem,) = check(*straight_lane(RIGHT), Settings())
    assert (problem.name, problem.level, problem.about) == ("joint", "look-again", ("L3",))
    assert problem.measured == pytest.approx(2.5, abs=1e-6)
    assert problem.limit == 2.5
    # A branch's tape begins 0.01 mm before the far edge, so that rounding never leaves it short.
    assert problem.where_mm == pytest.approx((54.0, 60.0), abs=0.011)
    assert "copper meets copper" in problem.advice and "positive tape crossing the negative" in problem.advice


def test_too_little_tape_on_tape_must_be_fixed():
    # Begun 0.6 mm too late: 1.9 mm lie on copper, short by more than a hand's half millimetre.
    problems = of_joint(*straight_lane(moved(RIGHT, x=0.61)))
    assert [one.level for one in problems] == ["must-fix"]
    assert problems[0].measured == pytest.approx(1.9, abs=1e-6)
    assert of_joint(*straight_lane(moved(RIGHT, x=0.41)))[0].level == "look-again"


def test_without_clear_tape_the_crossing_would_be_a_short():
    layout, traces = straight_lane(RIGHT)
    assert ("traces-too-close", "must-fix") not in told(layout, traces)
    # The crossing tape must not touch the lane's other trace again: past its clear tape nothing is exempt.
    bent = Branch(((50.24, 57.5), (62.0, 57.5), (62.0, 50.0), (55.0, 50.0)), RIGHT.negative)
    assert ("traces-too-close", "must-fix") in told(*straight_lane(bent))
    # Nor may the other tape of the branch cross.
    both = Branch(RIGHT.positive, ((50.24, 62.5), (85.0, 62.5)))
    assert ("traces-too-close", "must-fix") in told(*straight_lane(both))
    # A branch whose end lies on no tape has no joint, wherever else it passes over its trace.
    through = Branch(((20.0, 57.5), (85.0, 57.5)), RIGHT.negative)
    assert ("joint", "must-fix") in told(*straight_lane(through))


def test_a_branch_too_near_the_lanes_own_tape_of_its_polarity():
    # The negative branch tape comes back to 0.9 mm beside the lane's negative tape, far along it.
    back = Branch(
        ((50.24, 57.5), (85.0, 57.5)),
        ((55.24, 62.5), (66.0, 62.5), (66.0, 80.0), (59.9, 80.0), (59.9, 90.0)),
    )
    assert ("trace-overlaps-itself", "must-fix") in told(*straight_lane(back))
    wider = Branch(back.positive, (*back.negative[:-2], (60.1, 80.0), (60.1, 90.0)))
    assert ("trace-overlaps-itself", "must-fix") not in told(*straight_lane(wider))


@pytest.mark.parametrize(("y", "level"), [(47.73, None), (47.77, "must-fix")])
def test_a_joint_keeps_off_lights(y, level):
    # The clear tape begins at 54.25, the body of a light at y ends 2.5 mm below its middle: 1.5 mm at 50.25.
    light_y = y + 2.5
    layout, traces = straight_lane(RIGHT, lights=((54.0, 75.0), (54.0, light_y), (80.0, 60.0)))
    levels = [one.level for one in of_joint(layout, traces) if "body" in one.advice]
    assert levels == ([] if level is None else [level])


def test_a_joint_keeps_off_folds():
    layout, traces = straight_lane(RIGHT)
    folded = type(traces)(
        ((51.5, 114.5), (51.5, 51.0), (40.0, 39.5)),
        ((56.5, 114.5), (56.5, 48.9), (43.5, 35.9)),
        branches=traces.branches,
    )
    assert not [one for one in of_joint(layout, folded) if "from a fold" in one.advice]
    nearer = type(traces)(
        ((51.5, 114.5), (51.5, 54.0), (40.0, 42.5)),
        ((56.5, 114.5), (56.5, 51.9), (43.5, 38.9)),
        branches=traces.branches,
    )
    assert [one.level for one in of_joint(layout, nearer) if "from a fold" in one.advice] == ["must-fix"]


def test_a_joint_keeps_off_the_switch_and_its_clear_tape():
    # The tab ends 25.5 mm above the cell's middle, at y 84.5, its clear tape 2 mm further out, at 82.5.
    layout, _ = straight_lane(RIGHT)
    for by, level in ((17.7, []), (17.8, ["must-fix"])):
        _, traces = straight_lane(moved(RIGHT, y=by))
        moved_layout = straight_lane(lights=((54.0, 60.0), (54.0, 35.0), (80.0, 60.0 + by)))[0]
        found = [one.level for one in of_joint(moved_layout, traces) if "switch" in one.advice]
        assert found == level
    assert layout.battery is not None


def test_a_slanting_branch_is_told():
    slanting = Branch(((50.24, 57.5), (85.0, 61.5)), ((55.24, 62.5), (85.0, 66.0)))
    levels = [one.level for one in of_joint(*straight_lane(slanting)) if "right angle" in one.advice]
    assert levels == ["must-fix"]


def test_lights_on_branches_are_held_to_the_same_rules():
    layout, traces = straight_lane(RIGHT, lights=((54.0, 75.0), (54.0, 35.0), (80.0, 60.6)))
    assert ("light-not-bridged", "must-fix") in told(layout, traces)  # 0.6 mm off the branch's midline
    near = straight_lane(moved(RIGHT, x=0.0), lights=((54.0, 75.0), (54.0, 35.0), (88.0, 60.0)))
    assert ("light-not-bridged", "must-fix") in told(*near)  # past the tapes' ends
    beside = straight_lane(RIGHT, lights=((54.0, 75.0), (54.0, 35.0), (80.0, 60.0), (70.0, 53.5)))
    assert ("tape-under-light", "must-fix") in told(*beside) or ("light-not-bridged", "must-fix") in told(
        *beside
    )


def test_a_branch_under_the_flap_or_over_the_edge_is_told():
    assert ("trace-near-edge", "must-fix") in told(
        *straight_lane(Branch(((50.24, 57.5), (106.0, 57.5)), ((55.24, 62.5), (106.0, 62.5))))
    )
    names = {name for name, _ in told(*straight_lane(moved(RIGHT, y=40.0)))}
    assert {"battery-zone", "switch-covers"} <= names


def test_the_nearest_of_the_tapes_is_no_crossing():
    layout, traces = straight_lane(RIGHT)
    nearest = [one for one in nearest_distances(layout, traces, Settings()) if one.to == "the negative tape"]
    # Beside the clear tape: the crossing tape and the bare negative tape are 2 mm apart.
    assert [one.measured_mm for one in nearest] == pytest.approx([2.0], abs=0.02)
