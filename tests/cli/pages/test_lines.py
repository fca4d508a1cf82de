"""Geometry of the drawings, against a general geometry library."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString
from shapely import box as rectangle

from cli.pages.labels import Labels
from cli.pages.lines import Placing, body_corners, creases, distance_to_box, shortened_line
from cli.pages.paper import Box

numbers = st.floats(-50, 50)
points = st.tuples(numbers, numbers)
boxes = st.builds(Box, numbers, numbers, st.floats(0.1, 30), st.floats(0.1, 30))


@given(points, points, boxes)
def test_distance_from_a_piece_of_line_to_a_box(a, b, box):
    general = LineString([a, b]).distance(rectangle(box.left, box.top, box.right, box.bottom))
    assert distance_to_box(a, b, box) == pytest.approx(general, abs=1e-7)


@pytest.mark.parametrize("turn", [20.0, 90.0, -90.0, 135.0, -135.0])
def test_a_crease_joins_the_inner_and_the_outer_corner_of_the_folded_tape(turn):
    end = (30 + 20 * math.cos(math.radians(turn)), 20 * math.sin(math.radians(turn)))
    line = ((0.0, 0.0), (30.0, 0.0), end)
    (crease,) = creases(line, 2.5)
    assert crease.turn_deg == pytest.approx(turn)
    # The corners of the two tapes' edges, by a general library.
    inner, outer = (
        LineString(line).offset_curve(side * 1.25, join_style="mitre", mitre_limit=10).coords[1]
        for side in (math.copysign(1, turn), -math.copysign(1, turn))
    )
    assert crease.outer == pytest.approx(outer, abs=1e-6)
    assert crease.inner == pytest.approx(inner, abs=1e-6)


def test_an_eased_bend_has_no_crease():
    assert creases(((0.0, 0.0), (30.0, 0.0), (60.0, 5.0)), 2.5) == ()


def test_the_first_two_corners_of_a_body_are_its_positive_side():
    corners = body_corners((10.0, 10.0), 5.0, 3.0, 90.0)  # its positive side down
    assert [y for _, y in corners] == pytest.approx([12.5, 12.5, 7.5, 7.5])
    assert {round(x, 6) for x, _ in corners} == {8.5, 11.5}


def test_mirroring_keeps_heights_and_turns_widths_about():
    placing = Placing(10.0, 20.0, 2.0, mirror_width_mm=100.0)
    assert placing.at((30.0, 5.0)) == (10.0 + 2 * 70.0, 20.0 + 2 * 5.0)


def test_shortening_never_eats_an_end_run():
    first, last = shortened_line(((0.0, 0.0), (0.3, 0.0)), 0.3)
    assert first == pytest.approx((0.1, 0.0), abs=1e-9)
    assert last == pytest.approx((0.2, 0.0), abs=1e-9)


def test_labels_keep_off_marks_and_each_other():
    labels = Labels(inside=Box(0, 0, 60, 60))
    labels.keep_off([(0.0, 30.0), (60.0, 30.0)], 2.5)
    taken = [labels.place((30.0, 30.0), 3.0, 6.0, 4.0) for _ in range(12)]
    for index, box in enumerate(taken):
        assert labels.inside.holds(box)
        assert distance_to_box((0.0, 30.0), (60.0, 30.0), box) >= 1.25
        assert not any(box.meets(other) for other in taken[:index])
