"""Small parts of the mark finders."""

import numpy as np
import pytest

from circuit.layout import Card
from circuit.whereabouts import place
from tests.vision.reading.marks.straight_cards import Sheet
from vision.reading.marks.ink import read_ink
from vision.reading.marks.seen import MarksSeen, SeenLight
from vision.reading.marks.tidy import tidy_line, tidy_polygon

CARD = Card(108, 140)


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        (31.0, 12.4, "near the top left, 31.0 mm from the left edge and 12.4 mm from the top"),
        (100.0, 130.0, "near the bottom right, 8.0 mm from the right edge and 10.0 mm from the bottom"),
        (54.0, 70.0, "in the middle, 54.0 mm from the left edge and 70.0 mm from the top"),
    ],
)
def test_places_read_as_one_looks_for_them_with_a_ruler(x: float, y: float, words: str) -> None:
    assert place(x, y, CARD) == words


def test_places_are_told_in_inches_on_request() -> None:
    assert "1/2 in from the left edge" in place(12.7, 12.7, CARD, "in")


def test_one_doubtful_mark_makes_the_whole_unsure() -> None:
    assert MarksSeen(lights=(SeenLight(1, 2, 3, 0.1),)).sure
    assert not MarksSeen(lights=(SeenLight(1, 2, 3, 0.1, doubt="why"),)).sure
    assert not MarksSeen(maybe=((1.0, 2.0),)).sure


def test_ink_divides_the_shadow_out() -> None:
    sheet = Sheet(60, 60, 1)
    sheet.shade(0.5, 4.0)
    ink = read_ink(sheet.straight(noise=1.0))
    assert float(ink.work.mean()) < 0.02
    off = np.abs(ink.tone[ink.work_face] - 1)
    # What is left along the shadow's steepest edge stays under half of its depth of 0.5, and is rare.
    assert float(np.percentile(off, 99)) < 0.08 and float(off.max()) < 0.25


def test_ink_sees_nothing_under_the_square() -> None:
    sheet = Sheet(80, 80, 2)
    square = np.array([(30.0, 30.0), (55.4, 30.0), (55.4, 55.4), (30.0, 55.4)])
    ink = read_ink(sheet.straight(square_mm=square))
    assert float(ink.sample(np.array([[42.0, 42.0]]))[0]) == 0.0
    assert float(ink.fine.max()) < 0.2


def test_a_tidy_line_lies_on_the_stroke_and_has_few_points() -> None:
    sheet = Sheet(60, 60, 3)
    sheet.stroke([(10, 20), (50, 20), (50, 50)], 0.5, 0.7, 0.0)
    ink = read_ink(sheet.straight())
    line = tidy_line(ink, np.array([(10.0, 20.4), (49.7, 20.4), (49.7, 50.0)]))
    assert len(line) <= 6
    # a pixel of the straightened card, an eighth of a millimetre, and what smoothing moves an end by
    assert abs(line[0][1] - 20) < 0.15 and abs(line[-1][0] - 50) < 0.15
    polygon = tidy_polygon(ink, np.array([(10.0, 10.0), (20.0, 10.0), (20.0, 18.0), (10.0, 18.0)]))
    assert len(polygon) >= 4
