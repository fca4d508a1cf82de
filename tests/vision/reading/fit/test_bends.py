"""What a flat card's fit says of bends is what fitting each of them would say."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.vision.reading.fit.test_fit import SIZE, camera, evidence
from vision.reading.fit.bends import (
    HEIGHTS,
    LIFTS,
    UnseenBends,
    _alike,
    _upward_squares,
    bend_pulls,
    likeliest_bends,
    unseen_bends,
)
from vision.reading.fit.models import fit_models
from vision.reading.fit.parameters import CAMERA_COUNT, Priors
from vision.reading.fit.solve import Fit, fit_card, with_bend

PLACES = np.array([[30.0, 40.0], [-30.0, 50.0], [45.0, -50.0], [-45.0, -60.0]])


def spread(fit: Fit, bends: UnseenBends) -> np.ndarray:
    """(N, 2, 2) of marks at PLACES, in the frame of the card's middle."""
    jacobian = fit.place_derivatives(PLACES)
    assert jacobian.shape[2] == CAMERA_COUNT
    return bends.position_covariance(fit, PLACES, jacobian, np.eye(2))


@pytest.mark.parametrize("k", [4, 13, 25, 36])
def test_a_bend_moves_marks_as_foretold(k):
    bent = camera(curl=np.array([0.0, 0.0, 0.0, 0.6]), lift=LIFTS[k])
    seen = evidence(bent, 0.1, k)
    flat = fit_card(seen, camera(), SIZE, False, False)
    pulls = bend_pulls(flat)
    fitted = with_bend(flat, LIFTS[k], flat.values)
    # First order against a whole fit; the first figures of a bend, one high, one broad, may stand in for one another.
    assert pulls.heights[k, 0] == pytest.approx(fitted.lift_mm, rel=0.25, abs=0.1)
    heights = fitted.lift_mm * np.array([1.0, *fitted.camera.lift.uneven])
    only = np.zeros((len(LIFTS), HEIGHTS, HEIGHTS))
    only[k] = np.outer(heights, heights)
    foretold = spread(flat, UnseenBends(only, pulls.others))
    pixels = flat.camera.to_photo(PLACES)
    moved = fitted.camera.to_card(pixels) - PLACES
    # To first order; what both leave out, a lens that gives way, say, is some hundredths of a millimetre.
    assert np.sqrt(np.einsum("nii->n", foretold)) == pytest.approx(np.linalg.norm(moved, axis=1), abs=0.06)


def test_the_more_a_bend_would_explain_the_less_surely_marks_lie():
    flat, bent = (
        fit_card(
            evidence(camera(curl=np.array([0.0, 0.0, 0.0, height]), lift=LIFTS[19]), 0.3, 2),
            camera(),
            SIZE,
            False,
            False,
        )
        for height in (0.0, 0.7)
    )
    sizes = [np.einsum("nii->n", spread(fit, unseen_bends(fit))).max() for fit in (flat, bent)]
    assert sizes[1] > 2 * sizes[0]
    assert np.sqrt(sizes[0]) < 0.1  # mm; a flat card that was seen well stays sure


def test_a_bend_that_was_fitted_counts_by_its_fit_alone():
    flat = fit_card(
        evidence(camera(curl=np.array([0.0, 0.0, 0.0, 0.7]), lift=LIFTS[19]), 0.3, 2),
        camera(),
        SIZE,
        False,
        False,
    )
    every, others = unseen_bends(flat), unseen_bends(flat, {LIFTS[19]})
    near = [k for k, lift in enumerate(LIFTS) if _alike(lift, LIFTS[19])]
    assert not others.squares[near].any()
    assert (
        every.squares[near, 0, 0].sum() > every.squares[:, 0, 0].sum() / 2
    )  # the true one's are most of all
    assert others.squares[:, 0, 0].sum() > 0


def test_heights_that_point_up_have_the_mean_squares_of_a_gaussian_cut_off_at_zero():
    rng = np.random.default_rng(5)
    heights, root = np.array([[0.6, 0.2, -0.3]]), rng.normal(0, 0.5, (3, 3))
    covariance = root @ root.T
    upward = heights[:, 0] / np.sqrt(covariance[0, 0])
    above = np.array([(1 + math.erf(upward[0] / math.sqrt(2))) / 2])
    drawn = rng.multivariate_normal(heights[0], covariance, 400_000)
    drawn = drawn[drawn[:, 0] > 0]
    expected = drawn.T @ drawn / len(drawn)
    # Of 400,000 dice a mean square is off by under half a hundredth.
    assert _upward_squares(heights, covariance[None], upward, above)[0] == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("k", [k for k, lift in enumerate(LIFTS) if lift.all_over])
def test_an_uneven_bend_is_told_from_the_edges(k):
    uneven = replace(LIFTS[k], uneven=(0.3, -0.2, 0.0, 0.1))
    bent = camera(curl=np.array([0.0, 0.0, 0.0, 3.0]), lift=uneven)
    seen = evidence(bent, 0.15, 4)
    best = fit_models(seen, camera(), [SIZE], False, False, Priors())[0][0]
    assert best.lift_mm > 0
    off = np.linalg.norm(best.camera.to_card(bent.to_photo(PLACES)) - PLACES, axis=1)
    even = fit_card(seen, camera(), SIZE, False, False, Priors(uneven=1e-6), LIFTS[k])
    off_even = np.linalg.norm(even.camera.to_card(bent.to_photo(PLACES)) - PLACES, axis=1)
    assert off.max() < 0.35  # mm; of 3 mm seen at 26 degrees 1.5 mm would be left by a flat fit
    assert off.max() < off_even.max()


def test_a_card_that_lies_flat_has_no_likely_bend():
    for seed in range(3):
        flat = fit_card(evidence(camera(), 0.2, seed), camera(), SIZE, False, False)
        assert likeliest_bends(flat, 1)[0].log_odds < 0


def test_bends_that_are_tried_do_not_pass_into_one_another():
    seen = evidence(camera(curl=np.array([0.0, 0.0, 0.0, 2.0]), lift=LIFTS[13]), 0.15, 4)
    found = likeliest_bends(fit_card(seen, camera(), SIZE, False, False), 3)
    assert found[0].log_odds >= found[1].log_odds >= found[2].log_odds
    assert len({(bend.lift.angle, bend.lift.kind) for bend in found}) == 3
