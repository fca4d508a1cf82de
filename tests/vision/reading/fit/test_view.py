"""Pixels to millimetres and back, turned frames, the straightened card."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from circuit.asked import Asked
from circuit.layout import Card
from tests.vision.draw import Camera, Dot, Drawing, Ring, Square, draw
from tests.vision.reading.fit.propagation import propagate
from tests.vision.reading.fit.test_fit import SIZE, camera, evidence
from vision.reading.fit.bends import LIFTS
from vision.reading.fit.solve import fit_card, with_bend
from vision.reading.fit.view import BEND_SHAPE, CAMERA_COUNT, View, straighten
from vision.reading.placing.find_view import find_view

PLACES = np.array([[10.0, 12.0], [95.0, 20.0], [50.0, 70.0], [12.0, 128.0]])


@pytest.fixture(scope="module")
def shot():
    return draw(camera=Camera(tilt_deg=22, k1=-0.04))


@pytest.mark.parametrize("turn_deg", [0, 90, 180, 270])
def test_millimetres_come_back_from_the_photo(shot, turn_deg):
    view = find_view(shot.pixels, Asked(turn_deg=turn_deg)).view
    places = PLACES if turn_deg in (0, 180) else PLACES[:, ::-1]
    assert view.to_mm(view.to_photo(places)) == pytest.approx(places, abs=1e-9)


def test_a_half_turn_changes_ends(shot):
    plain, turned = (find_view(shot.pixels, Asked(turn_deg=turn)).view for turn in (0, 180))
    width, height = plain.fit.card_mm
    pixels = plain.to_photo(PLACES)
    # The fitted card, not the nominal one, is what is turned; its edges' slants are worth a tenth at most.
    assert turned.to_mm(pixels) == pytest.approx(np.array([width, height]) - PLACES, abs=0.15)


def test_covariances_are_proper_and_grow_away_from_the_origin(shot):
    view = find_view(shot.pixels, Asked()).view
    near, far = view.position_covariance(np.array([[2.0, 2.0], [105.0, 137.0]]))
    assert np.linalg.eigvalsh(near).min() > 0
    assert np.trace(far) > np.trace(near)
    joint = view.joint_covariance(np.array([[2.0, 2.0], [105.0, 137.0]]))
    assert joint == pytest.approx(joint.T)
    # Both by numerical derivatives, whose steps differ: they agree to 2e-6 mm².
    assert np.diag(joint)[:2] == pytest.approx(np.diag(near), rel=1e-3, abs=1e-5)


@pytest.mark.parametrize("turn_deg", [0, 90])
def test_covariances_are_what_the_law_of_propagation_gives(shot, turn_deg):
    view = replace(find_view(shot.pixels, Asked(turn_deg=turn_deg)).view, rivals=(), unseen=None)
    fit, pixels = view.fit, view.to_photo(PLACES)
    covariance = fit.covariance[:CAMERA_COUNT, :CAMERA_COUNT]

    def places(camera_values):
        values = np.concatenate([camera_values, fit.values[CAMERA_COUNT:]])
        return replace(view, fit=replace(fit, standing=fit.model.at(values))).to_mm(pixels).ravel()

    steps = np.maximum(np.sqrt(np.diag(covariance)) / 100, 1e-6)
    law = propagate(places, fit.values[:CAMERA_COUNT], covariance, steps)
    # Derivatives by steps of a hundredth of each sigma: a millionth of the largest covariance.
    assert view.joint_covariance(PLACES) == pytest.approx(law, abs=1e-6 * np.abs(law).max())
    each = [law[k : k + 2, k : k + 2] for k in range(0, len(law), 2)]
    assert view.position_covariance(PLACES) == pytest.approx(np.array(each), abs=1e-6 * np.abs(law).max())


@pytest.fixture(scope="module")
def two_ways():
    """Views of one bent card, taken for bent and for flat."""
    bent = camera(curl=np.array([0.0, 0.0, 0.0, 2.0]), lift=LIFTS[13])
    flat = fit_card(evidence(bent, 0.15, 4), camera(), SIZE, False, False)
    fits = (with_bend(flat, LIFTS[13], flat.values), flat)
    return tuple(View(Card(*SIZE, "quarter-letter"), fit, "coded", 25.0) for fit in fits)


def test_marks_lie_where_all_that_may_be_has_them_each_by_its_chance(two_ways):
    bent, flat = two_ways
    pixels = bent.to_photo(PLACES)
    apart = flat.to_mm(pixels) - PLACES
    assert np.linalg.norm(apart, axis=1).max() > 0.2  # mm; else there is nothing to weigh
    both = replace(bent, rivals=((flat.fit, 0.25),))  # one in five
    # Where a ray meets a bent face is found in a few steps, to well under that.
    assert both.to_mm(pixels) == pytest.approx(PLACES + apart / 5, abs=1e-4)
    # The two fits part by a hundredth of the way along the card at most: so much is left of 0.06 mm.
    assert both.to_mm(both.to_photo(PLACES)) == pytest.approx(PLACES, abs=6e-4)
    spread = both.position_covariance(both.to_mm(pixels)) - bent.position_covariance(PLACES)
    # About the mean of two a distance d apart, one with the chance p: p (1 - p) d^2.
    expected = 0.16 * apart[:, :, None] * apart[:, None, :]
    # What the fit itself leaves open changes a little from its own answer to the mean.
    assert spread == pytest.approx(expected, abs=1e-4)


def test_beside_a_bent_card_a_tenth_of_what_its_bend_moves_stays_open(two_ways):
    bent, flat = two_ways
    apart = bent.moved_by(flat.fit, PLACES)
    wider = replace(bent, flat=flat.fit).position_covariance(PLACES) - bent.position_covariance(PLACES)
    assert wider == pytest.approx(BEND_SHAPE**2 * apart[:, :, None] * apart[:, None, :], abs=1e-9)


def test_the_straight_card_shows_every_mark_where_it_belongs(shot):
    found = find_view(shot.pixels, Asked())
    straight = straighten(shot.pixels, found.view)
    assert 4.0 <= straight.px_per_mm <= 10.0
    grey = straight.pixels.mean(axis=2)
    for dot in shot.drawing.dots:
        x, y = np.round(straight.to_px(np.array([[dot.x_mm, dot.y_mm]]))[0]).astype(int)
        reach = round(dot.diameter_mm * straight.px_per_mm)
        window = 255 - grey[y - reach : y + reach + 1, x - reach : x + reach + 1]
        dark = np.clip(window - np.median(window) - 30, 0, None)
        rows, columns = np.mgrid[-reach : reach + 1, -reach : reach + 1]
        off = np.array([(columns * dark).sum(), (rows * dark).sum()]) / dark.sum()
        assert np.linalg.norm(off) / straight.px_per_mm < 0.3
    corners = straight.to_px(np.array([[0.0, 0.0], [107.95, 139.7]]))
    (left, top), (_, bottom) = np.round(corners).astype(int)
    # Paper just inside the left edge, table just outside: each column as a whole.
    inside, outside = (np.median(grey[top + 9 : bottom - 9, left + step]) for step in (4, -4))
    assert inside > outside + 60


def test_the_square_is_told_in_card_millimetres():
    square = Square(side_mm=25.4, x_mm=60.0, y_mm=100.0, coded=False)
    shot = draw(Drawing(square=square, ring=Ring(30, 30), dots=(Dot(80, 40),)))
    found = find_view(shot.pixels, Asked())
    found = found.view.square_mm
    assert min(np.abs(np.roll(found, k, axis=0) - square.corners_mm).max() for k in range(4)) < 0.3
