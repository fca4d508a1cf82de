import json
import math
from dataclasses import replace

import pytest

from circuit.electrics import HALF_USED, CellState, Wiring, bench_of, currents_of
from circuit.json_fields import plain
from circuit.parts import cell_part, light_part
from circuit.settings import Settings
from tests.circuit.cards import ladder, scattered

BAD_JOINTS = Wiring(foil_mm=0.0005)  # a tape so thin that distance shows


def test_the_card_is_solved_light_by_light():
    layout, traces = ladder(5)
    solved = bench_of(layout, traces, Settings()).solve()
    assert list(solved.currents_ma) == ["L1", "L2", "L3", "L4", "L5"]
    assert solved.total_ma == pytest.approx(sum(solved.currents_ma.values()))
    assert solved.terminal_v == pytest.approx(3.2 - 12.0 * solved.total_ma / 1000)
    # Good tape: the eye sees no difference, and nothing is said.
    assert 0.99 < solved.spread <= 1.0
    assert solved.why == ""
    for light in solved.lights:
        assert light.volts < solved.terminal_v
        assert light.volts == pytest.approx(light.part.diode.volts(light.current_ma / 1000))


def test_volts_add_up_from_the_cell_to_each_light():
    """Round each light's loop by hand, from lengths in millimetres: cell, flap, both tapes, both joints, light."""
    layout, traces = ladder(4)
    wiring = Wiring(foil_mm=0.001, joint_ohm=1.5, flap_ohm=4.0)
    solved = bench_of(layout, traces, Settings(), wiring=wiring).solve()
    per_mm = 1 / 58_000 / (2.5 * 0.001)
    # The first light lies 18 mm from the traces' start, the next ones 12 mm further each; the positive
    # tape has 33.044 mm more along the flap.
    along = [18.0, 30.0, 42.0, 54.0]
    amperes = [light.current_ma / 1000 for light in solved.lights]
    for here, light, own in zip(along, solved.lights, amperes):
        tapes = sum(
            (min(here, there) * 2 + 33.04403) * per_mm * other for there, other in zip(along, amperes)
        )
        lost = sum(amperes) * (12.0 + 4.0) + tapes + 2 * 1.5 * own
        assert 3.2 - lost == pytest.approx(light.volts, abs=1e-9)  # rounding alone


def test_the_furthest_light_is_dimmest_and_that_is_said():
    layout, traces = ladder(5)
    solved = bench_of(layout, traces, Settings(), wiring=BAD_JOINTS).solve()
    assert [light.label for light in sorted(solved.lights, key=lambda one: -one.candela)] == list(
        solved.currents_ma
    )
    assert solved.brightest.label == "L1"
    dimmest = min(solved.lights, key=lambda one: one.candela)
    assert dimmest.label == "L5"
    assert solved.spread == dimmest.brightness < 0.95
    assert "L5 (white) is the dimmest" in solved.why
    assert "far along" in solved.why


def test_a_half_used_cell_gives_less():
    layout, traces = ladder(3)
    fresh, half = (bench_of(layout, traces, Settings()).solve(state=used) for used in (0.0, HALF_USED))
    assert half.total_ma < 0.7 * fresh.total_ma
    assert half.terminal_v < fresh.terminal_v


def test_a_cell_s_state_can_be_given_outright():
    layout, traces = ladder(1)
    solved = bench_of(layout, traces, Settings()).solve(state=CellState(0.3, 2.9, 40.0))
    assert solved.terminal_v == pytest.approx(2.9 - 40.0 * solved.total_ma / 1000)


def test_the_range_holds_what_other_makes_of_light_would_take():
    layout, traces = ladder(4)
    low, high = bench_of(layout, traces, Settings()).solve().total_range_ma
    assert low < bench_of(layout, traces, Settings()).solve().total_ma < high
    light = light_part("5050")
    # A make that needs 0.1 V more at every current: its saturation current is lower by that factor.

    die = replace(light.die, saturation_a=light.die.saturation_a * math.exp(-0.1 / light.die.slope_v))
    thirsty = bench_of(layout, traces, Settings(light=replace(light, die=die))).solve().total_ma
    assert low < thirsty < bench_of(layout, traces, Settings()).solve().total_ma


def test_one_red_among_white_takes_nearly_all():
    layout, traces = ladder(5)
    solved = bench_of(layout, traces, Settings(), {"L3": light_part("5050", "red")}).solve()
    assert solved.currents_ma["L3"] > 0.95 * solved.total_ma
    assert "L3 (red) lights at a lower voltage" in solved.why
    assert "nearly all" in solved.why


def test_a_weak_colour_is_not_blamed_on_its_current():
    layout, traces = ladder(5)
    solved = bench_of(layout, traces, Settings(), {"L3": light_part("5050", "blue")}).solve()
    assert min(solved.lights, key=lambda one: one.candela).label == "L3"
    # One die under two colours: what is left is the tape on the way.
    assert solved.currents_ma["L3"] == pytest.approx(solved.currents_ma["L2"], rel=0.01)
    assert "its colour gives less light" in solved.why


def test_a_small_light_is_not_blamed_on_the_tape():
    layout, traces = ladder(5)
    solved = bench_of(layout, traces, Settings(), {"L2": light_part("3528")}).solve()
    assert min(solved.lights, key=lambda one: one.candela).label == "L2"
    assert "fewer dies" in solved.why


def test_nothing_flows_without_lights():
    layout, _ = ladder(0)
    solved = bench_of(layout, None, Settings()).solve()
    assert (solved.lights, solved.total_ma, solved.spread, solved.terminal_v) == ((), 0.0, 1.0, 3.2)
    assert solved.brightest is None
    assert solved.why == ""


def test_a_label_that_is_not_on_the_card_is_refused():
    layout, traces = ladder(2)
    with pytest.raises(ValueError, match="L9"):
        bench_of(layout, traces, Settings(), {"L9": light_part("5050", "red")}).solve()


def test_no_traces_is_said():
    solved = bench_of(scattered([(20.0, 20.0), (40.0, 30.0)]), None, Settings()).solve()
    assert "no traces are laid" in solved.basis


def test_the_plan_file_s_value_is_plain_json():
    layout, traces = ladder(3)
    fresh, half = (bench_of(layout, traces, Settings()).solve(state=used) for used in (0.0, HALF_USED))
    value = json.loads(json.dumps(plain(currents_of(fresh, half))))
    assert [light["label"] for light in value["fresh"]["lights"]] == ["L1", "L2", "L3"]
    assert value["fresh"]["total_ma"] == pytest.approx(fresh.total_ma, abs=1e-3)  # kept to four decimals
    assert value["half_used"]["cell_used"] == 0.5
    assert value["stated"]["flap_ohm"] == 0.5
    assert value["fresh"]["total_ma_range"][0] < value["fresh"]["total_ma"]


def test_a_smaller_cell_gives_less():
    layout, traces = ladder(3)
    totals = [
        bench_of(layout, traces, Settings(cell=cell_part(name))).solve().total_ma
        for name in ("CR2450", "CR2032", "CR1220")
    ]
    assert totals == sorted(totals, reverse=True)
