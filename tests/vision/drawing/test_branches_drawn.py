"""Branches on pictures: drawn over the lane, their joints marked, the choice told where the plan asks for it."""

import math
from dataclasses import replace

from circuit.joint import joints_of
from circuit.layout import POLARITIES
from circuit.polyline import middle_of
from circuit.settings import Settings
from tests.circuit.branches.cards import LEFT, RIGHT, planned
from vision.drawing.box import Placing
from vision.drawing.draw_tapes import draw_tape_signs
from vision.drawing.key import key_rows
from vision.drawing.look import ON_PAPER, ON_PHOTO
from vision.drawing.on_screen import plan_svg
from vision.drawing.overlay.explained import explaining_rows
from vision.drawing.subject import subject_of


class Noting:
    """A pen that notes where signs are drawn: each begins with a disc."""

    def __init__(self):
        self.discs = []

    def circle(self, centre, radius, *more, **how):
        self.discs.append(centre)

    def shape(self, *more, **how):
        pass

    line = shape


def test_branches_lie_over_the_lane_in_the_order_of_laying():
    subject = subject_of(planned(RIGHT, LEFT), Settings())
    drawn = subject.tapes_on_card
    assert [positive for _, positive in drawn] == [False, True] * 3
    assert [line for line, _ in drawn[2:]] == [RIGHT.negative, RIGHT.positive, LEFT.negative, LEFT.positive]
    assert subject_of(replace(subject.plan, traces=None), Settings()).tapes_on_card == ()


def test_signs_keep_off_joints_and_crossings():
    plan = planned(RIGHT, LEFT)
    pen = Noting()
    draw_tape_signs(pen, Placing(0.0, 0.0), subject_of(plan, Settings()))
    assert len(pen.discs) >= 6
    spots = [
        spot
        for joint in joints_of(plan.traces)
        for spot in (joint.crossing_mm, *(middle_of(joint.contact_mm(name)) for name in POLARITIES))
    ]
    assert all(math.dist(disc, spot) > 2.5 for disc in pen.discs for spot in spots)


def test_the_screens_drawing_has_each_joint_as_one_thing():
    assert plan_svg(planned(RIGHT, LEFT), Settings()).count('"joint"') == 2
    assert '"joint"' not in plan_svg(planned(lights=((54.0, 75.0), (54.0, 35.0))), Settings())


def test_the_key_explains_joints_where_there_are_any():
    for look, to_build in ((ON_PHOTO, False), (ON_PAPER, True)):
        words = [
            row.text for row in key_rows(subject_of(planned(RIGHT), Settings()), look, to_build=to_build)
        ]
        assert any(text.startswith("joint:") for text in words)
        assert "clear tape between two tapes that cross" in words
        plain = planned(lights=((54.0, 75.0), (54.0, 35.0)))
        words = [row.text for row in key_rows(subject_of(plain, Settings()), look, to_build=to_build)]
        assert not any("joint" in text for text in words)


def test_the_choice_is_told_before_the_joint_and_not_where_the_plan_is_shown_for_something_else():
    plan = planned(RIGHT)
    rows = [row.text for row in explaining_rows(subject_of(plan, Settings()))]
    assert rows[0].startswith("No single lane passes all lights")
    assert rows[1].startswith("L3 sits on a branch")
    other = replace(plan, problems=())
    assert not any("No single lane" in row.text for row in explaining_rows(subject_of(other, Settings())))
