"""What the router lays, the checker passes: two pieces of code that share no geometry."""

import math

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from circuit.check import check, must_fix_on_card
from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.moves import Advice, suggest_moves
from circuit.orientation import positive_sides_deg
from circuit.part_kinds import LightPart
from circuit.parts import cell_part
from circuit.route import lay_traces
from circuit.settings import Settings
from circuit.switch import switch_on
from tests.circuit.hand_made import card_with

BUILDS = {
    "usual": Settings(),
    "2 mm tape": Settings(tape_width_mm=2.0),
    "6 mm tape": Settings(tape_width_mm=6.0),
    "3.2 mm lights": Settings(light=LightPart("own", 3.2, 1.6, 0.8), gap_mm=1.5),
    "6 mm lights": Settings(light=LightPart("own", 6.0, 6.0, 1.6)),
    "12.5 mm cell": Settings(cell=cell_part("CR1220")),
}


@st.composite
def cards(draw):
    """Up to six lights, 8 mm or more apart and clear of edges and battery, on cards up to 300 mm."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    width, height = draw(st.sampled_from([(107.95, 139.7), (105.0, 148.0), (139.7, 107.95), (300.0, 200.0)]))
    battery = rng.uniform((18, 18), (width - 18, height - 18))
    places: list[tuple[float, float]] = []
    wanted = draw(st.integers(1, 6))
    for _ in range(2000):
        place = rng.uniform((8, 8), (width - 8, height - 8))
        clear = math.dist(place, battery) > 20 and all(math.dist(place, other) > 8 for other in places)
        if clear:
            places.append((float(place[0]), float(place[1])))
        if len(places) == wanted:
            break
    return Layout(
        Card(width, height),
        tuple(LightMark(f"L{k + 1}", x, y) for k, (x, y) in enumerate(places)),
        BatteryMark(float(battery[0]), float(battery[1]), 20.9),
    )


@pytest.mark.parametrize("build", BUILDS)
@given(cards())
@settings(max_examples=5, deadline=None)
# Two lights as near as they may be: once no lane went straight over both.
@example(card_with((50, 50), (57.01, 50)))
def test_every_lane_that_is_laid_passes_the_check(build, layout):
    own = BUILDS[build]
    assume(not must_fix_on_card(check(layout, None, own)))
    routed = lay_traces(layout, own, quick=True)
    assume(routed.traces is not None)  # a card with no lane is another test's business
    assert must_fix_on_card(check(layout, routed.traces, own)) == []
    assert suggest_moves(layout, own, routed, route=lay_traces) == Advice()
    assert set(positive_sides_deg(layout, routed.traces, own)) == {light.label for light in layout.lights}
    assert switch_on(layout, routed.traces, own) is not None


def test_two_lights_as_near_as_the_rule_allows_can_be_laid():
    for apart in (7.0, 7.1, 7.3, 8.0):
        assert lay_traces(card_with((50, 50), (50 + apart, 50)), Settings()).traces is not None
