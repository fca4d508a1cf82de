"""The push switch: figures worked by hand for the default parts, and what must hold for every cell."""

import math

import pytest
from shapely import Point, Polygon
from shapely.ops import unary_union

from circuit.layout import BatteryMark
from circuit.parts import cell_part
from circuit.settings import Settings
from circuit.switch import (
    TONGUE_BESIDE_LANE_MM,
    EndRuns,
    bent_ramp_mm,
    first_point_range,
    most_beside_mm,
    shape_of,
    switch_of,
)

CELLS = ("CR1220", "CR1620", "CR1632", "CR2016", "CR2025", "CR2032", "CR2450")
BATTERY = BatteryMark(60.0, 60.0, 20.5)
ROUNDING_MM = 1e-6


def switch_for(cell="CR2032", towards=(1.0, 0.0), *, rise_mm=None, tongue="bent", **runs):
    settings = Settings(cell=cell_part(cell))
    return switch_of(BATTERY, towards, settings, runs=EndRuns(**runs), rise_mm=rise_mm, tongue=tongue)


def test_the_default_switch_worked_by_hand():
    switch = switch_for()
    # Lid: 20 mm cell, 2 x 0.5 mm of play, 2 x 5 mm of foam. Tongue: 6 mm of ramp, 4 mm of tab.
    assert Polygon(switch.lid_mm).bounds == pytest.approx((44.5, 44.5, 75.5, 75.5))
    assert Polygon(switch.lid_mm).area == pytest.approx(31**2 - 4 * 6 * 6 / 2)
    assert Polygon(switch.tab_mm).bounds == pytest.approx((81.5, 52.0, 85.5, 68.0))
    assert switch.hinge_mm == (pytest.approx((75.5, 52.0)), pytest.approx((75.5, 68.0)))
    # The lane's middle is the cell's: the negative tape lies 2.5 mm to the right (down, looking along +x).
    assert Polygon(switch.cover_mm).bounds == pytest.approx((65.495, 59.25, 87.5, 65.75), abs=1e-3)
    assert switch.end_run_mm == pytest.approx(4.5 + 25.5)
    assert switch.wrap_mm == pytest.approx(15.5 + 4.5)
    assert first_point_range(Settings(), 2.5) == (3.0, 6.0)


def test_a_ramp_is_longer_flat_than_from_above():
    # 6 mm across and 4 up: two arcs of radius (36 + 16) / 16 = 3.25 mm, each turning 2 atan(4/6) = 67.38 degrees.
    assert bent_ramp_mm(6.0, 4.0) == pytest.approx(2 * 3.25 * math.radians(67.3801), rel=1e-5)
    assert bent_ramp_mm(6.0, 0.0) == 6.0
    assert bent_ramp_mm(5.0, 5.0) == 10.0
    assert switch_for().tongue_flat_mm == pytest.approx(7.644 + 4.0, abs=1e-3)


def test_an_upright_tongue_worked_by_hand():
    switch = switch_for(tongue="upright")
    # 1 mm of lean and 4 mm of tab beyond the lid; 4 mm up and 1 mm across in flat paper.
    assert Polygon(switch.tab_mm).bounds == pytest.approx((76.5, 52.0, 80.5, 68.0))
    assert switch.end_run_mm == pytest.approx(4.5 + 20.5)
    assert switch.tongue_flat_mm == pytest.approx(math.sqrt(17.0) + 4.0)
    assert switch.beyond_trace_mm == pytest.approx(15.5 - 4.5 + 0.4 + 20.0 + math.sqrt(17.0) - 1.0)
    assert switch.foam_mm == switch_for().foam_mm and switch.wrap_mm == switch_for().wrap_mm


@pytest.mark.parametrize("run, rise", [(0.0, 1.0), (5.0, -1.0), (5.0, math.nan)])
def test_a_ramp_needs_a_run_and_a_height(run, rise):
    with pytest.raises(ValueError, match="ramp"):
        bent_ramp_mm(run, rise)


@pytest.mark.parametrize("towards", [(0.0, 0.0), (math.nan, 1.0), (math.inf, 0.0)])
def test_a_switch_needs_a_direction(towards):
    with pytest.raises(ValueError, match="direction"):
        switch_for(towards=towards)


@pytest.mark.parametrize("tongue", ["bent", "upright"])
@pytest.mark.parametrize("cell", CELLS)
def test_the_frame_is_closed_and_lies_under_the_lid(cell, tongue):
    switch = switch_for(cell, tongue=tongue)
    lid, opening = Polygon(switch.lid_mm), Polygon(switch.opening_mm)
    pieces = [Polygon(piece) for piece in switch.foam_mm]
    frame = unary_union(pieces)
    assert frame.geom_type == "Polygon" and len(frame.interiors) == 1
    assert frame.symmetric_difference(lid - opening).area == pytest.approx(0.0, abs=ROUNDING_MM)
    assert sum(piece.area for piece in pieces) == pytest.approx(frame.area)
    # The cell, wherever its play lets it go, stays in the opening, and foam at least 2.8 mm wide is round it.
    assert opening.contains(Point(BATTERY.centre).buffer(cell_part(cell).diameter_mm / 2))
    assert opening.distance(lid.exterior) >= 2.8


@pytest.mark.parametrize("tongue", ["bent", "upright"])
@pytest.mark.parametrize("cell", CELLS)
def test_the_parts_make_up_the_outline(cell, tongue):
    switch = switch_for(cell, tongue=tongue)
    parts = [Polygon(part) for part in (switch.lid_mm, switch.ramp_mm, switch.tab_mm)]
    outline = Polygon(switch.outline_mm)
    assert outline.is_valid
    assert unary_union(parts).symmetric_difference(outline).area == pytest.approx(0.0, abs=ROUNDING_MM)
    assert sum(part.area for part in parts) == pytest.approx(outline.area)


@pytest.mark.parametrize("cell", [cell for cell in CELLS if cell != "CR1220"])
def test_bare_copper_keeps_inside_the_rim_and_reaches_past_the_middle(cell):
    part = cell_part(cell)
    for beside in (-0.8, 0.0, 0.8):
        switch = switch_for(cell, lane_at_mm=beside)
        middle = Point(BATTERY.centre)
        for bare in (switch.bare_mm, switch.contact_mm):
            assert (
                max(middle.distance(Point(corner)) for corner in bare)
                <= part.diameter_mm / 2 - 2.5 + ROUNDING_MM
            )
            along = [x - BATTERY.x_mm for x, _ in bare]
            assert min(along) <= -3.0 + ROUNDING_MM and max(along) >= 3.0 - ROUNDING_MM
        # The clear tape lies on none of the dot, else it would carry the cell.
        dot = middle.buffer(switch.dot_mm / 2)
        assert switch.dot_mm > 4.0
        tape_beside = Polygon(switch.cover_mm).intersection(dot)
        assert tape_beside.area == 0.0


def test_how_far_a_tape_may_pass_beside_the_middle():
    # Corners of 2.5 mm tape reaching 3 mm along, 2.5 mm inside the rim: sqrt(5.5^2 - 3^2) - 1.25, and so on.
    limits = {cell: most_beside_mm(Settings(cell=cell_part(cell))) for cell in ("CR1220", "CR1620", "CR2032")}
    assert limits == {
        "CR1220": pytest.approx(1.0),
        "CR1620": pytest.approx(3.36, abs=0.01),
        "CR2032": 4.0,
    }
    assert first_point_range(Settings(), 4.0)[1] == pytest.approx(math.sqrt(7.5**2 - 5.25**2))
    least, most = first_point_range(Settings(cell=cell_part("CR1220")), 2.5)
    assert most < least


def test_the_tongue_is_as_wide_as_a_wide_lane_asks():
    shape = shape_of(Settings(tape_width_mm=5.0, gap_mm=2.5))
    assert shape.tongue_mm == pytest.approx(12.5 + 2 * TONGUE_BESIDE_LANE_MM)


def test_no_clear_tape_under_a_light():
    assert max(x for x, _ in switch_for(clear_from_mm=26.3).cover_mm) == pytest.approx(86.3)
    assert max(x for x, _ in switch_for().cover_mm) == pytest.approx(87.5)


@pytest.mark.parametrize("angle", [17.0, 90.0, 233.0])
def test_turning_the_hinge_turns_the_switch(angle):
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    straight, turned = switch_for(), switch_for(towards=(3 * c, 3 * s))  # the vector's length does not count
    assert turned.towards == pytest.approx((c, s))

    def turn(point):
        dx, dy = point[0] - 60.0, point[1] - 60.0
        return (60.0 + c * dx - s * dy, 60.0 + s * dx + c * dy)

    for name in ("outline_mm", "bare_mm", "cover_mm", "over_mm", "under_mm", "hinge_mm"):
        expected = [turn(point) for point in getattr(straight, name)]
        assert sum(getattr(turned, name), ()) == pytest.approx(sum(expected, ())), name
    assert turned.tape_on_flap_mm == pytest.approx(straight.tape_on_flap_mm)


def test_positive_tape_on_the_right_mirrors_the_tapes_alone():
    left, right = switch_for(), switch_for(positive_right=True)
    assert right.lid_mm == left.lid_mm
    assert [y for _, y in right.over_mm] == pytest.approx([62.5, 62.5])
    assert [y for _, y in left.over_mm] == pytest.approx([57.5, 57.5])
