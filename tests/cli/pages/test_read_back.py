"""The loop closed: what is printed, cut out and photographed at an angle reads back as the same card."""

import math

import pytest

from circuit.settings import Settings
from cli.pages import marks_pages, sheet_pages, square_page
from cli.pages.build_data import build_of
from cli.pages.marked_card import SQUARE_MM, marks_places
from cli.pages.paper import A4, LETTER
from cli.pages.stamps import cut_box
from cli.pages.true_size import arrange
from tests.cli import cards
from tests.cli.pages.measure import printed
from tests.cli.pages.photographed import cut_out, photo_of
from vision.drawing.box import Box
from vision.drawing.marker_bits import CELLS
from vision.errors import PhotoError
from vision.reading.photo import Photo
from vision.reading.read import read_photo

SAME_PLACE_MM = 0.3  # what the loop must hold; a camera pixel here is 0.12 to 0.2 mm


def table_photo(card_piece, card, square_piece, square, angle):
    """The card on a table, the square to the left of it."""
    tilt_deg, toward_deg, roll_deg = angle
    upright = card.height > card.width
    return photo_of(
        [(card_piece, card, (0.0, 0.0), 0.0), (square_piece, square, (-square.width - 12.0, 30.0), 8.0)],
        tilt_deg=tilt_deg,
        toward_deg=toward_deg,
        roll_deg=roll_deg,
        size=(1200, 1600) if upright else (1600, 1200),
    )


def marks_photo(plan, paper, angle):
    page = printed(marks_pages(plan, Settings(), paper))[0]
    places = marks_places(build_of(plan, Settings()), paper)
    card, cut = places.card, cut_box(places.square, SQUARE_MM / CELLS)
    return table_photo(cut_out(page, card), card, cut_out(page, cut), cut, angle)


def check_same_card(seen, plan):
    card = plan.layout.card
    # Known sizes lie further apart than half a millimetre; a pencil line is half a millimetre wide.
    assert (seen.card.width_mm, seen.card.height_mm) == pytest.approx(
        (card.width_mm, card.height_mm), abs=0.5
    )
    assert len(seen.lights) == len(plan.layout.lights)
    for light in plan.layout.lights:
        nearest = min(math.dist(light.centre, other.centre) for other in seen.lights)
        assert nearest <= SAME_PLACE_MM, light.label
    assert math.dist(seen.battery.centre, plan.layout.battery.centre) <= SAME_PLACE_MM
    assert seen.battery.diameter_mm == pytest.approx(plan.layout.battery.diameter_mm, abs=0.4)


@pytest.mark.parametrize(
    ("make", "paper", "angle"),
    [
        pytest.param(cards.one_light, LETTER, (14.0, 40.0, 5.0), id="1 light"),
        pytest.param(cards.seven_lights, A4, (20.0, 200.0, -8.0), id="7 lights and a window"),
        pytest.param(cards.fourteen_lights, A4, (18.0, 310.0, 4.0), id="14 lights, lying"),
    ],
)
def test_the_marked_card_photographed_at_an_angle_gives_the_same_marks(make, paper, angle):
    plan = make()
    reading = read_photo(Photo("table.jpg", marks_photo(plan, paper, angle)))
    assert reading.reading.square_side_mm == SQUARE_MM
    check_same_card(reading.layout, plan)


def test_a_square_from_the_page_of_squares_serves_as_well():
    plan = cards.seven_lights()
    page = printed(marks_pages(plan, Settings(), A4))[0]
    card = marks_places(build_of(plan, Settings()), A4).card
    squares = printed(square_page(LETTER))[0]
    dark = largest_dark_square(squares)
    cut = cut_box(dark, 40.0 / CELLS)
    photo = table_photo(cut_out(page, card), card, cut_out(squares, cut), cut, (16.0, 120.0, 3.0))
    reading = read_photo(Photo("table.jpg", photo))
    assert reading.reading.square_side_mm == 40.0
    check_same_card(reading.layout, plan)


def largest_dark_square(page) -> Box:
    import cv2
    import numpy as np

    _, _, stats, _ = cv2.connectedComponentsWithStats((page.grey < 128).astype(np.uint8))
    x, y, w, h, _ = max(stats[1:], key=lambda row: row[2] * row[3] if abs(row[2] - row[3]) < 3 else 0)
    middle = ((x + w / 2) / 12.0, (y + h / 2) / 12.0)
    return Box(middle[0] - 20.0, middle[1] - 20.0, 40.0, 40.0)


def test_a_sheet_full_of_tape_is_never_taken_for_other_marks():
    """The 1:1 sheet is not drawn to be read; photographed all the same it is refused, doubted or read right."""
    plan = cards.seven_lights()
    page = printed(sheet_pages(plan, Settings(), A4))[0]
    card = arrange(build_of(plan, Settings()), A4, extras=True).card
    squares = printed(square_page(LETTER))[0]
    cut = cut_box(largest_dark_square(squares), 40.0 / CELLS)
    photo = table_photo(cut_out(page, card), card, cut_out(squares, cut), cut, (16.0, 120.0, 3.0))
    try:
        reading = read_photo(Photo("sheet.jpg", photo))
    except PhotoError as error:
        assert str(error).endswith(".")
        return
    if reading.reading.sure:
        check_same_card(reading.layout, plan)
