"""The whole overlay: everything in its place in pixels, the same every time, whatever the card."""

import math
from dataclasses import replace

import numpy as np
import pytest

from circuit.layout import BatteryMark, Card, DrawnLine, Layout, LightMark, Move
from circuit.part_kinds import LightPart
from circuit.plan import Plan, SeenMarks
from circuit.settings import Settings
from tests.pictures import assert_alike
from tests.vision.drawing.overlay.plans import (
    HARBOUR_SIDES,
    crowded_plan,
    harbour_plan,
    paper_photo,
    problem,
)
from vision.drawing.backdrop import drawn, photographed
from vision.drawing.colours import NEGATIVE, POSITIVE, SHEET
from vision.drawing.overlay import draw_overlay, picture
from vision.drawing.panel import panel_for
from vision.drawing.subject import subject_of


def card_picture(plan, straight=None, settings=None):
    """The panel alone, without labels and callouts, and its geometry."""
    settings = settings or Settings()
    panel = panel_for(plan.layout.card)
    backdrop = drawn(plan.layout, panel) if straight is None else photographed(straight, panel)
    card = picture.card_picture(subject_of(plan, settings), panel, backdrop)
    return np.asarray(card).astype(float), panel


def colour_at(pixels, panel, point_mm):
    x, y = panel.at(point_mm)
    return pixels[round(y), round(x)]


def likeness(colour, wanted):
    """Cosine of the angle between two colours as seen from white."""
    a, b = 255 - np.asarray(colour, dtype=float), 255 - np.asarray(wanted, dtype=float)
    return a @ b / max(1e-9, np.linalg.norm(a) * np.linalg.norm(b))


def test_the_traces_edges_are_where_the_plan_says():
    plan = harbour_plan()
    pixels, panel = card_picture(plan, paper_photo(plan.layout.card))
    # Straight down through the upright run of both traces, well away from signs and lights.
    x_mm, y_mm = {"positive": 32.5, "negative": 27.5}, 57.0
    row = round(panel.at((0, y_mm))[1])
    for name, wanted in (("positive", POSITIVE), ("negative", NEGATIVE)):
        line = np.array([likeness(pixel, wanted) for pixel in pixels[row]])
        middle = round(panel.at((x_mm[name], 0))[0])
        left = middle - np.argmax(line[middle::-1] < 0.93) + 1
        right = middle + np.argmax(line[middle:] < 0.93) - 1
        edges = panel.at((x_mm[name] - 1.25, 0))[0] + 0.5, panel.at((x_mm[name] + 1.25, 0))[0] - 0.5
        # [px] The edge's own pixel is neither tape nor card.
        assert left == pytest.approx(edges[0], abs=1.0)
        assert right == pytest.approx(edges[1], abs=1.0)


@pytest.mark.parametrize("side_deg", [0.0, 37.0, 90.0, -120.0, 180.0])
@pytest.mark.parametrize("body", [(5.0, 5.0), (3.5, 2.8), (2.0, 1.25)])
def test_the_positive_end_is_on_the_positive_side(side_deg, body):
    part = LightPart("test", *body, 1.0)
    plan = Plan(Layout(Card(60.0, 60.0), (LightMark("L1", 30.0, 30.0, 2.0),)))
    pixels, panel = card_picture(replace(plan, sides_deg={"L1": side_deg}), settings=Settings(light=part))
    way = (math.cos(math.radians(side_deg)), math.sin(math.radians(side_deg)))
    # Beside the sign, in the middle of each pad end.
    reach, aside = part.length_mm / 2 * 0.74, part.width_mm / 2 * 0.7
    for sign, wanted, other in ((1, POSITIVE, NEGATIVE), (-1, NEGATIVE, POSITIVE)):
        point = (
            30.0 + sign * way[0] * reach - way[1] * aside,
            30.0 + sign * way[1] * reach + way[0] * aside,
        )
        seen = colour_at(pixels, panel, point)
        assert likeness(seen, wanted) > 0.95 > likeness(seen, other)


def test_a_light_whose_side_is_unknown_carries_no_sign():
    plan = Plan(Layout(Card(60.0, 60.0), (LightMark("L1", 30.0, 30.0, 2.0),)))
    pixels, _ = card_picture(plan)
    for wanted in (POSITIVE, NEGATIVE):
        assert np.abs(pixels - np.array(wanted)).max(axis=2).min() > 40


def test_the_photo_lies_where_the_marks_are():
    # A dark spot in the photo must lie under the light that was read from it.
    card = Card(100.0, 80.0)
    straight = paper_photo(card, px_per_mm=17.3)
    pixels = straight.pixels.copy()
    spot = straight.to_px(np.array([[61.3, 22.7]]))[0]
    ys, xs = np.mgrid[0 : pixels.shape[0], 0 : pixels.shape[1]]
    pixels[np.hypot(xs - spot[0], ys - spot[1]) < 1.5 * 17.3] = 40
    panel = panel_for(card)
    seen = photographed(replace(straight, pixels=pixels), panel).pixels.mean(axis=2)
    left, top, right, bottom = panel.card_box
    rows, cols = np.nonzero(seen[top:bottom, left:right] < 120)
    # [px] A card's corner lies on whole pixels of the panel: half a pixel is 0.05 mm.
    assert (cols.mean() + left, rows.mean() + top) == pytest.approx(panel.at((61.3, 22.7)), abs=0.5)


@pytest.mark.parametrize("px_per_mm", [2.0, 6.3, 30.0])
def test_any_scale_of_photo_fits_the_card(px_per_mm):
    card = Card(90.0, 70.0)
    panel = panel_for(card)
    backdrop = photographed(paper_photo(card, px_per_mm), panel)
    left, top, right, bottom = panel.card_box
    inside = backdrop.pixels[top + 20 : bottom - 20, left + 20 : right - 20]
    assert inside.std(axis=(0, 1)).max() < 6  # paper all over: no table has slipped in
    corner = backdrop.pixels[top - 12, left - 12].astype(int)
    assert np.abs(corner - inside[0, 0]).max() > 40  # and the rim shows the table


def test_uneven_light_is_evened_out_and_the_card_keeps_its_colour():
    card = Card(90.0, 70.0)
    paper = (230, 190, 140)
    panel = panel_for(card)
    pixels = photographed(paper_photo(card, paper=paper), panel).pixels.astype(float)
    left, top, right, bottom = panel.card_box
    inside = pixels[top + 20 : bottom - 20, left + 20 : right - 20]
    columns = inside.mean(axis=(0, 2))
    assert columns.max() / columns.min() < 1.06  # the photo falls off by a third
    assert inside.mean(axis=(0, 1)) / inside.mean() == pytest.approx(
        np.array(paper) / np.mean(paper), abs=0.03
    )


def test_the_same_plan_gives_the_same_picture():
    plan = crowded_plan(107.95, 139.7, 8, 6, seed=5)
    one = draw_overlay(None, plan, Settings())
    two = draw_overlay(None, plan, Settings())
    assert_alike("same-plan", one, two)


def test_without_a_photo_the_marks_are_pencilled():
    plan = Plan(
        Layout(
            Card(80.0, 60.0),
            (LightMark("L1", 20.0, 30.0, 4.0),),
            BatteryMark(55.0, 30.0, 22.0),
            window=((10.0, 20.0), (32.0, 20.0), (32.0, 42.0)),
            drawn_lines=(DrawnLine(((55.0, 30.0), (20.0, 30.0)), None),),
        )
    )
    panel = panel_for(plan.layout.card)
    bare = drawn(plan.layout, panel).bare
    assert bare[tuple(round(v) for v in panel.at((20.0, 30.0))[::-1])] < 0.7
    ring = [panel.at((55 + 11 * math.cos(a), 30 + 11 * math.sin(a))) for a in np.linspace(0, 6.28, 60)]
    hit = [bare[round(y) - 4 : round(y) + 5, round(x) - 4 : round(x) + 5].min() < 0.8 for x, y in ring]
    assert np.mean(hit) > 0.95
    assert bare[tuple(round(v) for v in panel.at((70.0, 52.0))[::-1])] > 0.97


@pytest.mark.parametrize("card", [(40.0, 40.0), (300.0, 45.0), (60.0, 300.0), (300.0, 300.0), (5.0, 5.0)])
def test_any_card_is_drawn(card):
    plan = (
        crowded_plan(*card, lights=3, problems=4, seed=1) if min(card) > 10 else Plan(Layout(Card(*card), ()))
    )
    overlay = draw_overlay(None, plan, Settings())
    assert overlay.mode == "RGB"
    assert 1440 <= overlay.width <= 2160
    edges = np.asarray(overlay)
    # Nothing is cut off at the sides or at the bottom.
    for strip in (edges[:, 0], edges[:, -1], edges[-1]):
        assert np.array_equal(strip, np.broadcast_to(np.array(SHEET, dtype=np.uint8), strip.shape))


def test_twenty_lights_and_forty_problems_only_make_it_taller():
    few = draw_overlay(None, crowded_plan(107.95, 139.7, 20, 2, seed=4), Settings())
    many = draw_overlay(None, crowded_plan(107.95, 139.7, 20, 40, seed=4), Settings())
    assert many.width == few.width
    assert many.height > few.height + 38 * 60


def test_long_words_and_odd_labels():
    lights = (LightMark("the light in the lighthouse's lantern room", 30.0, 30.0), LightMark("ω", 60.0, 30.0))
    plan = harbour_plan([problem((30, 30), advice="Un" + "break" * 60 + "able\nwords\t!")], lights=lights)
    overlay = draw_overlay(None, replace(plan, sides_deg={"ω": 12.0}), Settings(units="in"))
    edge = np.asarray(overlay)[:, -10:]
    assert np.array_equal(edge, np.broadcast_to(np.array(SHEET, dtype=np.uint8), edge.shape))


def test_moves_doubts_and_struck_out_dots_show_on_the_card():
    plain = replace(harbour_plan(), sides_deg=HARBOUR_SIDES)
    busy = replace(
        plain,
        moves=(
            Move("L2", (70.0, 40.0), (72.0, 40.0), "lights-too-close"),
            Move("battery", (30.0, 100.0), (34.0, 104.0), "battery-zone"),
            Move("L3", (95.0, 40.0), (95.0, 40.0), "none"),
        ),
        seen=SeenMarks(((80.0, 90.0),), ((80.0, 110.0),)),
    )
    one, panel = card_picture(plain)
    two, _ = card_picture(busy)
    changed = np.any(one != two, axis=2)
    for place in ((72.0, 37.5), (83.5, 90.0), (83.5, 110.0), (32.0, 102.0)):
        x, y = (round(v) for v in panel.at(place))
        assert changed[y - 8 : y + 9, x - 8 : x + 9].any(), place


def test_lack_of_room_costs_the_callouts_a_smaller_card_not_their_place(monkeypatch):
    from vision.drawing.labels import NoRoomError

    seen = []
    real = picture.annotate

    def first_refused(subject, panel, backdrop):
        seen.append(panel.px_per_mm)
        if len(seen) == 1:
            raise NoRoomError
        return real(subject, panel, backdrop)

    monkeypatch.setattr(picture, "annotate", first_refused)
    draw_overlay(None, harbour_plan([problem((50, 50))]), Settings())
    assert len(seen) == 2 and seen[1] < seen[0]


def test_a_fully_hidden_or_black_photo_is_still_drawn():
    card = Card(60.0, 40.0)
    plan = Plan(Layout(card, (LightMark("L1", 20.0, 20.0),)))
    black = paper_photo(card, paper=(0, 0, 0), table=(0, 0, 0))
    covered = replace(black, square_mm=np.array([[-5.0, -5.0], [70.0, -5.0], [70.0, 50.0], [-5.0, 50.0]]))
    for straight in (black, covered):
        assert draw_overlay(straight, plan, Settings()).mode == "RGB"
