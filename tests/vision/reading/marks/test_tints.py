"""One pencil's dots are of one tint, dark or pale, on white and on brown paper; other things are not."""

import numpy as np
import pytest

from tests.vision.reading.marks.straight_cards import KRAFT, PINK, WHITE, Sheet
from tests.vision.reading.marks.test_things import Colour, lay_disc
from vision.reading.marks.tints import odd_tints

PLACES = np.array([(20.0, 20.0), (60.0, 24.0), (58.0, 70.0), (20.0, 60.0), (40.0, 45.0)])
WOOD, STONE = (118, 74, 52), (92, 92, 94)  # chosen: a brown and a grey table
RADII = np.full(len(PLACES), 1.5)


def four_dots() -> Sheet:
    sheet = Sheet(80, 100, 3)
    for (x, y), press in zip(PLACES[:4], (0.9, 0.7, 0.5, 0.4), strict=True):
        sheet.dot(x, y, 3.0, press)
    return sheet


@pytest.mark.parametrize(("paper", "table"), [(WHITE, WOOD), (PINK, WOOD), (KRAFT, STONE)])
def test_the_table_in_a_hole_is_of_another_tint_than_dots_dark_and_pale(paper: Colour, table: Colour) -> None:
    sheet = four_dots()
    lay_disc(sheet, 40, 45, 3.0, table)
    straight = sheet.straight(paper)
    lights = np.array([True] * 4 + [False])
    assert odd_tints(straight, PLACES, RADII, lights).tolist() == [False] * 4 + [True]
    # Seen among lights, it still is one of five.
    assert odd_tints(straight, PLACES, RADII, np.ones(5, dtype=np.bool_)).tolist() == [False] * 4 + [True]


def test_two_lights_tell_nothing_and_a_corner_is_no_error() -> None:
    straight = four_dots().straight()
    assert not odd_tints(straight, PLACES, RADII, np.array([True, True, False, False, False])).any()
    corner = np.array([(0.0, 0.0), *PLACES[1:]])
    assert not odd_tints(straight, corner, RADII, np.ones(5, dtype=np.bool_))[1:4].any()
