"""Positive sides and the hinge side, on cards turned every way."""

import math
from dataclasses import replace

import pytest

from circuit.layout import Traces
from circuit.orientation import positive_sides_deg
from circuit.settings import Settings
from circuit.switch import switch_on
from tests.circuit.hand_made import (
    BATTERY,
    STRAIGHT_CARD,
    STRAIGHT_TRACES,
    card_with,
    turned,
)


def test_the_positive_side_is_square_to_the_lane():
    # The lane goes up the card, its positive tape on the left.
    assert positive_sides_deg(STRAIGHT_CARD, STRAIGHT_TRACES) == {"L1": 180.0, "L2": 180.0}
    swapped = replace(STRAIGHT_TRACES, positive=STRAIGHT_TRACES.negative, negative=STRAIGHT_TRACES.positive)
    assert positive_sides_deg(STRAIGHT_CARD, swapped) == {"L1": 0.0, "L2": 0.0}


def test_a_light_a_little_off_the_midline_is_no_less_square():
    layout = card_with((54.4, 60), (53.6, 40))
    assert positive_sides_deg(layout, STRAIGHT_TRACES) == {"L1": 180.0, "L2": 180.0}


def hinge_deg(layout, traces):
    switch = switch_on(layout, traces, Settings())
    return None if switch is None else switch.hinge_deg


def test_the_hinge_is_where_the_lane_comes_in():
    assert hinge_deg(STRAIGHT_CARD, STRAIGHT_TRACES) == pytest.approx(-90.0)


@pytest.mark.parametrize("by", [37.0, 90.0, 180.0, -120.0])
def test_turning_the_lane_about_the_battery_turns_both(by):
    def turn(line):
        return tuple(turned(point, by, BATTERY.centre) for point in line)

    lights = [turned(light.centre, by, BATTERY.centre) for light in STRAIGHT_CARD.lights]
    layout = card_with(*lights)
    traces = Traces(turn(STRAIGHT_TRACES.positive), turn(STRAIGHT_TRACES.negative))

    def apart(one, other):
        return abs(math.remainder(one - other, 360))

    assert apart(hinge_deg(layout, traces), -90 + by) < 1e-6
    for side in positive_sides_deg(layout, traces).values():
        assert apart(side, 180 + by) < 1e-6


def test_no_battery_no_hinge():
    assert hinge_deg(replace(STRAIGHT_CARD, battery=None), STRAIGHT_TRACES) is None


def test_tapes_from_opposite_sides_have_no_hinge_side():
    traces = Traces(((54.0, 106.0), (54.0, 60.0)), ((54.0, 114.0), (54.0, 139.0)))
    assert hinge_deg(STRAIGHT_CARD, traces) is None
