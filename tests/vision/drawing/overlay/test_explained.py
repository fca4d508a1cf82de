"""What the overlay says beside its rows' sentences, and the length of its scale bar."""

from dataclasses import replace

import pytest

from circuit.plan import SeenMarks
from circuit.settings import Settings
from tests.vision.drawing.overlay.plans import harbour_plan, problem
from vision.drawing.overlay import draw_overlay
from vision.drawing.overlay.explained import MOST_PROBLEMS, explaining_rows, subtitle
from vision.drawing.overlay.scale_bar import scale_length_mm
from vision.drawing.subject import subject_of


def test_a_struck_out_dot_is_told_with_its_place():
    plan = replace(harbour_plan(), seen=SeenMarks(crossed_out=((10.0, 12.0),)))
    said = [row.text for row in explaining_rows(subject_of(plan, Settings()))]
    line = next(text for text in said if "crossed-out" in text)
    assert "10.0 mm from the left edge" in line
    assert said[said.index(line) - 1] == "What does not count"


def test_the_subtitle_tells_what_card_it_is():
    text = subtitle(harbour_plan([problem((1, 1)), problem((1, 1), "look-again")]), Settings(units="in"))
    text = text.replace("\u00a0", " ")
    assert text.startswith("and 1 thing to look at again · 3 lights · CR2032 cell")
    assert "4 1/4 in × 5 1/2 in" in text


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("width_mm", [0.5, 12.0, 60.0, 107.95, 300.0])
def test_the_scale_bar_fits_the_card(width_mm, units):
    length, parts = scale_length_mm(width_mm, units)
    assert parts >= 1
    assert length <= width_mm / 2 or length <= 1.0


def test_a_card_with_hundreds_of_problems_still_makes_a_picture_to_look_at():
    few, many = (harbour_plan([problem((20.0 + i / 10, 30.0)) for i in range(n)]) for n in (40, 400))
    rows = explaining_rows(subject_of(many, Settings()))
    assert sum(row.text == many.problems[0].advice for row in rows) == MOST_PROBLEMS
    assert any(row.text.startswith(f"And {400 - MOST_PROBLEMS} more") for row in rows)
    assert draw_overlay(None, many, Settings()).size == draw_overlay(None, few, Settings()).size
