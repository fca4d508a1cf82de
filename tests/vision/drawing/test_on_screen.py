"""The plan on a screen: well-formed, each mark a group that can be found by its name, in card millimetres."""

import xml.etree.ElementTree as ET
from dataclasses import replace

from circuit.layout import Layout, Move
from circuit.plan import Plan, SeenMarks
from circuit.settings import Settings
from tests.vision.drawing.overlay.plans import HARBOUR_SIDES, harbour_plan, problem
from vision.drawing.on_screen import plan_svg

SPACE = "{http://www.w3.org/2000/svg}"


def drawn(plan):
    return ET.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{plan_svg(plan, Settings())}</svg>')


def test_every_mark_is_a_group_of_its_own():
    plan = replace(
        harbour_plan(moves=(Move("L2", (70.0, 40.0), (72.0, 40.0), "lights-too-close"),)),
        sides_deg=HARBOUR_SIDES,
        seen=SeenMarks(maybe=((80.0, 110.0),)),
    )
    groups = [(g.get("class"), g.get("data-about")) for g in drawn(plan).iter(f"{SPACE}g")]
    for wanted in (("light", "L1"), ("light", "L3"), ("cell", "battery"), ("move", "L2"), ("unclear", None)):
        assert wanted in groups
    assert ("tapes", None) in groups


def test_it_lies_where_the_card_has_it():
    # The cell's ring, by its own numbers: 10 mm round (30, 100).
    cell = next(g for g in drawn(harbour_plan()).iter(f"{SPACE}g") if g.get("class") == "cell")
    steps = cell.findall(f"{SPACE}path")[-1].get("d").strip("MZ").split()
    points = [tuple(map(float, step.split(","))) for step in steps]
    assert max(abs(((x - 30) ** 2 + (y - 100) ** 2) ** 0.5 - 10) for x, y in points) < 0.01


def test_labels_of_any_kind_cannot_break_out():
    plan = harbour_plan()
    odd = replace(plan.layout.lights[0], label='"><script>')
    plan = replace(plan, layout=replace(plan.layout, lights=(odd,)))
    assert "<script" not in plan_svg(plan, Settings())
    assert any(g.get("data-about") == '"><script>' for g in drawn(plan).iter(f"{SPACE}g"))


def test_a_bare_card_is_drawn():
    assert drawn(Plan(Layout(harbour_plan().layout.card, ()))) is not None


def test_crosses_on_own_lines_are_left_out_where_they_would_hide_the_traces():
    for many, crosses in ((12, 12), (13, 0)):
        found = tuple(problem((20.0 + 2 * i, 60.0)) for i in range(many))
        plan = replace(harbour_plan(), drawn_problems=found)
        assert [g.get("class") for g in drawn(plan).iter(f"{SPACE}g")].count("own-line") == crosses


def test_no_cross_lies_on_a_light_which_would_seem_to_be_crossed_out():
    plan = harbour_plan()
    on_light, beside = plan.layout.lights[0].centre, (20.0, 60.0)
    plan = replace(plan, drawn_problems=(problem(on_light), problem(beside)))
    assert [g.get("class") for g in drawn(plan).iter(f"{SPACE}g")].count("own-line") == 1
