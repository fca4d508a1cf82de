"""What the overlay says, and that its lines fit."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuit.layout import Card, LightMark, Move
from circuit.settings import Settings
from circuit.whereabouts import place
from tests.vision.drawing.overlay.plans import HARBOUR_SIDES, harbour_plan, problem
from vision.drawing.overlay import words
from vision.drawing.overlay.style import typeface
from vision.drawing.overlay.text import plain, shorten, wrap

FACE = typeface("regular", 46)


def test_the_verdict_says_what_to_do_next():
    fix, look = problem((1, 1)), problem((1, 1), "look-again")
    assert words.verdict(harbour_plan()) == "Ready to tape"
    assert words.verdict(harbour_plan([fix])) == "1 thing to fix first"
    assert words.verdict(harbour_plan([look, fix, fix])) == "2 things to fix first"
    assert words.verdict(harbour_plan([look])) == "Look again at 1 thing"
    assert words.verdict(replace(harbour_plan(), traces=None)) == "No tape laid yet"
    assert words.verdict(harbour_plan(lights=())) == "No lights on this card yet"


def test_an_unsure_reading_is_never_called_ready():
    unsure_light = (LightMark("L1", 20, 40, 3, 0.5, sure=False),)
    assert words.verdict(harbour_plan(lights=unsure_light)) == "Check what I read first"
    plan = harbour_plan()
    assert (
        words.verdict(replace(plan, reading=replace(plan.reading, sure=False))) == "Check what I read first"
    )
    doubtful = replace(plan.reading, doubts=("The card is bent.",))
    assert words.verdict(replace(plan, reading=doubtful)) == "Check what I read first"


def test_must_fix_comes_first_and_the_order_is_else_the_plans():
    look, one, two = problem((1, 1), "look-again"), problem((2, 2)), problem((3, 3))
    numbered = words.numbered_problems(harbour_plan([look, one, two]))
    assert numbered == ((1, one), (2, two), (3, look))


def test_the_measured_size_is_added_where_the_advice_leaves_it_out():
    said = problem((1, 1), advice="L1 and L2 are 6.1 mm apart: move them.")
    assert words.problem_lines(said, "mm") == (said.advice,)
    bare = problem((1, 1), advice="Move them.")
    assert words.problem_lines(bare, "mm")[1] == "Measured 6.1 mm, give or take 0.3 mm; the limit is 7.0 mm."
    assert words.problem_lines(bare, "in")[1] == "Measured 1/4 in; the limit is 9/32 in."
    assert words.problem_lines(replace(bare, measured=None), "mm") == ("Move them.",)
    turn = replace(bare, measured=140.0, limit=135.0, uncertainty=0.0, unit="deg")
    assert words.problem_lines(turn, "mm")[1] == "Measured 140°; the limit is 135°."


def test_other_units_are_left_to_the_advice():
    current = replace(problem((1, 1), advice="The lights take about 18 mA."), measured=18.3, unit="mA")
    assert words.problem_lines(current, "mm") == ("The lights take about 18 mA.",)


@pytest.mark.parametrize(
    ("to_mm", "line"),
    [
        ((17.9, 40.0), "Move L1 2.1 mm left."),
        ((22.0, 40.1), "Move L1 2.0 mm right."),
        ((20.0, 38.5), "Move L1 1.5 mm up."),
        ((21.0, 42.0), "Move L1 1.0 mm right and 2.0 mm down."),
    ],
)
def test_a_move_in_words(to_mm, line):
    assert words.move_line(Move("L1", (20.0, 40.0), to_mm, "lights-too-close"), "mm") == line


def test_moves_of_the_battery_and_in_inches():
    move = Move("battery", (30.0, 100.0), (30.0, 106.35), "battery-zone")
    assert words.move_line(move, "in") == "Move the battery 1/4 in down."


def test_every_unsure_mark_is_spoken_of_once():
    lights = (LightMark("L1", 20, 40, sure=False), LightMark("L2", 45, 40, sure=False))
    plan = harbour_plan(lights=lights)
    plan = replace(plan, reading=replace(plan.reading, sure=False, doubts=("L1 touches a word.",)))
    assert words.doubts(plan) == ("L1 touches a word.", "I'm not sure about the mark L2.")
    assert words.unsure_marks(plan) == ("L1", "L2")


def test_one_labels_doubt_does_not_stand_for_a_longer_label():
    lights = (LightMark("L1", 20, 40, sure=False), LightMark("L12", 45, 40))
    plan = harbour_plan(lights=lights)
    plan = replace(plan, reading=replace(plan.reading, doubts=("L12 touches a word.",)))
    assert "I'm not sure about the mark L1." in words.doubts(plan)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_doubt_told_by_its_place_is_the_labelled_marks(units):
    lights = (LightMark("L1", 20, 40, sure=False), LightMark("L2", 45, 40))
    plan = harbour_plan(lights=lights)
    sentence = f"A mark {place(20, 40, plan.layout.card, units)}, could be a light or a speck."
    plan = replace(plan, reading=replace(plan.reading, doubts=("It is bent.", sentence)))
    assert words.doubts(plan) == ("It is bent.", f"L1: {sentence}")
    assert "2 doubts about the reading" in words.subtitle(
        replace(plan, problems=(problem((1, 1)),)), Settings()
    ).replace("\u00a0", " ")


def test_a_struck_out_dot_is_told_with_its_place():
    line = words.crossed_out_line((10.0, 12.0), harbour_plan().layout.card, "mm")
    assert "crossed-out" in line and "10.0 mm from the left edge" in line


def test_a_plan_with_its_marks_moved_is_not_called_ready():
    plan = replace(harbour_plan(), corrected_from=("L1", "battery"))
    assert words.verdict(plan) == "If you move L1 and the battery"
    assert words.subtitle(plan, Settings()).replace("\u00a0", " ").startswith("then it can be taped")
    many = replace(plan, corrected_from=("L1", "L2", "L3", "L4"), problems=(problem((1, 1)),))
    assert words.verdict(many) == "If you move 4 marks"
    assert "1 thing left to fix then" in words.subtitle(many, Settings()).replace("\u00a0", " ")


def test_other_ways_to_mend_a_card_and_troubles_of_the_makers_own_lines():
    plan = replace(
        harbour_plan(),
        leave_out=("L1", "L3"),
        alternatives=("With a CR1220 it fits.",),
        drawn_problems=(
            problem((1, 1), "look-again", advice="The lines may be close."),
            problem((1, 1), advice="They touch."),
        ),
    )
    assert words.other_ways(plan) == ("Without L1 and L3 the card can be laid.", "With a CR1220 it fits.")
    assert words.drawn_line_troubles(plan) == ("They touch.", "The lines may be close.")


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


@given(st.text(max_size=300), st.integers(60, 1500))
def test_lines_fit_and_no_letter_is_lost(text, width):
    lines = wrap(text, FACE, width)
    assert all(FACE.getlength(line) <= width or len(line) == 1 for line in lines)
    assert "".join("".join(lines).split(" ")) == "".join(plain(text).split(" "))


def test_a_number_stays_with_its_unit():
    text = "Measured 12.5 mm, and 4 1/4 in of tape"
    for width in range(200, 900, 20):
        for line in wrap(text, FACE, width):
            assert not line.endswith(("12.5", "4", "1/4"))


def test_long_labels_are_shortened_to_their_slip():
    text = shorten("the light in the lighthouse", FACE, 190)
    assert text.endswith("…") and FACE.getlength(text) <= 190
    assert shorten("L12", FACE, 190) == "L12"


def test_the_overlay_words_card_without_a_reading():
    plan = replace(harbour_plan(card=Card(100, 100)), reading=None)
    assert words.doubts(plan) == ()
    assert HARBOUR_SIDES.keys() == {light.label for light in plan.layout.lights}
