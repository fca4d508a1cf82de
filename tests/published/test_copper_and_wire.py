"""The resistance of tape against published copper: the international standard and the wire tables."""

import math

import pytest

from circuit.electrics.wiring import COPPER_OHM_MM, ohm_per_mm, tap_ohms


def test_annealed_copper():
    # Source: IEC 60028:1925, read in two texts that quote it: 58 MS/m, 1/58 ohm mm2/m, at 20 °C.
    assert pytest.approx(1.7241e-8 * 1e3, rel=3e-5) == COPPER_OHM_MM  # half a last digit


@pytest.mark.parametrize(
    ("inches", "ohm_per_1000_ft", "digits"),
    [
        # Source: solid copper at 20 °C, wire tables after NBS Handbook 100 (1966), read second-hand in three
        # tables that agree. AWG 24: 0.0201 in. AWG 30: 0.0100 in; its diameter has three digits, so the
        # gauge's own rule gives the fourth: 0.127 mm x 92^((36 - n) / 39), i.e. 0.010025 in.
        (0.020101, 25.67, 0.005),
        (0.010025, 103.2, 0.05),
    ],
)
def test_a_strip_of_a_wire_s_section_has_the_wire_s_resistance(inches, ohm_per_1000_ft, digits):
    area_mm2 = math.pi / 4 * (inches * 25.4) ** 2
    got = 304_800.0 * ohm_per_mm(width_mm=1.0, thickness_mm=area_mm2, celsius=20.0)
    # Half a last digit of the table, plus twice half a last digit of the diameter, since it is squared.
    assert got == pytest.approx(ohm_per_1000_ft, abs=digits + 2 * 2.5e-5 * ohm_per_1000_ft)


@pytest.mark.parametrize(
    ("width_mm", "celsius", "milliohm"),
    # Computed from IEC 60028 and a handbook's 0.00393 per degree: 200 mm of 35 um foil, 80 or 40 squares.
    [(2.5, 20.0, 39.41), (2.5, 40.0, 42.51), (5.0, 20.0, 19.70)],
)
def test_a_worked_strip(width_mm, celsius, milliohm):
    bent = ((0.0, 0.0), (120.0, 0.0), (120.0, 80.0))
    (got,) = tap_ohms(bent, [bent[-1]], ohm_per_mm(width_mm, 0.035, celsius), fold_ohm=0.0)
    assert 1e3 * got == pytest.approx(milliohm, abs=0.005)  # half a last digit
