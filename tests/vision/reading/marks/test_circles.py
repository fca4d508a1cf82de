"""Which rings are battery circles."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from vision.reading.marks.battery import THING_STEP, Ring
from vision.reading.marks.circles import PLAINLY_RIM, judge_rings
from vision.reading.marks.likeness import CHANNELS, PX_PER_MM, STRIDE, Likeness

PENCILLED = Ring(
    x_mm=30.0,
    y_mm=30.0,
    radius_mm=10.0,
    cover=1.0,
    wobble_mm=0.1,
    longest_gap_deg=4.0,
    inside_tone=1.0,
    busy=0.0,
    step=0.0,
    sigma_mm=0.05,
    radius_sigma_mm=0.05,
)
OTHER = replace(PENCILLED, x_mm=70.0)


def battery_map(*seen: tuple[Ring, float]) -> Likeness:
    """What the network takes for a battery's place, and how surely."""
    maps = np.zeros((len(CHANNELS), 140, 220), np.float32)
    likeness = Likeness(maps, PX_PER_MM / STRIDE, 0.0)
    for ring, chance in seen:
        x, y = likeness.to_px(np.array([[ring.x_mm, ring.y_mm]]))[0]
        radius = round(ring.radius_mm * likeness.px_per_mm)
        cv2.circle(maps[CHANNELS.index("battery")], (round(x), round(y)), radius, chance, -1)
    return likeness


@pytest.mark.parametrize(
    ("rim", "chance", "circles"),
    [
        (1.1 * PLAINLY_RIM, 0.9, 1),  # a coin that lies beside the circle
        (0.3, 0.9, 2),
        (0.6 * PLAINLY_RIM, 0.9, 2),
        (1.1 * PLAINLY_RIM, 1.0, 2),
    ],
)
def test_a_coin_beside_the_battery_circle_is_no_second_one(rim: float, chance: float, circles: int) -> None:
    other = replace(OTHER, step=rim * THING_STEP)
    likeness = battery_map((PENCILLED, 1.0), (other, chance))
    found, rims = judge_rings([PENCILLED, other], likeness)
    assert len(found) == circles and all(circle.sure for circle in found)
    assert (rims == [other]) == (circles == 1)


def test_a_coin_alone_in_the_batterys_place_still_tells_it() -> None:
    # A cell that lies in the circle traced round it hides the pencil.
    cell = replace(PENCILLED, step=1.1 * PLAINLY_RIM * THING_STEP)
    likeness = battery_map((cell, 0.9))
    found, rims = judge_rings([cell], likeness)
    assert len(found) == 1 and rims == []
