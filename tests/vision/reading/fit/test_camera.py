"""Rays, places and pixels agree with each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vision.reading.fit.bend_shape import Lift
from vision.reading.fit.camera import FLAT, Camera, rotation_of, rough_pose


def phone(**changes) -> Camera:
    camera = Camera(
        focal=1800.0,
        centre=np.array([1003.2, 752.9]),
        k1=-0.06,
        k2=0.01,
        rotation=rotation_of(np.array([0.35, -0.2, 0.15])),
        shift=np.array([4.0, -7.0, 210.0]),
        half=np.array([53.975, 69.85]),
        curl=FLAT,
        lift=Lift.nowhere(),
    )
    return replace(camera, **changes)


PLACES = np.array([[-50.0, -68.0], [48.0, -60.0], [0.0, 0.0], [-12.0, 66.0], [53.0, 69.0]])


@pytest.mark.parametrize("k1", [-0.1, 0.0, 0.08])
@pytest.mark.parametrize("above_mm", [-0.2, 0.0, 0.1])
def test_millimetres_come_back_from_pixels(k1, above_mm):
    camera = phone(k1=k1)
    back = camera.to_card(camera.to_photo(PLACES, above_mm), above_mm)
    assert back == pytest.approx(PLACES, abs=1e-9)


@given(
    st.floats(0, 2 * np.pi),
    st.sampled_from([-0.5, -0.15, 0.2, 0.5]),
    st.floats(0, 4),
    st.sampled_from(["one end", "arch", "ends", "s"]),
)
@settings(max_examples=40, deadline=None)
def test_millimetres_come_back_from_a_bent_card(angle, start, height, kind):
    camera = phone(curl=np.array([0.1, -0.05, 0.08, height]), lift=Lift(angle, start, kind))
    back = camera.to_card(camera.to_photo(PLACES))
    # Three rounds leave an error of the ray's slope times the face's, cubed: under 0.01 mm here.
    assert back == pytest.approx(PLACES, abs=0.01)


def test_a_bend_is_flat_before_it_starts_and_full_at_the_corner():
    half = np.array([50.0, 70.0])
    lift = Lift(angle=0.0, start=0.2)
    assert lift.shape(np.array([[-50.0, 0.0], [9.9, 0.0], [50.0, 10.0]]), half) == pytest.approx(
        [0, 0, 1], abs=1e-9
    )
    middle_and_end = np.array([[0.0, 5.0], [50.0, 5.0]])
    assert Lift(0.0, kind="arch").shape(middle_and_end, half) == pytest.approx([1, 0])
    assert Lift(0.0, kind="ends").shape(middle_and_end, half) == pytest.approx([0, 1])
    # Rests on its one end and half way to the other, as high in its arc as at its rising end.
    along_s = np.array([[-50.0, 0.0], [25.0, 0.0], [-25.0, 0.0], [50.0, 0.0]])
    assert Lift(0.0, kind="s").shape(along_s, half) == pytest.approx([0, 0, 1, 1])
    assert Lift(np.pi, kind="s").shape(along_s, half) == pytest.approx([1, 1, 0, 0])


def test_a_raised_point_looks_nearer():
    camera = phone(rotation=np.eye(3), shift=np.array([0.0, 0.0, 200.0]), k1=0.0, k2=0.0)
    low, high = camera.to_photo(PLACES[:1]), camera.to_photo(PLACES[:1], above_mm=10.0)
    assert np.linalg.norm(high - camera.centre) == pytest.approx(
        np.linalg.norm(low - camera.centre) * 200 / 190
    )


def test_the_pose_of_a_rectangle_is_found_from_its_corners():
    camera = phone(k1=0.0, k2=0.0)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * camera.half
    pose = rough_pose(camera.to_photo(corners), camera.focal, camera.centre)
    # The pixels are given in single precision, seven digits: 6e-8 of the pose is lost.
    assert pose.aspect == pytest.approx(camera.half[0] / camera.half[1], rel=1e-6)
    assert pose.skew == pytest.approx(0.0, abs=1e-6)
    assert pose.shift * 139.7 == pytest.approx(camera.shift, rel=1e-6, abs=1e-4)
    assert pose.rotation == pytest.approx(camera.rotation, abs=1e-6)


def test_a_wrong_focal_length_shows_as_skew():
    camera = phone(k1=0.0, k2=0.0)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * camera.half
    assert abs(rough_pose(camera.to_photo(corners), 2 * camera.focal, camera.centre).skew) > 0.02


@pytest.mark.parametrize(
    "lift",
    [
        Lift(0.4, 0.2),
        Lift(np.pi, -0.15),
        Lift(0.0, kind="arch"),
        Lift(1.2, kind="arch", uneven=(0.3, -0.1, 0.1, 0.05)),
        Lift(2.0, kind="ends", uneven=(0.3, -0.1, 0.1, 0.05)),
        Lift(0.0, kind="s"),
    ],
)
def test_paper_bends_but_does_not_stretch(lift):
    camera = phone(curl=np.array([0.0, 0.0, 0.0, 4.0]), lift=lift)
    # Along the bend, from the card's middle to where it is highest or its edge: the paper's length is the arc's.
    way = 50.0 * lift.direction
    on_paper = np.linspace(0, 1, 2001)[:, None] * way
    along_table = on_paper - camera.drawn_in(on_paper)
    steps = np.column_stack([np.diff(along_table, axis=0), np.diff(camera.height(on_paper))])
    arc = float(np.linalg.norm(steps, axis=1).sum())
    # Second order in slopes under 0.2 leaves out their fourth power over eight: some 0.005 mm.
    assert arc == pytest.approx(50.0, abs=0.01)
    assert np.linalg.norm(along_table[-1]) < 49.98


@pytest.mark.parametrize(
    "bend", [Lift(0.4, -0.15), *(Lift(0.4, kind=kind) for kind in ("arch", "ends", "s"))]
)
def test_a_bend_changes_with_its_figures_as_foretold(bend):
    half, places = np.array([54.0, 70.0]), np.random.default_rng(0).uniform(-50, 50, (20, 2))
    lift, step = replace(bend, uneven=(0.2, -0.1, 0.05, 0.1)), 1e-5

    def changed(**figures) -> np.ndarray:
        ends = [replace(lift, **{name: values[k] for name, values in figures.items()}) for k in (0, 1)]
        return (ends[1].shape(places, half) - ends[0].shape(places, half)) / (2 * step)

    figures = lift.by_figures(places, half)
    # Central differences: their second order, the step's square, and rounding leave under 1e-9.
    assert figures[:, 0] == pytest.approx(changed(angle=(0.4 - step, 0.4 + step)), abs=1e-8)
    if bend.all_over:  # without a start to move
        assert not figures[:, 1].any()
    else:
        assert figures[:, 1] == pytest.approx(changed(start=(-0.15 - step, -0.15 + step)), abs=1e-8)
    third = [(0.2, -0.1, 0.05 + off, 0.1) for off in (-step, step)]
    assert figures[:, 4] == pytest.approx(changed(uneven=third), abs=1e-8)
    across = [
        (lift.shape(places + step * axis, half) - lift.shape(places - step * axis, half)) / (2 * step)
        for axis in np.eye(2)
    ]
    assert lift.slope(places, half) == pytest.approx(np.column_stack(across), abs=1e-8)
