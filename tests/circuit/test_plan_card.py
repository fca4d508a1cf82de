"""The whole plan of one card, from its marks: what is gathered, and that nothing is said twice or too soon."""

from dataclasses import replace

import pytest

from circuit.check import check
from circuit.layout import BatteryMark, Card, DrawnLine, Layout, LightMark
from circuit.plan_card import plan_as_drawn, plan_card, with_moves
from circuit.plan_json import plan_from_dict, plan_to_dict
from circuit.polyline import length
from circuit.settings import Settings
from circuit.worked_out import PlanChoices, drawn_traces

CARD = Card(107.95, 139.7)
BATTERY = BatteryMark(80.0, 110.0, 20.6)
ROW = tuple(LightMark(f"L{i + 1}", 25.0 + 14.0 * i, 50.0) for i in range(4))


def names(problems):
    return [problem.name for problem in problems]


def test_an_easy_card_is_planned_whole():
    planned = plan_card(Layout(CARD, ROW, BATTERY), Settings())
    assert planned.plan.traces is not None
    assert planned.plan.must_fix == ()
    assert planned.plan.moves == ()
    assert planned.corrected is None
    assert set(planned.plan.sides_deg) == {"L1", "L2", "L3", "L4"}
    lane = planned.plan.lane
    assert lane.lower_bound_mm <= lane.midline_mm
    assert any("another one could save" in detail for detail in planned.details)
    assert planned.plan.electrics.fresh.lights


def test_what_is_shown_was_measured_by_the_checker():
    layout = Layout(CARD, ROW, BATTERY)
    planned = plan_card(layout, Settings())
    assert set(names(check(layout, planned.plan.traces, Settings()))) <= set(names(planned.plan.problems))


def test_lights_too_close_come_with_the_move_that_mends_them():
    lights = (*ROW[:2], LightMark("L3", 43.0, 54.0), ROW[3])
    planned = plan_card(Layout(CARD, lights, BATTERY), Settings())
    assert "lights-too-close" in names(planned.plan.must_fix)
    assert planned.plan.moves
    assert planned.corrected is not None
    assert planned.corrected.must_fix == ()
    moved = {move.about: move.to_mm for move in planned.plan.moves}
    for label, place in moved.items():
        assert planned.corrected.layout.light(label).centre == pytest.approx(place)


@pytest.mark.parametrize(
    ("layout", "words"),
    [
        (Layout(CARD, (), BATTERY), "no lights"),
        (Layout(CARD, ROW, None), "no battery circle"),
        (Layout(CARD, (), None), "no battery circle"),
    ],
)
def test_a_card_with_nothing_to_lay_says_so_once(layout, words):
    planned = plan_card(layout, Settings())
    assert planned.plan.traces is None
    [problem] = [problem for problem in planned.plan.must_fix if problem.name == "no-lane"]
    assert words in problem.advice


def test_the_makers_own_lines_are_measured_but_do_not_count_against_the_plan():
    upper = DrawnLine(((82.5, 112.0), (82.5, 47.5), (15.0, 47.5)), "positive", 0.3)
    # 1.2 mm from the other line's edge between the lights: too close for tape.
    lower = DrawnLine(((77.5, 112.0), (77.5, 51.0), (15.0, 51.0)), "negative", 0.3)
    layout = Layout(CARD, ROW, BATTERY, drawn_lines=(upper, lower))
    planned = plan_card(layout, Settings())
    assert "traces-too-close" in names(planned.plan.drawn_problems)
    assert planned.plan.must_fix == ()
    [told] = [note for note in planned.notes if "your own lines" in note]
    assert "tapes too close to each other (" in told


def test_drawn_lines_become_traces_whichever_comes_first():
    a, b = DrawnLine(((0, 0), (9, 0)), "negative"), DrawnLine(((0, 5), (9, 5)), "positive")
    traces = drawn_traces((a, b), Settings())
    assert traces is not None
    assert traces.positive == b.points
    assert drawn_traces((a,), Settings()) is None


def test_one_colour_among_others_is_told():
    parts = Settings().light
    from circuit.parts import light_part

    red = light_part(parts.name, "red")
    planned = plan_card(Layout(CARD, ROW, BATTERY), Settings(), PlanChoices(lights={"L2": red}))
    assert "mixed-colours" in names(planned.plan.problems)


def test_the_current_is_not_told_twice():
    many = tuple(LightMark(f"L{i + 1}", 12.0 + 10.0 * i, 40.0) for i in range(9))
    planned = plan_card(Layout(CARD, many, BATTERY), Settings())
    said = (*planned.notes, *planned.details, *(problem.advice for problem in planned.plan.problems))
    assert sum(" mA " in text for text in said) == 1


def test_wider_tape_makes_a_wider_lane():
    layout = Layout(CARD, ROW, BATTERY)
    planned = plan_card(layout, replace(Settings(), tape_width_mm=3.0, gap_mm=2.0))
    assert planned.plan.traces is not None
    assert planned.plan.traces.tape_width_mm == 3.0
    assert length(planned.plan.traces.positive) > 40.0


def test_more_lights_than_any_card_has_are_told_at_once():
    many = tuple(LightMark(f"L{i + 1}", 10.0 + 9.0 * (i % 10), 10.0 + 9.0 * (i // 10)) for i in range(45))
    planned = plan_card(Layout(CARD, many, BATTERY), Settings())
    [problem] = [problem for problem in planned.plan.must_fix if problem.name == "no-lane"]
    assert "45 lights" in problem.advice
    assert planned.plan.moves == ()


def test_a_card_that_needs_moves_can_be_shown_before_they_are_looked_for():
    near = (LightMark("L1", 25.0, 50.0), LightMark("L2", 31.0, 50.0))  # 7 mm apart is the least
    layout = Layout(CARD, near, BATTERY)
    drawn = plan_as_drawn(layout, Settings())
    assert drawn.asks_for_moves
    assert drawn.planned.plan.problems and drawn.planned.plan.moves == ()
    whole = with_moves(drawn)
    assert whole.plan.moves
    assert replace(whole.plan, moves=(), moves_found=None) == replace(
        drawn.planned.plan, alternatives=whole.plan.alternatives
    )
    assert whole == plan_card(layout, Settings())


def test_a_plan_with_the_upright_tongue_says_that_it_is_the_weaker_way_and_keeps_it_in_its_file():
    lights = tuple(LightMark(f"L{i}", x, y) for i, (x, y) in enumerate(((43.5, 22), (58, 22), (66, 16)), 1))
    layout = Layout(Card(80.0, 44.0), lights, BatteryMark(18.0, 22.0, 20.5))
    plan = plan_card(layout, Settings()).plan
    assert [(problem.name, problem.level) for problem in plan.problems] == [("switch-upright", "look-again")]
    assert "weaker way" in plan.problems[0].advice and "5 mm" in plan.problems[0].advice
    written = plan_to_dict(plan)
    assert written["traces"]["tongue"] == written["switch"]["tongue"] == "upright"
    assert plan_from_dict(written).traces.tongue == "upright"
    roomier = plan_card(replace(layout, lights=(LightMark("L1", 48.0, 22.0), *lights[1:])), Settings()).plan
    assert roomier.problems == ()
    assert "tongue" not in plan_to_dict(roomier)["traces"]
