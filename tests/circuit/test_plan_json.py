"""The plan file: what is written is read back, and a bad file is named field by field."""

import copy
import json
import math
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuit.asked import PlanAsked
from circuit.errors import LayoutFileError
from circuit.layout import (
    BatteryMark,
    Card,
    Doubt,
    DrawnLine,
    Layout,
    LightMark,
    Move,
    Problem,
    Reading,
    Saying,
    Traces,
    as_said,
)
from circuit.plan import Plan, SeenMarks, Source
from circuit.plan_card import plan_card
from circuit.plan_json import plan_from_dict, plan_to_dict
from circuit.plan_limits import MOST_POINTS, _crossings
from circuit.settings import Settings

# To the micrometre, as the file keeps it, so that reading back gives the very same values.
MILLIMETRES = st.integers(-300_000, 300_000).map(lambda micrometres: micrometres / 1000)
POSITIVE = st.integers(1, 300_000).map(lambda micrometres: micrometres / 1000)
POINTS = st.tuples(MILLIMETRES, MILLIMETRES)
LINES = st.lists(POINTS, min_size=2, max_size=6).map(tuple)
PLACES = st.lists(POINTS, max_size=2).map(tuple)
TEXTS = st.lists(st.text(max_size=4), max_size=2).map(tuple)
DOUBTS = st.lists(
    st.builds(
        Doubt,
        st.sampled_from(["L1", "battery", "card", ""]),
        st.none() | POINTS,
        st.builds(Saying, st.text(max_size=9), st.dictionaries(st.text(max_size=5), MILLIMETRES | st.text())),
    ),
    max_size=3,
).map(tuple)
PROBLEMS = st.lists(
    st.builds(
        Problem,
        st.text(max_size=20),
        st.sampled_from(["must-fix", "look-again"]),
        st.lists(st.text(max_size=4), max_size=3).map(tuple),
        POINTS,
        st.none() | MILLIMETRES,
        POSITIVE,
        st.none() | MILLIMETRES,
        st.text(max_size=60),
        st.sampled_from(["mm", "deg", "mA"]),
    ),
    max_size=3,
).map(tuple)


def encloses_area(outline):
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, (*outline[1:], outline[0])))) > 20


WINDOWS = st.lists(POINTS, min_size=3, max_size=8).map(tuple).filter(encloses_area)


@st.composite
def plans(draw):
    lights = tuple(
        LightMark(f"L{i + 1}", *draw(POINTS), draw(POSITIVE), draw(POSITIVE), draw(st.booleans()))
        for i in range(draw(st.integers(0, 5)))
    )
    layout = Layout(
        Card(
            draw(POSITIVE),
            draw(POSITIVE),
            draw(st.none() | st.text(max_size=20)),
            draw(st.just(0.0) | POSITIVE),
        ),
        lights,
        draw(st.none() | st.builds(BatteryMark, MILLIMETRES, MILLIMETRES, POSITIVE, POSITIVE, POSITIVE)),
        draw(st.none() | WINDOWS),
        tuple(
            draw(
                st.lists(
                    st.builds(DrawnLine, LINES, st.sampled_from([None, "positive", "negative"])), max_size=2
                )
            )
        ),
    )
    if layout.window is not None:
        layout = replace(layout, window_uncertainty_mm=draw(POSITIVE))
    return Plan(
        layout,
        draw(st.none() | st.builds(Traces, LINES, LINES, POSITIVE, POSITIVE)),
        draw(PROBLEMS),
        tuple(
            draw(
                st.lists(
                    st.builds(Move, st.text(max_size=4), POINTS, POINTS, st.text(max_size=20)), max_size=3
                )
            )
        ),
        draw(
            st.none()
            | st.builds(
                Reading,
                st.text(max_size=30),
                st.sampled_from(["coded", "plain", None]),
                st.none() | POSITIVE,
                POSITIVE,
                st.booleans(),
                DOUBTS,
                st.sampled_from([0, 90, 180, 270]),
            )
        ),
        {"cell": "CR2032", "light": "5050"},
        sides_deg={light.label: draw(MILLIMETRES) for light in lights},
        drawn_problems=draw(PROBLEMS),
        corrected_from=draw(TEXTS),
        leave_out=draw(TEXTS),
        seen=SeenMarks(draw(PLACES), draw(PLACES)),
        source=draw(
            st.none()
            | st.builds(
                Source,
                st.text(min_size=1, max_size=9),
                st.none() | st.text(min_size=1),
                st.sampled_from(
                    [None, PlanAsked(square_mm=20.5, turn_deg=90, colours=("red", "L3=blue"), effort=3)]
                ),
            )
        ),
        others={"somebody's": {"total_ma": 12.5}},
    )


@given(plans())
def test_a_plan_reads_back_as_it_was_written(plan):
    text = json.dumps(plan_to_dict(plan), allow_nan=False)
    assert plan_from_dict(json.loads(text)) == plan


def test_a_layout_file_needs_no_more_than_places():
    plan = plan_from_dict(
        {
            "schema": "pencilamp/layout/1",
            "card": {"width_mm": 100, "height_mm": 80},
            "battery": {"x_mm": 70, "y_mm": 60, "diameter_mm": 20},
            "lights": [{"x_mm": 10, "y_mm": 12.5}, {"x_mm": 30, "y_mm": 12.5}],
            "window": [[5, 5], [50, 5], [50, 40]],
        }
    )
    assert [light.label for light in plan.layout.lights] == ["L1", "L2"]
    assert all(light.uncertainty_mm == 0 and light.sure for light in plan.layout.lights)
    assert plan.traces is None
    assert plan.problems == ()


GOOD = plan_to_dict(
    Plan(
        Layout(Card(100, 80), (LightMark("L1", 10, 10),), BatteryMark(70, 60, 20)),
        Traces(((70.0, 60.0), (20.0, 60.0)), ((70.0, 65.0), (20.0, 65.0))),
        reading=Reading("a.jpg", "coded", 40.0, 0.2, True),
    )
)


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (["schema"], "somebody/else/1", "schema"),
        (["card"], None, "card"),
        (["card", "width_mm"], -5, "width_mm"),
        (["card", "width_mm"], "wide", "card.width_mm"),
        (["card", "height_mm"], True, "card.height_mm"),
        (["lights"], {}, "lights"),
        (["lights", 0], 3, "lights[0]"),
        (["lights", 0, "x_mm"], None, "lights[0].x_mm"),
        (["lights", 0, "x_mm"], float("nan"), "lights[0].x_mm"),
        (["lights", 0, "diameter_mm"], 0, "diameter_mm"),
        (["lights", 0, "x_mm"], 1e300, "lights[0].x_mm"),
        (["card", "width_mm"], 1e7, "card.width_mm"),
        (["window"], [[1, 1], [2, 2], [3, -1e9]], "window[2][1]"),
        (["lights", 0, "sure"], "yes", "lights[0].sure"),
        (["battery", "diameter_mm"], [], "battery.diameter_mm"),
        (["window"], [[1, 1], [2, 2]], "window"),
        (["window"], [[1, 1], [2, 2], [3]], "window[2]"),
        (["traces", "positive"], [[1, 2]], "positive"),
        (["traces", "tape_width_mm"], 0, "tape_width_mm"),
        (["reading", "square_kind"], "round", "square_kind"),
        (["drawn_lines"], [{"points": [[1, 2], [3, 4]], "polarity": "up"}], "polarity"),
        (["problems"], [{"name": "x", "level": "bad"}], "level"),
    ],
)
def test_a_bad_field_is_named(path, value, words):
    bad = copy.deepcopy(GOOD)
    place = bad
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    with pytest.raises(LayoutFileError) as caught:
        plan_from_dict(bad)
    assert words in str(caught.value)
    assert caught.value.exit_code == 4


@pytest.mark.parametrize("value", [None, [], 7, "plan", {}, {"schema": None}])
def test_something_else_altogether_is_refused(value):
    with pytest.raises(LayoutFileError):
        plan_from_dict(value)


def test_two_lights_of_one_label_are_refused():
    bad = copy.deepcopy(GOOD)
    bad["lights"].append(dict(bad["lights"][0]))
    with pytest.raises(LayoutFileError, match="label"):
        plan_from_dict(bad)


def test_what_is_worked_out_reads_back_as_it_was_written():
    lights = tuple(LightMark(f"L{i + 1}", 25.0 + 14.0 * i, 50.0) for i in range(4))
    window = ((15.0, 30.0), (80.0, 30.0), (80.0, 70.0), (15.0, 70.0))
    layout = Layout(Card(107.95, 139.7), lights, BatteryMark(80.0, 105.0, 20.5), window)
    written = json.loads(json.dumps(plan_to_dict(plan_card(layout, Settings()).plan)))
    plan = plan_from_dict(written)
    assert plan_to_dict(plan) == written
    assert plan.others == {}
    assert plan.lane.order and plan.stack.foam and plan.electrics.half_used and plan.lifetime and plan.glow
    assert set(plan.sides_deg) == {"L1", "L2", "L3", "L4"}


@pytest.mark.parametrize("junk", [3, [1, 2], [[1]], [[1, [2]]], [None], [{}], {"foam": [{"name": 3}]}])
@pytest.mark.parametrize(
    "key", ["lane", "stack", "electrics", "glow", "crossed_out_mm", "drawn_problems", "made_from"]
)
def test_what_another_program_worked_out_is_kept_as_it_is(key, junk):
    plan = plan_from_dict({**GOOD, key: junk})
    assert plan.others == {key: junk}
    assert plan == replace(plan_from_dict(GOOD), others={key: junk})
    assert plan_to_dict(plan)[key] == junk


def test_the_file_says_mm_of_every_figure_and_its_unit_beside_it():
    problem = Problem("over-cell-current", "look-again", ("battery",), (1.0, 2.0), 12.5, 0.5, 10.0, "", "mA")
    (kept,) = plan_to_dict(replace(plan_from_dict(GOOD), problems=(problem,)))["problems"]
    assert (kept["measured_mm"], kept["uncertainty_mm"], kept["limit_mm"], kept["unit"]) == (
        12.5,
        0.5,
        10.0,
        "mA",
    )


def test_a_positive_side_that_is_no_number_is_a_mistake():
    with pytest.raises(ValueError, match="finite"):
        Plan(Layout(Card(100, 80), ()), sides_deg={"L1": math.nan})


def test_doubts_are_sentences_in_the_makers_units_with_what_they_are_about_beside_them():
    doubt = Doubt("L1", (10.0, 10.0), Saying("bent", {"lift_mm": 2.54}))
    plan = replace(plan_from_dict(GOOD), settings={"units": "in"})
    plan = replace(plan, reading=replace(plan.reading, doubts=(doubt,)))
    kept = plan_to_dict(plan)
    (text,) = kept["reading"]["doubts"]
    assert "stands up by about 3/32 in" in text
    assert kept["reading"]["doubts_at"] == [
        {"about": "L1", "where_mm": [10.0, 10.0], "says": {"key": "bent", "figures": {"lift_mm": 2.54}}}
    ]
    older = copy.deepcopy(kept)
    del older["reading"]["doubts_at"]
    assert plan_from_dict(older).reading.doubts == (as_said(text),)
    for junk in (None, 3, [], [{}], [{"about": "L1"}], kept["reading"]["doubts_at"] * 2):
        assert plan_from_dict({**kept, "reading": {**kept["reading"], "doubts_at": junk}}).reading.doubts == (
            as_said(text),
        )


@pytest.mark.parametrize(
    "window",
    [[[20, 30], [80, 30], [50, 30]], [[20, 30], [20, 30], [20, 30]], [[20, 30], [80, 30.001], [50, 30]]],
)
def test_a_window_without_area_is_refused_in_one_sentence(window):
    with pytest.raises(LayoutFileError, match="window's corners enclose no area") as caught:
        plan_from_dict({**GOOD, "window": window})
    assert str(caught.value).count("\n") == 0


def test_a_scribbled_window_is_refused_before_it_is_measured():
    # What a scribble encloses takes minutes to find out; an outline that crosses itself a little is fine.
    chance = random.Random(1)
    layout = {"schema": "pencilamp/layout/1", "card": {"width_mm": 100.0, "height_mm": 100.0}, "lights": []}
    scribble = [[chance.uniform(5, 95), chance.uniform(5, 95)] for _ in range(MOST_POINTS)]
    with pytest.raises(LayoutFileError, match="window crosses itself"):
        plan_from_dict({**layout, "window": scribble})
    # A star of 2n + 1 corners, each joined with the next but one, crosses itself 2n + 1 times.
    corners = [
        (50 + 40 * math.cos(k * math.pi * 4 / 201), 50 + 40 * math.sin(k * math.pi * 4 / 201))
        for k in range(201)
    ]
    read = plan_from_dict({**layout, "window": [list(corner) for corner in corners]})
    assert read.layout.window is not None and len(read.layout.window) == 201
    assert _crossings(corners) == 201
