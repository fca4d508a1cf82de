"""The two tapes stay apart for every common kind of colour vision, on card of any colour.

Sources. Palette: Okabe and Ito, Color Universal Design, 2002/2008. Simulation: Machado, Oliveira and
Fernandes, IEEE TVCG 15 (2009), matrices for full severity, on linear RGB: written from memory; that
every row sums to 1 (white stays white) is checked below. sRGB curve: IEC 61966-2-1:1999, its values
as colour-science's eotf_sRGB gives them. Colour difference: CIEDE2000 as in scikit-image.
"""

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from vision.drawing.backdrop import Backdrop
from vision.drawing.colours import BLUE, GREEN, NEGATIVE, POSITIVE, PURPLE, VERMILION, YELLOW
from vision.drawing.overlay.photo_tape import painted

SEEN_BY = {
    "all cones": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
CARDS = {
    "white": (238, 238, 236),
    "kraft": (196, 154, 104),
    "pink": (240, 205, 210),
    "blue": (180, 205, 235),
    "yellow": (240, 235, 150),
    "grey": (150, 150, 150),
}
# A difference of 2 to 3 is just seen side by side; 15 is two plainly different colours. Chosen.
PLAINLY_APART = 15.0


def decoded(levels):
    levels = np.asarray(levels, dtype=float) / 255
    return np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4)


def encoded(light):
    light = np.clip(light, 0, 1)
    return 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def simulated(levels, eyes):
    return encoded(decoded(levels) @ SEEN_BY[eyes].T)


def difference(one, other):
    lab = rgb2lab(np.array([[one, other]], dtype=float) / 255)
    return float(deltaE_ciede2000(lab[0, 0], lab[0, 1]))


def test_the_srgb_curve_of_this_test_has_its_published_values():
    # IEC 61966-2-1:1999 as colour-science's eotf_sRGB gives it; half of the last digit.
    assert decoded(255 * 0.5) == pytest.approx(0.214041, abs=5e-7)
    assert decoded(128) == pytest.approx(0.215861, abs=5e-7)
    assert decoded(10) == pytest.approx(0.00303527, abs=5e-9)
    assert encoded(0.18) == pytest.approx(117.65, abs=5e-3)
    assert encoded(0.5) == pytest.approx(187.52, abs=5e-3)


@pytest.mark.parametrize("eyes", SEEN_BY)
def test_white_stays_white_in_the_simulation(eyes):
    # Six digits in the published matrices, three to a row.
    assert SEEN_BY[eyes].sum(axis=1) == pytest.approx(1.0, abs=2e-6)


def test_the_palette_is_the_published_one():
    # Okabe and Ito: vermilion D55E00, blue 0072B2, bluish green 009E73, yellow F0E442, reddish purple CC79A7.
    published = {VERMILION: "D55E00", BLUE: "0072B2", GREEN: "009E73", YELLOW: "F0E442", PURPLE: "CC79A7"}
    assert all("".join(f"{part:02X}" for part in colour) == code for colour, code in published.items())
    assert (POSITIVE, NEGATIVE) == (VERMILION, BLUE)


@pytest.mark.parametrize("card", CARDS)
@pytest.mark.parametrize("eyes", SEEN_BY)
def test_both_tapes_differ_from_one_another_and_from_the_card(eyes, card):
    paper = CARDS[card]
    backdrop = Backdrop(np.full((120, 200, 3), paper, dtype=np.uint8), np.ones((120, 200), dtype=np.float32))
    lines = [([(20.0, 30.0), (180.0, 30.0)], True), ([(20.0, 90.0), (180.0, 90.0)], False)]
    pixels = painted(backdrop, lines, 28.0, 11.2)
    # The striped tape's own colour is its median; its stripes only add to the difference.
    positive, negative = (
        np.median(pixels[27:34, 40:160], axis=(0, 1)),
        np.median(pixels[87:94, 40:160], axis=(0, 1)),
    )
    seen = {
        name: simulated(colour, eyes) for name, colour in (("+", positive), ("-", negative), ("card", paper))
    }
    assert difference(seen["+"], seen["-"]) > PLAINLY_APART
    assert difference(seen["-"], seen["card"]) > PLAINLY_APART
    # Vermilion on kraft is the hardest pair; the dark edges and pale casing carry it beyond its colour.
    edge = simulated(pixels[30 - 13, 100], eyes)
    assert max(difference(seen["+"], seen["card"]), difference(edge, seen["card"])) > PLAINLY_APART


def test_a_pair_that_is_not_safe_would_be_caught():
    red, green = (200, 60, 60), (90, 130, 40)
    assert difference(red, green) > 40
    assert difference(simulated(red, "deuteranopia"), simulated(green, "deuteranopia")) < PLAINLY_APART
