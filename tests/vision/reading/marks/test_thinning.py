"""Strokes thinned to lines: against scikit-image's thinning, which goes by another table."""

import cv2
import numpy as np
import pytest
from skimage.morphology import skeletonize

from vision.reading.marks.thinning import thinned

# Where a stroke is an even number of pixels wide, either of the two in the middle may stay; more where strokes cross.
BESIDE_PX = 2.5
# The other table leaves spurs where a stroke ends or turns, up to the 6 pixels that it is wide: few of all pixels.
SPURS, LONGEST_SPUR_PX = 0.02, 6.0


def scribble(seed: int) -> np.ndarray:
    """Random pencil lines, 1 to 6 pixels wide, over each other."""
    rng = np.random.default_rng(seed)
    picture = np.zeros((160, 200), dtype=np.uint8)
    for _ in range(6):
        line = rng.uniform((0, 0), (200, 160), (5, 2)).astype(np.int32)
        cv2.polylines(picture, [line], False, 1, int(rng.integers(1, 7)))
    return picture > 0


def parts(picture: np.ndarray) -> int:
    return cv2.connectedComponents(picture.astype(np.uint8), connectivity=8)[0]


@pytest.mark.parametrize("seed", range(8))
def test_lines_lie_where_another_thinning_lays_them(seed: int) -> None:
    strokes = scribble(seed)
    ours, other = thinned(strokes), skeletonize(strokes)
    assert not (ours & ~strokes).any()
    assert parts(ours) == parts(strokes)
    from_other, from_ours = (
        cv2.distanceTransform((~line).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        for line in (other, ours)
    )
    assert from_other[ours].max() <= BESIDE_PX
    assert (from_ours[other] > BESIDE_PX).mean() <= SPURS
    assert from_ours[other].max() <= LONGEST_SPUR_PX


def test_a_bar_becomes_its_middle_line() -> None:
    strokes = np.zeros((9, 40), dtype=bool)
    strokes[2:7, 5:35] = True
    rows, columns = np.nonzero(thinned(strokes))
    assert set(rows) == {4}
    # Thinning eats a bar's ends as it eats its sides, half its width.
    assert columns.min() == pytest.approx(5, abs=3) and columns.max() == pytest.approx(34, abs=3)


def test_nothing_stays_nothing_and_a_speck_stays() -> None:
    picture = np.zeros((5, 5), dtype=bool)
    assert not thinned(picture).any()
    picture[0, 4] = True
    assert (thinned(picture) == picture).all()
