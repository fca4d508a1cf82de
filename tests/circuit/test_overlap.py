"""How far outlines reach into one another, against shapes whose widths are known."""

import math

import numpy as np
import pytest
import shapely

from circuit.check.overlap import shared_width

LARGE = shapely.box(-100, -100, 100, 100)


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, 90.0, 133.0])
@pytest.mark.parametrize(
    ("outline", "width_mm"),
    [
        ([(0, 0), (9, 0), (9, 2), (0, 2)], 2.0),
        (
            [(0, 0), (5, 0), (2.5, 2.5 * math.sqrt(3))],
            2.5 * math.sqrt(3),
        ),  # its height, whichever side it lies on
        # A right triangle is narrowest across its longest side: 3 x 4 / 5.
        ([(0, 0), (4, 0), (0, 3)], 2.4),
        (
            [(0, 0), (6, 0), (6, 2), (2, 2), (2, 6), (0, 6)],
            8 / math.sqrt(2),
        ),  # along the diagonal, to its hull
    ],
)
def test_a_patch_is_as_wide_as_it_is_at_its_narrowest_however_it_lies(outline, width_mm, turn_deg):
    turn = math.radians(turn_deg)
    turned = np.array(outline) @ [[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]
    for mirrored in (1, -1):
        patch = shapely.Polygon(turned * [1, mirrored])
        assert shared_width(LARGE, patch)[0] == pytest.approx(width_mm, abs=1e-9)  # rounding alone
