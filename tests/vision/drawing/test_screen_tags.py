"""Names and numbers on a phone's picture: at the size of its letters none lies over another, whatever is wrong."""

import math
from dataclasses import replace
from itertools import combinations

import pytest

from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.plan import Plan
from circuit.settings import Settings
from tests.vision.drawing.overlay.plans import harbour_plan
from vision.drawing.box import Box
from vision.drawing.screen_tags import SPOT_PX, label_px, tags_on_screen

PICTURE_PX = 326  # the picture of a card on a phone of 360 pixels
MARGIN_MM = 6.0


def on_screen(plan, spots=()):
    """Every tag's box in CSS pixels on the smallest picture, and the picture's own."""
    card = plan.layout.card
    frame = Box(-MARGIN_MM, -MARGIN_MM, card.width_mm + 2 * MARGIN_MM, card.height_mm + 2 * MARGIN_MM)
    tags = tags_on_screen(plan, Settings(), frame, spots)
    scale = PICTURE_PX / frame.width
    names = [light.label for light in plan.layout.lights] + ["Battery"] * (plan.layout.battery is not None)
    sizes = [label_px(name) for name in names] + [(SPOT_PX, SPOT_PX)] * len(spots)
    boxes = [
        Box(
            (tag.at[0] - frame.left) * scale - wide / 2,
            (tag.at[1] - frame.top) * scale - high / 2,
            wide,
            high,
        )
        for tag, (wide, high) in zip((*tags.marks, *tags.spots), sizes, strict=True)
    ]
    return tags, boxes, Box(0.0, 0.0, PICTURE_PX, frame.height * scale)


def crowd(count, apart_mm):
    """Lights in a square as near as that, a battery circle beside them."""
    side = math.ceil(math.sqrt(count))
    lights = tuple(
        LightMark(f"L{k + 1}", 30.0 + apart_mm * (k % side), 30.0 + apart_mm * (k // side))
        for k in range(count)
    )
    return Plan(Layout(Card(107.95, 139.7), lights, BatteryMark(75.0, 100.0, 20.9)))


@pytest.mark.parametrize("apart_mm", [3.0, 5.0, 7.0])
def test_names_and_numbers_of_near_marks_keep_apart_and_inside(apart_mm):
    plan = crowd(9, apart_mm)
    centres = [light.centre for light in plan.layout.lights]
    spots = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in combinations(centres, 2)][:12]
    _, boxes, picture = on_screen(plan, spots)
    assert [pair for pair in combinations(range(len(boxes)), 2) if boxes[pair[0]].meets(boxes[pair[1]])] == []
    assert all(picture.holds(box) for box in boxes)


def test_several_numbers_of_one_place_keep_apart_and_lead_to_it():
    spots = [(60.0, 60.0)] * 4
    tags, boxes, _ = on_screen(crowd(1, 7.0), spots)
    numbers = boxes[-4:]
    assert not any(one.meets(other) for one, other in combinations(numbers, 2))
    # Each line ends at the place, before the small ring round it (a millimetre of the picture).
    assert all(math.dist(tag.to, (60.0, 60.0)) < 1.5 for tag in tags.spots)


def test_numbers_at_the_cards_edges_and_beyond_stay_in_the_picture():
    card = crowd(1, 7.0).layout.card
    spots = [(0.0, 0.0), (card.width_mm, 0.0), (card.width_mm + 3, card.height_mm + 3)]
    _, boxes, picture = on_screen(crowd(1, 7.0), spots)
    assert all(picture.holds(box) for box in boxes)


def test_a_card_packed_full_still_has_a_place_for_every_tag():
    plan = crowd(100, 7.5)
    tags, _, _ = on_screen(plan, [light.centre for light in plan.layout.lights][:30])
    assert len(tags.marks) == 101 and len(tags.spots) == 30


def test_a_name_keeps_off_the_tapes():
    plan = harbour_plan()
    _, boxes, _ = on_screen(plan)
    card = plan.layout.card
    scale = PICTURE_PX / (card.width_mm + 2 * MARGIN_MM)
    for line in (plan.traces.positive, plan.traces.negative):
        for x, y in line:
            at = ((x + MARGIN_MM) * scale, (y + MARGIN_MM) * scale)
            assert all(math.dist(box.nearest(at), at) > 0 for box in boxes)


def test_without_a_battery_circle_there_is_no_name_for_one():
    plan = crowd(2, 20.0)
    tags, _, _ = on_screen(replace(plan, layout=replace(plan.layout, battery=None)))
    assert len(tags.marks) == 2
