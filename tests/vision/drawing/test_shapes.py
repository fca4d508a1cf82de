"""The shapes that everything is drawn with, against a general geometry library."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import LineString

from circuit.part_kinds import LightPart
from vision.drawing.box import Box, Placing
from vision.drawing.shapes import (
    bars,
    body_corners,
    creases,
    dashes,
    octagon,
    rounded_corners,
    shortened_line,
    sign_places,
    tape_pieces,
)

LINES = {
    "straight": [(40.0, 50.0), (160.0, 50.0)],
    "right angle": [(40.0, 40.0), (150.0, 40.0), (150.0, 150.0)],
    "left turns": [(30.0, 150.0), (60.0, 60.0), (20.0, 30.0), (100.0, 10.0)],
    "sharpest fold": [
        (30.0, 100.0),
        (130.0, 100.0),
        (130.0 - 90 * math.cos(math.radians(45)), 100.0 - 90 * math.sin(math.radians(45))),
    ],
}


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


def test_the_middle_corners_of_a_body_are_its_positive_side():
    corners = body_corners((10.0, 10.0), LightPart("test", 5.0, 3.0, 1.0), 90.0)  # its positive side down
    assert [y for _, y in corners] == pytest.approx([7.5, 12.5, 12.5, 7.5])
    assert {round(x, 6) for x, _ in corners} == {8.5, 11.5}


def test_all_pieces_of_a_tape_turn_the_same_way():
    # A pen fills them as one shape: pieces that turned two ways would cut holes where they lap.
    for line in LINES.values():
        assert len({shapely.Polygon(piece).exterior.is_ccw for piece in tape_pieces(line, 16.0)}) == 1


def test_dashes_run_on_round_corners():
    line = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]
    pieces = dashes(line, 3.0, 1.0)
    assert [LineString(piece).length for piece in pieces] == pytest.approx([3.0] * 5)
    assert LineString(line).buffer(1e-6).contains(shapely.MultiLineString(pieces))


def test_rounded_boxes_and_octagons_have_their_size():
    box = Box(2.0, 3.0, 10.0, 6.0)
    inner = shapely.box(2, 3, 12, 9).buffer(-2.0).buffer(2.0, quad_segs=64)
    rounded = shapely.Polygon(rounded_corners(box, 2.0))
    # Six straight pieces stand for a quarter of a circle.
    assert rounded.symmetric_difference(inner).area < 0.01 * inner.area
    sides = shapely.Polygon(octagon((0.0, 0.0), 5.0))
    assert sides.exterior.distance(shapely.Point(0, 0)) == pytest.approx(5.0)


def test_mirroring_keeps_heights_and_turns_widths_about():
    placing = Placing(10.0, 20.0, 2.0, mirror_width_mm=100.0)
    assert placing.at((30.0, 5.0)) == (10.0 + 2 * 70.0, 20.0 + 2 * 5.0)


def test_shortening_never_eats_an_end_run():
    first, last = shortened_line(((0.0, 0.0), (0.3, 0.0)), 0.3)
    assert first == pytest.approx((0.1, 0.0), abs=1e-9)
    assert last == pytest.approx((0.2, 0.0), abs=1e-9)


@pytest.mark.parametrize("name", LINES)
def test_the_outline_is_what_a_geometry_library_makes_of_the_line(name):
    # shapely's flat-ended, mitred buffer is an independent build of the same shape. The mitre limit
    # is above 1 / cos(67.5 deg) = 2.61, the sharpest fold that the rules allow.
    width = 16.0
    ours = shapely.union_all([shapely.Polygon(piece) for piece in tape_pieces(LINES[name], width)])
    theirs = shapely.LineString(LINES[name]).buffer(
        width / 2, cap_style="flat", join_style="mitre", mitre_limit=2.7
    )
    assert ours.symmetric_difference(theirs).area < 1e-6 * theirs.area


def test_a_fold_has_a_crease_and_a_bend_has_none():
    def line(turn_deg):
        turn = math.radians(turn_deg)
        return [(0.0, 0.0), (50.0, 0.0), (50 + 50 * math.cos(turn), 50 * math.sin(turn))]

    assert creases(line(10), 8) == ()
    (crease,) = creases(line(90), 8)
    assert crease.inner == pytest.approx((46.0, 4.0))
    assert crease.outer == pytest.approx((54.0, -4.0))
    assert len(creases([*line(90), (100.0, 100.0)], 8)) == 2


def test_points_that_repeat_change_nothing():
    line = LINES["right angle"]
    assert tape_pieces([line[0], line[0], line[1], line[1], line[2]], 8.0) == tape_pieces(line, 8.0)
    assert tape_pieces([(5.0, 5.0), (5.0, 5.0)], 8.0) == ()


def test_signs_keep_off_lights_and_folds():
    line = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0)]
    lights = [(30.0, 2.5), (100.0, 40.0)]
    places = sign_places(line, 2.5, 17.0, lights, 5.0)
    assert len(places) >= 6
    for place in places:
        assert all(math.dist(place, light) >= 5.0 for light in lights)
        assert math.dist(place, (100.0, 0.0)) >= 3.0
    # One sign left out beside a light makes twice the 17 mm from sign to sign, and it may stand 5 mm aside.
    assert all(math.dist(a, b) < 40 for a, b in pairwise(places))


def test_a_crowded_trace_still_has_one_sign():
    assert sign_places([(0.0, 0.0), (10.0, 0.0), (10.0, 4.0)], 2.5, 17.0, [(5.0, 0.0)], 8.0) == [(5.0, 0.0)]


def test_bars_lie_straight_across_the_tape_at_even_steps():
    across = [shapely.Polygon(bar) for bar in bars([(0.0, 0.0), (98.0, 0.0), (98.0, 50.0)], 10.0, 2.0, 8.0)]
    assert all(bar.area == pytest.approx(20.0) for bar in across)
    middles = [bar.centroid.x + bar.centroid.y for bar in across]  # along the way round the corner
    assert np.diff(middles) == pytest.approx(8.0)
