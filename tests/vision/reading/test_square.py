"""The reference square is found to a fraction of a pixel, and nothing else is taken for it."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from circuit.asked import Asked
from tests.vision.draw import Camera, Drawing, Square, draw
from vision.reading.placing.find_view import find_view
from vision.reading.sight import first_sight
from vision.reading.square.coded import find_coded_squares
from vision.reading.square.find_squares import squares_at
from vision.reading.square.plain import find_plain_squares, search_coloured_squares
from vision.reading.square.square_edges import lies_at, refine_square, solid


def corner_error(found: np.ndarray, true: np.ndarray) -> float:
    return min(float(np.abs(np.roll(found, k, axis=0) - true).max()) for k in range(4))


@pytest.mark.parametrize("side_mm", [12.0, 20.0, 35.0])
@pytest.mark.parametrize("roll_deg", [4.0, 100.0])
def test_a_coded_square_is_found_with_its_side(side_mm, roll_deg):
    shot = draw(Drawing(square=Square(side_mm=side_mm, x_mm=-26.0)), Camera(roll_deg=roll_deg, tilt_deg=20))
    (square,) = find_coded_squares(shot.pixels)
    assert square.side_mm == side_mm
    # Square corners in packaged photographs hold to 0.4 px RMS; drawn ones do better.
    assert corner_error(square.corners, shot.square_corners_px) < 0.35


@pytest.mark.parametrize(("x_mm", "y_mm"), [(-24.0, 60.0), (40.0, 90.0)])
def test_a_plain_square_is_found_beside_the_card_and_on_it(x_mm, y_mm):
    drawing = Drawing(square=Square(side_mm=25.4, x_mm=x_mm, y_mm=y_mm, coded=False), dots=())
    shot = draw(drawing)
    assert find_coded_squares(shot.pixels) == []
    found = find_plain_squares(first_sight(shot.pixels))
    assert min(corner_error(square.corners, shot.square_corners_px) for square in found) < 0.35


def test_a_patch_that_could_not_matter_is_not_laid():
    sight = first_sight(draw(Drawing(square=Square(side_mm=25.4, coded=False), dots=())).pixels)
    laid: list[int] = []
    watched = replace(sight, laid=lambda k: laid.append(k))
    assert find_plain_squares(watched, worth_laying=lambda corners: False) == []
    assert laid == [] and len(sight.dark_patches()) > 0


def test_a_light_line_beside_a_square_is_no_side_of_it():
    shot = draw(Drawing(square=Square(side_mm=25.4, x_mm=-24.0, y_mm=60.0, coded=False), dots=()))
    lined, corners = shot.pixels.copy(), shot.square_corners_px
    start, end = corners[0] + (corners[0] - corners[1]) * 0.2, corners[1] + (corners[1] - corners[2]) * 0.12
    # As light as a mat's lines are on it, from one corner of the square to a tenth of a side off the other.
    cv2.line(lined, tuple(np.round(start).astype(int)), tuple(np.round(end).astype(int)), (255, 255, 255), 4)
    side_px = float(np.linalg.norm(corners[1] - corners[0]))
    found = refine_square(lined, corners + side_px * 0.02, side_px * 0.1, "plain", None)
    assert found is not None
    # Where line and side meet some points lie on the line: 1.6 px. Led along the line the corner lies 13 px off.
    assert corner_error(found.corners, corners) < 2.0


@pytest.mark.parametrize(("turn_deg", "moved", "grown"), [(0, 0.0, 1.0), (45, 0.0, 1.0), (45, 0.1, 1.2)])
def test_a_square_is_found_where_its_outline_as_first_seen_is_turned(turn_deg, moved, grown):
    shot = draw(Drawing(square=Square(side_mm=25.4, x_mm=-24.0, y_mm=60.0, coded=False), dots=()))
    sight = first_sight(shot.pixels)
    patch = sight.patches[0]
    turn = np.radians(turn_deg)
    turned = grown * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = patch.corners.mean(axis=0)
    side = float(np.linalg.norm(patch.corners[1] - patch.corners[0]))
    askew = replace(patch, corners=(patch.corners - middle) @ turned.T + middle + moved * side)
    (square,) = squares_at(replace(sight, patches=(askew,)))
    assert corner_error(square.corners, shot.square_corners_px) < 0.35


@pytest.mark.parametrize(("moved", "grown"), [(0.25, 1.0), (0.0, 1.5), (0.0, 0.5)])
def test_a_square_elsewhere_or_of_another_size_is_not_what_was_seen(moved, grown):
    seen = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    assert lies_at(seen + 1.0, seen)
    assert not lies_at((seen - 5) * grown + 5 + moved * 10, seen)


def test_glare_on_a_plain_square_makes_no_code_of_it():
    shot = draw(Drawing(square=Square(side_mm=25.4, x_mm=40.0, y_mm=90.0, coded=False), dots=()))
    high, wide = shot.pixels.shape[:2]
    x, y = shot.square_corners_px[1]
    away = np.hypot(*np.meshgrid(np.arange(wide) - x, np.arange(high) - y))
    # A lamp's reflection about one corner: a veil of light, 80 of 255 levels at its brightest.
    veil = 80 * np.exp(-((away / 60) ** 2))
    glared = np.clip(shot.pixels + veil[..., None], 0, 255).astype(np.uint8)
    assert solid(first_sight(glared).small, shot.square_corners_px)
    coded = draw(Drawing(square=Square(side_mm=25.4, x_mm=40.0, y_mm=90.0), dots=()))
    assert not solid(first_sight(coded.pixels).small, coded.square_corners_px)


def test_a_dark_square_on_a_light_card_on_a_dark_table_is_found():
    square = Square(side_mm=25.4, x_mm=40.0, y_mm=90.0, coded=False)
    shot = draw(Drawing(square=square, table=(0.02, 0.02, 0.025)))
    found = find_plain_squares(first_sight(shot.pixels))
    assert min(corner_error(one.corners, shot.square_corners_px) for one in found) < 0.5


def test_a_square_that_differs_from_the_table_by_colour_alone_is_found():
    shot = draw(
        Drawing(square=Square(side_mm=25.4, coded=False), table=(0.02, 0.12, 0.05)), Camera(tilt_deg=9)
    )
    assert shot.square_corners_px is not None
    inside = np.zeros(shot.pixels.shape[:2], np.uint8)
    cv2.fillConvexPoly(inside, np.round(shot.square_corners_px * 16).astype(np.int32), 255, cv2.LINE_AA, 4)
    share = inside[..., None] / 255.0
    blue = np.array([58, 70, 126])  # as light as the green about it
    pixels = np.round(shot.pixels * (1 - share) + blue * share).astype(np.uint8)
    around = cv2.dilate(inside, np.ones((25, 25), np.uint8)) - inside > 250
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    assert abs(float(np.median(grey[inside == 255])) - float(np.median(grey[around]))) < 8
    found = search_coloured_squares(first_sight(pixels))
    # OpenCV's soft-edged filling reaches half a pixel farther than its polygon.
    assert min(corner_error(one.corners, shot.square_corners_px) for one in found) < 1.0
    found = find_view(pixels, Asked())
    places = np.array([[10.0, 12.0], [98.0, 130.0]])
    assert np.linalg.norm(found.view.to_mm(shot.to_px(places)) - places, axis=1).max() < 0.5


def test_a_brown_square_on_grained_wood_is_found():
    # The grain is darker in its lines than the square is; only in colour does the square stand out.
    rng = np.random.default_rng(5)
    pixels = np.full((900, 1200, 3), (118, 84, 58), dtype=np.float64)
    grain = cv2.GaussianBlur(rng.normal(0, 1, (900, 1200)), (0, 0), sigmaX=60, sigmaY=1.5)
    pixels *= 1 + 0.22 * grain[..., None] / grain.std() * np.array([1.0, 1.0, 1.0])
    true = np.array([[500.0, 400.0], [700.0, 420.0], [680.0, 620.0], [480.0, 600.0]])
    cv2.fillConvexPoly(pixels, true.astype(np.int32), (96, 78, 66))
    pixels += rng.normal(0, 2, pixels.shape)
    pixels = np.clip(np.round(pixels), 0, 255).astype(np.uint8)
    assert find_plain_squares(first_sight(pixels)) == []
    found = search_coloured_squares(first_sight(pixels))
    assert min(corner_error(square.corners, true) for square in found) < 1.5


def test_a_coded_square_that_cannot_be_read_is_no_plain_one():
    # Otherwise it would be given the plain square's side, and everything would be measured wrong.
    shot = draw(Drawing(square=Square(side_mm=30.0)))
    pixels = shot.pixels.copy()
    x, y = np.round(shot.to_px(np.array([[-30.0, 40.0]]))[0]).astype(int)
    cv2.circle(pixels, (int(x), int(y)), 34, (150, 150, 150), -1)  # a coin on the code
    assert find_coded_squares(pixels) == []
    found = find_plain_squares(first_sight(pixels))
    assert all(corner_error(square.corners, shot.square_corners_px) > 5 for square in found)


@pytest.mark.parametrize(
    "pixels",
    [
        np.full((300, 400, 3), 230, np.uint8),
        np.zeros((300, 400, 3), np.uint8),
        np.random.default_rng(3).integers(0, 255, (300, 400, 3), np.uint8),
    ],
    ids=["blank", "black", "noise"],
)
def test_nothing_is_found_where_nothing_is(pixels):
    assert find_coded_squares(pixels) == []
    assert find_plain_squares(first_sight(pixels)) == []


def test_round_and_oblong_dark_things_are_no_squares():
    shot = draw(Drawing(square=None))
    pixels = shot.pixels.copy()
    cv2.circle(pixels, (120, 120), 60, (15, 15, 15), -1)
    cv2.rectangle(pixels, (30, 300), (70, 520), (15, 15, 15), -1)
    assert find_plain_squares(first_sight(pixels)) == []


@pytest.mark.parametrize(("rounded", "seen"), [(0, True), (1, True), (4, False)])
def test_a_dark_thing_with_rounded_corners_is_no_square(rounded, seen):
    # A phone's camera; cut paper may lack a corner.
    shape = np.zeros((900, 1200), np.uint8)
    corners = np.array([[500.0, 400.0], [700.0, 400.0], [700.0, 600.0], [500.0, 600.0]])
    cv2.rectangle(shape, (500, 400), (700, 600), 255, -1)
    for x, y in corners[:rounded].astype(int):
        into = np.sign(600 - x), np.sign(500 - y)
        middle = (int(x + 36 * into[0]), int(y + 36 * into[1]))
        cv2.rectangle(shape, (int(x), int(y)), middle, 0, -1)
        cv2.circle(shape, middle, 36, 255, -1)
    share = cv2.GaussianBlur(shape, (0, 0), 1.2)[..., None] / 255.0
    noise = np.random.default_rng(2).normal(0, 2, (900, 1200, 3))
    pixels = np.clip(190 * (1 - share) + 30 * share + noise, 0, 255).astype(np.uint8)
    square = refine_square(pixels, corners, 8.0, "plain", None)
    assert (square is not None) == seen
