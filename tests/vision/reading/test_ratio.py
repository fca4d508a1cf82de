"""What is divided by nothing stays a number."""

from __future__ import annotations

import numpy as np
import pytest

from vision.reading.ratio import over, unit


def test_a_direction_has_a_length_of_one_and_nothing_has_none():
    ways = unit(np.array([[3.0, -4.0], [0.0, 0.0], [1e-3, 0.0]]))
    assert ways == pytest.approx(np.array([[0.6, -0.8], [0.0, 0.0], [1.0, 0.0]]))


def test_a_share_of_nothing_is_nothing():
    assert over(np.array([1.0, 0.0]), np.array([4.0, 0.0])) == pytest.approx([0.25, 0.0])
    assert over(3.0, 1.5) == pytest.approx(2.0)
