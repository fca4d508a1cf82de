"""Tape at its true width and place, folds on their mitre, the two traces told apart by pattern and sign."""

import math

import numpy as np
import pytest
import shapely

from tests.pictures import assert_alike
from vision.drawing.backdrop import Backdrop
from vision.drawing.colours import NEGATIVE, POSITIVE
from vision.drawing.overlay.photo_tape import painted, tape_mask
from vision.drawing.picture_pen import FINER

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


def coverage(size, line, width):
    """How much of each pixel the tape covers, (H, W), 0 to 1."""
    fine = tape_mask(size, line, width) / 255
    return fine.reshape(size[1], FINER, size[0], FINER).mean(axis=(1, 3))


def plain_backdrop(width, height, colour=(240, 240, 240)):
    pixels = np.full((height, width, 3), colour, dtype=np.uint8)
    return Backdrop(pixels, np.ones((height, width), dtype=np.float32))


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
        # Drawn three times as fine, so that edges lie on thirds of a pixel.
        assert cover[100].sum() == pytest.approx(width, abs=0.34)
        middle = (cover[100] * np.arange(60)).sum() / cover[100].sum()
        assert middle == pytest.approx(30.0, abs=0.3)


def test_plain_and_striped_in_their_colours():
    lines = [([(20.0, 30.0), (180.0, 30.0)], True), ([(20.0, 90.0), (180.0, 90.0)], False)]
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
    pixels = painted(backdrop, [([(10.0, 30.0), (190.0, 30.0)], True)], 28.0, 11.2).astype(float)
    on_pencil, beside = pixels[30, 100].mean(), pixels[30, 60].mean()
    assert beside - on_pencil > 40


def test_nothing_is_painted_far_from_the_tape_and_the_input_is_left_alone():
    backdrop = plain_backdrop(200, 120)
    before = backdrop.pixels.copy()
    pixels = painted(backdrop, [([(20.0, 30.0), (180.0, 30.0)], True)], 20.0, 8.0)
    assert_alike("backdrop-kept", backdrop.pixels, before)
    assert_alike("below-the-tape", pixels[60:], before[60:])
    assert not np.array_equal(pixels, before)


def test_tape_that_leaves_the_picture_is_cut_at_its_edge():
    lines = [([(-50.0, 30.0), (500.0, 30.0)], True), ([(-90.0, -90.0), (-40.0, -90.0)], False)]
    pixels = painted(plain_backdrop(200, 60), lines, 20.0, 8.0)
    assert pixels.shape == (60, 200, 3)
    assert tuple(pixels[30, 0]) == tuple(pixels[30, 100])
