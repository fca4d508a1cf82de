import json
from dataclasses import replace

import pytest

from circuit.electrics import electrics_problems
from circuit.layout import Layout
from circuit.numbers import card_numbers
from circuit.parts import default_parts, light_part
from circuit.settings import Settings
from tests.circuit.cards import CARD, WINDOW, ladder, scattered


def test_all_numbers_of_a_card_at_one_call():
    layout, traces = ladder(4, window=WINDOW)
    numbers = card_numbers(layout, traces, Settings())
    extras = json.loads(json.dumps(numbers.to_extras()))
    assert set(extras) == {"electrics", "lifetime", "stack", "glow"}
    assert extras["electrics"]["half_used"]["total_ma"] < extras["electrics"]["fresh"]["total_ma"]
    assert extras["glow"]["foam_mm"] == extras["stack"]["foam_mm"] == 4.0
    assert numbers.problems == electrics_problems(layout, traces, Settings())
    text = " ".join(numbers.notes)
    for words in ("An estimate", "for a", "foam", "thick"):
        assert words in text or words.capitalize() in text


def test_the_maker_s_foam_is_used_and_judged():
    layout, traces = ladder(2)
    medium = default_parts().foam("medium foam")
    numbers = card_numbers(layout, traces, Settings(), foam=(medium,))
    assert numbers.glow.foam_mm == 1.6
    assert {"switch-stays-on", "lights-touch-front"} <= {problem.name for problem in numbers.problems}


def test_mixed_colours_are_passed_on():
    layout, traces = ladder(4)
    numbers = card_numbers(layout, traces, Settings(), {"L2": light_part("5050", "red")})
    assert "mixed-colours" in {problem.name for problem in numbers.problems}
    assert len(numbers.glow.layers) == 2


@pytest.mark.parametrize("traces", [True, False])
@pytest.mark.parametrize("battery", [True, False])
@pytest.mark.parametrize("window", [WINDOW, None])
@pytest.mark.parametrize("count", [0, 1, 3])
def test_whatever_is_missing(traces, battery, window, count):
    layout, laid = ladder(count, window=window)
    if not battery:
        layout = replace(layout, battery=None)
    numbers = card_numbers(layout, laid if traces else None, Settings())
    json.dumps(numbers.to_extras(), allow_nan=False)
    assert (numbers.life is None) is (count == 0)
    assert (numbers.glow is None) is (count == 0)


def test_two_lights_at_one_place():
    layout = scattered([(40.0, 40.0), (40.0, 40.0)])
    json.dumps(card_numbers(layout, None, Settings()).to_extras(), allow_nan=False)


def test_no_foam_in_the_list():
    layout = Layout(CARD, scattered([(40.0, 40.0)]).lights)
    numbers = card_numbers(layout, None, Settings(), parts=replace(default_parts(), foams={}))
    assert numbers.glow is None
    assert numbers.stack.foam == ()
