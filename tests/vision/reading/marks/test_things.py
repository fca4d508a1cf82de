"""Things and holes on drawn cards that are no pencil."""

import math

import cv2
import numpy as np
import pytest

from tests.vision.reading.marks.straight_cards import FINE_PX_PER_MM, KRAFT, WHITE, Sheet, three_dots
from vision.reading.marks import find_marks

Colour = tuple[int, int, int]
BODY, PHOSPHOR = (238, 238, 232), (228, 205, 90)  # common practice, no source: white plastic, yellow phosphor


def lay_slab(sheet: Sheet, x_mm: float, y_mm: float, wide_mm: float, high_mm: float, colour: Colour) -> None:
    mask = np.zeros(sheet.press.shape, np.uint8)
    reach = np.array([[-wide_mm, -high_mm], [wide_mm, high_mm]]) / 2
    low, high = np.round(sheet.at(np.array([x_mm, y_mm]) + reach)).astype(int).tolist()
    cv2.rectangle(mask, low, high, 255, -1)
    sheet.things.append((mask, colour))


def lay_disc(sheet: Sheet, x_mm: float, y_mm: float, wide_mm: float, colour: Colour) -> None:
    mask = np.zeros(sheet.press.shape, np.uint8)
    middle = np.round(sheet.at(np.array([x_mm, y_mm]))).astype(int).tolist()
    cv2.circle(mask, middle, round(wide_mm / 2 * FINE_PX_PER_MM), 255, -1, cv2.LINE_AA)
    sheet.things.append((mask, colour))


@pytest.mark.parametrize("paper", [WHITE, KRAFT])
def test_a_light_laid_where_no_dot_shows_is_doubted_there(paper: Colour) -> None:
    sheet = three_dots(4)
    lay_slab(sheet, 60, 24, 3.5, 2.8, BODY)
    lay_disc(sheet, 60, 24, 2.2, PHOSPHOR)
    seen = find_marks(sheet.straight(paper))
    assert not seen.sure
    # As a thing, or, where its rim looks like pencil, as a mark that could be another. Within the light's body.
    [place] = [doubt.where_mm for doubt in seen.doubts]
    assert place is not None and math.dist(place, (60, 24)) < 1.75
    if paper is KRAFT:
        assert [doubt.says.key for doubt in seen.doubts] == ["thing-on-card"]


def test_pencil_and_what_is_larger_than_a_light_are_no_such_things() -> None:
    sheet = three_dots(4)
    sheet.cross_out(20, 20)
    sheet.smudge(50, 50)
    sheet.stroke(np.array([[10.0, 40.0], [70.0, 44.0]]))
    sheet.shade()
    lay_slab(sheet, 58, 88, 12.0, 6.0, PHOSPHOR)
    assert find_marks(sheet.straight()).hidden == ()


def test_a_dot_of_coloured_pencil_is_a_dot_but_asked_about_among_grey_ones() -> None:
    sheet = three_dots(4)
    lay_disc(sheet, 40, 40, 3.0, (60, 62, 190))
    seen = find_marks(sheet.straight())
    # Within the project's aim for a light's place.
    [light] = [light for light in seen.lights if math.dist(light.centre, (40, 40)) < 1]
    assert light.doubt == "light-or-else" and sum(one.sure for one in seen.lights) == 3


def test_dots_of_one_coloured_pencil_are_sure() -> None:
    sheet = Sheet(seed=4)
    sheet.ring(40, 70, 20.0)
    for x, y in ((18, 20), (40, 30), (62, 20)):
        lay_disc(sheet, x, y, 3.0, (60, 62, 190))
    seen = find_marks(sheet.straight())
    assert len(seen.lights) == 3 and seen.sure
    assert seen.hidden == ()


@pytest.mark.parametrize("table", [(96, 96, 96), (60, 40, 30), (30, 45, 80)])
def test_punched_holes_are_never_lights_for_sure(table: Colour) -> None:
    # ISO 838:1974: holes of 6 mm, 80 mm apart, 12 mm from the edge.
    sheet = Sheet(100, 120, 5)
    sheet.ring(60, 40, 20.6)
    dots = [(40, 80), (60, 90), (80, 80)]
    for x, y in dots:
        sheet.dot(x, y, 3.0)
    for y in (20, 100):
        lay_disc(sheet, 12, y, 6.0, table)
    seen = find_marks(sheet.straight())
    assert not seen.sure
    assert all(any(math.dist(light.centre, dot) < 1 for dot in dots) for light in seen.lights if light.sure)
