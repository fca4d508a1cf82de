"""What a plan has to say, in the maker's units: verdict, problems, moves, doubts."""

import string
from dataclasses import replace

import pytest

from circuit import remarks, telling
from circuit.layout import Card, Doubt, LightMark, Move, Remark, Saying, as_said
from circuit.rules import RULES
from tests.vision.drawing.overlay.plans import harbour_plan, problem

CARD = Card(107.95, 139.7)


def test_the_verdict_says_what_to_do_next():
    fix, look = problem((1, 1)), problem((1, 1), "look-again")
    assert telling.verdict(harbour_plan()) == "Ready to tape"
    assert telling.verdict(harbour_plan([fix])) == "1 thing to fix first"
    assert telling.verdict(harbour_plan([look, fix, fix])) == "2 things to fix first"
    assert telling.verdict(harbour_plan([look])) == "Look again at 1 thing"
    assert telling.verdict(replace(harbour_plan(), traces=None)) == "No tape laid yet"
    assert telling.verdict(harbour_plan(lights=())) == "No lights on this card yet"


def test_an_unsure_reading_is_never_called_ready():
    unsure_light = (LightMark("L1", 20, 40, 3, 0.5, sure=False),)
    assert telling.verdict(harbour_plan(lights=unsure_light)) == "Check what I read first"
    plan = harbour_plan()
    assert (
        telling.verdict(replace(plan, reading=replace(plan.reading, sure=False))) == "Check what I read first"
    )
    doubtful = replace(plan.reading, doubts=(as_said("The card is bent."),))
    assert telling.verdict(replace(plan, reading=doubtful)) == "Check what I read first"


def test_must_fix_comes_first_and_the_order_is_else_the_plans():
    look, one, two = problem((1, 1), "look-again"), problem((2, 2)), problem((3, 3))
    numbered = telling.numbered_problems(harbour_plan([look, one, two]))
    assert numbered == ((1, one), (2, two), (3, look))


def test_the_measured_size_is_added_where_the_advice_leaves_it_out():
    said = problem((1, 1), advice="L1 and L2 are 6.1 mm apart: move them.")
    assert telling.problem_figures(said, "mm") == ""
    bare = problem((1, 1), advice="Move them.")
    assert telling.problem_figures(bare, "mm") == "Measured 6.1 mm, give or take 0.3 mm; the limit is 7.0 mm."
    assert telling.problem_figures(bare, "in") == "Measured 1/4 in; the limit is 9/32 in."
    assert telling.problem_figures(replace(bare, measured=None), "mm") == ""
    # 'Measured 0.0 mm; the limit is 0.0 mm' told nothing beside 'only 0.1 mm or less from the window'.
    assert telling.problem_figures(replace(bare, measured=0.02, limit=0.0), "mm") == ""
    turn = replace(bare, measured=140.0, limit=135.0, uncertainty=0.0, unit="deg")
    assert telling.problem_figures(turn, "mm") == "Measured 140°; the limit is 135°."


def test_other_units_are_left_to_the_advice():
    current = replace(problem((1, 1), advice="The lights take about 18 mA."), measured=18.3, unit="mA")
    assert telling.problem_figures(current, "mm") == ""


@pytest.mark.parametrize(
    ("to_mm", "line"),
    [
        ((17.9, 40.0), "move L1 2.1 mm left"),
        ((22.0, 40.1), "move L1 2.0 mm right and 0.1 mm down"),
        ((22.0, 40.04), "move L1 2.0 mm right"),
        ((20.0, 38.5), "move L1 1.5 mm up"),
        ((21.0, 42.0), "move L1 1.0 mm right and 2.0 mm down"),
        ((20.0, 40.0), "move L1 as the overlay shows"),
    ],
)
def test_a_move_in_words(to_mm, line):
    assert telling.move_words(Move("L1", (20.0, 40.0), to_mm, "lights-too-close"), "mm") == line


def test_a_move_told_on_paper_is_measured_from_the_two_nearest_edges():
    card = Card(107.95, 139.7)
    move = Move("L1", (20.0, 40.0), (89.95, 120.0), "lights-too-close")
    assert telling.new_place(move, card, "mm") == "to 18.0 mm from the right edge and 19.7 mm from the bottom"


def test_moves_of_the_battery_and_in_inches():
    move = Move("battery", (30.0, 100.0), (30.0, 106.35), "battery-zone")
    assert telling.sentence(telling.move_words(move, "in")) == "Move the battery circle 1/4 in down."
    # 30.0 mm is no whole number of 1/32 in.
    place = telling.new_place(move, Card(107.95, 139.7), "in")
    assert place == "to about 1 3/16 in from the left edge and 1 5/16 in from the bottom"


@pytest.mark.parametrize(
    ("names", "text"),
    [
        ((), ""),
        (("L1",), "L1"),
        (("L1", "L2"), "L1 and L2"),
        (("L1", "L2", "battery"), "L1, L2 and the battery circle"),
    ],
)
def test_names_in_a_row(names, text):
    assert telling.listed(names) == text


def doubted(*doubts, lights=()):
    plan = harbour_plan(lights=lights or (LightMark("L1", 20, 40), LightMark("L2", 45, 40)))
    return replace(plan, reading=replace(plan.reading, sure=False, doubts=doubts))


def test_every_unsure_mark_is_spoken_of_once():
    lights = (LightMark("L1", 20, 40, sure=False), LightMark("L12", 45, 40, sure=False))
    doubt = Doubt("L12", (45.0, 40.0), Saying("light-or-speck"))
    assert telling.doubts(doubted(doubt, lights=lights), "mm") == (
        "L12: The mark near the top, 45.0 mm from the left edge and 40.0 mm from the top, could be a light or a small "
        "speck.",
        "I'm not sure about L1.",
    )
    assert doubted(lights=lights).unsure_marks == ("L1", "L12")


def test_an_older_files_sentences_stand_alone():
    lights = (LightMark("L1", 20, 40, sure=False),)
    assert telling.doubts(doubted(as_said("L1 touches a {word}."), lights=lights), "mm") == (
        "L1 touches a {word}.",
    )


def test_a_reading_that_is_unsure_of_nothing_in_particular_says_so():
    assert telling.doubts(doubted(), "mm") == ("I'm not sure that I read every mark.",)
    assert telling.doubts(replace(harbour_plan(), reading=None), "mm") == ()


@pytest.mark.parametrize("key", sorted(remarks.REMARKS))
@pytest.mark.parametrize("units", ["mm", "in"])
def test_each_remark_is_a_sentence_in_the_makers_units(key, units):
    names = {name for _, name, _, _ in string.Formatter().parse(remarks.REMARKS[key]) if name}
    figures = {name: 12.3 if name.endswith("_mm") else "A6" for name in names - {"place"}}
    text = remarks.remark_words(Remark("", (20.0, 30.0), Saying(key, figures)), CARD, units)
    assert "{" not in text
    if key != "as-said":
        assert text.endswith(".")
    if units == "in" and key != "square-off-scale":  # where tenths of a millimetre decide
        assert "mm" not in text
    if any(name.endswith("_mm") for name in names):
        assert ("12.3 mm" if units == "mm" else "15/32 in") in text


def test_a_remark_that_is_not_known_is_said_by_its_key():
    for says in (Saying("from-tomorrow", {"x_mm": 3.0}), Saying("bent")):
        assert says.key in remarks.remark_words(Remark("card", None, says), CARD, "mm")


def test_a_plan_with_its_marks_moved_is_not_called_ready():
    plan = replace(harbour_plan(), corrected_from=("L1", "battery"))
    assert telling.verdict(plan) == "If you move L1 and the battery circle"
    assert telling.verdict_after_moves(plan) == "then it can be taped"
    many = replace(plan, corrected_from=("L1", "L2", "L3", "L4"), problems=(problem((1, 1)),))
    assert telling.verdict(many) == "If you move 4 marks"
    assert telling.verdict_after_moves(many) == "1 thing left to fix then"


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
    assert telling.other_ways(plan) == (
        "Without L1 and L3 the rest can be taped as it is drawn.",
        "With a CR1220 it fits.",
    )
    said = telling.own_lines(plan)
    assert said.startswith("Taped as you pencilled them") and "(2)" in said and said.count("(") == 1
    assert telling.own_lines(harbour_plan()) == ""


def test_every_fault_that_a_pencilled_line_can_have_has_a_name_of_its_own():
    for rule in RULES:
        if rule.needs_traces and rule.name not in (
            "no-lane",
            "joint",
        ):  # two pencilled lines have no branches
            told = telling.own_lines(
                replace(harbour_plan(), drawn_problems=(replace(problem((1, 1)), name=rule.name),))
            )
            assert rule.name not in told, rule.name
