"""Square, outline and size are settled together; what can't be settled is refused by name."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from circuit.asked import Asked
from tests.vision.draw import Camera, Drawing, Square, draw
from vision.errors import (
    CardCutOffError,
    ManySquaresError,
    NoCardError,
    NoSquareError,
    PhotoError,
    SquareCardDisagreeError,
    SquareCutOffError,
    TooBlurredError,
    TooDarkError,
    TooSmallError,
)
from vision.reading.placing.find_view import find_view

PLACES = np.array([[10.0, 12.0], [95.0, 20.0], [50.0, 70.0], [12.0, 128.0], [98.0, 130.0]])


def errors_mm(shot, found, places=PLACES):
    return np.linalg.norm(found.view.to_mm(shot.to_px(places)) - places, axis=1)


@pytest.mark.parametrize(
    "camera",
    [
        Camera(),
        Camera(tilt_deg=33, tilt_toward_deg=200, roll_deg=-12),
        Camera(k1=-0.09, k2=0.008, tilt_deg=18),
        Camera(k1=0.07, tilt_deg=3),
        Camera(focal=1.15, tilt_deg=24, tilt_toward_deg=-40),
    ],
    ids=["plain", "steep", "barrel", "pincushion", "long-lens"],
)
@pytest.mark.parametrize("coded", [True, False], ids=["coded", "plain"])
def test_places_on_the_card_come_out_right(camera, coded):
    square = Square(side_mm=30.0 if coded else 25.4, coded=coded)
    shot = draw(Drawing(square=square), camera)
    found = find_view(shot.pixels, Asked())
    assert found.doubts == ()
    assert found.view.card.size == "quarter-letter"
    # Drawn cards have their nominal size: what is left is the edges' noise and the square's.
    assert errors_mm(shot, found).max() < 0.3


@pytest.mark.parametrize(
    ("width", "height", "name"),
    [(127.0, 177.8, "5x7in"), (148.0, 105.0, "A6"), (139.7, 107.95, "quarter-letter"), (210.0, 148.0, "A5")],
)
def test_the_size_is_recognised_either_way_round(width, height, name):
    shot = draw(Drawing(width_mm=width, height_mm=height, square=Square(side_mm=35.0)))
    card = find_view(shot.pixels, Asked()).view.card
    assert card.size in (name, "quarter-A4" if name == "A6" else name)
    assert (card.width_mm > card.height_mm) == (width > height)


def test_a_size_that_no_card_has_is_a_doubt_and_measured_by_the_square():
    shot = draw(Drawing(width_mm=118.0, height_mm=131.0))
    found = find_view(shot.pixels, Asked())
    assert found.doubts[0].says.key == "no-known-size"
    figures, card = found.doubts[0].says.figures, found.view.card
    # One figure wherever the card's size is told, or a tenth of rounding makes two of it.
    assert (figures["width_mm"], figures["height_mm"]) == (card.width_mm, card.height_mm)
    card = found.view.card
    assert card.size is None
    # A square of 30 mm, its side known to 0.06 mm, gives 131 mm to 0.3 mm (a standard deviation).
    assert (card.width_mm, card.height_mm) == (pytest.approx(118.0, abs=0.9), pytest.approx(131.0, abs=0.9))


def test_a_size_that_was_given_is_believed():
    shot = draw(Drawing(width_mm=118.0, height_mm=131.0))
    found = find_view(shot.pixels, Asked(card_mm=(131.0, 118.0)))
    assert found.doubts == ()
    assert (found.view.card.width_mm, found.view.card.height_mm) == (118.0, 131.0)


def test_a_square_that_the_printer_shrank_is_told_in_millimetres():
    shot = draw(Drawing(square=Square(side_mm=30.0, printed_scale=0.95)))
    found = find_view(shot.pixels, Asked())
    (doubt,) = found.doubts
    assert doubt.says.key == "square-off-scale"
    assert doubt.says.figures["name"] == "quarter-letter"
    assert doubt.says.figures["true_side_mm"] == pytest.approx(28.5, abs=0.15)  # half a per cent
    # Measured with a ruler and said, it is no doubt any more.
    told = find_view(shot.pixels, Asked(printed_mm=28.5))
    assert told.doubts == ()
    assert errors_mm(shot, told).max() < 0.4


def test_a_given_size_that_the_square_contradicts_is_a_doubt_or_refused():
    shot = draw()
    near = find_view(shot.pixels, Asked(card_mm=(105.0, 145.0)))
    assert near.doubts[0].says.key == "square-and-size"
    with pytest.raises(SquareCardDisagreeError) as caught:
        find_view(shot.pixels, Asked(card_mm=(148.0, 210.0)))
    assert "148.0 mm x 210.0 mm" in str(caught.value) == caught.value.sentence("mm")
    assert " in" in caught.value.sentence("in") and "mm" not in caught.value.sentence("in")


def test_a_square_that_lies_higher_than_the_card_is_refused_where_it_makes_another_size_of_it():
    # 5 % nearer to the camera: a square on a wallet, say. It then makes 5 in of a 5 1/4 in card.
    drawing = Drawing(width_mm=133.35, height_mm=133.35, square=Square(printed_scale=1.05))
    shot = draw(drawing)
    with pytest.raises(SquareCardDisagreeError, match=r"5in-square card, .* lay the square flat"):
        find_view(shot.pixels, Asked(card_mm=(133.35, 133.35)))


def test_the_stated_covariance_is_no_less_for_a_doubtful_scale():
    shot = draw(Drawing(width_mm=118.0, height_mm=131.0))
    doubtful = find_view(shot.pixels, Asked()).view.position_covariance(PLACES[-1:])
    told = find_view(shot.pixels, Asked(card_mm=(118.0, 131.0))).view.position_covariance(PLACES[-1:])
    assert np.trace(doubtful[0]) > np.trace(told[0])


@pytest.mark.parametrize("turn_deg", [0, 90, 180, 270])
def test_a_turned_card_is_set_upright(turn_deg):
    # A card whose top lies to the right in the picture (turned clockwise by 90) is set upright by 270.
    shot = draw(camera=Camera(roll_deg=(360 - turn_deg) % 360 + 3))
    found = find_view(shot.pixels, Asked(turn_deg=turn_deg))
    assert (found.view.card.width_mm, found.view.card.height_mm) == (107.95, 139.7)
    assert errors_mm(shot, found).max() < 0.3


def with_tiles(pixels, *sides_px):
    pixels = pixels.copy()
    for k, side in enumerate(sides_px):
        x, y = 20 + 200 * k, 1040
        cv2.rectangle(pixels, (x, y), (x + side - 1, y + side - 1), (16, 16, 16), -1)
    return pixels


def test_a_dark_tile_of_another_size_is_not_taken_for_the_plain_square():
    drawing = Drawing(square=Square(side_mm=25.4, coded=False))
    shot = draw(drawing, Camera(fill=0.65))
    side_px = float(np.linalg.norm(shot.square_corners_px[1] - shot.square_corners_px[0]))
    found = find_view(with_tiles(shot.pixels, round(side_px * 0.7), round(side_px * 1.25)), Asked())
    assert found.doubts == ()
    assert errors_mm(shot, found).max() < 0.3


def test_tiles_alone_are_not_the_square():
    shot = draw(Drawing(square=None), Camera(fill=0.6, tilt_deg=2))
    width_px = float(np.linalg.norm(shot.card_corners_px[1] - shot.card_corners_px[0]))
    # A tile that would make the card 1.6 times its size, and one that would make it 0.7 times.
    pixels = with_tiles(
        shot.pixels, round(width_px * 25.4 / 107.95 / 1.6), round(width_px * 25.4 / 107.95 / 0.7)
    )
    try:
        found = find_view(pixels, Asked())
    except PhotoError:
        return
    assert found.doubts != ()


def test_two_squares_that_make_different_cards_are_refused():
    # By the first tile the card is A6, by the second A5: sheets of one shape.
    shot = draw(Drawing(width_mm=105.0, height_mm=148.0, square=None), Camera(fill=0.6, tilt_deg=0))
    width_px = float(np.linalg.norm(shot.card_corners_px[1] - shot.card_corners_px[0]))
    pixels = with_tiles(shot.pixels, round(width_px * 25.4 / 105.0), round(width_px * 25.4 / 148.0))
    with pytest.raises(ManySquaresError):
        find_view(pixels, Asked())


def test_a_photo_without_a_square_is_refused():
    with pytest.raises(NoSquareError):
        find_view(draw(Drawing(square=None)).pixels, Asked())


def test_a_square_that_runs_out_of_the_picture_is_refused():
    shot = draw(Drawing(square=Square(side_mm=30, coded=False)), Camera(tilt_deg=3))
    left = round(shot.square_corners_px[:, 0].mean())
    with pytest.raises(SquareCutOffError) as caught:
        find_view(np.ascontiguousarray(shot.pixels[:, left:]), Asked())
    assert caught.value.where_px


@pytest.mark.parametrize("side", ["top", "right", "bottom"])
def test_a_card_that_runs_out_of_the_picture_is_refused(side):
    shot = draw(Drawing(square=Square(side_mm=30, x_mm=54, y_mm=75), dots=()), Camera(tilt_deg=6))
    x, y = shot.card_corners_px.mean(axis=0).astype(int)
    width, height = np.ptp(shot.card_corners_px, axis=0) * 0.4
    pixels = {
        "top": shot.pixels[int(y - height) :],
        "right": shot.pixels[:, : int(x + width)],
        "bottom": shot.pixels[: int(y + height)],
    }[side]
    with pytest.raises(CardCutOffError):
        find_view(np.ascontiguousarray(pixels), Asked())


def test_a_square_on_a_bare_table_has_no_card():
    shot = draw(Drawing(dots=(), ring=None))
    assert shot.square_corners_px is not None
    middle = shot.square_corners_px.mean(axis=0)
    printed = np.zeros(shot.pixels.shape[:2], np.uint8)
    outline = middle + 1.25 * (shot.square_corners_px - middle)  # with the white round it
    cv2.fillConvexPoly(printed, np.round(outline).astype(np.int32), 1)
    bare = cv2.resize(shot.pixels[:180, 340:], shot.pixels.shape[1::-1], interpolation=cv2.INTER_CUBIC)
    with pytest.raises(NoCardError):
        find_view(np.where(printed[..., None] > 0, shot.pixels, bare), Asked())


def test_dark_blurred_and_tiny_photos_are_refused():
    shot = draw()
    with pytest.raises(TooDarkError):
        find_view((shot.pixels // 12).astype(np.uint8), Asked())
    with pytest.raises(TooBlurredError):
        find_view(cv2.GaussianBlur(shot.pixels, (0, 0), 6.0), Asked())
    with pytest.raises(TooBlurredError):
        shaken = np.zeros((31, 31), np.float32)
        shaken[15, :] = 1 / 31
        find_view(cv2.filter2D(shot.pixels, -1, shaken), Asked())
    with pytest.raises(TooSmallError):
        find_view(cv2.resize(shot.pixels, None, fx=0.33, fy=0.33, interpolation=cv2.INTER_AREA), Asked())
    with pytest.raises(TooSmallError):
        find_view(shot.pixels[:20, :20], Asked())


@pytest.mark.parametrize(
    "pixels",
    [
        np.full((600, 800, 3), 240, np.uint8),
        np.full((600, 800, 3), 90, np.uint8),
        np.zeros((600, 800, 3), np.uint8),
        np.random.default_rng(1).integers(0, 255, (600, 800, 3), np.uint8),
    ],
    ids=["white", "grey", "black", "noise"],
)
def test_pictures_of_nothing_are_refused_in_one_sentence(pixels):
    with pytest.raises(PhotoError) as caught:
        find_view(pixels, Asked())
    assert str(caught.value).endswith(".")
    assert str(caught.value).count(". ") == 0


@pytest.mark.parametrize(
    "table",
    [(0.72, 0.70, 0.66), (0.9, 0.88, 0.85), (0.03, 0.03, 0.03), (0.5, 0.3, 0.12)],
    ids=["nearly-the-cards-own", "lighter", "black", "kraft"],
)
def test_the_card_is_found_on_many_tables(table):
    shot = draw(Drawing(table=table, square=Square(side_mm=30, x_mm=55, y_mm=95)), noise=1.5)
    assert errors_mm(shot, find_view(shot.pixels, Asked())).max() < 0.5


def test_the_card_is_found_on_striped_cloth_of_half_its_own_colour():
    shot = draw(Drawing(square=Square(side_mm=30, x_mm=55, y_mm=95)))
    height, width = shot.pixels.shape[:2]
    rows, columns = np.mgrid[0:height, 0:width]
    stripe = ((columns * 0.8 + rows * 0.6) // 44) % 2 == 0
    off_card = np.ones((height, width), np.uint8)
    cv2.fillConvexPoly(off_card, np.round(shot.card_corners_px).astype(np.int32), 0)
    cloth = np.where(stripe[..., None], (214, 212, 206), (40, 60, 120)).astype(np.uint8)
    pixels = np.where(off_card[..., None] > 0, cloth, shot.pixels)
    assert errors_mm(shot, find_view(pixels, Asked())).max() < 0.6


def test_alike_photos_in_other_colours_read_alike():
    shot = draw()
    grey = np.repeat(cv2.cvtColor(shot.pixels, cv2.COLOR_RGB2GRAY)[..., None], 3, axis=2)
    assert errors_mm(shot, find_view(grey, Asked())).max() < 0.3


def test_a_focal_length_that_the_file_tells_is_used():
    shot = draw(camera=Camera(tilt_deg=20, focal=0.62))
    told = find_view(shot.pixels, Asked(), focal_35mm=0.62 * 43.2666).view.fit
    blind = find_view(shot.pixels, Asked()).view.fit
    assert told.sigmas[0] < blind.sigmas[0]
    # Files tell it in whole millimetres, 2 % of a phone's 27; here it is exact, and the photo agrees.
    assert told.camera.focal == pytest.approx(0.62 * np.hypot(900, 1200), rel=0.01)
