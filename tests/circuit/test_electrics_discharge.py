import json
import math
from itertools import pairwise

import numpy as np
import pytest

from circuit.electrics import Wiring, cell_state, hours_of_light, lifetime, solve_card
from circuit.electrics.card import circuit_of
from circuit.electrics.discharge import Load, discharge, load_of, span_words
from circuit.electrics.wiring import rails_of
from circuit.json_fields import plain
from circuit.parts import cell_part, light_part
from circuit.settings import Settings
from tests.circuit.cards import ladder

CELL = cell_part("CR2032")
VOLTS = np.linspace(0.5, 3.3, 300)


def resistor(ohm):
    return Load(VOLTS, VOLTS / ohm, VOLTS / ohm)


@pytest.mark.parametrize("used", [-0.1, 1.1, math.nan])
def test_a_cell_is_used_between_nothing_and_all(used):
    with pytest.raises(ValueError, match="the fraction used"):
        cell_state(CELL, used)


def test_a_cell_sags_and_stiffens_as_it_empties():
    states = [cell_state(CELL, used) for used in np.linspace(0, 1, 21)]
    assert all(a.emf_v > b.emf_v for a, b in pairwise(states))
    assert all(a.ohm <= b.ohm for a, b in pairwise(states))
    assert cell_state(CELL, 0.3, left_on=True).ohm == cell_state(CELL, 0.3).ohm + CELL.slow_ohm


def test_what_flows_out_is_what_was_in():
    """Charge: amperes over the hours, against the capacity, when nothing is lost to a strong drain."""
    course = discharge(CELL, resistor(15_000.0), left_on=False, capacity_mah=200.0)
    got_mah = np.trapezoid(1e3 * course.amperes, course.hours)
    assert got_mah == pytest.approx(200.0, rel=2e-3)


def test_a_stronger_drain_gets_less_out():
    def got(ohm):
        course = discharge(CELL, resistor(ohm), left_on=True, capacity_mah=200.0)
        return np.trapezoid(1e3 * course.amperes, course.hours)

    assert got(300.0) < got(3000.0) < got(15_000.0) < 201.0


def test_hours_until_a_limit():
    course = discharge(CELL, resistor(3000.0), left_on=False, capacity_mah=200.0)
    assert course.hours_until(course.terminal_v, 3.3) == 0.0
    assert course.hours_until(course.terminal_v, 0.1) == course.hours[-1]
    assert 0 < course.hours_until(course.terminal_v, 2.9) < course.hours_until(course.terminal_v, 2.5)


def test_a_load_must_rise():
    with pytest.raises(ValueError, match="rise"):
        Load(VOLTS, -VOLTS, VOLTS)
    with pytest.raises(ValueError, match="rise"):
        Load(VOLTS[::-1], VOLTS, VOLTS)


def test_the_life_of_a_card_is_a_range_and_called_an_estimate():
    layout, traces = ladder(5)
    life = lifetime(layout, traces, Settings())
    assert 0 <= life.bright_h[0] < life.bright_h[1]
    assert life.bright_h[0] < life.dim_h[0] < life.dim_h[1]
    assert life.bright_h[1] < life.dim_h[1]
    assert life.sentence.startswith("An estimate: one CR2032")
    value = json.loads(json.dumps(plain(hours_of_light(life))))
    assert value["estimate"] is True
    assert value["bright_hours"][1] == pytest.approx(life.bright_h[1], rel=0.05)


def test_bright_is_a_quarter_of_a_fresh_cell_s_light_and_dim_a_fiftieth():
    layout, traces = ladder(3)
    settings, wiring = Settings(), Wiring()
    load = load_of(circuit_of([settings.light] * 3, rails_of(layout, traces, settings, wiring), wiring))
    course = discharge(CELL, load, left_on=False, capacity_mah=CELL.capacity_high_mah)
    fresh = sum(light.candela for light in solve_card(layout, traces, settings).lights)
    assert course.light[0] == pytest.approx(fresh, rel=0.01)
    life = lifetime(layout, traces, settings)
    at = np.interp([life.bright_h[1], life.dim_h[1]], course.hours, course.light)
    assert at == pytest.approx([fresh / 4, fresh / 50], rel=0.02)


def test_more_lights_last_less_and_a_larger_cell_more():
    def dim(count, cell):
        layout, traces = ladder(count, pitch_mm=9.0)
        return lifetime(layout, traces, Settings(cell=cell_part(cell), light=light_part("2835"))).dim_h

    for low, high in ((0, 0), (1, 1)):
        assert dim(8, "CR2032")[low] < dim(2, "CR2032")[high] < dim(2, "CR2450")[high]


def test_no_lights_have_no_life():
    layout, _ = ladder(0)
    assert lifetime(layout, None, Settings()) is None


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.0, 0.01, "a few minutes"),
        (0.0, 9.2, "a few minutes to about 9 hours"),
        (0.25, 0.6, "about 15 to 40 minutes"),
        (0.5, 2.2, "about 30 minutes to 2 hours"),
        (3.2, 12.4, "about 3 to 12 hours"),
        (24.0, 130.0, "about 24 to 130 hours"),
        (7.0, 7.2, "about 7 hours"),
    ],
)
def test_hours_are_told_no_finer_than_they_are_known(low, high, words):
    assert span_words(low, high) == words
