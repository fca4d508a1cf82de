"""The push switch: sizes, sides, the wrap of the positive tape, the place of the clear tape."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate

from circuit.flap import LEAST_TAB_DEPTH_MM, TAB_DEPTH_MM, flap_of, lights_under
from circuit.layout import BatteryMark, LightMark, Traces
from circuit.settings import Settings

CELL = BatteryMark(60.0, 60.0, 20.0)
# A lane that comes in from the left, 5 mm between the centre lines, to 3 mm past the centre's left.
LANE = Traces(positive=((57.0, 57.5), (20.0, 57.5)), negative=((57.0, 62.5), (20.0, 62.5)))
FROM_LEFT_DEG = 180.0


def test_the_flap_is_as_wide_as_the_cell_and_two_foam_rings():
    flap = flap_of(CELL, LANE, FROM_LEFT_DEG, Settings())
    assert flap.side_mm == 32.0  # 20 + 2 x 6, worked by hand
    assert Polygon(flap.outline).bounds == pytest.approx((44.0, 44.0, 76.0, 76.0))
    assert Polygon(flap.tab).bounds == pytest.approx((44.0 - TAB_DEPTH_MM, 44.0, 44.0, 76.0))
    assert [x for x, _ in flap.hinge] == pytest.approx([44.0, 44.0])


def test_the_wrap_goes_over_the_free_end_and_back_to_the_centre():
    flap = flap_of(CELL, LANE, FROM_LEFT_DEG, Settings())
    assert flap.over == (pytest.approx((57.0, 57.5)), pytest.approx((76.0, 57.5)))
    assert flap.under == (pytest.approx((76.0, 57.5)), pytest.approx((60.0, 57.5)))
    assert flap.wrap_mm == pytest.approx(19.0 + 16.0)
    assert flap.turn_on_flap_deg == 0.0


def test_tape_that_comes_in_askew_turns_on_the_flap_to_meet_the_free_end_squarely():
    askew = Traces(positive=((58.0, 58.0), (28.0, 28.0)), negative=((58.0, 62.0), (28.0, 92.0)))
    flap = flap_of(CELL, askew, FROM_LEFT_DEG, Settings())
    # Laid from the free end: heading left (180), then up and left (-135): 45 to the right.
    assert flap.turn_on_flap_deg == pytest.approx(45.0)
    assert flap.over == (pytest.approx((58.0, 58.0)), pytest.approx((76.0, 58.0)))


def test_foam_stands_on_the_three_other_sides_and_clear_of_the_cell():
    flap = flap_of(CELL, LANE, FROM_LEFT_DEG, Settings())
    strips = [Polygon(strip) for strip in flap.foam]
    cell = Point(60.0, 60.0).buffer(10.0)
    for strip in strips:
        assert Polygon(flap.outline).buffer(1e-9).contains(strip)
        assert strip.distance(cell) >= 0.5 - 1e-9
    # Nothing between the cell and the hinge, where the tapes come in: a strip 20 mm wide stays free.
    way_in = Polygon([(44.0, 50.0), (50.0, 50.0), (50.0, 70.0), (44.0, 70.0)])
    assert all(strip.intersection(way_in).area < 1e-9 for strip in strips)
    assert sum(a.intersection(b).area for a in strips for b in strips if a is not b) < 1e-9


def test_clear_tape_covers_the_negative_tape_where_it_passes_the_rim():
    flap = flap_of(CELL, LANE, FROM_LEFT_DEG, Settings())
    cover = Polygon(flap.rim_cover)
    tape = LineString(LANE.negative).buffer(1.25, cap_style="flat")
    # The can's bent edge: from the rim, 10 mm, to the negative face, 17.7 mm across
    # (a CR2032's text quoting its datasheet).
    can = Point(60.0, 60.0).buffer(10.0, quad_segs=64) - Point(60.0, 60.0).buffer(17.7 / 2, quad_segs=64)
    assert tape.intersection(can).difference(cover).area < 1e-6
    # ... and leaves the tape bare under the face, so that it can touch.
    assert tape.intersection(Point(60.0, 60.0).buffer(17.7 / 2)).difference(cover).area > 5.0


def test_a_light_close_behind_the_tab_makes_it_shorter_but_never_too_short_to_hold():
    near = LightMark("L1", 44.0 - 10.0, 60.0)
    shorter = flap_of(CELL, LANE, FROM_LEFT_DEG, Settings(), [near])
    assert LEAST_TAB_DEPTH_MM < shorter.tab_depth_mm < TAB_DEPTH_MM
    body = Point(near.centre).buffer(math.hypot(2.5, 2.5))
    assert Polygon(shorter.tab).distance(body) > 0
    beside = LightMark("L2", 60.0, 90.0)
    assert flap_of(CELL, LANE, FROM_LEFT_DEG, Settings(), [beside]).tab_depth_mm == TAB_DEPTH_MM
    touching = LightMark("L3", 44.0 - 4.0, 60.0)
    assert flap_of(CELL, LANE, FROM_LEFT_DEG, Settings(), [touching]).tab_depth_mm == LEAST_TAB_DEPTH_MM


@given(st.floats(-360, 360))
def test_turning_the_card_turns_the_flap(angle):
    def turned(line):
        return tuple(rotate(LineString(line), angle, origin=(60.0, 60.0)).coords)

    traces = Traces(turned(LANE.positive), turned(LANE.negative))
    straight = flap_of(CELL, LANE, FROM_LEFT_DEG, Settings())
    flap = flap_of(CELL, traces, FROM_LEFT_DEG + angle, Settings())
    assert flap.wrap_mm == pytest.approx(straight.wrap_mm)
    for name in ("outline", "tab", "rim_cover", "under"):
        assert sum(getattr(flap, name), ()) == pytest.approx(
            sum(turned(getattr(straight, name)), ()), abs=1e-6
        )


def test_a_hinge_without_a_direction_is_refused():
    with pytest.raises(ValueError, match="hinge_deg"):
        flap_of(CELL, LANE, math.nan, Settings())


def test_lights_that_the_square_flaps_corners_would_cover_are_named():
    flap = flap_of(CELL, LANE, FROM_LEFT_DEG, Settings())
    corner = LightMark("L1", 60.0 + 15.0, 60.0 - 15.0)  # 21 mm off: outside the round zone of 16 + 2.5
    beside = LightMark("L2", 60.0, 60.0 + 18.6)
    behind = LightMark("L3", 60.0 - 16.0 - TAB_DEPTH_MM - 2.6, 60.0)
    assert lights_under(flap, [corner, beside, behind], Settings()) == ("L1",)
