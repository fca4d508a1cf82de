"""The drawer of synthetic photos tells the truth about what it drew."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tests.card_kit.tone import light_of
from tests.pictures import assert_alike
from tests.vision.draw import Camera, Drawing, Ring, Square, Stroke, draw


def darkness_centre(light: np.ndarray, about_px: np.ndarray, reach: int) -> np.ndarray:
    """Centroid of the missing light in a window; the paper's level is the window's rim."""
    x0, y0 = np.round(about_px).astype(int) - reach
    spot = light[y0 : y0 + 2 * reach + 1, x0 : x0 + 2 * reach + 1]
    rim = np.concatenate([spot[0], spot[-1], spot[:, 0], spot[:, -1]])
    missing = np.clip(np.median(rim) - spot - 0.02, 0, None)
    rows, columns = np.mgrid[0 : 2 * reach + 1, 0 : 2 * reach + 1]
    return np.array([np.sum(columns * missing), np.sum(rows * missing)]) / missing.sum() + (x0, y0)


@pytest.mark.parametrize(
    "camera", [Camera(), Camera(tilt_deg=28, tilt_toward_deg=-30, roll_deg=95, k1=-0.06, k2=0.01)]
)
def test_dots_lie_where_the_truth_says(camera):
    shot = draw(camera=camera, noise=0.5)
    light = light_of(shot.pixels)[:, :, 1]
    for centre_px in shot.to_px(shot.lights_mm):
        # 0.15 px: the paper's tooth moves the graphite's own centroid by about 0.1 px at this scale.
        assert darkness_centre(light, centre_px, 16) == pytest.approx(centre_px, abs=0.15)


@pytest.mark.parametrize("k1", [0.0, -0.08, 0.05])
def test_card_edges_lie_where_the_truth_says(k1):
    shot = draw(camera=Camera(k1=k1, tilt_deg=20), noise=0, blur_px=0.8, falloff=0)
    light = light_of(shot.pixels)[:, :, 1]
    height = shot.drawing.height_mm
    for along in (0.2, 0.5, 0.9):
        points = shot.to_px(
            [(shot.drawing.width_mm, height * along), (shot.drawing.width_mm - 1, height * along)]
        )
        inward = (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
        steps = np.linspace(-5, 5, 201)
        line = (points[0] + steps[:, None] * inward).astype(np.float32)
        profile = cv2.remap(light.astype(np.float32), line[None, :, 0], line[None, :, 1], cv2.INTER_CUBIC)[0]
        middle = (profile[:20].mean() + profile[-20:].mean()) / 2
        crossing = steps[np.argmax(profile > middle)]
        assert crossing == pytest.approx(0, abs=0.12)  # the table's unevenness shifts the half-way level


def test_the_coded_square_is_found_where_the_truth_says():
    shot = draw(camera=Camera(roll_deg=33))
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    corners, ids, _ = detector.detectMarkers(cv2.cvtColor(shot.pixels, cv2.COLOR_RGB2GRAY))
    assert ids.ravel().tolist() == [30]
    # 1.5 px: without refinement OpenCV gives whole pixels, inside the black.
    assert corners[0][0] == pytest.approx(shot.square_corners_px, abs=1.5)


def test_a_shrunk_print_keeps_its_code_and_loses_size():
    square = Square(printed_scale=0.94)
    corners = square.corners_mm
    assert np.linalg.norm(corners[1] - corners[0]) == pytest.approx(0.94 * square.side_mm)


def test_a_bare_card_has_nothing_dark_on_it():
    bare = Drawing(dots=(), ring=None, square=None)
    marked = Drawing(dots=(), ring=Ring(50, 50), square=None, strokes=(Stroke([(10, 10), (60, 20)]),))
    straight = Camera(tilt_deg=0, roll_deg=0, fill=2.0)  # so near that the card alone is in the picture
    assert draw(bare, straight, noise=0, falloff=0).pixels[..., 1].std() < 1
    assert draw(marked, straight, noise=0, falloff=0).pixels[..., 1].std() > 3


def test_the_same_seed_draws_the_same_photo():
    assert_alike("same-seed", draw(seed=3).pixels, draw(seed=3).pixels)
    assert not np.array_equal(draw(seed=3).pixels, draw(seed=4).pixels)
