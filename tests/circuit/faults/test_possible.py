import math

import pytest

from circuit.faults.possible import nearest_places, possible_faults
from circuit.layout import Traces
from circuit.settings import Settings
from tests.circuit.cards import ladder, scattered


def kinds(faults):
    return sorted({fault.kind for fault in faults})


def test_a_card_has_every_kind_of_fault_and_each_light_its_own():
    layout, traces = ladder(4)
    faults = possible_faults(layout, traces, Settings())
    assert kinds(faults) == [
        "cell-spent",
        "cell-turned",
        "dead",
        "flap",
        "pads",
        "tape",
        "touching",
        "turned",
    ]
    for kind in ("pads", "turned", "dead"):
        own = [fault for fault in faults if fault.kind == kind]
        assert [fault.light for fault in own] == ["L1", "L2", "L3", "L4"]
        assert all(fault.beyond == (fault.light,) for fault in own)
        assert [fault.places_mm[0] for fault in own] == [mark.centre for mark in layout.lights]
    assert all(fault.common > 0 and fault.places_mm for fault in faults)


def test_a_tape_can_break_before_each_light_and_darkens_what_lies_beyond():
    layout, traces = ladder(3)
    broken = [f for f in possible_faults(layout, traces, Settings()) if f.kind == "tape"]
    assert [(f.trace, f.between, f.beyond) for f in broken if f.trace == "positive"] == [
        ("positive", ("", "L1"), ("L1", "L2", "L3")),
        ("positive", ("L1", "L2"), ("L2", "L3")),
        ("positive", ("L2", "L3"), ("L3",)),
    ]
    assert len(broken) == 6


def test_folds_are_where_a_tape_tears_and_laps_fail_more_often():
    # Out, round a corner between the two lights, and on.
    line = ((10.0, 100.0), (10.0, 60.0), (60.0, 60.0))
    layout = scattered([(10.0, 80.0), (40.0, 60.0)])
    folded, lapped = (
        [
            f
            for f in possible_faults(layout, Traces(line, line), Settings(corners=corners))
            if f.kind == "tape"
        ]
        for corners in ("folded", "lapped")
    )
    straight, corner = folded[0], folded[1]
    assert corner.places_mm == ((10.0, 60.0),)
    assert straight.places_mm[0] == pytest.approx((10.0, 90.0))  # nothing bends there: its middle
    assert straight.common < corner.common < lapped[1].common


def test_the_tapes_touch_where_a_corner_comes_nearest():
    # The positive tape steps towards the other one at (30, 11).
    positive = ((0.0, 5.0), (20.0, 5.0), (30.0, 9.0), (40.0, 5.0), (60.0, 5.0))
    negative = ((0.0, 10.0), (60.0, 10.0))
    where = nearest_places(Traces(positive, negative))
    assert math.dist(where, (30.0, 9.5)) < 0.01


def test_a_card_without_lights_has_its_cell_s_faults_alone():
    layout, traces = ladder(0)
    assert kinds(possible_faults(layout, traces, Settings())) == [
        "cell-spent",
        "cell-turned",
        "flap",
        "touching",
    ]
