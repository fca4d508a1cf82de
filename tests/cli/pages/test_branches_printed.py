"""Branches as they come out of the printer: tapes, joints, numbers, steps and lengths."""

import math
from itertools import pairwise

import numpy as np
import pytest
from shapely import LineString, box

from circuit.joint import joints_of
from circuit.layout import POLARITIES
from circuit.polyline import heading_deg, middle_of
from circuit.settings import Settings
from cli.commands.summary import plan_summary
from cli.pages import build_pages, class_pages
from cli.pages.build_data import build_of
from cli.pages.build_tables import fold_names
from cli.pages.paper import A4, LETTER
from cli.pages.steps import steps
from tests.circuit.branches.cards import FOLDED, LEFT, RIGHT, planned
from tests.cli.pages.measure import along, centre_of_line, text_boxes
from tests.cli.pages.test_true_size import PRINT_TOLERANCE_MM, OnPaper, tape_edges

LIGHTS = ((54.0, 75.0), (54.0, 35.0), (80.0, 40.0))


def words_of(pdf):
    return " ".join(item.text for page in text_boxes(pdf) for item in page)


@pytest.fixture(scope="module", params=[(A4, "mm"), (LETTER, "in")], ids=["A4", "letter"])
def sheet(request):
    return OnPaper(planned(FOLDED, lights=LIGHTS), *request.param)


def test_a_branchs_tapes_are_as_wide_and_where_the_plan_has_them(sheet):
    count = 0
    for line in (FOLDED.positive, FOLDED.negative):
        for a, b in pairwise(line):
            run, heading = math.dist(a, b), heading_deg(a, b)
            for at_mm in np.arange(14.0, run - 5.0, 2.0):  # past the joint and its clear tape
                at = (a[0] + (b[0] - a[0]) * at_mm / run, a[1] + (b[1] - a[1]) * at_mm / run)
                if all(math.dist(at, light.centre) > 6.0 for light in sheet.plan.layout.lights):
                    assert tape_edges(sheet, at, heading) == pytest.approx(
                        [1.25, 1.25], abs=PRINT_TOLERANCE_MM
                    )
                    count += 1
    assert count >= 20


def test_each_contact_is_crossed_out_in_its_middle(sheet):
    (joint,) = joints_of(sheet.plan.traces)
    for polarity in POLARITIES:
        corners = joint.contact_mm(polarity)
        middle = middle_of(corners)
        for from_, to in ((corners[0], corners[2]), (corners[1], corners[3])):
            # Halfway along each arm the line is met square to it.
            spot = ((middle[0] + to[0]) / 2, (middle[1] + to[1]) / 2)
            distances, points = along(sheet.at(spot), heading_deg(from_, to) + 90.0, 0.4)
            assert centre_of_line(sheet.page.ink(points), distances) == pytest.approx(
                0.0, abs=PRINT_TOLERANCE_MM
            )


def test_the_clear_tape_is_dotted_where_it_goes(sheet):
    (joint,) = joints_of(sheet.plan.traces)
    a, b, _, _ = joint.cover_mm
    # Along the side away from the branch's other tape, dark and bare in turn: dots 0.4 mm long, 0.9 mm apart.
    spots = [
        (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share) for share in np.linspace(0.02, 0.98, 200)
    ]
    ink = sheet.page.ink([sheet.at(spot) for spot in spots])
    changes = np.count_nonzero(np.diff(ink > 0.5))
    assert 6 <= changes <= 14


def test_fold_numbers_on_the_sheet_are_those_of_the_lists(sheet):
    build = build_of(sheet.plan, Settings())
    (branch,) = build.tapes.branches
    listed = [
        name
        for path, before in (
            (build.tapes.positive, 0),
            (build.tapes.negative, 0),
            (branch.positive, build.tapes.positive.folds_on_card),
            (branch.negative, build.tapes.negative.folds_on_card),
        )
        for name in fold_names(path, before)
        if name
    ]
    assert sorted(listed) == ["+1", "−1"]  # the lane by hand is straight, the branch folds once


def test_no_label_lies_on_a_branch(sheet):
    tapes = [LineString(line).buffer(1.25, cap_style="flat") for line in (FOLDED.positive, FOLDED.negative)]
    from cli.pages import sheet_pages

    paper = A4 if sheet.build.settings.units == "mm" else LETTER
    labels = {light.label for light in sheet.plan.layout.lights}
    seen = 0
    for item in text_boxes(sheet_pages(sheet.plan, sheet.build.settings, paper))[0]:
        if item.text.strip() in labels:
            left, top = sheet.card.left, sheet.card.top
            place = box(item.left - left, item.top - top, item.right - left, item.bottom - top)
            assert all(place.distance(tape) > 0 for tape in tapes), item.text
            seen += 1
    assert seen == 3


def test_the_steps_lay_clear_tape_then_fold_join_and_lay_the_branch_before_lights_are_tried():
    told = steps(build_of(planned(FOLDED, lights=LIGHTS), Settings()))
    headings = [step.heading for step in told]
    first = headings.index("Clear tape for the branch")
    assert headings[first - 1] == "Lay the + tape"
    assert headings[first : first + 4] == [
        "Clear tape for the branch",
        "Cut 85.0 mm",
        "Join the branch",
        "Lay the branch on",
    ]
    assert headings.index("Try each light") > first + 3
    text = " ".join(step.text for step in told[first : first + 4])
    assert "6.5 x 6.5 mm" in text and "lane's − tape" in text  # its + tape crosses
    assert "Fold the first 2.5 mm of each half under" in text and "copper on copper" in text
    assert "going right" in text and "Copper up" in text
    two = [
        step for step in steps(build_of(planned(RIGHT, LEFT), Settings())) if "the branches" in step.heading
    ]
    assert [step.heading for step in two] == [
        "Clear tape for the branches",
        "Join the branches",
        "Lay the branches on",
    ]
    assert "lane's − tape, where the + tape of branch 1 crosses" in two[0].text
    assert "lane's + tape, where the − tape of branch 2 crosses" in two[0].text
    assert "branch 1 right and branch 2 left" in two[1].text
    assert not [
        one for one in steps(build_of(planned(lights=LIGHTS[:2]), Settings())) if "branch" in one.heading
    ]


def test_one_length_of_strip_everywhere():
    plan, settings = planned(FOLDED, lights=LIGHTS), Settings()
    build = build_of(plan, settings)
    strips = [f"{mm:.0f}" for mm in build.tapes.strips_mm]
    assert strips[1] == "85"
    summary = " ".join(plan_summary(plan, settings, "card").split())
    assert (
        f"cut one strip of {strips[0]} mm and one of 85 mm, 5 mm wide, and split each lengthwise" in summary
    )
    assert "1 fold in each" in summary
    assert "No single lane passes all lights: make one joint" in summary
    pages = words_of(build_pages(plan, settings))
    assert f"one strip of {strips[0]}.0 mm and one of 85.0 mm" in pages.replace("\n", " ")
    teacher = words_of(class_pages(plan, settings, copies=24))
    assert f"one strip of {strips[0]}.0 mm and one of 85.0 mm" in teacher


def test_the_lists_tell_lights_on_a_branch_apart():
    pages = words_of(build_pages(planned(RIGHT), Settings()))
    assert "Lights on a branch come last" in pages
    assert "B 24.8 mm" in pages and "B 29.8 mm" in pages
    assert "The branch, from its joint on" in pages


@pytest.mark.parametrize("units", ["mm", "in"])
def test_two_branches_still_take_two_pages(units):
    pages = text_boxes(build_pages(planned(RIGHT, LEFT), Settings(units=units), A4))
    assert len(pages) <= 2
    assert "Mind the cell" in " ".join(item.text for item in pages[-1])
