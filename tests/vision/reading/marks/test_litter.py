"""What lies on a card, sticks to it or is punched through it is no light, or is asked about."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.benchmarks.photo_simulator.graphite import PX_PER_MM
from tests.benchmarks.photo_simulator.litter import STREWN, Litter
from tests.card_kit.outlines import Points
from tests.vision.reading.marks.straight_cards import three_dots
from vision.reading.marks import find_marks
from vision.reading.marks.seen import MarksSeen
from vision.straight_card import StraightCard

DOTS = np.array([(20.0, 20.0), (60.0, 24.0), (58.0, 70.0)])
PLACES = np.array([(40.0, 12.0), (12.0, 45.0), (38.0, 45.0), (68.0, 46.0), (45.0, 90.0), (68.0, 88.0)])
TABLE = np.float32((0.25, 0.14, 0.07))  # linear light of brown wood; chosen
GAMMA = 2.2  # about that of sRGB, IEC 61966-2-1


def littered(kind: str, seed: int) -> tuple[StraightCard, Litter]:
    """Three dots and a circle, and one kind of things at two of six places."""
    straight = three_dots(seed).straight()
    litter = Litter((math.ceil(100 * PX_PER_MM), math.ceil(80 * PX_PER_MM)), np.array([0.5, -0.6]), 1.0)
    [draw] = [draw for name, _, _, draw in STREWN if name == kind]
    rng = np.random.default_rng(seed)
    for place in rng.permutation(PLACES)[:2]:
        draw(rng, litter, place)
    high, wide = (round(side * straight.px_per_mm) for side in (100, 80))
    stained, over, gone = (
        cv2.resize(plane, (wide, high), interpolation=cv2.INTER_AREA)
        for plane in (litter.stained, litter.over, litter.gone)
    )
    first = round(straight.margin_mm * straight.px_per_mm)
    pixels = straight.pixels.copy()
    card = pixels[first : first + high, first : first + wide]
    light = (card / np.float32(255)) ** GAMMA * stained
    light += gone[..., None] * (TABLE - light)
    light = light * (1 - over[..., 3:]) + over[..., :3]
    card[:] = np.clip(np.round(255 * np.clip(light, 0, 1) ** (1 / GAMMA)), 0, 255)
    return replace(straight, pixels=pixels), litter


def wrong_in_silence(seen: MarksSeen) -> list[Points]:
    """Places of sure lights that are none of the three dots."""
    sure = [np.array(light.centre) for light in seen.lights if light.sure]
    return [place for place in sure if np.hypot(*(DOTS - place).T).min() > 1]


@pytest.mark.parametrize("kind", [name for name, *_ in STREWN])
def test_what_lies_on_a_card_is_no_sure_light(kind: str) -> None:
    for seed in range(4):
        straight, _ = littered(kind, seed)
        seen = find_marks(straight)
        assert wrong_in_silence(seen) == []
        # None of the dots is lost for it: each within the project's aim of a millimetre.
        found = np.array([light.centre for light in seen.lights])
        assert all(np.hypot(*(found - dot).T).min() < 1 for dot in DOTS)
