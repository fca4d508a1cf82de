"""The legend's boxes stay in the picture and off one another, whatever has to be said."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from circuit.layout import DrawnLine
from circuit.plan import SeenMarks
from circuit.settings import Settings
from tests.vision.drawing.overlay.plans import crowded_plan, harbour_plan, problem
from vision.drawing.overlay.legend import Row, bottom_of, draw_rows, lay_rows, legend_rows
from vision.drawing.overlay.style import PAPER, Style

STYLE = Style()
sentences = st.text(st.characters(codec="utf-8"), max_size=400)


def boxes(placed):
    return [box for row in placed for box in (row.sign_box, row.text_box) if box is not None]


def assert_tidy(placed, style):
    for box in boxes(placed):
        assert style.margin <= box.left <= box.right <= style.width_px - style.margin
        assert box.top <= box.bottom
    for one, other in combinations(boxes(placed), 2):
        assert not one.overlaps(other)


@settings(deadline=None)
@given(st.lists(st.tuples(sentences, st.sampled_from(["sign", "title", "half", "plain"])), max_size=15))
def test_rows_never_overlap_nor_leave_the_margins(said):
    rows = [
        Row(
            text,
            sign=None if kind in ("title", "plain") else lambda picture, box: None,
            title=kind == "title",
            half=kind == "half",
        )
        for text, kind in said
    ]
    assert_tidy(lay_rows(rows, STYLE, 100), STYLE)


@pytest.mark.parametrize("width_px", [1440, 2160])
def test_a_card_with_everything_has_a_tidy_legend(width_px):
    style = Style(width_px)
    plan = crowded_plan(107.95, 139.7, 8, 15, seed=2)
    line = DrawnLine(((10.0, 10.0), (50.0, 50.0)), "positive", 0.3)
    plan = replace(
        plan,
        layout=replace(plan.layout, drawn_lines=(line,)),
        seen=SeenMarks(crossed_out=((9.0, 9.0),)),
        leave_out=("L2",),
        drawn_problems=tuple(problem((1, 1), advice=f"Trouble {i}.") for i in range(9)),
    )
    rows = legend_rows(plan, Settings(), style)
    placed = lay_rows(rows, style, 0)
    assert len(placed) == len(rows)
    assert_tidy(placed, style)
    said = " ".join(row.text for row in rows)
    for found in plan.problems:
        assert found.advice in said
    assert "It is bent." in said and "crossed-out" in said and "your own pencilled lines" in said
    assert "Without L2" in said and "Trouble 3." in said and "Trouble 4." not in said and "5 more" in said


def test_the_ink_of_each_row_stays_in_its_own_box():
    plan = harbour_plan([problem((60, 42), advice="Äg|jÅ " * 40), problem((1, 1), "look-again")])
    rows = legend_rows(plan, Settings(), STYLE)
    placed = lay_rows(rows, STYLE, 40)
    picture = Image.new("RGB", (STYLE.width_px, bottom_of(placed, 40) + 60), PAPER)
    draw_rows(picture, placed, STYLE)
    inked = np.any(np.asarray(picture) != np.array(PAPER), axis=2)
    assert inked.any()
    for box in boxes(placed):
        inked[box.top : box.bottom, box.left : box.right] = False
    assert not inked.any()


def test_only_what_the_card_has_is_explained():
    plan = replace(harbour_plan(battery=None), traces=None)
    said = [row.text for row in legend_rows(plan, Settings(), STYLE)]
    assert not any("tape" in text or "cell" in text or "window" in text for text in said)
    assert any("light" in text for text in said)


def test_body_text_is_large_enough_for_a_phone():
    # A 400 px wide phone shows the sheet at 400 / 1440: 1/30 of its width is 13 px there.
    for width_px in (1440, 2160):
        assert Style(width_px).body >= width_px / 32
        assert Style(width_px).label >= width_px / 36
