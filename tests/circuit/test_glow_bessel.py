"""The glow's Bessel functions against SciPy's, which are another method's: rational approximations."""

import numpy as np
import pytest
from scipy import special

from circuit.glow.bessel import j0, j1, k1


@pytest.mark.parametrize("most", [3.0, 60.0, 399.0])
def test_j(most):
    x = np.linspace(0.0, most, 40_001)
    # Cubics between the table's steps of 1/32: (1/32)^4 / 384 of the fourth derivative, which is 1 at most.
    assert j0(x) == pytest.approx(special.j0(x), abs=2.5e-9)
    assert j1(x) == pytest.approx(special.j1(x), abs=1e-12)


def test_where_the_sum_ends_and_the_expansion_begins():
    x = np.arange(20.0, 30.0, 1 / 32)  # the table's own steps: nothing is interpolated
    assert j0(x) == pytest.approx(special.j0(x), abs=1e-14)


def test_j0_beyond_its_usual_table():
    assert j0(np.array([650.0])) == pytest.approx(
        special.j0([650.0]), abs=1e-8
    )  # the same, and rounding of x


def test_k1_from_next_to_nothing_on():
    x = np.concatenate([np.geomspace(1e-9, 1.0, 500), np.linspace(1.0, 200.0, 500)])
    assert k1(x) == pytest.approx(special.k1(x), rel=1e-12)


def test_known_values():
    # Handbook of Mathematical Functions (1964), tables 9.1 and 9.8, from memory; half a last digit, or a step's error.
    assert j0(np.array([1.0, 5.0])) == pytest.approx([0.7651976866, -0.1775967713], abs=1e-9)
    assert j1(np.array([1.0, 5.0])) == pytest.approx([0.4400505857, -0.3275791376], abs=5e-11)
    assert k1(np.array([1.0])) == pytest.approx([0.6019072302], abs=5e-11)
