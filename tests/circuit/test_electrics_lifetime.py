import json
from dataclasses import replace

import numpy as np
import pytest

from circuit.electrics import bench_of, cell_state, lifetime
from circuit.electrics.card import circuit_of, solve_circuit
from circuit.electrics.cell import open_circuit_v
from circuit.electrics.lifetime import count_words, span_words
from circuit.electrics.wiring import rails_of, wiring_of
from circuit.json_fields import plain
from circuit.part_kinds import Diode
from circuit.parts import cell_part, light_part
from circuit.settings import Settings
from tests.circuit.cards import ladder


def test_the_life_of_a_card_is_told_by_use_and_called_an_estimate():
    layout, traces = ladder(5)
    life = lifetime(bench_of(layout, traces, Settings()))
    assert 0 < life.fewest_presses < life.most_presses
    assert 0 < life.left_on_clear_hours[0] < life.left_on_clear_hours[1] < life.left_on_dim_until_hours[1]
    for words in (
        "An estimate for one CR2032",
        "presses of 5 seconds",
        "over 0.5 mA",
        "left on",
        "Four of five",
    ):
        assert words in life.sentence
    value = json.loads(json.dumps(plain(life)))
    assert value["estimate"] is True
    assert value["most_presses"] == pytest.approx(life.most_presses, rel=0.05)  # kept to two digits


def test_a_range_is_what_makes_differ_by_and_no_more():
    layout, traces = ladder(5)
    life = lifetime(bench_of(layout, traces, Settings()))
    for low, high in ((life.fewest_presses, life.most_presses), life.left_on_dim_until_hours):
        assert high < 2.5 * low


def test_presses_stop_where_the_first_light_is_no_longer_clear():
    """The whole way by hand: the charge that is drawn until the least light falls under 0.5 mA, in the middle make."""
    layout, traces = ladder(6)
    settings = Settings()
    used, drawn_mah = np.linspace(0, 1, 401), []
    for fraction in used:
        state = cell_state(settings.cell, float(fraction), 5.0)
        solved = bench_of(layout, traces, settings).solve(state=state)
        if min(solved.currents_ma.values()) < 0.5:
            break
        drawn_mah.append(solved.total_ma)
    # Every step of charge takes 232.5 mAh / 400 over its current: the time lit, if none is lost to strong drain.
    lossless_presses = (232.5 / 400 / np.array(drawn_mah)).sum() * 3600 / 5
    life = lifetime(bench_of(layout, traces, settings))
    assert 0.4 * lossless_presses < life.fewest_presses < life.most_presses < lossless_presses


def test_longer_presses_are_fewer():
    layout, traces = ladder(6)
    short, long = (lifetime(bench_of(layout, traces, Settings()), press_s=seconds) for seconds in (5.0, 60.0))
    # As the press goes on the light sinks a little, and so does what it costs: not quite twelve times fewer.
    assert short.most_presses / 12 < long.most_presses < short.most_presses / 10
    assert "presses of 60 seconds" in long.sentence
    with pytest.raises(ValueError, match="press"):
        lifetime(bench_of(layout, traces, Settings()), press_s=0.0)


def test_more_lights_last_less_and_a_larger_cell_more():
    def dim(count, cell):
        layout, traces = ladder(count, pitch_mm=9.0)
        return lifetime(
            bench_of(layout, traces, Settings(cell=cell_part(cell), light=light_part("2835")))
        ).left_on_dim_until_hours

    for low, high in ((0, 0), (1, 1)):
        assert dim(8, "CR2032")[low] < dim(2, "CR2032")[high] < dim(2, "CR2450")[high]


def test_lights_that_are_dim_from_the_start_are_told_so():
    layout, traces = ladder(2)
    hungry = replace(light_part("3528"), die=Diode(1e-25, 2.55, 19.0))
    solved = solve_circuit(
        circuit_of(
            [hungry] * 2, rails_of(layout, traces, Settings(), wiring_of(Settings())), wiring_of(Settings())
        ),
        ["L1", "L2"],
        cell_state(Settings().cell, 0.0),
    )
    assert solved.lights[0].current_ma < 0.5
    life = lifetime(bench_of(layout, traces, Settings(light=replace(hungry, spread_v=0.0))))
    assert life.fewest_presses == life.most_presses == 0.0
    assert "dim from the first press" in life.sentence


def test_no_lights_have_no_life():
    layout, _ = ladder(0)
    assert lifetime(bench_of(layout, None, Settings())) is None


def test_a_cell_rests_high_all_its_life():
    assert 2.7 < open_circuit_v(1.0) < open_circuit_v(0.0)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (6512, 10_044, "about 6,500 to 10,000 presses"),
        (6512, 6530, "about 6,500 presses"),
        (3, 812, "up to about 810 presses"),
        (0, 4, "a few presses"),
    ],
)
def test_presses_are_told_no_finer_than_they_are_known(low, high, words):
    assert count_words(low, high) == words


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
