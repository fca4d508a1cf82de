import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from circuit.electrics.card import LEAST_SERIES_OHM
from circuit.electrics.network import light_currents, shared_path_matrix

SLOPE = 0.08
# Two lights at the far ends of poor tapes, a third between them that hangs on both.
FAR_ENDS = np.array([[8.01, 8.0, 0.0], [8.0, 16.01, 8.0], [0.0, 8.0, 8.01]])


def kirchhoff_residual(amperes, emf, source, rail, saturation, slope):
    """Volts left over round each light's loop; 0 for a solution."""
    drops = rail @ amperes + source * amperes.sum()
    return slope * np.log1p(amperes / saturation) + drops - emf


@st.composite
def circuits(draw):
    count = draw(st.integers(1, 24))
    numbers = st.floats(0, 1, allow_nan=False)
    rows = np.array(draw(st.lists(st.tuples(*[numbers] * 5), min_size=count, max_size=count)))
    # From a foil without resistance to joints of ohms; from red to ultraviolet; single and triple dies.
    positive, negative = np.sort(8 * rows[:, 0]), 8 * rows[:, 1]
    saturation = 10 ** (-24 + 16 * rows[:, 2])
    slope = 0.03 + 0.2 * rows[:, 3]
    rail = (
        shared_path_matrix(positive)
        + shared_path_matrix(negative)
        + np.diag(LEAST_SERIES_OHM + 20 * rows[:, 4])
    )
    return draw(st.floats(0.5, 4)), draw(st.floats(0, 300)), rail, saturation, slope


@settings(max_examples=150, deadline=None)
@given(circuits())
@example((4.0, 0.0, FAR_ENDS, np.array([1e-24, 1e-8, 1e-24]), np.array([0.03, 0.03, 0.03])))
@example((3.0, 0.0, np.diag([16.0, LEAST_SERIES_OHM]), np.array([1e-8, 1e-24]), np.array([0.03, 0.03])))
def test_every_loop_closes(circuit):
    emf, source, rail, saturation, slope = circuit
    amperes = light_currents(emf, source, rail, saturation, slope)[0]
    left_over = kirchhoff_residual(amperes, emf, source, rail, saturation, slope)
    dark = amperes == 0  # told as nothing: no voltage is left for it, or less than none
    # What such a light really passes backwards, its saturation current at most, is missing in the others' sums.
    slack = 1e-9 + (rail[:, dark] + source) @ saturation[dark]
    assert (amperes >= 0).all()
    assert (np.abs(left_over) < slack)[~dark].all()
    assert (left_over > -slack)[dark].all()


def test_a_light_with_no_voltage_left_is_dark():
    """Two strong lights at the far ends of poor tapes leave nothing for a third that hangs on both."""
    rail = shared_path_matrix([8.0, 0.0, 8.0]) + shared_path_matrix([0.0, 8.0, 8.0]) + 0.01 * np.eye(3)
    amperes = light_currents(3.0, 0.0, rail, np.full(3, 1e-24), np.full(3, 0.03))[0]
    assert amperes[0] == pytest.approx(amperes[1], rel=1e-9)  # rounding alone
    assert abs(amperes[2]) < 1e-9 < amperes[0]


@settings(max_examples=30, deadline=None)
@given(circuits(), st.floats(0.01, 1.0))
def test_more_volts_never_give_less_current(circuit, more):
    emf, source, rail, saturation, slope = circuit
    low, high = light_currents([emf, emf + more], source, rail, saturation, slope).sum(axis=1)
    assert high > low


def test_many_sources_at_once_are_as_one_by_one():
    rail = shared_path_matrix([0.1, 0.4, 2.0]) + np.diag([6.0, 7.0, 8.0])
    saturation, slope = np.full(3, 1e-15), np.full(3, SLOPE)
    emfs, sources = [3.2, 2.6, 1.1], [10.0, 25.0, 110.0]
    together = light_currents(emfs, sources, rail, saturation, slope)
    for row, emf, source in zip(together, emfs, sources):
        alone = light_currents(emf, source, rail, saturation, slope)[0]
        assert row == pytest.approx(alone, rel=1e-9)  # rounding alone


def test_taking_lights_in_another_order_changes_nothing():
    rng = np.random.default_rng(3)
    at = rng.uniform(0, 3, 6)
    saturation, slope = 10 ** rng.uniform(-20, -10, 6), rng.uniform(0.04, 0.2, 6)
    rail = shared_path_matrix(at) + np.diag(rng.uniform(2, 9, 6))
    order = rng.permutation(6)
    plain = light_currents(3.0, 20.0, rail, saturation, slope)[0]
    turned = light_currents(3.0, 20.0, rail[np.ix_(order, order)], saturation[order], slope[order])[0]
    assert turned == pytest.approx(plain[order], rel=1e-9)  # rounding alone


def test_no_lights_draw_nothing():
    assert light_currents(3.0, 15.0, np.zeros((0, 0)), np.zeros(0), np.zeros(0)).shape == (1, 0)


def test_arrays_that_don_t_fit_are_refused():
    with pytest.raises(ValueError, match="rail matrix"):
        light_currents(3.0, 15.0, np.zeros((2, 2)), np.ones(3), np.ones(3))
    with pytest.raises(ValueError, match="above 0"):
        light_currents(0.0, 15.0, np.zeros((1, 1)), np.ones(1), np.ones(1))
