"""Tape at its true width and place, folds on their mitre, the two traces told apart by pattern and sign."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely

from vision.drawing.overlay.paper import Backdrop
from vision.drawing.overlay.style import NEGATIVE, POSITIVE
from vision.drawing.overlay.tape import coverage, outline, painted, sign_places, stripes

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


def plain_backdrop(width, height, colour=(240, 240, 240)):
    pixels = np.full((height, width, 3), colour, dtype=np.uint8)
    return Backdrop(pixels, np.ones((height, width), dtype=np.float32))


@pytest.mark.parametrize("name", LINES)
def test_the_outline_is_what_a_geometry_library_makes_of_the_line(name):
    # shapely's flat-ended, mitred buffer is an independent build of the same shape. The mitre limit
    # is above 1 / cos(67.5 deg) = 2.61, the sharpest fold that the rules allow.
    width = 16.0
    ours = shapely.union_all([shapely.Polygon(piece) for piece in outline(LINES[name], width).pieces])
    theirs = shapely.LineString(LINES[name]).buffer(
        width / 2, cap_style="flat", join_style="mitre", mitre_limit=2.7
    )
    assert ours.symmetric_difference(theirs).area < 1e-6 * theirs.area


@pytest.mark.parametrize("name", LINES)
def test_pixels_are_covered_where_the_shape_is(name):
    width = 16.0
    shape = shapely.LineString(LINES[name]).buffer(
        width / 2, cap_style="flat", join_style="mitre", mitre_limit=2.7
    )
    cover = coverage((200, 200), LINES[name], width)
    ys, xs = np.mgrid[0:200, 0:200]
    # One pixel of slack: well inside is full, well outside is empty.
    deep = shapely.contains_xy(shape.buffer(-1.0), xs.ravel(), ys.ravel()).reshape(200, 200)
    away = ~shapely.contains_xy(shape.buffer(1.0), xs.ravel(), ys.ravel()).reshape(200, 200)
    assert np.all(cover[deep] == 1)
    assert np.all(cover[away] == 0)


def test_the_width_is_right_to_a_third_of_a_pixel():
    for width in (10.0, 15.5, 29.0):
        cover = coverage((60, 200), [(30.0, 20.0), (30.0, 180.0)], width)
        assert cover[100].sum() == pytest.approx(width, abs=0.34)
        middle = (cover[100] * np.arange(60)).sum() / cover[100].sum()
        assert middle == pytest.approx(30.0, abs=0.3)


def test_a_fold_has_a_crease_and_a_bend_has_none():
    def line(turn_deg):
        turn = math.radians(turn_deg)
        return [(0.0, 0.0), (50.0, 0.0), (50 + 50 * math.cos(turn), 50 * math.sin(turn))]

    assert outline(line(10), 8).creases == ()
    ((inner, tip),) = outline(line(90), 8).creases
    assert inner == pytest.approx((46.0, 4.0))
    assert tip == pytest.approx((54.0, -4.0))
    assert len(outline([*line(90), (100.0, 100.0)], 8).creases) == 2


def test_points_that_repeat_change_nothing():
    line = LINES["right angle"]
    assert outline([line[0], line[0], line[1], line[1], line[2]], 8.0) == outline(line, 8.0)
    assert outline([(5.0, 5.0), (5.0, 5.0)], 8.0).pieces == ()


def test_signs_keep_off_lights_and_folds():
    line = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0)]
    lights = [(30.0, 2.5), (100.0, 40.0)]
    places = sign_places(line, 17.0, lights, 5.0, 3.0)
    assert len(places) >= 6
    for place in places:
        assert all(math.dist(place, light) >= 5.0 for light in lights)
        assert math.dist(place, (100.0, 0.0)) >= 3.0
    assert all(math.dist(a, b) < 40 for a, b in pairwise(places))


def test_a_crowded_trace_still_has_one_sign():
    assert sign_places([(0.0, 0.0), (10.0, 0.0), (10.0, 4.0)], 17.0, [(5.0, 0.0)], 8.0, 3.0) == [(5.0, 0.0)]


def test_stripes_cross_the_tape_at_even_steps():
    bars = stripes([(0.0, 0.0), (100.0, 0.0)], 10.0, 8.0)
    middles = [(a[0] + b[0]) / 2 for a, b in bars]
    assert np.diff(middles) == pytest.approx(8.0)
    assert all(abs(a[1]) >= 5 and abs(b[1]) >= 5 and a[1] * b[1] < 0 for a, b in bars)


def test_plain_and_striped_in_their_colours():
    lines = {"positive": [(20.0, 30.0), (180.0, 30.0)], "negative": [(20.0, 90.0), (180.0, 90.0)]}
    pixels = painted(plain_backdrop(200, 120), lines, 28.0, 11.2).astype(float)
    plain = pixels[27:34, 40:160].reshape(-1, 3)
    striped = pixels[87:94, 40:160].reshape(-1, 3)
    # Two thirds colour, one third paper; along the middle the positive tape is one flat tone.
    assert plain.std(axis=0).max() < 1.0
    assert striped.std(axis=0).max() > 15.0
    for seen, wanted in ((np.median(plain, axis=0), POSITIVE), (np.median(striped, axis=0), NEGATIVE)):
        towards = np.array(wanted) - 240.0
        share = ((seen - 240.0) @ towards) / (towards @ towards)
        assert 0.5 < share < 0.8


def test_the_pencil_shows_through_the_tape():
    backdrop = plain_backdrop(200, 60)
    backdrop.pixels[:, 95:105] = 110
    backdrop.bare[:, 95:105] = 0.5
    pixels = painted(backdrop, {"positive": [(10.0, 30.0), (190.0, 30.0)]}, 28.0, 11.2).astype(float)
    on_pencil, beside = pixels[30, 100].mean(), pixels[30, 60].mean()
    assert beside - on_pencil > 40


def test_nothing_is_painted_far_from_the_tape_and_the_input_is_left_alone():
    backdrop = plain_backdrop(200, 120)
    before = backdrop.pixels.copy()
    pixels = painted(backdrop, {"positive": [(20.0, 30.0), (180.0, 30.0)]}, 20.0, 8.0)
    assert np.array_equal(backdrop.pixels, before)
    assert np.array_equal(pixels[60:], before[60:])
    assert not np.array_equal(pixels, before)


def test_tape_that_leaves_the_picture_is_cut_at_its_edge():
    lines = {"positive": [(-50.0, 30.0), (500.0, 30.0)], "negative": [(-90.0, -90.0), (-40.0, -90.0)]}
    pixels = painted(plain_backdrop(200, 60), lines, 20.0, 8.0)
    assert pixels.shape == (60, 200, 3)
    assert tuple(pixels[30, 0]) == tuple(pixels[30, 100])
