"""What a flat card's fit says of bends is what fitting each of them would say."""

from __future__ import annotations

import numpy as np
import pytest

from tests.vision.reading.fit.test_fit import SIZE, camera, evidence
from vision.reading.fit import fit_card
from vision.reading.fit.bends import LIFTS, UnseenBends, bend_pulls, unseen_bends
from vision.reading.fit.models import bent_after_all
from vision.reading.fit.parameters import CAMERA_COUNT
from vision.reading.fit.solve import Fit

PLACES = np.array([[30.0, 40.0], [-30.0, 50.0], [45.0, -50.0], [-45.0, -60.0]])


def spread(fit: Fit, bends: UnseenBends) -> np.ndarray:
    """(N, 2, 2) of marks at PLACES, in the frame of the card's middle."""
    jacobian = fit.place_derivatives(PLACES)
    assert jacobian.shape[2] == CAMERA_COUNT
    return bends.position_covariance(fit, PLACES, jacobian, np.eye(2))


@pytest.mark.parametrize("k", [5, 16, 33, 65])
def test_a_bend_moves_marks_as_foretold(k):
    bent = camera(curl=np.array([0.0, 0.0, 0.0, 0.6]), lift=LIFTS[k])
    seen = evidence(bent, 0.1, k)
    flat = fit_card(seen, camera(), SIZE, False, False)
    fitted = fit_card(seen, camera(), SIZE, False, False, lift=LIFTS[k])
    pulls = bend_pulls(flat)
    assert pulls.heights[k] == pytest.approx(
        fitted.lift_mm, rel=0.2, abs=0.05
    )  # first order against a whole fit
    only = np.zeros(len(LIFTS))
    only[k] = fitted.lift_mm**2
    foretold = spread(flat, UnseenBends(only, only, pulls.others))
    pixels = flat.camera.to_photo(PLACES)
    moved = fitted.camera.to_card(pixels) - PLACES
    # To first order; what both leave out, a lens that gives way, say, is some hundredths of a millimetre.
    assert np.sqrt(np.einsum("nii->n", foretold)) == pytest.approx(np.linalg.norm(moved, axis=1), abs=0.06)


def test_the_more_a_bend_would_explain_the_less_surely_marks_lie():
    flat, bent = (
        fit_card(
            evidence(camera(curl=np.array([0.0, 0.0, 0.0, height]), lift=LIFTS[33]), 0.3, 2),
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


@pytest.mark.parametrize("k", [33, 65])
def test_a_bend_that_is_likelier_than_none_is_fitted_after_all(k):
    seen = evidence(camera(curl=np.array([0.0, 0.0, 0.0, 1.5]), lift=LIFTS[k]), 0.15, 4)
    flat = fit_card(seen, camera(), SIZE, False, False)
    bent = bent_after_all(flat, unseen_bends(flat), False)
    assert bent is not None
    assert bent.fit.lift_mm == pytest.approx(1.5, rel=0.35)  # a like shape may stand in for it
    level = fit_card(evidence(camera(), 0.15, 4), camera(), SIZE, False, False)
    assert bent_after_all(level, unseen_bends(level), False) is None
