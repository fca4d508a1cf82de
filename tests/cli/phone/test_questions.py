"""What the reading is not sure of, as questions that can be answered, and the card after an answer."""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

import circuit.remarks
from circuit.layout import BatteryMark, Card, Doubt, Layout, LightMark, Reading, Saying
from circuit.plan import Plan, SeenMarks
from cli.phone.changes import changed
from cli.phone.questions import questions_of

WORDS = tomllib.loads(Path(circuit.remarks.__file__).with_name("remarks.toml").read_text(encoding="utf-8"))
LENGTHS = (
    "width_mm",
    "height_mm",
    "said_width_mm",
    "said_height_mm",
    "off_mm",
    "side_mm",
    "true_side_mm",
    "lift_mm",
)
FIGURES = dict.fromkeys(LENGTHS, 3.0)
NOTES = ("edge-up", "square-beside")  # told, not asked


def card(*doubts, seen=None, square="coded"):
    """Two lights, the second unsure, and an unsure battery circle."""
    layout = Layout(
        Card(105.0, 148.0),
        (LightMark("L1", 30.0, 40.0), LightMark("L2", 70.0, 40.0, sure=False)),
        BatteryMark(70.0, 115.0, 21.0, sure=False),
    )
    reading = Reading("a.jpg", square, 40.0, 0.3, False, doubts)
    return Plan(layout=layout, reading=reading, seen=seen or SeenMarks())


def doubt(key, where_mm=None):
    return Doubt("card", where_mm, Saying(key, {**FIGURES, "name": "A6", "other": "A5"}))


def kind_of(key):
    return next(one.kind for one in questions_of(card(doubt(key))) if one.id.startswith("doubt-"))


@pytest.mark.parametrize("key", [key for key in WORDS if key not in NOTES])
def test_what_asks_for_another_photo_or_a_size_is_answered_by_one(key):
    text = WORDS[key]
    if "take the photo" in text.replace("\\\n", "").replace("  ", " ") or key == "thing-on-card":
        assert kind_of(key) == "photo"
    elif "size" in text and "take" not in text:
        assert kind_of(key) == "size"
    elif key != "as-said":
        assert kind_of(key) == "other"


@pytest.mark.parametrize(("square", "side"), [("coded", "printed"), ("plain", "square")])
def test_where_square_and_card_disagree_either_side_can_be_said(square, side):
    plan = card(doubt("square-and-size"), square=square)
    assert [one.asks for one in questions_of(plan) if one.kind == "size"] == [("card", side)]


def test_two_doubts_of_one_kind_are_two_questions():
    plan = card(doubt("glare", (20.0, 20.0)), doubt("glare", (60.0, 90.0)))
    first, second = (one for one in questions_of(plan) if one.kind == "photo")
    left = changed(plan, {"kind": "yes", "question": first.id}).plan
    assert [one.id for one in questions_of(left) if one.kind == "photo"] == [second.id]


@pytest.mark.parametrize("about", ["L2", "battery"])
def test_a_mark_that_somebody_puts_elsewhere_is_asked_about_no_more(about):
    plan = card()
    assert about in [one.about for one in questions_of(plan)]
    moved = changed(plan, {"kind": "move", "about": about, "to": [60.0, 60.0]}).plan
    assert about not in [one.about for one in questions_of(moved)]
    assert about not in moved.unsure_marks


def test_a_mark_that_is_dropped_or_left_out_takes_its_question_along():
    plan = card(seen=SeenMarks(maybe=((50.0, 70.0), (20.0, 90.0))))
    assert [one.kind for one in questions_of(plan)] == ["maybe", "maybe", "light", "battery"]
    without = changed(plan, {"kind": "no", "question": "light-L2"}).plan
    assert [light.label for light in without.layout.lights] == ["L1"]
    one, other, _ = questions_of(without)
    added = changed(without, {"kind": "yes", "question": other.id}).plan
    assert [light.centre for light in added.layout.lights] == [(30.0, 40.0), (20.0, 90.0)]
    left = changed(added, {"kind": "no", "question": one.id}).plan
    assert left.layout == added.layout and [one.kind for one in questions_of(left)] == ["battery"]
    sure = changed(left, {"kind": "yes", "question": "battery"}).plan
    assert questions_of(sure) == () and sure.reading == replace(left.reading, sure=True)
