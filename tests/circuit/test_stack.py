import json
import math
from dataclasses import replace

import pytest

from circuit.errors import UsageError
from circuit.foam_words import foam_layers, foam_words, stack_note
from circuit.json_fields import plain
from circuit.layout import Layout
from circuit.part_kinds import FoamPart
from circuit.parts import cell_part, default_parts, light_part
from circuit.settings import Settings
from circuit.stack import StackSettings, stack_of, thicknesses
from circuit.stack_problems import stack_problems
from tests.circuit.cards import CARD, ladder

THIN, MEDIUM, THICK = default_parts().foams.values()
LAYOUT, _ = ladder(3)


def problems(foam, settings=None, layout=LAYOUT):
    settings = settings or Settings()
    return stack_problems(stack_of(settings, foam), layout, settings)


def test_stock_and_tape_of_the_parts_list_count():
    stock = replace(default_parts().cards["A6"], stock_mm=0.5)
    parts = replace(default_parts(), cards={"A6": stock})
    settings = Settings(tape=replace(Settings().tape, thickness_mm=0.2))
    named = replace(LAYOUT, card=replace(LAYOUT.card, size="A6"))
    assert thicknesses(named, settings, parts) == StackSettings(0.5, 0.5, 0.2)
    assert thicknesses(LAYOUT, Settings()) == StackSettings()


def test_heights_of_a_card_that_works():
    stack = stack_of(Settings(), (THICK, THIN))
    assert stack.heights.foam_mm == pytest.approx(4.0)
    assert stack.heights.over_cell_mm == pytest.approx(0.8)
    assert stack.heights.gap_mm == pytest.approx(0.5)  # less two thicknesses of tape and the dot
    assert stack.heights.over_lights_mm == pytest.approx(
        4.0 + 0.3 - 1.6 - 0.1
    )  # the border is one card higher
    assert stack.heights.card_mm == pytest.approx(4.9)
    assert not stack.heights.foam_chosen_here
    assert problems((THICK, THIN)) == ()


@pytest.mark.parametrize("foam", [(THICK,), (MEDIUM, MEDIUM), (MEDIUM,)])
def test_too_little_foam_keeps_the_lights_on(foam):
    """Two layers of 1.6 mm under a CR2032 leave nothing: common practice, but the switch stays on."""
    first = problems(foam)[0]
    assert (first.name, first.level) == ("switch-stays-on", "must-fix")
    assert first.measured == pytest.approx(sum(layer.thickness_mm for layer in foam) - 3.5)
    assert first.limit == 0.3
    assert first.where_mm == LAYOUT.battery.centre
    assert (
        "3.8 mm to 4.3 mm of foam would do, such as one layer of 3.2 mm foam and one of 0.8 mm foam"
        in first.advice
    )


def test_one_layer_alone_also_leaves_the_lights_against_the_front():
    names = {problem.name: problem for problem in problems((MEDIUM,))}
    assert names["lights-touch-front"].level == "look-again"
    assert names["lights-touch-front"].about == ("L1", "L2", "L3")
    assert names["lights-touch-front"].measured == pytest.approx(0.2)
    assert "1.7 mm of foam or more clears them" in names["lights-touch-front"].advice


def test_lights_just_under_the_front_are_to_be_looked_at():
    settings = Settings(cell=cell_part("CR2016"))
    found = problems((FoamPart("own", 1.6),), settings)
    assert [(p.name, p.level) for p in found if p.name == "lights-touch-front"] == [
        ("lights-touch-front", "look-again")
    ]


def test_foam_that_may_be_thinner_than_its_name_is_to_be_looked_at():
    (problem,) = problems((FoamPart("own", 3.7),))
    assert (problem.name, problem.level) == ("switch-may-stay-on", "look-again")
    assert 0 < problem.measured < problem.limit


def test_too_much_foam_is_hard_to_press():
    (problem,) = problems((THICK, MEDIUM))
    assert (problem.name, problem.level) == ("switch-hard-to-close", "look-again")
    assert problem.measured == pytest.approx(1.3)
    assert problem.limit == 0.8


@pytest.mark.parametrize(
    ("over", "name"),
    [
        (0.3, "switch-stays-on"),
        (0.31, "switch-may-stay-on"),
        (0.59, "switch-may-stay-on"),
        (0.6, None),
        (1.1, None),
        (1.11, "switch-hard-to-close"),
    ],
)
def test_the_rule_s_limits(over, name):
    found = problems((FoamPart("own", 3.2 + over),))
    assert [problem.name for problem in found] == ([name] if name else [])


@pytest.mark.parametrize("cell", "CR1220 CR1620 CR1632 CR2016 CR2025 CR2032 CR2450".split())
@pytest.mark.parametrize("light", "5050 3528 2835 1206 0805".split())
def test_what_would_do_does(cell, light):
    settings = Settings(cell=cell_part(cell), light=light_part(light))
    stack = stack_of(settings)
    assert stack.heights.foam_chosen_here
    assert stack.heights.foam == stack.would_do != ()
    names = [problem.name for problem in stack_problems(stack, LAYOUT, settings)]
    assert names == (["small-cell"] if cell == "CR1220" else [])
    assert 0.3 - 1e-9 <= stack.heights.gap_mm <= (0.8 if settings.cell.diameter_mm >= 20 else 0.6) + 1e-9
    # Nothing that takes fewer layers would do.
    for layer in (THIN, MEDIUM, THICK):
        if len(stack.heights.foam) > 1:
            assert problems((layer,), settings) != ()


def test_a_taller_light_of_another_kind_counts():
    settings = Settings(cell=cell_part("CR1220"), light=light_part("2835"))
    assert stack_of(settings, lights=[light_part("3528")]).heights.over_lights_mm == pytest.approx(
        2.7 + 0.3 - 1.9 - 0.1
    )  # two layers of foam, one of card


def test_a_cell_too_small_for_two_tapes_is_to_be_looked_at():
    small = Settings(cell=cell_part("CR1220"))
    (problem,) = stack_problems(stack_of(small), LAYOUT, small)
    assert (problem.name, problem.level) == ("small-cell", "look-again")
    assert "upside down" in problem.advice
    narrow = replace(small, tape_width_mm=1.5, gap_mm=1.5)
    assert stack_problems(stack_of(narrow), LAYOUT, narrow) == ()


def test_no_foam_that_fits_is_said():
    settings = Settings()
    stack = stack_of(settings, foams=[FoamPart("felt", 3.0)])
    assert stack.would_do == ()
    (problem,) = stack_problems(stack, LAYOUT, settings)
    assert problem.name == "no-foam-fits"
    assert stack_note(stack, settings) == ""


def test_no_battery_no_switch():
    bare = Layout(CARD, LAYOUT.lights)
    assert problems((THICK,), layout=bare) == ()
    assert [problem.name for problem in problems((THIN,), layout=bare)] == ["lights-touch-front"]


@pytest.mark.parametrize("height", [0.0, -1.0, math.nan, math.inf])
def test_foam_without_height_is_refused(height):
    with pytest.raises(ValueError, match="foam"):
        stack_of(Settings(), (FoamPart("odd", height),))


def test_thicker_tape_narrows_the_gap():
    thick = stack_of(Settings(), (THICK, THIN), thickness=StackSettings(tape_mm=0.3))
    assert thick.heights.gap_mm == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("text", "heights"),
    [
        ("3.2mm + 0.8mm", [3.2, 0.8]),
        ("2 x 1.6 mm", [1.6, 1.6]),
        ("2x1/16in", [1.5875, 1.5875]),
        ("thick foam + Thin Foam", [3.2, 0.8]),
        ("3.2", [3.2]),
        ("2 x thin-foam+1.6", [0.8, 0.8, 1.6]),
    ],
)
def test_layers_as_a_maker_types_them(text, heights):
    assert [layer.thickness_mm for layer in foam_layers(text)] == pytest.approx(heights)


@pytest.mark.parametrize("text", ["", "+", "felt", "3.2mm + ", "0 x 1.6mm", "500mm", "0mm", "two of them"])
def test_what_is_no_foam_is_refused(text):
    with pytest.raises(UsageError) as caught:
        foam_layers(text)
    assert caught.value.exit_code == 2
    assert "\n" not in str(caught.value)


def test_words_for_layers():
    assert foam_words((THICK, MEDIUM, THIN), Settings()) == (
        "one layer of 3.2 mm foam, one of 1.6 mm foam and one of 0.8 mm foam"
    )
    assert foam_words((MEDIUM, MEDIUM), Settings(units="in")) == "two layers of 1.6 mm (1/16 in) foam"
    assert foam_words((), Settings()) == "no foam"


def test_the_note_tells_the_thickness_for_the_envelope():
    settings = Settings()
    assert "about 4.9 mm thick" in stack_note(stack_of(settings), settings)
    assert "take one layer of 3.2 mm foam" in stack_note(stack_of(settings), settings)
    assert stack_note(stack_of(settings, (THICK,)), settings).startswith("With one layer of 3.2 mm foam")


def test_the_plan_file_s_value_is_plain_json():
    value = json.loads(json.dumps(plain(stack_of(Settings()).heights)))
    assert value["foam_mm"] == 4.0
    assert [layer["thickness_mm"] for layer in value["foam"]] == [3.2, 0.8]
