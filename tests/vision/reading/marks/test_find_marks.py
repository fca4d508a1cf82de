"""Every kind of mark on drawn cards whose truth is exact."""

import math

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon

from circuit.layout import Card
from tests.vision.reading.marks.straight_cards import BLUE, KRAFT, PINK, WHITE, Sheet
from vision.reading.marks import MarksSeen, find_marks
from vision.reading.marks.lines import _ruled
from vision.straight_card import StraightCard

DOTS = [(18.3, 22.7, 2.2), (40.1, 15.4, 3.0), (60.6, 30.2, 4.0), (24.9, 60.8, 5.0), (50.2, 52.1, 2.6)]


def drawn_dots(seed: int = 1) -> tuple[Sheet, list[tuple[float, float, float]]]:
    sheet = Sheet(80, 100, seed)
    truth = [sheet.dot(x, y, diameter) for x, y, diameter in DOTS]
    return sheet, truth


def errors(seen: MarksSeen, truth: list[tuple[float, float, float]]) -> list[float]:
    return [min(math.dist(light.centre, (x, y)) for light in seen.lights) for x, y, _ in truth]


@pytest.mark.parametrize("paper", [WHITE, KRAFT, PINK, BLUE])
def test_dots_and_circle_are_found_on_any_paper(paper: tuple[int, int, int]) -> None:
    sheet, truth = drawn_dots()
    x, y, diameter = sheet.ring(58.2, 78.4, 20.6)
    seen = find_marks(sheet.straight(paper))
    assert len(seen.lights) == len(truth)
    # an eighth of a millimetre is one pixel of the straightened card
    assert max(errors(seen, truth)) < 0.15
    assert all(light.sure for light in seen.lights)
    (circle,) = seen.circles
    assert circle.sure
    assert math.dist(circle.centre, (x, y)) < 0.15
    assert circle.diameter_mm == pytest.approx(diameter, abs=0.2)
    assert seen.window is None and seen.drawn_lines == () and seen.sure


def test_dots_are_found_through_a_hands_shadow() -> None:
    sheet, truth = drawn_dots(2)
    sheet.shade(0.5, 3.0)
    seen = find_marks(sheet.straight())
    # A shadow's edge, 3 mm wide and half as dark as the paper, runs over one dot and shifts its middle.
    assert len(seen.lights) == len(truth) and max(errors(seen, truth)) < 0.25


@pytest.mark.parametrize(
    "pixels",
    [
        np.full((500, 400, 3), 235, np.uint8),
        np.zeros((500, 400, 3), np.uint8),
        np.full((500, 400, 3), 255, np.uint8),
        np.random.default_rng(0).integers(0, 255, (500, 400, 3), np.uint8),
    ],
    ids=["blank", "black", "white", "noise"],
)
def test_nothing_is_found_where_nothing_is_drawn(pixels: np.ndarray) -> None:
    seen = find_marks(StraightCard(pixels, 5.0, Card(80, 100)))
    assert seen.lights == () and seen.circles == () and seen.window is None
    assert seen.drawn_lines == () and seen.crossed_out == ()


def test_a_picture_smaller_than_a_dot_gives_nothing() -> None:
    assert find_marks(StraightCard(np.full((6, 6, 3), 200, np.uint8), 5.0, Card(1.2, 1.2))).lights == ()


def test_clutter_alone_gives_no_light_and_no_circle() -> None:
    sheet = Sheet(90, 110, 3)
    sheet.word("coin cell", 12, 20, 4.0)
    sheet.word("battery", 30, 60, 5.0, turn_deg=12)
    sheet.word("LED 47", 15, 90, 3.5)
    sheet.plus(70, 30)
    sheet.minus(70, 45)
    sheet.stroke([(10, 5), (10, 105)], 0.3, 0.27)
    for x in (40, 50, 60):
        sheet.speck(x, 100, 0.7)
    sheet.smudge(60, 80)
    seen = find_marks(sheet.straight())
    assert seen.lights == () and seen.circles == ()


def test_marks_at_the_rim_are_found_and_the_cards_edge_is_not_one() -> None:
    sheet = Sheet(70, 90, 4)
    truth = [sheet.dot(4.0, 45, 3), sheet.dot(66, 45, 3), sheet.dot(35, 4.0, 3), sheet.dot(35, 86, 3)]
    seen = find_marks(sheet.straight())
    assert len(seen.lights) == 4 and max(errors(seen, truth)) < 0.2


def test_a_dot_that_pencil_lines_touch_keeps_its_centre() -> None:
    sheet = Sheet(80, 80, 5)
    truth = [sheet.dot(40, 40, 3.2), sheet.dot(60, 40, 3.2)]
    sheet.stroke([(10, 41.5), (75, 41.5)])
    sheet.stroke([(10, 38.0), (75, 38.0)])
    sheet.stroke([(60, 5), (60, 75)])
    seen = find_marks(sheet.straight())
    assert len(seen.lights) == 2
    # the line's own ink at the rim may count as the dot's
    assert max(errors(seen, truth)) < 0.25


def test_a_crossed_out_dot_is_no_light_and_is_said_so() -> None:
    sheet = Sheet(80, 80, 6)
    kept = sheet.dot(20, 20)
    struck = sheet.dot(55, 50)
    sheet.cross_out(struck[0], struck[1], 4.5)
    seen = find_marks(sheet.straight())
    # one pixel of the straightened card each
    assert [math.dist(light.centre, kept[:2]) < 0.15 for light in seen.lights] == [True]
    assert len(seen.crossed_out) == 1 and math.dist(seen.crossed_out[0], struck[:2]) < 0.15
    assert any(note.says.key == "crossed-out" for note in seen.notes)


def test_a_plain_small_disc_beside_larger_dots_is_a_light() -> None:
    sheet = Sheet(80, 100, 5)
    marks = [sheet.dot(x, y, d) for x, y, d in ((20.0, 30.0, 4.0), (55.0, 40.0, 4.0), (38.0, 70.0, 2.0))]
    seen = find_marks(sheet.straight())
    assert len(seen.lights) == 3 and seen.sure and max(errors(seen, marks)) < 0.2


def test_a_rubbed_out_dot_is_a_doubt_and_no_silent_light() -> None:
    sheet = Sheet(80, 80, 7)
    for x in (20, 40, 60):
        sheet.dot(x, 25, 3.2, press=0.9)
    sheet.dot(40, 60, 3.2, press=0.32)
    seen = find_marks(sheet.straight())
    ghosts = [light for light in seen.lights if light.y_mm > 50]
    assert all(not light.sure for light in ghosts)
    if ghosts or seen.maybe:
        assert not seen.sure and seen.doubts


def test_a_circle_with_a_small_gap_is_sure_and_half_a_circle_is_not() -> None:
    sheet = Sheet(80, 80, 8)
    sheet.ring(40, 40, 20.6, sweep_deg=335)
    assert [circle.sure for circle in find_marks(sheet.straight()).circles] == [True]
    sheet = Sheet(80, 80, 8)
    sheet.ring(40, 40, 20.6, sweep_deg=180)
    assert not any(circle.sure for circle in find_marks(sheet.straight()).circles)


def test_two_circles_are_both_told() -> None:
    sheet = Sheet(80, 80, 9)
    sheet.ring(22, 40, 20.6)
    sheet.ring(56, 40, 20.6)
    assert [circle.sure for circle in find_marks(sheet.straight()).circles] == [True, True]


def test_a_coin_of_its_own_colour_is_no_battery_circle() -> None:
    sheet = Sheet(90, 90, 10)
    sheet.coin(60, 30, 20, (180, 120, 70))
    x, y, _ = sheet.ring(28, 60, 20.6)
    seen = find_marks(sheet.straight())
    # one pixel of the straightened card
    assert [math.dist(circle.centre, (x, y)) < 0.15 for circle in seen.circles if circle.sure] == [True]
    assert seen.lights == ()
    assert any(note.says.key == "something-round" for note in seen.notes)


def test_a_coin_as_grey_as_pencil_never_hides_the_battery_circle() -> None:
    # Its dark rim looks like a drawn ring; then both are told and the photo is refused, not guessed at.
    sheet = Sheet(90, 90, 10)
    sheet.coin(60, 30, 20, (205, 203, 198))
    x, y, _ = sheet.ring(28, 60, 20.6)
    seen = find_marks(sheet.straight())
    assert any(math.dist(circle.centre, (x, y)) < 0.2 and circle.sure for circle in seen.circles)
    assert seen.lights == ()


SHAPES = {
    "triangle": [(20.0, 75.0), (45.0, 20.0), (78.0, 70.0)],
    "house": [(20.0, 80.0), (20.0, 45.0), (45.0, 20.0), (70.0, 45.0), (70.0, 80.0)],
    "round": [(48 + 24 * math.cos(t), 48 + 24 * math.sin(t)) for t in np.linspace(0, 2 * np.pi, 61)[:-1]],
    "boat": [(15.0, 60.0), (45.0, 57.0), (45.0, 20.0), (75.0, 60.0), (65.0, 80.0), (25.0, 80.0)],
}


@pytest.mark.parametrize("name", list(SHAPES))
def test_the_window_is_read_as_a_clean_polygon_of_its_shape(name: str) -> None:
    sheet = Sheet(95, 110, 11)
    traced = sheet.stroke(SHAPES[name], 0.5, 0.6, 0.05, closed=True)
    truth = [sheet.dot(45, 66)]
    sheet.word("window", 10, 100)
    seen = find_marks(sheet.straight())
    assert seen.window is not None and seen.window.sure
    got, want = Polygon(seen.window.outline).buffer(0), Polygon(traced).buffer(0)
    assert got.intersection(want).area / got.union(want).area > 0.95
    assert len(seen.window.outline) < 60
    assert not seen.circles  # 48 mm across is no cell
    assert len(seen.lights) == len(truth)


def lane_card(seed: int) -> tuple[Sheet, list[list[tuple[float, float]]]]:
    sheet = Sheet(90, 110, seed)
    sheet.ring(25, 25, 20.6)
    sheet.dot(55, 55, 2.6)
    sheet.dot(70, 70, 2.6)
    step = 2.3 / math.sqrt(2)
    lines = [[(33 + sign * step, 33 - sign * step), (76 + sign * step, 76 - sign * step)] for sign in (1, -1)]
    for line in lines:
        sheet.stroke(line, 0.45, 0.55, 0.04)
    return sheet, lines


def test_a_plus_sign_far_round_the_circle_belongs_to_neither_line() -> None:
    sheet, _ = lane_card(12)
    sheet.plus(22, 42)
    seen = find_marks(sheet.straight())
    assert [line.polarity for line in seen.drawn_lines] == [None, None]


@pytest.mark.parametrize(
    ("across", "down", "ruled"),
    [(False, False, False), (True, False, False), (False, True, False), (True, True, True)],
    ids=["a plus", "and a minus beside it", "and a stroke below it", "ruled lines"],
)
def test_a_crossing_of_ruled_lines_is_no_plus_sign(across: bool, down: bool, ruled: bool) -> None:
    scale = 8.0  # px to the millimetre; the sign is 3 mm large
    others = np.zeros((120, 120), np.bool_)
    if across:
        others[60, 76:96] = True
    if down:
        others[80:110, 61] = True
    arm = np.arange(48, 73)
    rows = np.concatenate([np.full_like(arm, 60), arm])
    columns = np.concatenate([arm, np.full_like(arm, 60)])
    assert _ruled(others, rows, columns, scale) == ruled


def test_the_pencilled_circuit_is_read_as_two_lines_from_the_battery_on() -> None:
    sheet, lines = lane_card(12)
    sheet.plus(38, 25)
    seen = find_marks(sheet.straight())
    assert len(seen.drawn_lines) == 2
    for line in seen.drawn_lines:
        start, end = line.points[0], line.points[-1]
        want = min(lines, key=lambda points: math.dist(points[0], start))
        assert math.dist(start, (25, 25)) < math.dist(end, (25, 25))
        # the ends are where the two stop being seen side by side, a millimetre or two from the pencil's end
        assert math.dist(start, want[0]) < 2.5 and math.dist(end, want[1]) < 2.5
    by_polarity = {line.polarity: line for line in seen.drawn_lines}
    assert set(by_polarity) == {"positive", "negative"}
    assert by_polarity["positive"].points[0][0] > by_polarity["negative"].points[0][0]
    assert len(seen.lights) == 2


def test_polarity_is_not_guessed_without_a_sign() -> None:
    sheet, _ = lane_card(13)
    assert {line.polarity for line in find_marks(sheet.straight()).drawn_lines} == {None}


def test_turning_the_card_turns_the_answer() -> None:
    sheet, truth = drawn_dots(14)
    sheet.ring(58.2, 78.4, 20.6)
    sheet.stroke([(10.0, 10.0), (70.0, 12.0), (68.0, 62.0), (12.0, 66.0)], closed=True)
    straight = sheet.straight(jpeg=0)
    before = find_marks(straight)
    turned = StraightCard(
        np.ascontiguousarray(np.rot90(straight.pixels, -1)),
        straight.px_per_mm,
        Card(straight.card.height_mm, straight.card.width_mm),
        straight.margin_mm,
    )
    after = find_marks(turned)
    assert len(after.lights) == len(before.lights) == len(truth)
    for light in before.lights:
        place = (straight.card.height_mm - light.y_mm, light.x_mm)
        assert min(math.dist(place, other.centre) for other in after.lights) < 0.05
    assert before.window is not None and after.window is not None
    moved = Polygon([(straight.card.height_mm - y, x) for x, y in before.window.outline])
    again = Polygon(after.window.outline)
    assert moved.intersection(again).area / moved.union(again).area > 0.98


@pytest.mark.slow
def test_the_stated_sigma_covers_the_true_centres() -> None:
    inside, rings_inside, rings = [], 0, 0
    for seed in range(10):
        rng = np.random.default_rng(seed)
        sheet = Sheet(70, 70, seed)
        truth = [
            sheet.dot(
                float(x + rng.uniform(-1, 1)),
                float(y + rng.uniform(-1, 1)),
                float(rng.uniform(2.2, 4.5)),
                ragged=0.09,
            )
            for x in (10, 22, 34, 46, 58)
            for y in (10, 22, 34)
        ]
        ring = sheet.ring(float(rng.uniform(20, 50)), 54, 20.6)
        seen = find_marks(sheet.straight(noise=3.0, blur_mm=float(rng.uniform(0.05, 0.15))))
        for x, y, _ in truth:
            light = min(seen.lights, key=lambda each: math.dist(each.centre, (x, y)))
            inside.append(math.dist(light.centre, (x, y)) < 2.45 * light.sigma_mm)  # 95 %, see below
        for circle in seen.circles[:1]:
            rings += 1
            rings_inside += math.dist(circle.centre, ring[:2]) < 2.45 * circle.sigma_mm
    # 2.45 sigma bound 95 % of a round normal error; 150 dots tell the share to 4 %
    assert np.mean(inside) >= 0.90
    assert rings == 10 and rings_inside >= 8


def test_reading_alters_nothing_it_was_given() -> None:
    sheet, _ = drawn_dots(15)
    straight = sheet.straight()
    before = straight.pixels.copy()
    find_marks(straight)
    assert cv2.norm(before, straight.pixels) == 0
