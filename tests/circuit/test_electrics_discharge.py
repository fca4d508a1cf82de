import math
from itertools import pairwise

import numpy as np
import pytest

from circuit.electrics import cell_state
from circuit.electrics.discharge import Load, discharges
from circuit.parts import cell_part

CELL = cell_part("CR2032")
VOLTS = np.linspace(0.5, 3.3, 300)


def discharge(*of, **how):
    """Of one cell."""
    return discharges(*of, **how)[0]


def resistor(ohm):
    return Load(VOLTS, VOLTS / ohm, VOLTS / ohm, VOLTS / ohm)


@pytest.mark.parametrize("used", [-0.1, 1.1, math.nan])
def test_a_cell_is_used_between_nothing_and_all(used):
    with pytest.raises(ValueError, match="the fraction used"):
        cell_state(CELL, used)


def test_a_cell_sags_and_stiffens_as_it_empties():
    states = [cell_state(CELL, used) for used in np.linspace(0, 1, 21)]
    assert all(a.emf_v > b.emf_v for a, b in pairwise(states))
    assert all(a.ohm <= b.ohm for a, b in pairwise(states))
    assert cell_state(CELL, 0.3, math.inf).ohm == cell_state(CELL, 0.3).ohm + CELL.slow_ohm
    within = [cell_state(CELL, 0.3, lit_s).ohm for lit_s in (0.0, 5.0, 60.0, 3600.0, math.inf)]
    assert within == sorted(within)


def test_what_flows_out_is_what_was_in():
    """Charge: amperes over the hours, against the capacity, when nothing is lost to a strong drain."""
    course = discharge(CELL, resistor(15_000.0), lit_s=0.0, capacity_mah=200.0)
    got_mah = np.trapezoid(1e3 * course.amperes, course.hours)
    # 121 states along the cell's life, summed by trapezoids here as there.
    assert got_mah == pytest.approx(200.0, rel=2e-3)


def test_what_flows_out_of_pulses_is_what_a_strong_drain_leaves():
    short, long, always = (
        discharge(CELL, resistor(300.0), lit_s=lit_s, capacity_mah=200.0) for lit_s in (0.1, 60.0, math.inf)
    )
    got = [np.trapezoid(1e3 * course.amperes, course.hours) for course in (short, long, always)]
    assert got[0] > got[1] > got[2]


def test_many_cells_at_once_are_the_same_as_one_by_one():
    times, need = np.array([0.8, 1.0, 1.4]), np.array([0.1, 0.0, -0.1])
    load = resistor(500.0)
    together = discharges(CELL, load, lit_s=5.0, capacity_mah=200.0, cell_ohm_times=times, lights_need_v=need)
    alone = discharge(CELL, load, lit_s=5.0, capacity_mah=200.0)
    assert together[1].hours == pytest.approx(alone.hours)
    # V + R I(V) = emf at every state, the load's volts moved by what the lights need.
    for row, ohm_times, need_v in zip(together, times, need):
        state = cell_state(CELL, 0.5, 5.0)
        assert row.terminal_v[60] + ohm_times * state.ohm * row.amperes[60] == pytest.approx(
            state.emf_v, abs=1e-4
        )
        # The load's current is interpolated between its 300 volts.
        assert row.amperes[60] == pytest.approx((row.terminal_v[60] - need_v) / 500.0, rel=1e-3)


def test_a_stronger_drain_gets_less_out():
    def got(ohm):
        course = discharge(CELL, resistor(ohm), lit_s=math.inf, capacity_mah=200.0)
        return np.trapezoid(1e3 * course.amperes, course.hours)

    assert got(300.0) < got(3000.0) < got(15_000.0) < 201.0


def test_hours_until_a_limit():
    course = discharge(CELL, resistor(3000.0), lit_s=0.0, capacity_mah=200.0)
    assert course.hours_until(course.terminal_v, 3.3) == 0.0
    assert course.hours_until(course.terminal_v, 0.1) == course.hours[-1]
    assert 0 < course.hours_until(course.terminal_v, 2.9) < course.hours_until(course.terminal_v, 2.5)


def test_a_load_must_rise():
    with pytest.raises(ValueError, match="rise"):
        Load(VOLTS, -VOLTS, VOLTS, VOLTS)
    with pytest.raises(ValueError, match="rise"):
        Load(VOLTS[::-1], VOLTS, VOLTS, VOLTS)
