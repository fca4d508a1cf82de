"""The trace rules: each tripped alone by hand-made traces, its near miss passing.

The straight card: lights at (54, 60) and (54, 40), battery at (54, 110), tapes up the card at
x = 51.5 (positive) and 56.5 (negative), ending at y = 37.5 where the upper light's body ends.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from circuit.check import check
from circuit.gap import best_gap_mm
from circuit.gap_trouble import gap_trouble
from circuit.layout import BatteryMark, Card, DrawnLine, Layout, LightMark, Traces
from circuit.part_kinds import LightPart
from circuit.parts import light_part
from circuit.settings import Settings
from circuit.switch import lane_at_range
from tests.circuit.hand_made import (
    BATTERY,
    CARD,
    NEGATIVE,
    POSITIVE,
    STRAIGHT_CARD,
    STRAIGHT_TRACES,
    card_with,
    mirrored,
    positive_with_tail,
    quarter_turned,
    turned,
)

DEFAULTS = Settings()


def both(left_x, right_x, top_y=37.5):
    return Traces(((left_x, 114.5), (left_x, top_y)), ((right_x, 114.5), (right_x, top_y)))


def light_aside(off):
    return card_with((54 + off, 60), (54, 40)), STRAIGHT_TRACES


def leaning(lean_deg):
    # Each tape turned by half the lean about its place beside the one light, past the straight end runs.
    half = lean_deg / 2
    light = (54.0, 66.0)
    lines = []
    for x, turn in ((51.5, half), (56.5, -half)):
        beside = tuple(turned((x, y), turn, (x, light[1])) for y in (74.0, 60.0))
        lines.append(((x, 114.5), (x, 84.0), *beside))
    return card_with(light), Traces(lines[0], lines[1])


def pinched(gap):
    # The negative tape comes nearer for 4 mm between the two lights, in gentle bends.
    x = 51.5 + 2.5 + gap
    negative = ((56.5, 114.5), (56.5, 56.0), (x, 52.0), (x, 48.0), (56.5, 44.0), (56.5, 37.5))
    return STRAIGHT_CARD, Traces(POSITIVE, negative)


def back_to_itself(gap):
    # A tail up, left, down and back towards the tape it came from, ending square to it.
    end = 51.5 - 1.25 - gap
    return STRAIGHT_CARD, positive_with_tail((51.5, 30), (41.5, 30), (41.5, 47), (end, 47))


def to_the_edge(gap):
    return STRAIGHT_CARD, positive_with_tail((51.5, 30), (gap, 30))


def fold_at_the_edge(gap):
    # The fold's outer corner is what reaches furthest: half a tape past the fold's point.
    x = gap + 1.25
    return STRAIGHT_CARD, positive_with_tail((51.5, 30), (x, 30), (x, 50))


def fold_from_the_middle(distance):
    y = 110 - distance
    bent = ((51.5, 114.5), (51.5, y), (50.5, y - 10), (50.5, y - 16), (51.5, y - 26), (51.5, 25.0))
    return card_with((54.0, 30.0)), Traces(bent, ((56.5, 114.5), (56.5, 25.0)))


def run_past_the_zone(gap):
    # The tail passes the battery on the left, its nearest edge 10 + gap from the centre.
    x = 54 - 10 - gap - 1.25
    return STRAIGHT_CARD, positive_with_tail((51.5, 30), (x, 30), (x, 125))


def beginning(past):
    return STRAIGHT_CARD, Traces(((51.5, 110 + past), (51.5, 37.5)), NEGATIVE)


def lane_beside_the_middle(by):
    return replace(STRAIGHT_CARD, battery=replace(BATTERY, x_mm=54 + by)), STRAIGHT_TRACES


def end_runs_apart(angle):
    # The negative one turned about a place beside the battery; no light on this card.
    layout = replace(STRAIGHT_CARD, lights=())
    leaning_one = tuple(turned((56.5, y), angle, (56.5, 105.0)) for y in (114.5, 60.0))
    return layout, Traces(((51.5, 114.5), (51.5, 60.0)), leaning_one)


def switch_at_the_edge(gap):
    # The lid's free end is 15.5 mm from the middle.
    y = 139.7 - 15.5 - gap
    lines = [((x, y + 4.5), (x, 37.5)) for x in (51.5, 56.5)]
    return replace(STRAIGHT_CARD, battery=replace(BATTERY, y_mm=y)), Traces(*lines)


def light_at_the_tab(y):
    return card_with((54, y), (54, 40)), STRAIGHT_TRACES


def window_at_the_tab(y):
    window = ((30.0, 20.0), (80.0, 20.0), (80.0, y), (30.0, y))
    return replace(STRAIGHT_CARD, window=window), STRAIGHT_TRACES


def tail_at_the_tab(x):
    # The tongue is 16 mm wide: its side lies at x = 46 from y = 84.5 to the lid. The tail ends square to it.
    return STRAIGHT_CARD, positive_with_tail((51.5, 30), (38, 30), (38, 90), (x, 90))


def fold_by_the_light(gap):
    y = 37.5 - gap
    return STRAIGHT_CARD, positive_with_tail((51.5, y), (49.5, y - 8))


def folds_apart(distance):
    # Two gentle bends above the lights.
    x, y = 51.5 - distance * math.sin(math.radians(20)), 30 - distance * math.cos(math.radians(20))
    return STRAIGHT_CARD, positive_with_tail((51.5, 30), (x, y), (x, y - 8))


def turning(angle):
    end = turned((51.5, 25 - 10), -angle, (51.5, 25))
    return STRAIGHT_CARD, positive_with_tail((51.5, 25), end)


def sharp_fold_at(y):
    end = turned((51.5, y - 10), -135, (51.5, y))
    return STRAIGHT_CARD, positive_with_tail((51.5, y), end)


# name, measured, limit, unit, who, broken, kept, settings
CASES = [
    ("light-not-bridged", 0.51, 0.5, "mm", ("L1",), light_aside(0.51), light_aside(0.5), DEFAULTS),
    (
        "light-not-bridged",
        4.9,
        5.0,
        "mm",
        ("L2",),
        (STRAIGHT_CARD, both(51.5, 56.5, 37.6)),
        (STRAIGHT_CARD, STRAIGHT_TRACES),
        DEFAULTS,
    ),
    ("light-not-bridged", 5.5, 5.0, "deg", ("L1",), leaning(5.5), leaning(4.9), DEFAULTS),
    (
        "light-not-bridged",
        1.4,
        1.5,
        "mm",
        ("L1",),
        (card_with((54, 60)), both(52.05, 55.95)),
        (card_with((54, 60)), both(52, 56)),
        # The rule between the tapes has the same limit; lowered, so that this one trips alone.
        Settings(limits={"traces-too-close": 1.0}),
    ),
    (
        "light-not-bridged",
        0.7,
        0.75,
        "mm",
        ("L1",),
        (card_with((54, 60)), both(50.95, 57.05)),
        (card_with((54, 60)), both(51, 57)),
        DEFAULTS,
    ),
    ("traces-too-close", 1.4, 1.5, "mm", ("positive", "negative"), pinched(1.4), pinched(1.5), DEFAULTS),
    (
        "trace-overlaps-itself",
        0.9,
        1.0,
        "mm",
        ("positive",),
        back_to_itself(0.9),
        back_to_itself(1),
        DEFAULTS,
    ),
    ("trace-near-edge", 2.9, 3.0, "mm", ("positive", "card"), to_the_edge(2.9), to_the_edge(3), DEFAULTS),
    (
        "trace-near-edge",
        2.9,
        3.0,
        "mm",
        ("positive", "card"),
        fold_at_the_edge(2.9),
        fold_at_the_edge(3),
        DEFAULTS,
    ),
    (
        "battery-zone",
        25.4,
        25.5,
        "mm",
        ("positive", "battery"),
        fold_from_the_middle(25.4),
        fold_from_the_middle(25.6),
        DEFAULTS,
    ),
    (
        "battery-zone",
        5.9,
        6.0,
        "mm",
        ("positive", "battery"),
        run_past_the_zone(5.9),
        run_past_the_zone(6),
        DEFAULTS,
    ),
    ("battery-zone", 2.9, 3.0, "mm", ("positive", "battery"), beginning(2.9), beginning(3), DEFAULTS),
    ("battery-zone", 6.1, 6.0, "mm", ("positive", "battery"), beginning(6.1), beginning(6), DEFAULTS),
    (
        "battery-zone",
        4.1,
        4.0,
        "mm",
        ("positive", "battery"),
        lane_beside_the_middle(1.6),
        lane_beside_the_middle(1.5),
        DEFAULTS,
    ),
    (
        "battery-zone",
        2.1,
        2.0,
        "deg",
        ("positive", "negative", "battery"),
        end_runs_apart(2.1),
        end_runs_apart(1.9),
        DEFAULTS,
    ),
    (
        "battery-zone",
        45.0,
        2.0,
        "deg",
        ("positive", "negative", "battery"),
        end_runs_apart(45),
        end_runs_apart(0),
        DEFAULTS,
    ),
    (
        "switch-off-card",
        0.9,
        1.0,
        "mm",
        ("battery", "card"),
        switch_at_the_edge(0.9),
        switch_at_the_edge(1),
        DEFAULTS,
    ),
    (
        "switch-covers",
        -0.1,
        0.0,
        "mm",
        ("L1", "battery"),
        light_at_the_tab(82.1),
        light_at_the_tab(82),
        DEFAULTS,
    ),
    (
        "switch-covers",
        -0.1,
        0.0,
        "mm",
        ("battery", "window"),
        window_at_the_tab(84.6),
        window_at_the_tab(84.5),
        DEFAULTS,
    ),
    (
        "switch-covers",
        -0.1,
        0.0,
        "mm",
        ("positive", "battery"),
        tail_at_the_tab(46.1),
        tail_at_the_tab(46),
        DEFAULTS,
    ),
    (
        "fold-near-light",
        1.4,
        1.5,
        "mm",
        ("L2", "positive"),
        fold_by_the_light(1.4),
        fold_by_the_light(1.5),
        DEFAULTS,
    ),
    ("folds-too-close", 3.9, 4.0, "mm", ("positive",), folds_apart(3.9), folds_apart(4), DEFAULTS),
    ("folds-too-close", 136.0, 135.0, "deg", ("positive",), turning(136), turning(135), DEFAULTS),
    # A sharp fold 1.5 mm clear of the body still brings its second arm's edge back under a corner: the edge
    # starts 1.25 / sqrt 2 right of and below the fold's point and runs left and down at 45 degrees. Where it
    # passes the body's top at y = 37.5 it is 2 x 1.25 / sqrt 2 - 1.5 right of the body's left side, and the patch
    # is half a square cut along its diagonal, whose narrower side is that over sqrt 2.
    (
        "tape-under-light",
        (2 * 1.25 / math.sqrt(2) - 1.5) / math.sqrt(2),
        0.0,
        "mm",
        ("L2", "positive"),
        sharp_fold_at(36.0),
        sharp_fold_at(35.73),
        DEFAULTS,
    ),
]


def test_tape_that_may_pass_beside_a_light_is_not_said_to_reach_under_it_by_less_than_nothing():
    card, traces = sharp_fold_at(35.73)  # whose edge just passes the body
    lines = (DrawnLine(traces.positive, "positive", 0.5), DrawnLine(traces.negative, "negative", 0.5))
    found = check(replace(card, drawn_lines=lines), traces, DEFAULTS, drawn=True)
    [told] = [problem for problem in found if problem.name == "tape-under-light" and "L2" in problem.about]
    assert told.level == "look-again" and told.measured <= 0
    assert "beside L2" in told.advice and "-" not in told.advice.replace("look-again", "")


def test_the_straight_card_keeps_every_rule():
    assert check(STRAIGHT_CARD, STRAIGHT_TRACES, DEFAULTS) == ()


@pytest.mark.parametrize(("name", "measured", "limit", "unit", "about", "broken", "kept", "own"), CASES)
def test_each_rule_trips_alone_and_its_near_miss_passes(
    name, measured, limit, unit, about, broken, kept, own
):
    assert check(*kept, own) == ()
    (problem,) = check(*broken, own)
    assert (problem.name, problem.level, problem.about) == (name, "must-fix", about)
    # The table's figures have four digits behind the point.
    assert problem.measured == pytest.approx(measured, abs=1e-4)
    assert problem.limit == pytest.approx(limit)
    assert (problem.unit, problem.uncertainty) == (unit, 0.0)


def test_a_light_without_tape_is_told_of():
    layout = card_with((54, 60), (20, 40))
    (problem,) = check(layout, STRAIGHT_TRACES, DEFAULTS)
    assert (problem.name, problem.about) == ("light-not-bridged", ("L2",))
    assert problem.measured == pytest.approx(34.0)


def test_a_light_beside_one_tape_only_is_not_bridged():
    layout = card_with((51.5, 60), (54, 40))
    (problem,) = check(layout, STRAIGHT_TRACES, DEFAULTS)
    assert (problem.name, problem.about) == ("light-not-bridged", ("L1",))


def test_both_tapes_on_one_side_bridge_nothing():
    layout = card_with((54, 60))
    traces = Traces(((51.5, 114.5), (51.5, 37.5)), ((46.5, 109.0), (46.5, 37.5)))
    names = {problem.name for problem in check(layout, traces, DEFAULTS)}
    assert "light-not-bridged" in names


def test_crossing_tapes_touch():
    crossing = Traces(((51.5, 114.5), (51.5, 70), (57, 60)), ((56.5, 114.5), (56.5, 70), (51, 60)))
    problems = check(replace(STRAIGHT_CARD, lights=()), crossing, DEFAULTS)
    (problem,) = [p for p in problems if p.name == "traces-too-close"]
    assert problem.measured == 0
    # The runs cross at 54; what they share is a tape's half width long there.
    assert problem.where_mm[0] == pytest.approx(54, abs=1.5)
    assert "cross" in problem.advice


def test_a_tape_over_the_edge_is_measured_beyond_it():
    (problem,) = check(*to_the_edge(-2), DEFAULTS)
    assert problem.measured == pytest.approx(-2)
    assert "2.0 mm over the card's left edge" in problem.advice


def test_two_places_far_apart_are_two_problems_and_one_place_is_one():
    # The tapes come close twice, 30 mm apart, on a card without lights.
    layout = replace(STRAIGHT_CARD, lights=())
    near = 51.5 + 2.5 + 1.0
    negative = (
        (56.5, 114.5),
        (56.5, 80.0),
        (near, 76.0),
        (near, 72.0),
        (56.5, 68.0),
        (56.5, 50.0),
        (near, 46.0),
        (near, 42.0),
        (56.5, 38.0),
        (56.5, 30.0),
    )
    problems = check(layout, Traces(((51.5, 114.5), (51.5, 30.0)), negative), DEFAULTS)
    assert [problem.name for problem in problems] == ["traces-too-close"] * 2
    # Each pinch is 4 mm long: anywhere in it is right.
    assert sorted(round(problem.where_mm[1]) for problem in problems) == pytest.approx([44, 74], abs=2)


def test_inside_the_cells_circle_the_tapes_may_meet():
    # The cell lies between the two there; a wedge of tapes that meets at the centre.
    layout = replace(STRAIGHT_CARD, lights=())
    wedge = Traces(
        ((54.0, 109.0), turned((54.0, 60.0), -15, (54.0, 109.0))),
        ((54.0, 109.0), turned((54.0, 60.0), 15, (54.0, 109.0))),
    )
    assert "traces-too-close" not in {p.name for p in check(layout, wedge, DEFAULTS)}
    bare = replace(layout, battery=None)
    assert [p.name for p in check(bare, wedge, DEFAULTS)] == ["traces-too-close"]


def test_the_two_arms_of_one_fold_are_exempt_however_sharp():
    # At 135 degrees the arms' edges are nearer than 1 mm to each other for more than 3 tape widths.
    assert check(*turning(135), DEFAULTS) == ()


def test_a_tape_near_itself_counts_only_beyond_three_widths_along_it():
    # A hook of 3 runs: its middle run is 4 mm, so its outer runs' edges are 1.5 mm apart. With a limit of 2 mm
    # that is too near wherever the centre line between is longer than 7.5 mm, which it is from 1.75 mm up.
    layout = replace(STRAIGHT_CARD, lights=())
    own = Settings(limits={"trace-overlaps-itself": 2.0})

    def hook(arm):
        return positive_with_tail((51.5, 40), (47.5, 40), (47.5, 40 + arm))

    (problem,) = check(layout, hook(10), own)
    assert (problem.name, problem.measured) == ("trace-overlaps-itself", pytest.approx(1.5))
    # An arm of 0.3 mm: what of the first run lies 3.2 mm or more before the fold is at 3.2 mm or more.
    assert check(layout, hook(0.3), own) == ()


def test_where_a_tape_may_begin_hangs_on_how_far_beside_the_middle_it_passes():
    # The tape's corner 5.25 mm beside the middle keeps 2.5 mm inside the rim up to sqrt(7.5^2 - 5.25^2) = 5.36 mm.
    layout, _ = lane_beside_the_middle(1.5)
    kept = Traces(((51.5, 115.35), (51.5, 37.5)), NEGATIVE)
    assert check(layout, kept, DEFAULTS) == ()
    (problem,) = check(layout, Traces(((51.5, 115.4), (51.5, 37.5)), NEGATIVE), DEFAULTS)
    # Half a last digit of the figure above, rounded up.
    assert (problem.name, problem.limit) == ("battery-zone", pytest.approx(5.356, abs=1e-3))


def test_a_tape_that_stops_before_the_cell_is_told_how_much_it_lacks():
    (problem,) = check(*beginning(-4), DEFAULTS)
    assert problem.advice.startswith("The positive tape stops 4.0 mm short of the cell's middle")
    assert "make it 7.0 mm longer" in problem.advice


def test_tapes_from_different_sides_have_no_hinge():
    layout = replace(STRAIGHT_CARD, lights=())
    traces = Traces(((51.5, 114.5), (51.5, 60.0)), ((56.5, 105.5), (56.5, 130.0)))
    problems = check(layout, traces, DEFAULTS)
    assert [p.about for p in problems if "from one side" in p.advice] == [("positive", "negative", "battery")]
    assert {p.name for p in problems} == {"battery-zone"}


@pytest.mark.parametrize("tape", [2.0, 2.5, 4.0, 6.0])
def test_tapes_of_every_width_are_measured_at_their_edges(tape):
    own = Settings(tape_width_mm=tape)
    # A wide lane passes the cell's middle aside, so that the negative tape's corners stay inside its rim.
    past, aside = 3.0, lane_at_range(own)[1]
    layout = Layout(Card(300, 300), (LightMark("L1", 150, 150),), BatteryMark(150 - aside, 210, 20.8))

    def lane(gap):
        half = (gap + tape) / 2
        lines = [((150 + side * half, 210 + past), (150 + side * half, 140)) for side in (-1, 1)]
        return Traces(lines[0], lines[1], tape, gap)

    assert check(layout, lane(2.5), own) == ()
    assert [p.name for p in check(layout, lane(1.4), own)] == ["light-not-bridged", "traces-too-close"]


def test_lights_of_every_size_keep_their_share_of_tape():
    # A 4.1 mm body over a 2.5 mm gap has 0.8 mm of tape under each end: never less than 0.5 mm may stay, so it may
    # stray by 0.3 mm, less than the 40 % that a larger body may.
    own = Settings(light=LightPart("own", 4.1, 2.8, 1.0))
    assert check(card_with((54.3, 60), (54, 40)), STRAIGHT_TRACES, own) == ()
    (problem,) = check(card_with((54.31, 60), (54, 40)), STRAIGHT_TRACES, own)
    assert (problem.name, problem.limit) == ("light-not-bridged", pytest.approx(0.3))


def test_lights_too_small_for_the_gap_are_told_of_once():
    for light, gap_mm, words in (
        (light_part("0805"), 2.5, "too small for this tape"),
        (light_part("1206"), 2.5, "use a gap of 1.5 mm"),
        (light_part("3528"), 2.6, "use a gap of 1.5 mm"),
    ):
        traces = replace(STRAIGHT_TRACES, gap_mm=gap_mm)
        (problem,) = check(STRAIGHT_CARD, traces, Settings(light=light, gap_mm=gap_mm))
        assert (problem.name, problem.about, problem.level) == ("light-not-bridged", ("L1", "L2"), "must-fix")
        assert words in problem.advice.lower() and "move" not in problem.advice


@pytest.mark.parametrize(("light", "gap_mm"), [("5050", 2.5), ("3528", 1.5), ("1206", 1.5), ("0805", 1.5)])
def test_every_part_has_its_best_gap(light, gap_mm):
    assert best_gap_mm(light_part(light)) == pytest.approx(gap_mm)
    own = Settings(light=light_part(light), gap_mm=gap_mm)
    assert (gap_trouble(own) is None) == (light != "0805")
    narrow = gap_trouble(replace(own, gap_mm=1.0))
    assert narrow is not None and "far apart" not in narrow[0]


# Drawn by the maker: the same measures with the lines' and the marks' bounds.


def drawn(layout, traces, line_uncertainty_mm):
    lines = (
        DrawnLine(traces.positive, "positive", line_uncertainty_mm),
        DrawnLine(traces.negative, "negative", line_uncertainty_mm),
    )
    return replace(layout, drawn_lines=lines)


def test_exact_drawn_lines_are_held_to_the_same_limits():
    assert check(drawn(STRAIGHT_CARD, STRAIGHT_TRACES, 0.0), STRAIGHT_TRACES, DEFAULTS, drawn=True) == ()
    layout, traces = pinched(1.0)
    (problem,) = check(drawn(layout, traces, 0.0), traces, DEFAULTS, drawn=True)
    assert (problem.name, problem.level) == ("traces-too-close", "must-fix")


def test_drawn_lines_near_a_limit_ask_for_another_look():
    layout, traces = pinched(1.4)
    problems = check(drawn(layout, traces, 0.2), traces, DEFAULTS, drawn=True)
    (problem,) = [p for p in problems if p.name == "traces-too-close"]
    assert problem.level == "look-again"
    assert problem.uncertainty == pytest.approx(0.2 * math.sqrt(2))


def test_a_light_aside_of_drawn_lines_carries_its_own_bound_and_both_lines():
    layout = card_with((54.6, 60), (54, 40), uncertainty_mm=0.3)
    problems = check(drawn(layout, STRAIGHT_TRACES, 0.2), STRAIGHT_TRACES, DEFAULTS, drawn=True)
    (problem,) = [p for p in problems if p.about == ("L1",) and p.name == "light-not-bridged"]
    assert problem.level == "look-again"
    # Their middle is as sure as half of both together; the light is independent of it.
    assert problem.uncertainty == pytest.approx(math.hypot(0.2 * math.sqrt(2) / 2, 0.3))


def test_the_same_marks_under_routed_traces_are_exact():
    layout = card_with((54.4, 60), (54, 40), uncertainty_mm=0.3)
    assert check(layout, STRAIGHT_TRACES, DEFAULTS) == ()


def test_a_shaky_hand_is_no_row_of_folds():
    wobbly = tuple((51.5 + 0.15 * math.sin(y), float(y)) for y in range(115, 36, -1))
    traces = Traces(wobbly, NEGATIVE)
    assert any(p.name == "folds-too-close" for p in check(STRAIGHT_CARD, traces, DEFAULTS))
    problems = check(drawn(STRAIGHT_CARD, traces, 0.0), traces, DEFAULTS, drawn=True)
    assert [p for p in problems if p.name in ("folds-too-close", "fold-near-light")] == []


# Turning and mirroring.

inner = st.tuples(st.floats(5, 100), st.floats(5, 130))
card_points = st.lists(inner, min_size=2, max_size=6).map(tuple)


@st.composite
def scribbled_cards(draw):
    """Lights and lines anywhere, from a generator: two runs that suit a light equally well, which a
    drawing strategy loves to find, could be told apart either way."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))

    def some(least, most):
        return [
            (float(x), float(y)) for x, y in rng.uniform((5, 5), (100, 130), (rng.integers(least, most), 2))
        ]

    lights = tuple(LightMark(f"L{i + 1}", x, y) for i, (x, y) in enumerate(some(0, 5)))
    return Layout(CARD, lights, BATTERY), Traces(tuple(some(2, 7)), tuple(some(2, 7)))


@given(card_points, card_points, st.lists(inner, max_size=3), st.booleans())
@example(
    # A line back over itself, whose corner and strip touch but share no point once intersected.
    ((5.0, 5.0), (5.0, 5.0)),
    ((5.0, 5.0), (24.0, 5.0), (96.00547645277122, 127.16777742716755), (24.0, 5.0)),
    [],
    False,
)
@settings(max_examples=100, deadline=None)
def test_any_two_lines_can_be_checked(positive, negative, lights, battery):
    # Points on top of each other, lines back over themselves, lines of no length.
    marks = tuple(LightMark(f"L{i + 1}", x, y) for i, (x, y) in enumerate(lights))
    layout = Layout(CARD, marks, BATTERY if battery else None)
    for problem in check(layout, Traces(positive, negative), DEFAULTS):
        assert all(math.isfinite(value) for value in (problem.measured, *problem.where_mm))
        assert "{" not in problem.advice and problem.advice.endswith(".")


def gist(problems):
    return sorted((p.name, p.level, p.about, round(p.measured, 3)) for p in problems)


@given(scribbled_cards())
@settings(max_examples=60, deadline=None)
def test_turning_or_mirroring_a_card_turns_its_problems(scribble):
    here = gist(check(*scribble, DEFAULTS))
    assert gist(check(*quarter_turned(*scribble), DEFAULTS)) == here
    assert gist(check(*mirrored(*scribble), DEFAULTS)) == here


@given(scribbled_cards())
@settings(max_examples=60, deadline=None)
def test_swapping_the_tapes_swaps_nothing_but_their_names(scribble):
    layout, traces = scribble
    swapped = replace(traces, positive=traces.negative, negative=traces.positive)
    names = {"positive": "negative", "negative": "positive"}

    def renamed(problems):
        return sorted(
            (p.name, p.level, tuple(sorted(names.get(a, a) for a in p.about)), round(p.measured, 3))
            for p in problems
        )

    def plain(problems):
        return sorted((p.name, p.level, tuple(sorted(p.about)), round(p.measured, 3)) for p in problems)

    assert renamed(check(layout, swapped, DEFAULTS)) == plain(check(layout, traces, DEFAULTS))


def test_a_fold_under_a_light_is_told_once_as_a_fold_and_once_as_no_bridge():
    # Both tapes turn by 30 degrees right at L2, as makers draw lines from dot to dot.
    def bent(x):
        turn_at = (x, 40.0)
        return ((x, 114.5), turn_at, turned((x, 25.0), 30, turn_at))

    problems = check(STRAIGHT_CARD, Traces(bent(51.5), bent(56.5)), DEFAULTS)
    assert [(p.name, p.about[0]) for p in problems] == [
        ("light-not-bridged", "L2"),
        ("fold-near-light", "L2"),
    ]


def test_tapes_that_touch_under_a_light_have_no_length_below_nothing():
    problems = check(card_with((54, 60)), both(53.0, 55.0), DEFAULTS)
    advice = next(p.advice for p in problems if p.name == "light-not-bridged")
    assert "touch under L1" in advice and "-" not in advice


def test_tape_of_the_programs_own_under_the_flap_is_told_by_the_light_that_has_to_move():
    layout, traces = tail_at_the_tab(46.1)
    [own] = [p for p in check(layout, traces, DEFAULTS) if "positive" in p.about]
    assert own.advice == (
        "The positive tape comes 0.1 mm under the switch's flap beside its straight end: it goes to L1, so move L1 or "
        "the battery circle until they lie 0.1 mm further apart or more, and plan again."
    )
    told = [p.advice for p in check(layout, traces, DEFAULTS, drawn=True) if "positive" in p.about]
    # The maker's own line, which the maker can lay elsewhere.
    assert told and not any("it goes to" in advice for advice in told)


def test_tape_of_the_programs_own_too_near_the_flap_is_told_by_the_light_that_has_to_move():
    """Only a limit of the maker's own asks for more than that it stays clear."""
    layout, traces = tail_at_the_tab(45.5)
    wider = replace(DEFAULTS, limits={"switch-covers": 2.0})

    def told(*, drawn):
        problems = check(layout, traces, wider, drawn=drawn)
        return next(
            p.advice for p in problems if p.about == ("positive", "battery") and "from the switch" in p.advice
        )

    assert "it goes to L1, so move L1 or the battery circle until" in told(drawn=False)
    assert "lay it" not in told(drawn=False) and "lay it" in told(drawn=True)
