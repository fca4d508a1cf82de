"""Two designs in one picture: both are to be seen, each by its own hand."""

from dataclasses import replace

import numpy as np
import pytest

from tests.cli.cards import QUARTER, large, no_traces, one_light, plan_along, seven_lights
from vision.drawing.colours import GREEN, INK
from vision.drawing.comparison import Shown, _names, draw_comparison


def count(picture, colour):
    return int(np.all(np.abs(np.asarray(picture).astype(int) - colour) < 20, axis=-1).sum())


def drawn(first, second, moved=(), sentences=()):
    return draw_comparison(Shown("Harbour", first), Shown("Moor", second), moved, sentences)


def test_the_second_design_is_green_and_grows_with_its_lights():
    few, many = drawn(one_light(), one_light()), drawn(one_light(), seven_lights())
    assert count(many, GREEN) > count(few, GREEN)
    assert count(drawn(seven_lights(), one_light()), INK) > count(few, INK)


def test_a_design_over_itself_differs_from_one_that_is_shifted():
    line = [(54.0, 102.0), (54.0, 45.0)]
    shifted = plan_along([(x + 20, y) for x, y in line], [53.0], QUARTER)
    same, apart = drawn(one_light(), one_light()), drawn(one_light(), shifted)
    assert np.asarray(same).shape == np.asarray(apart).shape
    # Where both lie, the broken dark line runs over the green one.
    assert count(apart, GREEN) > count(same, GREEN)


def test_arrows_are_drawn_where_lights_moved():
    without = drawn(one_light(), one_light())
    with_arrow = drawn(one_light(), one_light(), moved=[((20.0, 20.0), (60.0, 20.0))])
    assert count(with_arrow, INK) > count(without, INK)


@pytest.mark.parametrize(
    "pair", [(no_traces(), seven_lights()), (large(), one_light()), (one_light(), large())]
)
def test_any_two_designs_can_be_drawn(pair):
    picture = drawn(*pair, sentences=["The card is larger."] * 30)
    assert picture.width >= 1440
    assert picture.height > picture.width


def test_sentences_make_it_taller_and_never_wider():
    short, long = (
        drawn(one_light(), one_light()),
        drawn(one_light(), one_light(), sentences=["word " * 80] * 5),
    )
    assert long.height > short.height
    assert long.width == short.width


def test_a_light_that_both_have_in_one_place_is_named_once():
    first, second = seven_lights(), seven_lights()
    lights = second.layout.lights
    moved_one = replace(lights[0], x_mm=lights[0].x_mm + 2.0)
    renamed = replace(lights[1], label="Beacon")
    second = replace(second, layout=replace(second.layout, lights=(moved_one, renamed, *lights[2:])))
    names = _names(first, second)
    assert [name.text for name in names] == [
        *(light.label for light in first.layout.lights), lights[0].label, "Beacon"
    ]  # fmt: skip
    assert [name.colour for name in names] == [INK] * len(lights) + [GREEN] * 2
