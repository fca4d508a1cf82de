"""The tape's shape: strips, corners, what is dropped, and its parts measured against closed forms."""

import math

import numpy as np
import pytest
import shapely

from circuit.check.scene import Scene
from circuit.check.tape import tape_along
from circuit.layout import Traces
from circuit.settings import Settings
from tests.circuit.hand_made import STRAIGHT_CARD


def area(tape):
    return shapely.area(shapely.union_all(tape.pieces))


def test_a_right_angle_is_two_strips_that_share_a_whole_corner():
    tape = tape_along(((0, 0), (20, 0), (20, 30)), 2.5)
    assert tape.turns_deg == pytest.approx([90])
    # Up to the outer corner both ways: 21.25 x 2.5 and 31.25 x 2.5, less the corner square counted twice.
    assert area(tape) == pytest.approx(21.25 * 2.5 + 31.25 * 2.5 - 2.5**2)
    assert shapely.covers(shapely.union_all(tape.pieces), shapely.Point(21.24, -1.24))


@pytest.mark.parametrize("turn", [-135, -60, -10, 10, 45, 90, 120, 135])
def test_the_corners_tip_is_where_the_outer_edges_meet(turn):
    towards = (10 * math.cos(math.radians(turn)), 10 * math.sin(math.radians(turn)))
    tape = tape_along(((-10, 0), (0, 0), towards), 2.5)
    tip = shapely.get_coordinates(tape.corners[0])[2]
    assert math.hypot(*tip) == pytest.approx(1.25 / math.cos(math.radians(turn / 2)))
    # The outer side of a turn to +y (down) is -y, and the other way round.
    assert math.copysign(1, tip[1]) == -math.copysign(1, turn)


def test_a_tape_folded_back_on_itself_ends_somewhere():
    tape = tape_along(((0, 0), (10, 0), (2, 0)), 2.5)
    reach = shapely.get_coordinates(tape.pieces)[:, 0].max()
    assert 10 < reach <= 10 + 1.25 / math.cos(math.radians(67.5)) + 1e-9


def test_repeated_points_and_points_on_a_straight_line_are_no_folds():
    tape = tape_along(((0, 0), (0, 0), (5, 0), (10, 0), (10, 0), (10, 5)), 2.5)
    assert tape.points.tolist() == [[0, 0], [10, 0], [10, 5]]


def test_a_slow_curve_of_tiny_turns_stays_a_curve():
    # A quarter of a circle in turns of 0.09 degrees, each below what counts as a corner.
    angles = np.radians(np.arange(0, 90.01, 0.09))
    tape = tape_along(tuple((50 * math.cos(a), 50 * math.sin(a)) for a in angles), 2.5)
    assert tape.turns_deg.sum() == pytest.approx(90, abs=0.5)


def test_a_line_of_no_length_has_no_runs():
    tape = tape_along(((3, 4), (3, 4)), 2.5)
    assert len(tape.lengths) == len(tape.folds) == len(tape.pieces) == 0


def test_pieces_come_in_their_order_along_the_tape():
    tape = tape_along(((0, 0), (20, 0), (20, 30), (40, 30)), 2.5)
    where = [shapely.centroid(piece) for piece in tape.in_order]
    along = [shapely.line_locate_point(shapely.linestrings(tape.points), place) for place in where]
    assert along == sorted(along) and len(along) == 5


def test_one_end_of_a_drawn_line_stays_put_when_it_is_straightened():
    wobbly = tuple((float(x), 0.2 * math.sin(x)) for x in range(40))
    tape = tape_along(wobbly, 2.5, wobble_mm=0.5)
    assert tape.points.tolist() == [list(wobbly[0]), list(wobbly[-1])]


def test_a_scene_without_traces_has_no_tape():
    assert Scene(STRAIGHT_CARD, None, Settings()).tapes == {}
    assert set(Scene(STRAIGHT_CARD, Traces(((0, 0), (1, 0)), ((0, 5), (1, 5))), Settings()).tapes) == {
        "positive",
        "negative",
    }
