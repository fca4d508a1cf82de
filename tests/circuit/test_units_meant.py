"""Layouts written in centimetres or inches: one sentence that says so; whatever may be millimetres passes."""

import pytest

from circuit.errors import LayoutFileError
from circuit.plan_json import LAYOUT_SCHEMA, PLAN_SCHEMA, plan_from_dict
from circuit.units_meant import require_millimetres
from tests.circuit.hand_made import card_with


def layout_file(width, height, diameter, schema=LAYOUT_SCHEMA):
    battery = {"x_mm": width / 2, "y_mm": height / 2, "diameter_mm": diameter}
    return {
        "schema": schema,
        "card": {"width_mm": width, "height_mm": height},
        "lights": [{"label": "L1", "x_mm": width / 4, "y_mm": height / 4}],
        "battery": battery if diameter else None,
    }


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ((10.8, 14.0, 2.0), "look like centimetres: .* diameter_mm is 2, .* for 2 cm 20.$"),
        ((108.0, 140.0, 1.25), "look like centimetres.* for 1.25 cm 12.5.$"),
        ((4.25, 5.5, 0.79), "look like inches: .* for 0.79 in 20.1.$"),
        ((10.5, 14.8, None), "look like centimetres or inches: the card is 10.5 by 14.8.* for 10.5 cm 105.$"),
    ],
)
def test_other_units_are_told_in_one_sentence(written, words):
    with pytest.raises(LayoutFileError, match=words):
        plan_from_dict(layout_file(*written))


@pytest.mark.parametrize("diameter", [4.8, 9.5, 20.0, 26.0, None])
def test_what_may_be_millimetres_passes(diameter):
    # 4.8 mm: the smallest button cells, common knowledge, no source; too small is then told as such.
    assert plan_from_dict(layout_file(108.0, 140.0, diameter)).layout.card.width_mm == 108.0


def test_a_plan_that_the_program_wrote_is_taken_as_it_is():
    plan_from_dict(layout_file(108.0, 140.0, 2.0, schema=PLAN_SCHEMA))
    require_millimetres(card_with((20, 30)))
