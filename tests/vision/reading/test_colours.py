import cv2
import numpy as np
from skimage.color import rgb2lab

from vision.reading.colours import as_lab


def test_all_greys_and_many_colours_come_out_as_another_library_gives_them():
    greys = np.repeat(np.arange(256, dtype=np.uint8)[:, None, None], 3, axis=2)
    colours = np.random.default_rng(5).integers(0, 256, (80, 100, 3), dtype=np.uint8)
    for rgb in (greys, colours):
        # scikit-image works the same standard out in float64; it states XYZ to a digit more, 0.02 in Lab at most.
        np.testing.assert_allclose(as_lab(rgb), rgb2lab(rgb), atol=0.03)


def test_white_black_and_a_published_red():
    # Source: the primaries of sRGB in CIE Lab under D65, as colour tables give them: red (53.24, 80.09, 67.20).
    rgb = np.array([[[255, 255, 255], [0, 0, 0], [255, 0, 0]]], dtype=np.uint8)
    expected = [[[100, 0, 0], [0, 0, 0], [53.24, 80.09, 67.20]]]
    np.testing.assert_allclose(as_lab(rgb), expected, atol=0.03)  # their last digit, and the matrix's


def test_it_stays_near_what_opencv_interpolates():
    colours = np.random.default_rng(6).integers(0, 256, (80, 100, 3), dtype=np.uint8)
    theirs = cv2.cvtColor(colours.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    np.testing.assert_allclose(as_lab(colours), theirs, atol=0.6)  # its table has 33 steps a channel
