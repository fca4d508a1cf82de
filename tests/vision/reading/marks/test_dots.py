"""What the marks of one card say about each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.reading.marks.straight_cards import Sheet
from vision.reading.marks.blobs import Blob
from vision.reading.marks.dots import (
    CROSSED_OUT,
    ODD_SIZE,
    Judged,
    Verdict,
    _judge,
    _unless_alone,
    _unless_in_lane,
    _with_lines,
    _with_others,
)
from vision.reading.marks.ink import read_ink
from vision.reading.marks.likeness import CHANNELS, PX_PER_MM, STRIDE, Likeness

DOT = Blob(
    x_mm=20.0,
    y_mm=30.0,
    radius_mm=2.0,
    level=0.5,
    middle=1.0,
    floor=0.9,
    holes=0.0,
    ragged_mm=0.05,
    long=0.02,
    strays=0.02,
    edge_mm=0.4,
    sigma_mm=0.05,
)
# A small e as a blurred photo shows it: its loop has filled up, and strokes leave it.
LETTER = replace(DOT, x_mm=50.0, radius_mm=1.1, floor=0.68, holes=0.05, ragged_mm=0.17, strays=0.46)


def light(blob: Blob) -> Judged:
    return Judged(blob, "light", "a letter or a scribble", 0.95, True)


def test_a_blurred_letter_much_smaller_than_the_dots_is_no_sure_light() -> None:
    marks = [light(DOT), light(replace(DOT, y_mm=60.0)), light(LETTER)]
    assert [_with_others(mark, marks).verdict for mark in marks] == ["light", "light", "doubt"]


def test_small_discs_larger_marks_and_lonely_ones_stay_lights() -> None:
    disc = replace(DOT, x_mm=50.0, radius_mm=1.1)
    larger = replace(LETTER, radius_mm=1.01 * ODD_SIZE * DOT.radius_mm)
    for blob in (disc, larger):
        marks = [light(DOT), light(blob)]
        assert _with_others(marks[1], marks).verdict == "light"
    alone = light(LETTER)
    assert _with_others(alone, [alone]).verdict == "light"


def lines_at(*offsets_mm: float) -> Likeness:
    """A card on which lines run upright, so far to the right of the dot's middle."""
    maps = np.zeros((len(CHANNELS), 160, 160), np.float32)
    likeness = Likeness(maps, PX_PER_MM / STRIDE, 0.0)
    for offset in offsets_mm:
        column = round(float(likeness.to_px(np.array([[DOT.x_mm + offset, DOT.y_mm]]))[0, 0]))
        maps[CHANNELS.index("line"), :, column - 1 : column + 2] = 1.0
    return likeness


@pytest.mark.parametrize(
    ("offsets", "change", "verdict"),
    [
        ((-2.3, 2.3), {}, "light"),
        ((2.3,), {}, "doubt"),
        ((), {}, "doubt"),
        ((-2.3, 2.3), {"why": CROSSED_OUT}, "doubt"),
        ((-2.3, 2.3), {"chance": 0.3}, "doubt"),
        ((-2.3, 2.3), {"blob": replace(DOT, radius_mm=0.6)}, "doubt"),
    ],
    ids=["between two", "beside one", "alone", "perhaps crossed out", "hardly a light", "a speck"],
)
def test_a_mark_that_is_likely_a_light_is_one_between_two_circuit_lines(
    offsets: tuple[float, ...], change: dict[str, object], verdict: Verdict
) -> None:
    mark = Judged(DOT, "doubt", "strokes", 0.7, True)
    mark = replace(mark, **change)  # type: ignore[arg-type]
    assert _with_lines(lines_at(*offsets), mark, DOT.level).verdict == verdict


@pytest.mark.parametrize(
    ("change", "chance", "verdict"),
    [
        ({}, 0.05, "doubt"),
        ({}, 0.0, "nothing"),
        ({"middle": 0.56, "holes": 0.03, "level": 0.24}, 0.03, "doubt"),
        ({"level": 0.15}, 0.05, "nothing"),
        ({"holes": 0.3}, 0.05, "nothing"),
        ({"radius_mm": 0.7}, 0.05, "nothing"),
    ],
    ids=["solid and round", "the network sees nothing", "half filled", "pale", "a loop", "a speck"],
)
def test_a_solid_round_spot_is_not_dropped_where_the_network_has_a_hint_of_a_light(
    change: dict[str, float], chance: float, verdict: Verdict
) -> None:
    # Strays of 0.11, as of a light in a finger's shadow, are a little more than a plain disc's.
    blob = replace(DOT, strays=0.11, **change)
    assert _judge(lines_at(), blob, chance, 0.0, blob.level / DOT.level).verdict == verdict


@pytest.mark.parametrize(
    ("words", "change", "verdict"),
    [
        (0, {}, "doubt"),
        (3, {}, "nothing"),
        (0, {"radius_mm": 0.7}, "nothing"),
        (0, {"holes": 0.3}, "nothing"),
        (0, {"level": 0.03}, "nothing"),
    ],
    ids=["alone", "among strokes", "a speck", "a loop", "hardly any ink"],
)
def test_a_pale_round_spot_with_nothing_about_it_is_not_dropped(
    words: int, change: dict[str, float], verdict: Verdict
) -> None:
    sheet = Sheet(60, 60, 4)
    for k in range(words):
        sheet.stroke([(17.5 + 2.5 * k, 26.0), (17.5 + 2.5 * k, 34.0)], 0.5, 0.6)
    ink = read_ink(sheet.straight())
    pale = replace(DOT, radius_mm=1.3, level=0.15, middle=0.8, floor=0.5, holes=0.05, strays=0.24)
    item = Judged(replace(pale, **change), "nothing", "", 0.0, False)
    assert _unless_alone(ink, item, 0.35).verdict == verdict


@pytest.mark.parametrize(
    ("offsets", "chance", "light_mm", "verdict"),
    [
        ((-1.8, 1.8), 0.04, 20.0, "doubt"),
        ((-1.8, 1.8), 0.01, 20.0, "nothing"),
        ((1.8,), 0.04, 20.0, "nothing"),
        ((-1.8, 1.8), 0.04, 2.4, "nothing"),
    ],
    ids=["in a lane", "the network sees nothing", "beside one line", "part of a light"],
)
def test_a_hook_of_pencil_in_a_lane_is_not_dropped(
    offsets: tuple[float, ...], chance: float, light_mm: float, verdict: Verdict
) -> None:
    hook = Judged(
        replace(DOT, radius_mm=0.62, strays=0.36, ragged_mm=0.16, long=0.33), "nothing", "", chance, False
    )
    light = Judged(replace(DOT, x_mm=DOT.x_mm + light_mm), "light", "", 0.99, True)
    assert _unless_in_lane(lines_at(*offsets), hook, [light, hook]).verdict == verdict
