"""Finding room: the nearest free place, never on what is taken, and a word where there is none."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from vision.drawing.box import Box
from vision.drawing.labels import CELL_MM, NoRoomError, Taken, place_tags
from vision.drawing.tags import Tag, leader_of, may_be_mistaken

numbers = st.floats(-5, 65)
points = st.tuples(numbers, numbers)


def test_a_tag_goes_to_the_nearest_free_place():
    taken = Taken(Box(0, 0, 40, 40))
    taken.take_disc((20, 20), 4)
    (placed,) = place_tags([Tag((20.0, 20.0), 4, 4, 2.0)], taken)
    gap = math.dist(placed.box.nearest((20, 20)), (20, 20))
    assert 4 <= gap <= 4 + 3 * CELL_MM  # the disc's radius, and the cells that it and the tag are grown to


def test_a_tag_avoids_the_makers_words_when_there_is_other_room():
    busy = np.zeros((300, 300), dtype=np.float32)
    busy[:, 150:] = 1.0
    taken = Taken(Box(0, 0, 30, 30), busy)
    taken.take_box(Box(14, 14, 2, 2))
    (placed,) = place_tags([Tag((16.0, 15.0), 3, 3)], taken)
    assert placed.box.right <= 15 + CELL_MM


def test_faint_lines_are_covered_only_where_there_is_no_better_room_near():
    taken = Taken(Box(0, 0, 30, 30))
    taken.take_line([(15.0, 0.0), (15.0, 30.0)], 0.3, faint=True)
    (placed,) = place_tags([Tag((15.0, 15.0), 3, 3)], taken)
    assert placed.box.right <= 15 or placed.box.left >= 15
    narrow = Taken(Box(13, 0, 4, 30))
    narrow.take_line([(15.0, 0.0), (15.0, 30.0)], 0.3, faint=True)
    assert len(place_tags([Tag((15.0, 15.0), 3, 3)], narrow)) == 1


def test_a_full_area_says_so_unless_tags_may_lie_on_things():
    taken = Taken(Box(0, 0, 10, 10))
    taken.take_box(Box(0, 0, 10, 10))
    with pytest.raises(NoRoomError):
        place_tags([Tag((5.0, 5.0), 1, 1)], taken)
    assert len(place_tags([Tag((5.0, 5.0), 1, 1)], taken, on_taken=True)) == 1
    with pytest.raises(NoRoomError):
        place_tags([Tag((5.0, 5.0), 50, 1)], Taken(Box(0, 0, 10, 10)), on_taken=True)


@settings(max_examples=40, deadline=None)
@given(st.tuples(points, points, points), st.lists(points, min_size=2, max_size=4), points, st.floats(0.2, 8))
def test_a_placed_tag_touches_nothing_that_is_taken(corners, line, middle, radius):
    area = Box(0.0, 0.0, 60.0, 60.0)
    taken = Taken(area)
    taken.take_shape(corners)
    taken.take_line(line, 1.0)
    taken.take_disc(middle, radius)
    placed = place_tags([Tag((30.0, 30.0), 6.0, 4.0)] * 3, taken)
    shapes = [
        shapely.Polygon(corners),
        shapely.LineString(line).buffer(0.5, cap_style="flat"),
        shapely.Point(middle).buffer(radius),
    ]
    boxes = [shapely.box(p.box.left, p.box.top, p.box.right, p.box.bottom) for p in placed]
    for i, (one, box) in enumerate(zip(placed, boxes)):
        assert area.holds(one.box)
        # The shapes' sharp ends and a library's round ones differ by less than a hair.
        assert all(box.intersection(shape).area < 1e-3 for shape in shapes)
        assert all(box.intersection(other).area < 1e-6 for other in boxes[:i])


def test_a_leader_leaves_the_box_at_its_side_and_stops_short_of_its_mark():
    start, end = leader_of(Tag((10.0, 2.0), 2, 2, 0.5), Box(0, 1, 2, 2))
    assert start == pytest.approx((2.0, 2.0))
    assert end == pytest.approx((9.5, 2.0))
    assert leader_of(Tag((2.1, 2.0), 2, 2, 0.5), Box(0, 1, 2, 2)) is None


def beside_a_mark(others):
    """Room for a tag left and right of its spot at 10 mm, alike but for the calmer right side."""
    taken = Taken(Box(0.0, 0.0, 20.0, 20.0))
    taken.take_box(Box(0.0, 8.0, 20.0, 12.0))  # the lane, with the marks in it
    taken.take_box(Box(8.0, 0.0, 4.0, 8.0))
    return place_tags([Tag((10.0, 10.0), 5.0, 4.0, 2.5, others)], taken)[0].box.centre[0]


def test_a_tag_keeps_away_from_marks_that_it_could_be_taken_to_speak_of():
    assert beside_a_mark(()) > 10
    assert beside_a_mark(((16.0, 10.0),)) < 10
    assert beside_a_mark(((4.0, 10.0),)) > 10


def test_a_tag_that_lies_nearly_as_near_another_mark_may_be_mistaken():
    box = Box(0.0, 0.0, 5.0, 4.0)
    own = Tag((2.5, 7.0), 5.0, 4.0)
    assert not may_be_mistaken(own, box)  # no other mark
    assert not may_be_mistaken(replace(own, others=((15.0, 7.0),)), box)
    assert may_be_mistaken(replace(own, others=((2.5, 8.0),)), box)  # behind its own
    assert may_be_mistaken(replace(own, others=((15.0, 7.0), (2.5, -3.0))), box)  # on the other side, as near


@given(points, points, st.floats(1.0, 30.0))
def test_what_may_be_mistaken_is_so_in_any_place_and_mirrored(own, other, shift):
    box = Box(20.0, 20.0, 6.0, 4.0)
    tag = Tag(own, 6.0, 4.0, 0.0, (other,))
    mirrored = Tag((46 - own[0], own[1]), 6.0, 4.0, 0.0, ((46 - other[0], other[1]),))
    moved = Tag((own[0] + shift, own[1]), 6.0, 4.0, 0.0, ((other[0] + shift, other[1]),))
    assume(abs(2 * math.dist(own, other)) > 1e-3)
    told = may_be_mistaken(tag, box)
    assert may_be_mistaken(mirrored, box) == told
    assert may_be_mistaken(moved, box.moved(shift, 0.0)) == told


def test_a_leader_does_not_run_over_another_mark():
    own, other = (20.0, 20.0), (20.0, 12.0)

    def passes_at(others):
        """How far from the other mark the leader runs; all room is far above."""
        taken = Taken(Box(0.0, 0.0, 40.0, 40.0))
        taken.take_box(Box(0.0, 5.0, 40.0, 35.0))
        leader = place_tags([Tag(own, 4.0, 4.0, 2.0, others)], taken)[0].leader
        return shapely.LineString(leader).distance(shapely.Point(other))

    assert passes_at(()) < 2.0 <= passes_at((other,))
