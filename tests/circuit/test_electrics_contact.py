import pytest

from circuit.electrics import Wiring, bench_of, contact_loss
from circuit.electrics.wiring import FLAP, PAD
from circuit.layout import Traces
from circuit.settings import Settings
from tests.circuit.cards import ladder, scattered
from tests.circuit.test_electrics_problems import zigzag


def test_a_bad_flap_takes_as_much_as_a_card_solved_with_one():
    layout, traces = ladder(5)
    lost = contact_loss(bench_of(layout, traces, Settings()))
    good = bench_of(layout, traces, Settings()).solve().currents_ma
    for share, ohm in zip(lost.flap, (FLAP.so_so_ohm, FLAP.bad_ohm)):
        bad = bench_of(layout, traces, Settings(), wiring=Wiring(flap_ohm=ohm)).solve().currents_ma
        assert min(bad[label] / good[label] for label in good) == pytest.approx(share, rel=1e-6)


def test_a_bad_pad_takes_more_than_a_so_so_one_and_less_where_fewer_dies_need_it():
    layout, traces = ladder(1)
    lost = contact_loss(bench_of(layout, traces, Settings()))
    assert 0 < lost.pad[1] < lost.pad[0] < 1
    # One light alone: its pad's ohms and the flap's are the same ohms.
    wiring = Wiring(flap_ohm=FLAP.good_ohm + PAD.bad_ohm - PAD.good_ohm)
    good, bad = (bench_of(layout, traces, Settings(), wiring=w).solve().total_ma for w in (Wiring(), wiring))
    assert bad / good == pytest.approx(lost.pad[1], rel=1e-6)  # rounding alone


def test_the_lights_beyond_the_worst_corner_are_named():
    layout, traces = zigzag(6)
    lost = contact_loss(bench_of(layout, traces, Settings()))
    assert lost.corner[0] == 1.0  # a fold that is not torn keeps its copper
    assert lost.corner[1] < 0.5
    assert lost.dimmed
    assert "L1" not in lost.dimmed  # it lies before the first corner
    lapped = contact_loss(bench_of(layout, traces, Settings(corners="lapped")))
    assert lapped.corner[0] < 1.0
    assert "badly made lap" in lapped.sentence
    assert "doesn't conduct" in lapped.sentence


def test_a_straight_lane_has_no_corner_to_tear():
    layout, traces = ladder(4)
    lost = contact_loss(bench_of(layout, traces, Settings()))
    assert lost.corner == (1.0, 1.0)
    assert lost.dimmed == ()
    assert "torn" not in lost.sentence


def test_nothing_is_said_without_lights_or_traces():
    assert contact_loss(bench_of(scattered([(54.0, 60.0)]), None, Settings())) is None
    straight = Traces(((0.0, 0.0), (10.0, 0.0)), ((0.0, 5.0), (10.0, 5.0)))
    assert contact_loss(bench_of(scattered([]), straight, Settings())) is None
