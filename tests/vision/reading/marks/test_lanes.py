"""The pencilled lane is followed from the battery past the lights, and what can't be followed is no lane."""

import math

import cv2
import numpy as np
import pytest

from vision.reading.marks.lanes import beside, find_lane
from vision.reading.marks.likeness import CHANNELS, Likeness
from vision.reading.marks.seen import SeenCircle, SeenLight

BATTERY = SeenCircle(20, 20, 20.6, 0.1, 0.1)
SEEN = np.ones((160, 160), np.float32)  # all of an 80 mm card, two pixels to the millimetre


def with_lines(*lines: np.ndarray) -> Likeness:
    """A network's answer that sees circuit lines along these polylines. [mm]"""
    likeness = Likeness(np.zeros((len(CHANNELS), *SEEN.shape), np.float32), 2.0, 0.0)
    plane = np.zeros(likeness.maps.shape[1:], np.uint8)
    for line in lines:
        at = np.round(likeness.to_px(line) * 16).astype(np.int32)
        cv2.polylines(plane, [at], False, 1, 2, shift=4)
    likeness.maps[CHANNELS.index("line")] = plane
    return likeness


def lights(*places: tuple[float, float]) -> list[SeenLight]:
    return [SeenLight(x, y, 3.0, 0.1) for x, y in places]


@pytest.mark.parametrize("half", [1.2, 2.3])
def test_a_lane_is_followed_round_sharp_corners_and_across_itself(half: float) -> None:
    places = [(45.0, 20.0), (60.0, 45.0), (30.0, 60.0), (38.0, 34.0), (70.0, 60.0)]
    start = np.array([30.3, 20.0])
    middle = np.vstack([start, places, [[73.0, 62.4]]])
    lane = find_lane(with_lines(beside(middle, half), beside(middle, -half)), SEEN, BATTERY, lights(*places))
    assert lane is not None
    # a map pixel has 0.25 mm
    assert abs(lane.apart_mm / 2 - half) < 0.25
    # from the battery on, light after light; half a map pixel and the map's own width
    assert np.abs(lane.middle[:6] - middle[:6]).max() < 0.8
    assert math.dist(lane.middle[-1], middle[-1]) < 1.5


@pytest.mark.parametrize("corner", [(60.0, 20.0), (36.0, 52.0)])
def test_a_lane_may_bend_where_there_is_no_light(corner: tuple[float, float]) -> None:
    places = [(60.0, 50.0), (75.0, 60.0)]
    middle = np.array([BATTERY.centre, corner, *places], dtype=np.float64)
    middle[0] += (middle[1] - middle[0]) / np.hypot(*(middle[1] - middle[0])) * BATTERY.diameter_mm / 2
    lane = find_lane(with_lines(beside(middle, 1.8), beside(middle, -1.8)), SEEN, BATTERY, lights(*places))
    assert lane is not None and lane.sure
    # a map pixel to either side; the corners here lie on the map's own grid
    assert np.hypot(*(lane.middle[:4] - middle).T).max() < 0.36


def test_what_the_square_hides_of_a_lane_is_no_gap() -> None:
    places = [(75.0, 20.0), (75.0, 60.0)]
    middle = np.array([[BATTERY.x_mm + BATTERY.diameter_mm / 2, 20.0], *places])
    likeness = with_lines(beside(middle, 1.8), beside(middle, -1.8))
    seen = SEEN.copy()
    (left, top), (right, bottom) = likeness.to_px(np.array([[42.0, 8.0], [64.0, 30.0]])).astype(int)
    seen[top:bottom, left:right] = 0
    likeness.maps[CHANNELS.index("line")] *= seen
    lane = find_lane(likeness, seen, BATTERY, lights(*places))
    assert lane is not None and lane.sure
    # a map pixel to either side
    assert np.hypot(*(lane.middle[1:3] - middle[1:]).T).max() < 0.36


def test_a_leg_whose_lines_are_not_to_be_seen_is_bridged_but_not_surely() -> None:
    places = [(45.0, 20.0), (45.0, 38.0), (75.0, 38.0)]
    first = np.array([[BATTERY.x_mm + BATTERY.diameter_mm / 2, 20.0], places[0]])
    last = np.array([places[1], places[2]])
    lines = [beside(part, side) for part in (first, last) for side in (1.8, -1.8)]
    lane = find_lane(with_lines(*lines), SEEN, BATTERY, lights(*places))
    assert lane is not None and not lane.sure
    assert len(lane.middle) >= 4


def test_lines_that_do_not_come_from_the_battery_are_no_lane() -> None:
    places = [(45.0, 60.0), (65.0, 60.0)]
    middle = np.array([[40.0, 60.0], [70.0, 60.0]])
    likeness = with_lines(beside(middle, 1.8), beside(middle, -1.8))
    assert find_lane(likeness, SEEN, BATTERY, lights(*places)) is None


def test_one_single_line_is_no_lane() -> None:
    middle = np.array([[30.0, 20.0], [60.0, 20.0]])
    assert find_lane(with_lines(middle), SEEN, BATTERY, lights((60.0, 20.0))) is None
