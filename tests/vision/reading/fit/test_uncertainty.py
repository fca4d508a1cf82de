"""Covariances become bounds that hold what they promise."""

from __future__ import annotations

import numpy as np
import pytest

from vision.reading.fit.uncertainty import LEAST_BOUND_MM, bound_mm


def test_a_round_error_has_the_rayleigh_quantile():
    # Distance of a round Gaussian error: P(r) = 1 - exp(-r^2 / 2 s^2), so r95 = s sqrt(2 ln 20).
    assert bound_mm(0.09 * np.eye(2)) == pytest.approx(0.3 * np.sqrt(2 * np.log(20)), rel=2e-3)


def test_an_error_along_one_line_has_the_normal_quantile():
    # All but one-dimensional: 1.95996 standard deviations, the table value of the normal distribution.
    assert bound_mm(np.diag([0.25, 1e-10])) == pytest.approx(0.5 * 1.95996, rel=0.01)


@pytest.mark.parametrize("turn", [0.0, 0.4, 1.3])
@pytest.mark.parametrize("ratio", [1.0, 2.0, 6.0])
def test_ninety_five_of_a_hundred_errors_lie_inside(turn, ratio):
    axes = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    covariance = axes @ np.diag([0.04 * ratio**2, 0.04]) @ axes.T
    rng = np.random.default_rng(5)
    errors = rng.multivariate_normal((0, 0), covariance, size=40_000)
    inside = float(np.mean(np.linalg.norm(errors, axis=1) <= bound_mm(covariance)))
    # Four standard deviations of a share of 40,000: 0.0044.
    assert inside == pytest.approx(0.95, abs=0.0044)


def test_no_bound_is_ever_nothing():
    assert bound_mm(np.zeros((2, 2))) == LEAST_BOUND_MM
