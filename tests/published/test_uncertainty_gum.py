"""The propagation that the reading's covariances are held against, against the worked example of the guide that
defines it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.vision.reading.fit.propagation import propagate


def test_the_guides_example_of_resistance_and_reactance():
    # Source: JCGM 100:2008 (GUM), annex H.2, inputs as on the GTC documentation page "GUM H2": V 4.999 V,
    # u 3.2e-3; I 19.661 mA, u 9.5e-3 mA; phi 1.04446 rad, u 7.5e-4; r(V,I) -0.36, r(V,phi) +0.86,
    # r(I,phi) -0.65. Results recomputed with GTC 1.5.1 from these rounded inputs.
    at = np.array([4.999, 19.661e-3, 1.04446])
    sigmas = np.array([3.2e-3, 9.5e-6, 7.5e-4])
    correlations = np.array([[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]])
    covariance = correlations * np.outer(sigmas, sigmas)

    def figures(x):
        volts, amperes, phase = x
        z = volts / amperes
        return np.array([z * np.cos(phase), z * np.sin(phase), z])

    got = propagate(figures, at, covariance, sigmas / 100)
    spread = np.sqrt(np.diag(got))
    assert figures(at) == pytest.approx([127.732, 219.847, 254.260], abs=5e-4)  # half a last digit
    assert spread == pytest.approx([0.06998, 0.2957, 0.2366], abs=5e-5)
    shared = got / np.outer(spread, spread)
    assert [shared[0, 1], shared[0, 2], shared[1, 2]] == pytest.approx([-0.591, -0.491, 0.993], abs=6e-4)


def test_the_guides_example_does_not_hold_without_the_correlations():
    # The same example with the correlations left out gives u(R) 0.19 ohm: a test that could not tell the two
    # apart would be none.
    at, sigmas = np.array([4.999, 19.661e-3, 1.04446]), np.array([3.2e-3, 9.5e-6, 7.5e-4])
    got = propagate(lambda x: np.array([x[0] / x[1] * np.cos(x[2])]), at, np.diag(sigmas**2), sigmas / 100)
    assert np.sqrt(got[0, 0]) == pytest.approx(0.194, abs=0.01)
