"""Cards with branches as a network of resistors, against nodal analysis."""

import numpy as np
import pytest

from circuit.electrics import bench_of, contact_loss
from circuit.electrics.wiring import LAP, Wiring, ohm_per_mm, rails_of, so_so, tapes_of
from circuit.faults.effect import effects, good_card
from circuit.faults.possible import possible_faults
from circuit.faults.rank import rank_faults
from circuit.faults.telling import tell
from circuit.settings import Settings
from tests.circuit.branches.cards import LEFT, RIGHT, straight_lane

# Two lights on the first branch, one on the second.
LIGHTS = ((54.0, 75.0), (54.0, 35.0), (70.0, 60.0), (80.0, 60.0), (26.0, 48.0))
PER_MM = ohm_per_mm(2.5, 0.035, 20.0)


def shared_by_nodes(edges, taps, root="cell"):
    """(N, N) resistance that the ways from the root to each pair of taps share, from the network's conductances alone:
    half of what the two have to the root less what they have to one another."""
    names = sorted({name for a, b, _ in edges for name in (a, b)})
    at = {name: i for i, name in enumerate(names)}
    laplacian = np.zeros((len(names), len(names)))
    for a, b, ohm in edges:
        i, j = at[a], at[b]
        laplacian[[i, j], [i, j]] += 1 / ohm
        laplacian[[i, j], [j, i]] -= 1 / ohm
    inverse = np.linalg.pinv(laplacian)

    def between(a, b):
        i, j = at[a], at[b]
        return inverse[i, i] + inverse[j, j] - 2 * inverse[i, j]

    return np.array([[(between(root, a) + between(root, b) - between(a, b)) / 2 for b in taps] for a in taps])


def test_shared_ways_agree_with_nodal_analysis():
    layout, traces = straight_lane(RIGHT, LEFT, lights=LIGHTS)
    wiring = Wiring(branch_ohm=0.3)
    rails = rails_of(layout, traces, Settings(), wiring)
    # The negative tape by hand: it begins at y 114.5; joints at y 62.5 and 50.5, 1.25 mm into each branch's tape.
    edges = [
        ("cell", "L1", PER_MM * (114.5 - 75.0)),
        ("L1", "right", PER_MM * (75.0 - 62.5)),
        ("right", "left", PER_MM * (62.5 - 50.5)),
        ("left", "L2", PER_MM * (50.5 - 35.0)),
        ("right", "L3", 0.3 + PER_MM * (70.0 - 56.49)),
        ("L3", "L4", PER_MM * 10.0),
        ("left", "L5", 0.3 + PER_MM * (56.51 - 26.0)),
    ]
    expected = shared_by_nodes(edges, ["L1", "L2", "L3", "L4", "L5"])
    assert rails.negative.shared_ohm == pytest.approx(expected, rel=1e-6)
    assert np.diag(rails.negative.shared_ohm) == pytest.approx(rails.negative_ohm)


def test_a_branch_shares_with_the_lane_what_lies_before_its_joint_alone():
    layout, traces = straight_lane(RIGHT, LEFT, lights=LIGHTS)
    rails = rails_of(layout, traces, Settings(), Wiring(branch_ohm=5.0))
    shared = rails.positive.shared_ohm
    assert shared[0, 2] == pytest.approx(rails.positive_ohm[0])  # L1 lies before both joints
    assert shared[1, 2] == shared[4, 2] == pytest.approx(shared[1, 3])  # up to the first joint
    assert shared[2, 3] == pytest.approx(rails.positive_ohm[2])  # on the same branch, up to the nearer
    assert rails.first(2).positive.shared_ohm == pytest.approx(shared[:2, :2])


def test_a_bad_joint_dims_its_branch_and_is_told():
    layout, traces = straight_lane(RIGHT, lights=LIGHTS[:4])
    solved = [
        bench_of(layout, traces, Settings(), wiring=Wiring(branch_ohm=ohm)).solve().currents_ma
        for ohm in (LAP.good_ohm, LAP.bad_ohm)
    ]
    assert solved[1]["L3"] < 0.6 * solved[0]["L3"] and solved[1]["L4"] < 0.6 * solved[0]["L4"]
    assert solved[1]["L1"] > solved[0]["L1"]
    loss = contact_loss(bench_of(layout, traces, Settings()))
    assert 0 < loss.joint[1] < loss.joint[0] < 1
    assert "badly made joint" in loss.sentence
    plain = contact_loss(bench_of(*straight_lane(lights=LIGHTS[:2]), Settings()))
    assert plain.joint == (1.0, 1.0) and "joint" not in plain.sentence
    assert so_so(Wiring()).branch_ohm == LAP.so_so_ohm


def test_what_taps_each_tape():
    layout, traces = straight_lane(RIGHT, lights=LIGHTS[:4])
    lane, branch = tapes_of(traces, "positive", layout)
    assert lane.own.tolist() == [True, True, False, False] and lane.here.all()
    assert lane.along_mm == pytest.approx([39.5, 79.5, 57.0, 57.0])  # both of the branch's at its joint
    assert branch.own.tolist() == branch.here.tolist() == [False, False, True, True]


def test_a_bad_joint_is_a_single_fault_of_its_own():
    layout, traces = straight_lane(RIGHT, lights=LIGHTS[:4])
    faults = possible_faults(layout, traces, Settings())
    joints = [fault for fault in faults if fault.kind == "joint"]
    assert [(one.trace, one.beyond) for one in joints] == [
        ("positive", ("L3", "L4")),
        ("negative", ("L3", "L4")),
    ]
    assert joints[0].places_mm[0] == pytest.approx((51.49, 57.5))
    crossing = [fault for fault in faults if fault.kind == "touching" and fault.trace is not None]
    assert [(one.trace, one.places_mm[0]) for one in crossing] == [("positive", pytest.approx((56.49, 57.5)))]
    stretches = {(one.trace, one.between): one.beyond for one in faults if one.kind == "tape"}
    assert stretches["negative", ("L1", "the joint")] == ("L2", "L3", "L4")
    assert stretches["negative", ("the joint", "L2")] == ("L2",)
    assert stretches["negative", ("the joint", "L3")] == ("L3", "L4")
    assert len(stretches) == 10
    solved = dict(zip(faults, effects(good_card(layout, traces, Settings(), None), faults)))
    open_joint = solved[joints[1]].current_ma[-1]
    assert open_joint[2] < 1e-3 and open_joint[3] < 1e-3 and open_joint[0] > 1.0
    assert solved[crossing[0]].current_ma.max() < 1.0  # a short there darkens the whole card


def test_a_dark_branch_points_to_its_joint_first():
    layout, traces = straight_lane(RIGHT, lights=LIGHTS[:4])
    ranking = rank_faults(layout, traces, ["L3", "L4"])
    assert ranking.explained
    assert {fault.kind for one in ranking.ranked[:2] for fault in one.faults} == {"joint"}
    said = tell(ranking, layout.card, "mm")
    assert "doesn't touch the lane's at the joint" in said.faults[0].texts[0]
    assert said.test is not None and "joint" in said.test.text
