"""The page of reference squares, as it comes out of the printer."""

import cv2
import numpy as np
import pytest

from cli.pages import square_page
from cli.pages.paper import A4, LETTER
from cli.pages.reference_squares import CODED_SIDES_MM, SPARE_SIDES_MM, square_places
from cli.pages.stamps import RULER_HEIGHT_MM
from tests.cli.pages.measure import PX_PER_MM, along, centre_of_line, edge_beyond, printed

PRINT_TOLERANCE_MM = 0.1  # what the maker is promised; a pixel here is 0.08 mm


@pytest.fixture(scope="module", params=[LETTER, A4], ids=lambda paper: paper.name)
def page(request):
    paper = request.param
    pages = printed(square_page(paper))
    assert len(pages) == 1
    return paper, pages[0]


def markers_on(printed_page):
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    corners, ids, _ = detector.detectMarkers(printed_page.pixels)
    assert ids is not None
    return [(int(i), (c.reshape(4, 2) + 0.5) / PX_PER_MM) for i, c in zip(ids.ravel(), corners)]


def test_every_coded_square_reads_back_as_its_own_side(page):
    found = markers_on(page[1])
    assert sorted(number for number, _ in found) == sorted((*CODED_SIDES_MM, *SPARE_SIDES_MM))
    for number, corners in found:
        sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
        # Marker corners are found to half a pixel or so here (0.04 mm at each end).
        assert sides == pytest.approx(number, abs=PRINT_TOLERANCE_MM)


def test_sides_measured_across_the_print(page):
    _, sheet = page
    squares = dark_squares(sheet)
    sides = sorted(side for _, _, side in squares)
    assert sides == pytest.approx(sorted((*CODED_SIDES_MM, *SPARE_SIDES_MM, 25.4)), abs=PRINT_TOLERANCE_MM)


def dark_squares(sheet):
    """Outer size of each dark square by pixel counting alone: middle x, y and side. [mm]"""
    dark = (sheet.grey < 128).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(dark)
    found = []
    for x, y, w, h, _ in stats[1:count]:
        if min(w, h) < 15 * PX_PER_MM:
            continue
        middle = ((x + w / 2) / PX_PER_MM, (y + h / 2) / PX_PER_MM)
        # The dark border of one cell is unbroken, so a profile along it meets the square's own edges only.
        inside_border = (middle[0], (y + h / 2) / PX_PER_MM - h / PX_PER_MM / 2 + h / PX_PER_MM / 12)
        distances, points = along(inside_border, 0.0, w / PX_PER_MM / 2 + 1.5)
        ink = sheet.ink(points)
        right = edge_beyond(ink, distances, 0.5)
        left = -edge_beyond(ink[::-1], -distances[::-1], 0.5)
        found.append((middle[0], middle[1], right - left))
        # [px] Both edges of a side are counted to whole pixels.
        assert h == pytest.approx(w, abs=1)
    return found


def test_each_square_has_a_white_margin_of_a_cell_or_more(page):
    _, sheet = page
    for x, y, side in dark_squares(sheet):
        margin = 5.0 if abs(side - 25.4) < 0.2 else side / 6
        ring = np.linspace(-side / 2 - margin + 0.3, side / 2 + margin - 0.3, 200)
        for offset in np.linspace(0.3, margin - 0.3, 6):
            reach = side / 2 + offset
            for points in (
                np.column_stack([x + ring, np.full(200, y - reach)]),
                np.column_stack([x + ring, np.full(200, y + reach)]),
                np.column_stack([np.full(200, x - reach), y + ring]),
                np.column_stack([np.full(200, x + reach), y + ring]),
            ):
                assert sheet.ink(points).max() < 0.05


def test_the_ruler_measures_true(page):
    paper, sheet = page
    inside = paper.inside
    middle = inside.bottom - RULER_HEIGHT_MM + 6.5

    def tick_at(x, y):
        distances, points = along((x, y), 0.0, 0.45)
        return x + centre_of_line(sheet.ink(points), distances)

    above, below = middle - 0.8, middle + 0.8
    ticks = [tick_at(inside.left + mm, above) for mm in range(101)]
    # 100 steps of 1 mm, whole length within a tenth.
    assert np.diff(ticks) == pytest.approx(1.0, abs=0.05)
    assert ticks[-1] - ticks[0] == pytest.approx(100.0, abs=0.05)
    inches = [tick_at(inside.left + 25.4 * i, below) for i in range(5)]
    assert np.diff(inches) == pytest.approx(25.4, abs=0.05)


def test_squares_lie_inside_the_margins_of_both_papers():
    for paper in (LETTER, A4):
        inside = paper.inside
        for place in square_places(inside, inside.top + 40.0):
            assert inside.holds(place)


def test_the_same_page_gives_the_same_bytes():
    assert square_page(LETTER) == square_page(LETTER)
    assert square_page(LETTER) != square_page(A4)
