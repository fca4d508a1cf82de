"""The circle finder on a photo that was not made for it.

Source: `coins.png` in scikit-image (skimage.data.coins), a photo of 24 Greek coins from Pompeii,
Brooklyn Museum collection, no known copyright restrictions. The count of 24 is by eye.
"""

import cv2
import numpy as np
import pytest
from skimage import data

from circuit.layout import Card
from vision.reading.marks.battery import Ring, find_rings
from vision.reading.marks.ink import read_ink
from vision.reading.marks.strokes import trace_strokes
from vision.straight_card import StraightCard

PX_PER_MM = 5.0  # makes the coins 7 to 13 mm in radius, the sizes that the finder looks for
ENLARGED = 2


@pytest.fixture(scope="module")
def rings() -> list[Ring]:
    """The coins' outlines drawn as dark strokes on white, as the finder expects them."""
    smooth = cv2.GaussianBlur(data.coins().astype(np.float32), (0, 0), 1.5)
    steep = np.hypot(cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1))
    steep = np.clip(steep / np.percentile(steep, 97), 0, 1)
    drawn = cv2.resize((235 * (1 - 0.8 * steep)).astype(np.uint8), None, fx=ENLARGED, fy=ENLARGED)
    height, width = drawn.shape
    card = Card(width / PX_PER_MM, height / PX_PER_MM)
    ink = read_ink(StraightCard(np.dstack([drawn] * 3), PX_PER_MM, card))
    return find_rings(ink, trace_strokes(ink), tries=80)


def test_twenty_four_coins_are_found_and_nothing_else(rings: list[Ring]) -> None:
    whole = [ring for ring in rings if ring.cover > 0.76]  # what the mark finder calls credible
    assert len(whole) == 24


def test_each_coin_is_bright_where_its_circle_says_it_is(rings: list[Ring]) -> None:
    photo = cv2.GaussianBlur(data.coins().astype(np.float32), (0, 0), 1.0)
    scale = PX_PER_MM / ENLARGED
    turns = np.arange(60) * 2 * np.pi / 60
    for ring in (ring for ring in rings if ring.cover > 0.76):
        mean = []
        # 2.5 px inside and outside the circle: the outline is found to about a pixel, and coins are not round
        for step in (-2.5, 2.5):
            radius = ring.radius_mm * scale + step
            x = np.clip(ring.x_mm * scale + radius * np.cos(turns), 0, photo.shape[1] - 1)
            y = np.clip(ring.y_mm * scale + radius * np.sin(turns), 0, photo.shape[0] - 1)
            mean.append(photo[y.astype(int), x.astype(int)].mean())
        assert mean[0] > mean[1] + 8
