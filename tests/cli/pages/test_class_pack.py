"""The pack for a class: few words for pupils, sums for who teaches, marked cards at true size."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from circuit.layout import Card
from circuit.settings import Settings
from cli.pages import class_pages
from cli.pages.build_data import build_of
from cli.pages.card_sheet import card_sheet
from cli.pages.paper import A4, LETTER
from tests.cli import cards
from tests.cli.pages.measure import PX_PER_MM, printed, text_boxes


def words_of(pdf):
    return [" ".join(" ".join(box.text for box in boxes).split()) for boxes in text_boxes(pdf)]


@pytest.mark.parametrize("make", [cards.one_light, cards.seven_lights, cards.fourteen_lights])
def test_a_pack_has_a_pupils_page_a_teachers_list_and_marked_cards(make):
    plan = make()
    pupil, teacher, marked = words_of(class_pages(plan, Settings(), A4, copies=24))
    strip = f"{build_of(plan, Settings()).tapes.strip_mm:.1f} mm"
    assert "Cell in, + up" in pupil and f"Cut {strip} of tape and split it" in pupil
    assert "for 24 cards" in teacher and "CR2032 cells: 24" in teacher and "at each table" in teacher
    assert f"one strip of {strip}" in teacher and "swallowed" in teacher
    assert "to a sheet, " in marked and "print at 100 %" in marked


def test_two_small_cards_lie_on_one_sheet():
    assert "2 to a sheet" in words_of(class_pages(cards.seven_lights(), Settings(), LETTER, copies=2))[-1]


def test_a_card_too_large_for_the_paper_has_no_marked_sheet():
    assert len(words_of(class_pages(cards.large(), Settings(), A4, copies=2))) == 2


def test_what_is_not_ready_says_so_on_the_pupils_page():
    pupil = words_of(class_pages(cards.no_traces(), Settings(), A4, copies=2))[0]
    assert "no traces on this card yet" in pupil


def test_the_marked_cards_say_how_often_they_are_printed():
    marked = words_of(class_pages(cards.seven_lights(), Settings(), LETTER, copies=23))[-1]
    assert "2 to a sheet" in marked and "print at 100 %, 12 times for 23 cards" in marked
    assert "times" not in words_of(class_pages(cards.seven_lights(), Settings(), LETTER, copies=2))[-1]


def test_no_copies_are_refused():
    with pytest.raises(ValueError, match="copies"):
        class_pages(cards.one_light(), Settings(), A4, copies=0)


# A raster of 12 pixels a millimetre, corners refined to a fraction of one.
SIDE_MM = 0.05


def squares_seen(page):
    """Every coded square that OpenCV's own detector finds: its number, its corners. [mm]"""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(page.grey)
    found = [] if numbers is None else zip(numbers.ravel().tolist(), corners, strict=True)
    return [(number, (corner[0] + 0.5) / PX_PER_MM) for number, corner in found]


@pytest.mark.parametrize("make", [cards.one_light, cards.fourteen_lights, cards.half_sheet])
@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
def test_every_sheet_of_cards_carries_squares_that_can_be_read_at_their_true_size(make, paper):
    plan = make()
    page = printed(class_pages(plan, Settings(), paper, copies=4))[-1]
    sheet = card_sheet(plan.layout.card, paper)
    seen = squares_seen(page)
    assert len(seen) == len(sheet.squares) == len(sheet.cards)
    for number, corners in seen:
        sides = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1)
        assert sides == pytest.approx(number, abs=SIDE_MM)
        # Its white margin of one cell (a sixth of the side), up to the line that it is cut along.
        middle, out = corners.mean(axis=0), number / 2 + number / 6 - 0.3
        ring = [middle + out * np.array([np.cos(a), np.sin(a)]) / max(abs(np.cos(a)), abs(np.sin(a)))
                for a in np.linspace(0, 2 * np.pi, 400)]  # fmt: skip
        assert page.ink(ring).max() < 0.02


@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
@pytest.mark.parametrize(
    "size", [(105, 148), (74, 105), (127, 177.8), (90, 90), (148, 210), (60, 90), (30, 40)], ids=str
)
def test_cards_and_squares_keep_apart_and_inside_the_margins(size, paper):
    sheet = card_sheet(Card(*size), paper)
    outer = [square.inset(-square.width / 6) for square in sheet.squares]
    boxes = [*sheet.cards, *outer]
    assert outer
    for i, box in enumerate(boxes):
        assert sheet.paper.inside.inset(-1e-6).holds(box)
        for other in boxes[:i]:
            apart = max(
                box.left - other.right, other.left - box.right, box.top - other.bottom, other.top - box.bottom
            )
            assert apart >= 4.0 - 1e-6
    assert [(card.width, card.height) for card in sheet.cards] == [size] * len(sheet.cards)


def test_a_card_that_leaves_no_room_for_a_square_says_so():
    assert card_sheet(Card(186.0, 200.0), LETTER).squares == ()
    plan = replace(cards.one_light(), layout=replace(cards.one_light().layout, card=Card(186.0, 200.0)))
    assert "print a square apart" in words_of(class_pages(plan, Settings(), LETTER, copies=2))[-1]
