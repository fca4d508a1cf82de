"""The build sheet says, for this very card, what to cut and lay, in which order."""

from dataclasses import replace

import pytest

from circuit.electrics import bench_of, currents_of
from circuit.errors import LayoutFileError
from circuit.layout import Move, MovesFound, Problem, as_said
from circuit.part_kinds import FoamPart
from circuit.parts import light_part
from circuit.polyline import length
from circuit.settings import Settings
from circuit.stack import stack_of
from cli.commands.summary import plan_summary
from cli.pages import build_pages, build_words, sheet_pages
from cli.pages.build_data import build_of
from cli.pages.build_tables import fold_names
from cli.pages.corner_figure import corner_words
from cli.pages.paper import A4, LETTER
from cli.pages.steps import steps
from tests.cli import cards
from tests.cli.pages.measure import text_boxes
from vision.drawing.shapes import creases


def text_of(pdf):
    return [" ".join(" ".join(box.text for box in boxes).split()) for boxes in text_boxes(pdf)]


def test_lapped_corners_are_told_and_drawn_as_laps():
    plan, lapped = cards.seven_lights(), Settings(corners="lapped")
    pages = " ".join(text_of(build_pages(plan, lapped, A4)) + text_of(sheet_pages(plan, lapped, A4)))
    for words in (
        "A lap",
        "3 Copper on",
        "lap left",
        "laps.",
        "lap here; its number",
        "each lap's line",
    ):
        assert words in pages, words
    for words in ("A fold", "fold left", "folds.", "fold here", "Fold it over"):
        assert words not in pages, words
    for corners in ("folded", "lapped"):  # three lines have room above the next picture's heading
        assert [len(lines) <= 3 for lines in corner_words(corners)] == [True] * 3
    folded = " ".join(text_of(build_pages(plan, Settings(), A4)))
    assert "A fold" in folded and "A lap" not in folded
    assert "laps in each" in plan_summary(plan, lapped, "card.jpg")


def test_the_steps_come_in_the_order_of_work():
    headings = [step.heading for step in steps(build_of(cards.seven_lights(), Settings()))]
    assert headings == [
        "Prick the places through",
        "Cut out the flap",
        f"Cut one strip of {build_of(cards.seven_lights(), Settings()).tapes.strip_mm:.1f} mm",
        "+ tape under the lid",
        "Clear tape on it",
        "+ tape over the flap",
        "Glue a paper dot on",
        "Lay the − tape",
        "Clear tape on the − tape",
        "Cut the foam for the frame",
        "Stick the frame on",
        "Glue the tab down",
        "Lay the + tape",
        "Put the cell in",
        "Try each light",
        "Take the cell out",
        "Fix the lights",
        "Try them all again",
        "Going by post?",
        "Close the lid",
        "Foam round the card",
        "Lay the front on",
    ]
    sheet = text_of(build_pages(cards.seven_lights(), Settings(), A4))
    whole = " ".join(sheet)
    places = [whole.index(heading) for heading in headings if heading != "Clear tape on it"]
    assert places == sorted(places)


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("make", [cards.one_light, cards.seven_lights, cards.fourteen_lights])
def test_a_step_is_one_act_in_few_words(make, units):
    """Read with tape on one's fingers: no heading over seven words, no text over 45 (chosen)."""
    for step in steps(build_of(make(), Settings(units=units))):
        assert len(step.heading.split()) <= 7
        assert len(step.text.split()) <= 45, step


def test_the_summary_counts_folds_as_the_build_sheet_does():
    plan = cards.seven_lights()
    start, end = plan.traces.positive[0], plan.traces.positive[-1]
    # one more corner, so slight that the tape is eased round it
    eased = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    straight = replace(plan.traces, positive=(start, (eased[0], eased[1] + 0.02), end))
    assert "4 folds in " in plan_summary(plan, Settings(), "card")
    assert "0 folds in the +" in plan_summary(replace(plan, traces=straight), Settings(), "card")


def test_summary_and_build_sheet_tell_one_length_to_cut():
    plan = cards.seven_lights()
    strip = build_of(plan, Settings()).tapes.strip_mm
    assert f"cut one strip of {strip:.0f} mm, 5 mm wide" in plan_summary(plan, Settings(), "card")
    assert f"Cut one strip of {strip:.1f} mm" in " ".join(text_of(build_pages(plan, Settings(), A4)))
    assert build_of(plan, Settings()).tapes.negative.folds == 4


def test_the_runs_add_up_to_the_traces_of_the_plan():
    plan = cards.seven_lights()
    build = build_of(plan, Settings())
    whole = " ".join(text_of(build_pages(plan, Settings(), A4)))
    assert f"{length(plan.traces.negative):.1f} mm" in whole
    beyond = build.switch.beyond_trace_mm
    assert f"{length(plan.traces.positive) + beyond:.1f} mm" in whole
    for run in build.tapes.positive.runs:
        assert f"{run.total_mm:.1f} mm" in whole
    # Fold numbers as on the 1:1 sheet: four corners in this lane.
    for name in ("+1", "+4", "−1", "−4"):
        assert name in whole
    assert "+5" not in whole


def test_inches_are_told_to_a_32nd():
    whole = " ".join(text_of(build_pages(cards.one_light(), Settings(units="in"), LETTER)))
    # One straight run of 57 mm: 2.244 in, so 2 1/4 (72/32).
    assert "2 1/4 in" in whole


def test_supplies_grow_with_the_copies():
    one = " ".join(text_of(build_pages(cards.seven_lights(), Settings(), A4)))
    class_of_20 = " ".join(text_of(build_pages(cards.seven_lights(), Settings(), A4, copies=20)))
    assert "5050 lights, white: 7, and 1 to spare" in one
    assert "for 20 cards" in class_of_20
    assert "5050 lights, white: 140, and 14 to spare" in class_of_20
    assert "CR2032 cells: 20" in class_of_20
    strip = build_of(cards.seven_lights(), Settings()).tapes.strip_mm
    assert build_words.long_length(20 * strip, "mm") in class_of_20


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (241.0, "mm", "245 mm"),
        (245.0, "mm", "245 mm"),
        (4900.0, "mm", "4.9 m"),
        (4901.0, "mm", "5.0 m"),
        (25.4, "in", "1 in"),
        (26.0, "in", "2 in"),
        (36 * 25.4, "in", "3 ft"),
        (45.2 * 25.4, "in", "3 ft 10 in"),
    ],
)
def test_lengths_to_buy_are_rounded_up(mm, units, text):
    assert build_words.long_length(mm, units) == text


@pytest.mark.parametrize(
    ("degrees", "going", "at"),
    [
        (0, "right", "right"),
        (90, "down", "bottom"),
        (-90, "up", "top"),
        (180, "left", "left"),
        (-135, "up and left", "top left"),
    ],
)
def test_directions_are_told_as_one_sees_them(degrees, going, at):
    assert build_words.way(degrees) == going
    assert build_words.side(degrees) == at


def test_which_way_round_is_told_for_every_light():
    whole = " ".join(text_of(build_pages(cards.one_light(), Settings(), A4)))
    # The lane goes up with the positive tape on its left.
    assert "L1 left" in whole


@pytest.mark.parametrize(("units", "lap"), [("mm", "by 10 mm, glue"), ("in", "by 3/8 in, glue")])
def test_the_trial_of_the_glue_is_told_in_the_makers_units(units, lap):
    assert lap in " ".join(text_of(build_pages(cards.seven_lights(), Settings(units=units), A4)))


def test_moves_made_in_millimetres_are_told_so_on_a_page_in_inches():
    # Half a millimetre is two thirds of 1/32 in: rounded, it would be another move than the one that was checked.
    plan = replace(
        cards.seven_lights(),
        problems=(
            Problem("lights-too-close", "must-fix", ("L2",), (40.0, 60.0), 5.0, 0.3, 7.0, "Too close."),
        ),
        moves=(Move("L2", (40.0, 60.0), (42.5, 59.5), "lights-too-close"),),
        moves_found=MovesFound(True, 0.5),
    )
    build, sheet = (text_of(pages(plan, Settings(units="in"), A4))[0] for pages in (build_pages, sheet_pages))
    for page in (build, sheet):
        assert "move L2 2.5 mm right and 0.5 mm up, to 42.5 mm from the left edge" in page
    assert "in steps of 0.5 mm" in build


def test_what_must_be_fixed_stands_on_top_with_its_moves():
    plan = cards.no_traces()
    move = Move("L3", (30.0, 80.0), (27.9, 80.0), "no-lane")
    first = text_of(build_pages(replace(plan, moves=(move,)), Settings(), A4))[0]
    assert first.index("nothing to build from yet") < first.index("What you need")
    assert plan.problems[0].advice.split(";")[0] in first
    assert "move L3 2.1 mm left" in first
    assert "Cut one strip" not in first
    clean = " ".join(text_of(build_pages(cards.seven_lights(), Settings(), A4)))
    assert "must be fixed" not in clean


def test_a_doubt_about_the_window_alone_stands_on_top_too():
    plan = cards.seven_lights()
    reading = replace(plan.reading, doubts=(as_said("I'm not sure of the window's outline."),))
    assert reading.sure and reading.doubtful and not plan.reading.doubtful
    first = text_of(build_pages(replace(plan, reading=reading), Settings(), A4))[0]
    assert "Compare the picture with your card first" in first
    assert "not sure of the window" in first
    assert "Compare the picture" not in text_of(build_pages(plan, Settings(), A4))[0]


def test_cautions_are_on_every_build_sheet():
    for make in (cards.one_light, cards.no_traces):
        assert "swallowed" in " ".join(text_of(build_pages(make(), Settings(), A4)))


def test_foam_is_the_plans_own_or_one_that_would_do():
    plan = cards.one_light()
    assert sum(layer.thickness_mm for layer in build_of(plan, Settings()).foam) > 3.2  # over the cell
    heights = stack_of(Settings(), (FoamPart("mine", 3.7),)).heights
    own = replace(plan, stack=heights)
    assert [layer.thickness_mm for layer in build_of(own, Settings()).foam] == [3.7]
    none = replace(plan, stack=replace(heights, foam=()))
    assert build_of(none, Settings()).foam == build_of(plan, Settings()).foam


def test_twenty_lights_and_many_folds_take_no_more_pages_than_they_need():
    midline = [(20.0, 150.0), (20.0, 135.0)]
    for row in range(5):
        y = 125.0 - 25.0 * row
        near, far = (30.0, 190.0) if row % 2 == 0 else (190.0, 30.0)
        midline += [(near, y), (far, y)]
    lights = [30.0 + 35.0 * i for i in range(20)]
    plan = cards.plan_along(
        midline, lights, replace(cards.QUARTER, width_mm=210.0, height_mm=170.0, size=None)
    )
    pages = text_boxes(build_pages(plan, Settings(), A4))
    assert 2 <= len(pages) <= 3


def test_the_same_plan_gives_the_same_bytes():
    plan = cards.seven_lights()
    assert build_pages(plan, Settings(), A4) == build_pages(plan, Settings(), A4)


def test_a_trace_with_repeated_points_prints_as_one_without():
    plan = cards.seven_lights()
    twice = tuple(point for point in plan.traces.positive for _ in range(2))
    repeated = replace(plan, traces=replace(plan.traces, positive=twice))
    assert build_pages(repeated, Settings(), A4) == build_pages(plan, Settings(), A4)


def test_a_trace_of_no_length_is_refused_in_one_sentence():
    plan = cards.one_light()
    spot = plan.traces.negative[0]
    nothing = replace(plan, traces=replace(plan.traces, negative=(spot, spot)))
    for make in (build_pages, sheet_pages):
        with pytest.raises(LayoutFileError, match="negative trace"):
            make(nothing, Settings(), A4)


def test_lights_of_several_colours_are_bought_and_placed_by_colour():
    plan = cards.seven_lights()
    red = {label: light_part("5050", "red") for label in ("L2", "L5")}
    mixed = replace(plan, electrics=currents_of(bench_of(plan.layout, plan.traces, Settings(), red).solve()))
    whole = " ".join(text_of(build_pages(mixed, Settings(), A4, copies=10)))
    assert "5050 lights, white: 50, and 5 to spare" in whole
    assert "5050 lights, red: 20, and 2 to spare" in whole
    assert "L2, L5: red; all others: white." in whole
    assert "all others" not in " ".join(text_of(build_pages(plan, Settings(), A4)))


def test_fold_numbers_are_those_of_the_drawing():
    plan = cards.fourteen_lights()
    build = build_of(plan, Settings())
    for path, line in (
        (build.tapes.positive, plan.traces.positive),
        (build.tapes.negative, plan.traces.negative),
    ):
        names = [name for name in fold_names(path) if name]
        drawn = creases(line, 2.5)
        assert len(names) == len(drawn)
        ends = [run.then.turn_deg for run, name in zip(path.runs, fold_names(path)) if name]
        assert ends == pytest.approx([crease.turn_deg for crease in drawn])


def with_trouble(plan, count, level="must-fix"):
    """A plan with so many long sentences on top."""
    advice = (
        "L1 and L2 are 6.1 mm apart, centre to centre; they need 7 mm: move one of them 0.9 mm away, or leave one of "
        "the two out."
    )
    problem = Problem("lights-too-close", level, ("L1", "L2"), (31.2, 40.8), 6.1, 0.3, 7.0, advice)
    move = Move("L1", (33.0, 40.8), (31.2, 40.8), "lights-too-close")
    doubts = tuple(as_said("I'm not sure of the window's outline: it has wide gaps.") for _ in range(count))
    return replace(
        plan,
        problems=count * (problem,),
        moves=(count // 2) * (move,),
        reading=replace(plan.reading, sure=count == 0, doubts=doubts),
    )


@pytest.mark.parametrize("make", [cards.one_light, cards.seven_lights, cards.fourteen_lights])
@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize(
    "count, level", [(0, "must-fix"), (1, "must-fix"), (9, "must-fix"), (4, "look-again")]
)
def test_up_to_fourteen_lights_take_two_pages_with_their_cautions(make, paper, units, count, level):
    plan = with_trouble(make(), count, level)
    pages = text_of(build_pages(plan, Settings(units=units), paper))
    assert len(pages) == 2
    assert "swallowed" in pages[1] and "What you see" in pages[1]
    head = {"must-fix": "must be fixed first", "look-again": "Compare the picture"}[level]
    assert (head in pages[0]) == (count > 0)


def test_what_finds_no_room_on_top_is_counted():
    told = text_of(build_pages(with_trouble(cards.fourteen_lights(), 9), Settings(units="in"), LETTER))[0]
    assert "9 things must be fixed" in told and "more: the overlay shows them all" in told


def test_what_is_to_be_looked_at_again_stands_on_top_too():
    plan = with_trouble(cards.one_light(), 1, "look-again")
    plan = replace(plan, reading=cards.one_light().reading)
    assert (
        "Look at this before you build. – L1 and L2 are 6.1 mm"
        in text_of(build_pages(plan, Settings(), A4))[0]
    )


def test_each_step_names_the_face_and_which_way_up():
    text = {step.heading: step.text for step in steps(build_of(cards.seven_lights(), Settings()))}
    assert text["+ tape under the lid"].startswith("Turn the flap over")
    assert "stay bare" in text["Clear tape on it"] and "stay bare" in text["Clear tape on the − tape"]
    assert "Copper up" in text["Lay the − tape"] and "copper up" in text["Lay the + tape"]
    assert (
        "outer face up" in text["Glue the tab down"] and "underside to the card" in text["Glue the tab down"]
    )
    assert "+ face up" in text["Put the cell in"] and "+ face up" in text["Try them all again"]
    # Nothing is sealed before all have been tried, and the cell is out while lights are fixed.
    assert "liner on" in text["Stick the frame on"]
    assert text["Fix the lights"].startswith("The cell is out")


def test_the_steps_lengths_are_the_switchs():
    build = build_of(cards.seven_lights(), Settings())
    text = " ".join(step.text for step in steps(build))
    assert "31.0 mm" in text and "21.0 mm x 21.0 mm free inside" in text
    assert f"{build.switch.wrap_mm:.1f} mm" in text
    assert f"{build.switch.dot_mm:.1f} mm across" in text
    # The strip to cut is told once, and is the longer tape with its folds and a little to hold it by.
    longest = max(build.tapes.positive.needed_mm, build.tapes.negative.needed_mm)
    assert longest + 10.0 <= build.tapes.strip_mm < longest + 15.0


def test_clear_tape_over_each_light_is_drawn_told_and_counted():
    plan = cards.seven_lights()
    # A 5 mm light over a lane of 7.5 mm: 2 mm of clear tape beyond light and tapes on every side.
    text = {step.heading: step.text for step in steps(build_of(plan, Settings()))}
    assert "Stick clear tape, 9.0 x 11.5 mm, over it" in text["Fix the lights"]
    whole = " ".join(text_of(build_pages(plan, Settings(), A4, copies=2)))
    assert "14 pieces of 9.0 x 11.5 mm over the lights" in whole
    assert "Clear tape holds it down" in whole


def test_an_upright_tongue_is_creased_as_it_is_cut_and_stood_up_as_it_is_glued():
    plan = cards.one_light()
    upright = replace(plan, traces=replace(plan.traces, tongue="upright"))
    text = {step.heading: step.text for step in steps(build_of(upright, Settings()))}
    assert "Crease it at both broken lines" in text["Cut out the flap"]
    assert "Stand the tongue up against the foam" in text["Glue the tab down"]
    assert "easy bend" not in " ".join(text.values())
    usual = " ".join(step.text for step in steps(build_of(plan, Settings())))
    assert "easy bend" in usual and "Crease" not in usual
    assert "upright: two creases" in " ".join(text_of(build_pages(upright, Settings(), A4)))
    # 1 mm of lean and 4 of tab in place of 6 and 4; 4 mm of rise: a shorter flap, a shorter tape.
    flaps = [build_of(one, Settings()).switch.tongue_flat_mm for one in (plan, upright)]
    assert flaps == [pytest.approx(11.64, abs=0.01), pytest.approx(8.12, abs=0.01)]
