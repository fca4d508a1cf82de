"""What the overlay says, and that its lines fit."""

from dataclasses import replace

import pytest

from circuit import telling
from circuit.layout import Card
from circuit.settings import Settings
from tests.vision.drawing.overlay.plans import HARBOUR_SIDES, harbour_plan, problem
from vision.drawing.overlay import words


def test_a_struck_out_dot_is_told_with_its_place():
    line = words.crossed_out_line((10.0, 12.0), harbour_plan().layout.card, "mm")
    assert "crossed-out" in line and "10.0 mm from the left edge" in line


def test_the_subtitle_tells_what_card_it_is():
    text = words.subtitle(
        harbour_plan([problem((1, 1)), problem((1, 1), "look-again")]), Settings(units="in")
    )
    text = text.replace("\u00a0", " ")
    assert text.startswith("and 1 thing to look at again · 3 lights · CR2032 cell")
    assert "4 1/4 in × 5 1/2 in" in text


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("width_mm", [0.5, 12.0, 60.0, 107.95, 300.0])
def test_the_scale_bar_fits_the_card(width_mm, units):
    length, parts = words.scale_length_mm(width_mm, units)
    assert parts >= 1
    assert length <= width_mm / 2 or length <= 1.0


def test_the_overlay_words_card_without_a_reading():
    plan = replace(harbour_plan(card=Card(100, 100)), reading=None)
    assert telling.doubts(plan, "mm") == ()
    assert HARBOUR_SIDES.keys() == {light.label for light in plan.layout.lights}
