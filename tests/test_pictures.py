"""The comparison of pictures fails when it should, and leaves what is to be looked at."""

import numpy as np
import pytest

from tests.pictures import assert_alike, difference


def black_square(left):
    pixels = np.full((40, 60, 3), 255, dtype=np.uint8)
    pixels[10:30, left : left + 20] = 0
    return pixels


def test_the_share_of_ink_that_differs_is_told():
    assert difference(black_square(10), black_square(10)) == 0
    # Moved by a quarter of its width, a quarter is missing and a quarter too much.
    assert difference(black_square(10), black_square(15)) == pytest.approx(0.5)
    assert difference(np.full((4, 4, 3), 255), np.full((4, 4, 3), 255)) == 0


def test_a_failing_comparison_leaves_three_pictures(tmp_path):
    assert_alike("square", black_square(10), black_square(10), folder=tmp_path)
    assert not list(tmp_path.iterdir())
    with pytest.raises(AssertionError, match=r"50\.00% of the ink"):
        assert_alike("square", black_square(10), black_square(15), 0.4, folder=tmp_path)
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"square-actual.png", "square-expected.png", "square-difference.png"}


def test_pictures_of_two_sizes_differ(tmp_path):
    with pytest.raises(AssertionError):
        assert_alike("sizes", black_square(10), black_square(10)[:-1], 0.9, folder=tmp_path)
