"""The glow against published photometry: the laws of distance and cosine, a data sheet's lumens, sRGB."""

import math

import numpy as np
import pytest

from circuit.glow.profile import disc_lux, profile
from circuit.parts import light_part
from vision.drawing.glow_picture import _XYZ_TO_RGB, encode_srgb

# Source: CIE e-ILV, photometric distance law and Lambert's cosine law (S 017): E = I0 cos^4 / h^2.
COS4 = {0: 1.0, 15: 0.870513, 30: 0.5625, 45: 0.25, 60: 0.0625}


def point_lux(candela, height_mm, away_mm):
    """Of a lamp a micrometre across: at a millimetre and more its size counts less than a millionth."""
    return disc_lux(candela, 5e-4, height_mm, away_mm)


@pytest.mark.parametrize(("degrees", "share"), COS4.items())
def test_cosine_to_the_fourth(degrees, share):
    height = 3.0
    away = height * math.tan(math.radians(degrees))
    assert point_lux(1.0, height, away) / point_lux(1.0, height, 0.0) == pytest.approx(share, abs=5e-7)


@pytest.mark.parametrize(
    ("away", "lux"),
    # The same law worked out by hand for 0.25 cd at 3 mm.
    [(0.0, 27777.8), (1.0, 22500.0), (3.0, 6944.44), (6.0, 1111.11), (10.0, 189.378)],
)
def test_a_quarter_of_a_candela_at_three_millimetres(away, lux):
    # Six digits are given: half of the last is 2.6e-6 of 189.378, less of the others that end there.
    assert point_lux(0.25, 3.0, away) == pytest.approx(lux, rel=3e-6)
    # A lamp of a tenth of a millimetre is a point to all intents: (a / h)^2 = 3e-4.
    assert disc_lux(0.25, 0.05, 3.0, away) == pytest.approx(lux, rel=4e-4)
    assert profile(0.05, 3.0, 4.0).lux(0.25, np.array([away])) == pytest.approx(lux, rel=3e-3)


def test_a_published_example_of_the_cosine_law():
    # Source: a physics problem site: 628 lm all round is 50 cd; at 1 m on a surface turned by 37 degrees, 40 lx
    # (39.9 exactly). A Lambertian lamp that shows 50 cd in that direction is one of 50 / cos 37 ahead.
    ahead = 628 / (4 * math.pi) / math.cos(math.radians(37))
    height = 1000 * math.cos(math.radians(37))
    away = 1000 * math.sin(math.radians(37))
    assert point_lux(ahead, height, away) == pytest.approx(40, abs=0.5)


def test_a_source_is_a_point_from_five_times_its_size():
    # Source: the five-times rule of architects' guidance, and CIE's note on sources that are no points.
    size, height = 4.0, 20.0
    assert disc_lux(1.0, size / 2, height, 0.0) == pytest.approx(point_lux(1.0, height, 0.0), rel=0.01)
    # Behind a card's window it is not: an LED of 3.5 mm at 3 mm.
    assert disc_lux(1.0, 1.75, 3.0, 0.0) < 0.8 * point_lux(1.0, 3.0, 0.0)


def test_lumens_of_a_data_sheet():
    # Source: a 3528 white data sheet, 120 degrees: 2050-2250 mcd and 6-6.5 lm at 20 mA. A Lambertian lamp gives
    # pi lumens a candela: 6.4-7.1 lm. The sheet's own two rows differ by up to 18 %; half of that is allowed.
    light = light_part("3528")
    candela = 0.020 * light.candela_per_a
    assert 2.05 <= candela <= 2.25
    assert math.pi * candela == pytest.approx(6.25, rel=0.09)
    # 120 degrees between the half-intensity directions is what a Lambertian emitter has.
    assert math.cos(math.radians(120 / 2)) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("linear", "encoded"),
    # Source: IEC 61966-2-1:1999 as computed by colour-science 0.4.7 (eotf_sRGB and its inverse).
    [
        (0.214041, 0.5),
        (0.215861, 128 / 255),
        (0.00303527, 10 / 255),
        (0.18, 0.461356),
        (0.5, 0.735357),
        (0, 0),
        (1, 1),
    ],
)
def test_srgb_encoding(linear, encoded):
    # Six digits are given on one side or the other.
    assert float(encode_srgb(linear)) == pytest.approx(encoded, abs=2e-6)


def test_the_matrix_to_linear_srgb_against_a_general_library():
    from skimage.color import xyz2rgb

    # D65 white (0.3127, 0.3290) is equal red, green and blue: four digits in the standard's matrix.
    white = _XYZ_TO_RGB @ np.array([0.3127 / 0.3290, 1.0, 0.3583 / 0.3290])
    assert white == pytest.approx(np.ones(3), abs=1e-3)
    for xyz in ([0.2, 0.2, 0.2], [0.35, 0.3, 0.1], [0.3, 0.35, 0.3]):
        ours = encode_srgb(np.clip(_XYZ_TO_RGB @ np.array(xyz), 0, 1))
        # Four digits in the standard's matrix, six in the library's.
        assert ours == pytest.approx(xyz2rgb(np.array(xyz)[None, None])[0, 0], abs=5e-4)
