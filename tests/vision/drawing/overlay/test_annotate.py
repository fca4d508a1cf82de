"""Labels and callouts: near their mark, never over marks, traces or one another."""

import math
from dataclasses import replace
from itertools import combinations

import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from circuit.layout import LightMark
from circuit.settings import Settings
from tests.vision.drawing.overlay.plans import HARBOUR_SIDES, crowded_plan, harbour_plan, problem
from vision.drawing.backdrop import drawn
from vision.drawing.box import Box
from vision.drawing.overlay.annotate import annotate
from vision.drawing.panel import panel_for
from vision.drawing.shapes import body_corners
from vision.drawing.subject import subject_of


def annotated(plan, gutters=1):
    panel = panel_for(plan.layout.card, gutters)
    return annotate(subject_of(plan, Settings()), panel, drawn(plan.layout, panel)), panel


def assert_clear(plan, notes, panel, sides, corners="bevel"):
    """By shapely on the plan's own geometry, not by the map that the placement itself uses.

    Random lanes turn more sharply than tape is folded, where only a cut corner is sure: `corners`.
    """
    for one, other in combinations(notes.tags, 2):
        assert not one.box.meets(other.box), (one, other)
    taken = [
        shapely.Polygon(
            panel.placing.along(body_corners(light.centre, Settings().light, sides.get(light.label, 0.0)))
        )
        for light in plan.layout.lights
    ]
    if plan.traces is not None:
        half = plan.traces.tape_width_mm / 2 * panel.placing.scale
        taken += [
            shapely.LineString(panel.placing.along(line)).buffer(half, cap_style="flat", join_style=corners)
            for line in (plan.traces.positive, plan.traces.negative)
        ]
    if plan.layout.battery is not None:
        ring = plan.layout.battery.diameter_mm / 2 * panel.placing.scale
        taken.append(shapely.Point(panel.placing.at(plan.layout.battery.centre)).buffer(ring))
    if plan.layout.window is not None:
        taken.append(shapely.LinearRing(panel.placing.along(plan.layout.window)))
    for tag in notes.tags:
        box = tag.box
        assert panel.area.holds(box)
        area = shapely.box(box.left, box.top, box.right, box.bottom)
        assert not any(area.intersects(shape) for shape in taken), tag


def test_the_check_itself_sees_a_callout_that_lies_on_a_trace():
    plan = harbour_plan([problem((60.0, 42.5))])
    notes, panel = annotated(replace(plan, sides_deg=HARBOUR_SIDES))
    at = Box(*panel.placing.at((60.0, 42.5)), 0.0, 0.0)
    bad = type(notes)((type(notes.tags[0])("must-fix", "1", at.inset(-0.7)),), (), ())
    with pytest.raises(AssertionError):
        assert_clear(plan, bad, panel, HARBOUR_SIDES)


def test_callouts_and_labels_keep_clear_on_a_simple_card():
    spots = [(45.0, 40.0), (60.0, 42.5), (0.0, 70.0), (200.0, -5.0), (30.0, 100.0)]
    plan = harbour_plan([problem(spot, level) for spot in spots for level in ("must-fix", "look-again")])
    notes, panel = annotated(replace(plan, sides_deg=HARBOUR_SIDES))
    assert len(notes.tags) == 3 + len(plan.problems)
    assert_clear(plan, notes, panel, HARBOUR_SIDES, "mitre")


@pytest.mark.parametrize(
    "card", [(107.95, 139.7), (139.7, 107.95), (300.0, 45.0), (60.0, 300.0), (300.0, 300.0), (40.0, 40.0)]
)
def test_callouts_and_labels_keep_clear_on_crowded_cards_of_any_shape(card):
    plan = crowded_plan(*card, lights=12, problems=15, seed=3)
    notes, panel = annotated(plan)
    assert len(notes.tags) == 12 + 15 + 2  # labels, callouts, two question marks
    assert_clear(plan, notes, panel, {})


@settings(max_examples=8, deadline=None)
@example(297, 6, 2, 60.0, 95.0)  # a long end of the positive tape lies on the flap
@given(st.integers(0, 10_000), st.integers(0, 20), st.integers(0, 20), st.floats(45, 200), st.floats(45, 200))
def test_callouts_and_labels_keep_clear_whatever_the_card(seed, lights, problems, width_mm, height_mm):
    plan = crowded_plan(width_mm, height_mm, lights, problems, seed)
    notes, panel = annotated(plan, gutters=2)
    assert_clear(plan, notes, panel, {})


def test_leaders_do_not_run_under_other_tags():
    plan = crowded_plan(107.95, 139.7, lights=8, problems=12, seed=11)
    notes, _ = annotated(plan)
    under = 0
    for leader in notes.leaders:
        points = [
            (
                leader[0][0] + (leader[1][0] - leader[0][0]) * i / 50,
                leader[0][1] + (leader[1][1] - leader[0][1]) * i / 50,
            )
            for i in range(2, 51)
        ]
        boxes = {
            tag.box
            for tag in notes.tags
            for x, y in points
            if tag.box.left < x < tag.box.right and tag.box.top < y < tag.box.bottom
        }
        under += len(boxes)
    assert under == 0


def test_every_problem_has_a_callout_with_its_number_and_level():
    plan = harbour_plan([problem((60, 42), "look-again"), problem((45, 40)), problem((90, 90), "look-again")])
    notes, _ = annotated(replace(plan, sides_deg=HARBOUR_SIDES))
    callouts = [(tag.kind, tag.text) for tag in notes.tags if tag.kind != "label"]
    assert callouts == [("must-fix", "1"), ("look-again", "2"), ("look-again", "3")]


def test_a_label_among_near_lights_is_plainly_its_own_or_has_a_line_to_its_mark():
    crowd = tuple(
        LightMark(f"L{i + 1}", 30.0 + 7.2 * (i % 4), 40.0 + 7.2 * (i // 4), 3.0, 0.2) for i in range(16)
    )
    plan = replace(harbour_plan(lights=crowd), traces=None)
    notes, panel = annotated(plan)
    marks = {light.label: panel.placing.at(light.centre) for light in crowd}
    pointed = 0
    for tag in (tag for tag in notes.tags if tag.kind == "label"):
        own, next_one = sorted((math.dist(tag.box.centre, at), name) for name, at in marks.items())[:2]
        # A line from this box, towards its own mark.
        lines = [end for start, end in notes.leaders if tag.box.inset(-0.5).holds(Box(*start, 0.0, 0.0))]
        pointed += len(lines)
        # The next mark is a quarter farther away at least: chosen, less than the placement itself asks.
        plain = own[1] == tag.text and next_one[0] > 1.25 * own[0]
        assert plain or any(math.dist(end, marks[tag.text]) < 4.0 for end in lines), tag
    assert pointed  # else the card isn't crowded enough to tell anything
