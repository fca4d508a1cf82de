"""The camera model against two general libraries."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform

from vision.reading.fit.bend_shape import Lift
from vision.reading.fit.camera import FLAT, Camera, rotation_of

PLACES = np.array([[x, y] for x in (-50.0, -10.0, 30.0, 53.0) for y in (-69.0, 0.0, 44.0)])
TURN, SHIFT = np.array([0.4, -0.25, 0.7]), np.array([6.0, -11.0, 190.0])


def camera(k1: float, k2: float) -> Camera:
    return Camera(
        1500.0,
        np.array([799.5, 599.5]),
        k1,
        k2,
        rotation_of(TURN),
        SHIFT,
        np.array([54.0, 70.0]),
        FLAT,
        Lift.nowhere(),
    )


@pytest.mark.parametrize(("k1", "k2"), [(0.0, 0.0), (-0.1, -0.006), (0.08, 0.012)])
def test_pixels_agree_with_opencvs_projection(k1, k2):
    # Source: cv2.projectPoints, the pinhole with Brown-Conrady distortion of the OpenCV reference (calib3d).
    model = np.array([[1500.0, 0, 799.5], [0, 1500.0, 599.5], [0, 0, 1]])
    solid = np.column_stack([PLACES, np.zeros(len(PLACES))])
    theirs = cv2.projectPoints(solid, TURN, SHIFT, model, np.array([k1, k2, 0.0, 0.0]))[0].reshape(-1, 2)
    assert camera(k1, k2).to_photo(PLACES) == pytest.approx(theirs, abs=1e-6)


@pytest.mark.parametrize(("k1", "k2"), [(-0.1, -0.006), (0.08, 0.012)])
def test_rays_agree_with_opencvs_undistortion(k1, k2):
    model = np.array([[1500.0, 0, 799.5], [0, 1500.0, 599.5], [0, 0, 1]])
    pixels = camera(k1, k2).to_photo(PLACES)
    criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-12)
    theirs = cv2.undistortPoints(
        pixels, model, np.array([k1, k2, 0.0, 0.0]), R=None, P=None, criteria=criteria
    )
    # 1e-7 of the focal length is a ten-thousandth of a pixel.
    assert camera(k1, k2).undistort(pixels) == pytest.approx(theirs.reshape(-1, 2), abs=1e-7)


def test_a_flat_card_without_distortion_is_a_homography():
    # Source: scikit-image's ProjectiveTransform, fitted to four points and asked for the others.
    pixels = camera(0.0, 0.0).to_photo(PLACES)
    four = [0, 2, 9, 11]
    theirs = ProjectiveTransform.from_estimate(PLACES[four], pixels[four])
    assert theirs(PLACES) == pytest.approx(pixels, abs=1e-6)
    assert camera(0.0, 0.0).to_card(pixels) == pytest.approx(theirs.inverse(pixels), abs=1e-6)
