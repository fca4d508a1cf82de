"""Cells and lights against published sizes, discharge hours and forward voltages."""

import math

import numpy as np
import pytest

from circuit.electrics import Wiring, bench_of, cell_state, lifetime
from circuit.electrics.discharge import Load, discharges
from circuit.part_kinds import Diode
from circuit.parts import cell_part, default_parts, light_part
from circuit.settings import Settings
from circuit.size_codes import CELL_DIAMETERS_MM, INCH_CHIPS_MM, cell_size, light_sizes
from tests.circuit.cards import ladder

VOLTS = np.linspace(0.5, 3.3, 600)


@pytest.mark.parametrize("cell", default_parts().cells.values(), ids=lambda cell: cell.name)
def test_cells_measure_what_their_codes_say(cell):
    # Source: IEC 60086-3 size codes, read in an encyclopaedia that quotes them; 24: a CR2450 specification.
    assert cell_size(cell.name) == (cell.diameter_mm, cell.height_mm)


def test_cell_codes():
    # Source: the same. The diameter is rounded down: 12.5 and 24.5 mm, not 12 and 24.
    assert cell_size("CR1220") == (12.5, 2.0)
    assert cell_size("cr2450") == (24.5, 5.0)
    assert cell_size("CR2325") == (23.0, 2.5)
    assert CELL_DIAMETERS_MM[11] == 11.6
    for code, diameter in CELL_DIAMETERS_MM.items():
        assert int(diameter) == code


@pytest.mark.parametrize("light", default_parts().lights.values(), ids=lambda light: light.name)
def test_lights_measure_what_their_codes_say(light):
    # Source: package names in data sheets (metric), EIA inch chip codes.
    body = (max(light.length_mm, light.width_mm), min(light.length_mm, light.width_mm))
    assert body in light_sizes(light.name)


def test_light_codes():
    # Source: data sheets; 2835 is written width first. Inch codes: 0805 = metric 2012, 1206 = metric 3216.
    assert light_sizes("2835") == light_sizes("3528") == ((3.5, 2.8),)
    assert light_sizes("0805") == ((2.0, 1.25),)
    assert light_sizes("1206") == ((3.2, 1.6),)
    for code, (longer, shorter) in INCH_CHIPS_MM.items():
        # An inch code counts hundredths of an inch (0.254 mm); the metric bodies are not cut to whole ones.
        assert longer == pytest.approx(int(code[:2]) * 0.254, abs=0.16)
        assert shorter == pytest.approx(int(code[2:]) * 0.254, abs=0.16)


def emptied(ohm=None, amperes=None, *, lit_s=math.inf, capacity=None, cell="CR2032"):
    part = cell_part(cell)
    current = VOLTS / ohm if ohm else np.full_like(VOLTS, amperes)
    load = Load(VOLTS, current, current, current)
    return discharges(part, load, lit_s=lit_s, capacity_mah=capacity or part.capacity_mah)[0]


def test_two_hundred_hours_at_three_kilohm():
    # Source: a generic CR2032 specification sheet: 3 kohm day and night to 2.0 V, 200 h when new. The model's
    # rate was fitted to this within some 6 %, so this test only holds it there.
    course = emptied(ohm=3000.0)
    assert course.hours_until(course.terminal_v, 2.0) == pytest.approx(200, rel=0.08)


def test_nine_milliamperes_steady():
    # Source: an engineering article, one cell: under 2.5 V after about half an hour, near there to about two
    # hours, 1.5 V at 12 h. Fitted; one cell, so a quarter of a volt and a fifth of the time are allowed.
    course = emptied(amperes=0.009)
    at = np.interp([0.5, 1.0, 2.0], course.hours, course.terminal_v)
    assert at == pytest.approx(np.full(3, 2.45), abs=0.25)
    assert course.hours_until(course.terminal_v, 1.5) == pytest.approx(12, rel=0.2)


@pytest.mark.parametrize(
    ("cell", "ohm", "low_mah", "high_mah"),
    [
        # Published at a small drain to 2.0 V: encyclopaedia and catalogues.
        ("CR2032", 15_000.0, 225, 240),
        ("CR2025", 15_000.0, 150, 170),
        ("CR2016", 30_000.0, 75, 90),
        ("CR2450", 7_500.0, 550, 700),
    ],
)
def test_small_drains_get_the_stated_capacity_out(cell, ohm, low_mah, high_mah):
    assert 0.95 * low_mah < got_mah(emptied(ohm=ohm, cell=cell)) < 1.05 * high_mah


def got_mah(course):
    """Charge until the terminals first fall under 2.0 V."""
    end = course.terminal_v >= 2.0
    return np.trapezoid(1e3 * course.amperes[end], course.hours[end])


def test_pulses_through_300_ohm_cost_a_quarter():
    # Source: a maker's data sheet as an engineer quotes it (a data logger project's page): 300 ohm for a fraction of a
    # second every five takes a quarter off a CR2032's capacity. The model's pulse power is fitted to it.
    assert got_mah(emptied(ohm=300.0, lit_s=0.3)) / got_mah(emptied(ohm=15_000.0)) == pytest.approx(
        0.75, abs=0.03
    )


def test_stronger_pulses_cost_at_least_what_was_measured():
    # Source: Texas Instruments SWRA349, abstract: 30 mA in place of 15 mA pulses cost about 9 % of the capacity. Not
    # fitted: the model errs to the careful side, by less than as much again and a bit.
    lost = 1 - got_mah(emptied(amperes=0.030, lit_s=0.3)) / got_mah(emptied(amperes=0.015, lit_s=0.3))
    assert 0.09 <= lost <= 0.20


def test_a_spent_cell_rests_near_its_fresh_volts():
    # Source: a forum's bench: 1.8 V loaded, back to 2.9 V rested; another's: 3.01 V rested and under 100 ohm at once
    # far down. Not fitted: a cell that a 100 ohm load pulls to 1.8 V or less.
    cell = cell_part("CR2032")
    spent = next(
        state
        for used in np.linspace(0.5, 1, 101)
        if (state := cell_state(cell, float(used))).emf_v * 100 / (100 + state.ohm) <= 1.8
    )
    # The two benches differ by 0.11 V; a rested cell drifts by a few hundredths more.
    assert spent.emf_v == pytest.approx(2.9, abs=0.15)


def test_one_white_light_on_a_fresh_cell():
    # Source: a hobby write-up: about 10 mA at first through one white light straight on a CR2032. One light, one cell,
    # and "about" may be a milliampere: at the least end of what bags and makes differ by.
    layout, traces = ladder(1)
    solved = bench_of(
        layout, traces, Settings(light=light_part("3528")), wiring=Wiring(0.035, 20.0, 0.0, 0.0, 0.0)
    ).solve()
    assert solved.total_range_ma[0] - 1 < 10 < solved.total_range_ma[1] + 1


def test_two_blue_lights_left_on():
    # Source: a question-and-answer page: two blue 5 mm lights on one CR2032 still glow brightly after 9.5 hours.
    layout, traces = ladder(2)
    life = lifetime(bench_of(layout, traces, Settings(light=light_part("3528", "blue"))))
    assert life.left_on_clear_hours[1] > 9.5
    assert life.left_on_dim_until_hours[0] > 9.5


def test_a_pulse_through_400_ohm():
    # Source: quoted in an engineering article: two-second pulses of 6.8 mA through 400 ohm. Not fitted: at some time of
    # its life the model's cell gives that, and never strays from it by more than a seventh before it is spent.
    currents = []
    for used in np.linspace(0.05, 0.8, 16):
        state = cell_state(cell_part("CR2032"), float(used))
        currents.append(1e3 * state.emf_v / (400 + state.ohm))
    assert min(currents) < 6.8 < max(currents)
    assert np.array(currents) == pytest.approx(np.full(16, 6.8), rel=1 / 7)


def test_a_fresh_cell_shorted():
    # Source: a generic CR2032 specification sheet: off-load 3.20 V or more, 300 mA or more through a short. The
    # model errs to the careful side of it: 12 ohm where the sheet allows 10.7, so some 12 % less.
    fresh = cell_state(cell_part("CR2032"))
    assert fresh.emf_v >= 3.20
    assert fresh.emf_v / fresh.ohm == pytest.approx(0.300, rel=0.15)


def test_internal_resistance_along_the_discharge():
    # Source: one maker's graph as an engineer read it: 18-20 ohm flat to about 150 mAh (of 235), about 30 ohm
    # at 170 mAh. The model's knots are these, so this holds it to them.
    cell = cell_part("CR2032")
    for drawn in (40, 100, 150):
        assert cell_state(cell, drawn / 235).ohm == pytest.approx(19, abs=1.5)
    assert cell_state(cell, 170 / 235).ohm == pytest.approx(30, abs=2)


def volts(colour, milliamperes):
    return default_parts().colours[colour].diode.volts(milliamperes / 1000)


@pytest.mark.parametrize(
    ("colour", "milliamperes", "low", "high"),
    [
        # Source: data sheets. 3528 red least and most at 20 mA; 5050 white, one die, at 20 mA; 1206 pure green at
        # 20 mA; 3528 white at 20 mA; 5 mm warm white at 20 mA. Light strings measured at 20.1 mA, three bulbs each.
        ("red", 20, 1.80, 2.40),
        ("white", 20, 2.8, 3.6),
        ("white", 20, 2.8, 3.3),
        ("warm-white", 20, 2.6, 3.4),
        ("green", 20, 2.6, 3.6),
        ("green", 20.1, 3.11, 3.15),
        ("blue", 20.1, 3.16, 3.28),
        # Amber: 1.9-2.2 V at 20 mA is from memory; a light string's yellow and orange bulbs 1.95-2.18 V.
        ("amber", 20, 1.9, 2.2),
    ],
)
def test_forward_voltages(colour, milliamperes, low, high):
    assert low <= volts(colour, milliamperes) <= high


@pytest.mark.parametrize("colour", ["white", "warm-white", "blue", "green"])
def test_good_parts_of_gallium_nitride_pass_the_least_test(colour):
    # Source: makers' good-part test: above 2.0 V at 0.1 mA; above 1.4 V for red and its kin (next test).
    assert volts(colour, 0.1) > 2.0


@pytest.mark.parametrize("colour", ["red", "amber"])
def test_good_parts_of_red_s_kin_pass_the_least_test(colour):
    assert 1.4 < volts(colour, 0.1) < 2.0


@pytest.mark.parametrize(
    ("model", "at_1_5_20_ma"),
    [
        # Source: public simulator models; volts from the same formula run separately, at 27 °C.
        ((0.27e-9, 6.79, 5.65), (2.662, 2.967, 3.295)),
        ((1e-22, 1.5, 6.0), (1.703, 1.790, 1.934)),
        ((93.2e-12, 3.73, 0.042), (1.562, 1.717, 1.852)),
        ((93.2e-12, 7.47, 0.042), (3.128, 3.439, 3.707)),
        ((6.12e-16, 3.507, 8.0), (2.559, 2.737, 2.983)),
    ],
)
def test_the_diode_formula(model, at_1_5_20_ma):
    got = [Diode(*model).volts(milliamperes / 1000) for milliamperes in (1, 5, 20)]
    # Half a last digit, and a little for the constants' own.
    assert got == pytest.approx(at_1_5_20_ma, abs=6e-4)


def test_intensities_of_data_sheets():
    # Source: 5050 white 4-8 cd at 60 mA over three dies; 5050 three-colour 700 / 1750 / 320 mcd at 20 mA a die.
    assert 4 <= light_part("5050").candela_per_a * 0.060 <= 8
    for colour, candela in (("red", 0.700), ("green", 1.750), ("blue", 0.320)):
        assert light_part("5050", colour).candela_per_a * 0.020 == pytest.approx(candela)
