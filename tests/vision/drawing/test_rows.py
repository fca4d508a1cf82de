"""The rows' boxes stay in the picture and off one another, whatever has to be said."""

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
from vision.drawing.colours import SHEET
from vision.drawing.lettering import BODY_PT, LABEL_PT, MM_PER_POINT
from vision.drawing.overlay.explained import explaining_rows
from vision.drawing.pen import SHEET_MM
from vision.drawing.picture_pen import PicturePen
from vision.drawing.rows import ON_PAGE, ON_PICTURE, Row, bottom_of, draw_rows, lay_rows
from vision.drawing.subject import subject_of

LEFT, WIDTH = 4.5, SHEET_MM - 9.0
sentences = st.text(st.characters(codec="utf-8"), max_size=400)


def boxes(placed):
    return [box for row in placed for box in (row.sign_box, row.text_box) if box is not None]


def rows_of(plan):
    return explaining_rows(subject_of(plan, Settings()))


def assert_tidy(placed):
    for box in boxes(placed):
        assert LEFT <= box.left <= box.right <= LEFT + WIDTH + 1e-6
        assert box.height >= 0
    for one, other in combinations(boxes(placed), 2):
        assert not one.inset(1e-6).meets(other)


@settings(deadline=None)
@given(st.lists(st.tuples(sentences, st.sampled_from(["sign", "title", "half", "plain"])), max_size=15))
def test_rows_never_overlap_nor_leave_the_margins(said):
    rows = [
        Row(
            text,
            sign=None if kind in ("title", "plain") else lambda pen, box: None,
            title=kind == "title",
            half=kind == "half",
        )
        for text, kind in said
    ]
    assert_tidy(lay_rows(rows, ON_PICTURE, LEFT, 8.0, WIDTH))


@pytest.mark.parametrize("style", [ON_PICTURE, ON_PAGE])
def test_a_card_with_everything_has_tidy_rows(style):
    plan = crowded_plan(107.95, 139.7, 8, 15, seed=2)
    line = DrawnLine(((10.0, 10.0), (50.0, 50.0)), "positive", 0.3)
    plan = replace(
        plan,
        layout=replace(plan.layout, drawn_lines=(line,)),
        seen=SeenMarks(crossed_out=((9.0, 9.0),)),
        leave_out=("L2",),
        drawn_problems=tuple(problem((1, 1), advice=f"Trouble {i}.") for i in range(9)),
    )
    rows = rows_of(plan)
    placed = lay_rows(rows, style, LEFT, 0.0, WIDTH)
    assert len(placed) == len(rows)
    assert_tidy(placed)
    said = " ".join(row.text for row in rows)
    for found in plan.problems:
        assert found.advice in said
    assert "It is bent." in said and "crossed-out" in said and "your own pencilled lines" in said
    assert (
        "Without L2" in said and "(9)" in said and "Trouble 3." not in said
    )  # one sentence for all of their faults


def test_the_ink_of_each_row_stays_in_its_own_box():
    plan = harbour_plan([problem((60, 42), advice="Äg|jÅ " * 40), problem((1, 1), "look-again")])
    placed = lay_rows(rows_of(plan), ON_PICTURE, LEFT, 3.0, WIDTH)
    scale = 12.4
    picture = Image.new(
        "RGB", (round(SHEET_MM * scale), round((bottom_of(placed, 3.0) + 5.0) * scale)), SHEET
    )
    draw_rows(PicturePen(picture, scale), placed)
    inked = np.any(np.asarray(picture) != np.array(SHEET), axis=2)
    assert inked.any()
    for box in boxes(placed):
        left, top, right, bottom = (v * scale for v in (box.left, box.top, box.right, box.bottom))
        # A pixel for soft edges; 1 % for letters that are fitted to pixels.
        beyond = right + 1 + 0.01 * (right - left)
        inked[int(top) - 1 : int(bottom) + 2, int(left) - 1 : int(beyond) + 1] = False
    assert not inked.any()


def test_only_what_the_card_has_is_explained():
    plan = replace(harbour_plan(battery=None), traces=None)
    said = [row.text for row in rows_of(plan)]
    assert not any("tape" in text or "cell" in text or "window" in text for text in said)
    assert any("light" in text for text in said)


def test_body_text_is_large_enough_for_a_phone():
    # A 400 px wide phone shows the sheet at 400 / 1440: 1/31 of its width is 13 px there.
    assert BODY_PT * MM_PER_POINT >= SHEET_MM / 32
    assert LABEL_PT * MM_PER_POINT >= SHEET_MM / 37
