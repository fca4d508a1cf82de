"""The refusal picture: the photo in sight, the trouble circled, the sentence legible."""

import numpy as np
import pytest

from vision.drawing.colours import SHEET, YELLOW
from vision.drawing.refusal_picture import WIDTH_PX, draw_refusal
from vision.errors import PhotoError

SENTENCE = "harbour.jpg: two circles look like the battery circle. Rub one out and take it again."


def yellow_centre(picture):
    rows, cols = np.nonzero(np.all(np.asarray(picture) == np.array(YELLOW), axis=2))
    return (cols.min() + cols.max()) / 2, (rows.min() + rows.max()) / 2


def grey_photo(width, height):
    return np.full((height, width, 3), 128, dtype=np.uint8)


def photo_box(picture):
    rows, cols = np.nonzero(np.all(np.asarray(picture) == 128, axis=2))
    return cols.min(), rows.min(), cols.max(), rows.max()


def test_a_point_is_circled_where_it_lies_in_the_photo():
    picture = draw_refusal(grey_photo(2000, 1500), PhotoError(SENTENCE), [(1500.0, 300.0)])
    left, top, right, bottom = photo_box(picture)
    x, y = yellow_centre(picture)
    # A line's width over the picture's: the circle is drawn that wide.
    assert (x - left) / (right - left) == pytest.approx(0.75, abs=0.004)
    assert (y - top) / (bottom - top) == pytest.approx(0.2, abs=0.004)


def test_without_points_nothing_is_circled():
    picture = draw_refusal(grey_photo(2000, 1500), PhotoError(SENTENCE))
    assert not np.all(np.asarray(picture) == np.array(YELLOW), axis=2).any()


def test_a_longer_sentence_makes_it_taller_and_stays_in_the_margins():
    short = draw_refusal(grey_photo(800, 600), PhotoError(SENTENCE))
    long = draw_refusal(grey_photo(800, 600), PhotoError(SENTENCE * 6 + "x" * 300))
    assert long.height > short.height
    right = np.asarray(long)[:, -20:]
    assert np.array_equal(right, np.broadcast_to(np.array(SHEET, dtype=np.uint8), right.shape))


@pytest.mark.parametrize("size", [(1, 1), (5000, 3), (3, 5000), (40, 30), (4000, 3000)])
def test_any_photo_fits(size):
    picture = draw_refusal(grey_photo(*size), PhotoError(SENTENCE), [(-50.0, 1e6), (float("nan"), 2.0)])
    assert picture.width == WIDTH_PX
    assert picture.height < 2.2 * WIDTH_PX


def test_only_colour_pictures_are_taken():
    with pytest.raises(ValueError, match="pixels"):
        draw_refusal(np.zeros((10, 10), dtype=np.uint8), PhotoError(SENTENCE))
