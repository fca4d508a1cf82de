"""The learnt chance: it adds up, says what it was learnt from, and names what speaks against a light."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from vision.reading.marks.chances import (
    WEIGHTS_FILE,
    chances_of,
    scaled,
    softmax,
    speaking_against,
    unlike_lights,
)
from vision.reading.marks.dots import LEAST_SURE, MOST_UNLIKE
from vision.reading.marks.traits import NAMES, Traits

# A firm dot of 3 mm with bare paper about it, as the network and the rays see most of them.
USUAL = Traits(
    light=0.998,
    crossed=0.0,
    line=0.0,
    battery=0.0,
    light_about=1.0,
    light_beyond=0.02,
    diameter_mm=3.0,
    level=0.5,
    middle=1.0,
    floor=0.95,
    holes=0.0,
    ragged_mm=0.08,
    long=0.04,
    strays=0.05,
    edge_mm=0.4,
    size_ratio=1.0,
    level_ratio=1.0,
    clearness=50.0,
    rim_inked=0.02,
    far_inked=0.0,
    line_beside=0.0,
    line_between=0.0,
    arms=0.03,
    arms_past=0.03,
    piece_mm=3.2,
    letters=0.0,
    in_row=-1.0,
    nearest_mm=12.0,
)


def light_of(**changes: float) -> float:
    return float(chances_of([replace(USUAL, **changes)])[0, 0])


def test_chances_add_up_for_any_traits() -> None:
    rng = np.random.default_rng(0)
    wild = [Traits(*(rng.normal(0, 100, len(NAMES)).tolist())) for _ in range(50)]
    chances = chances_of(wild)
    assert np.isfinite(chances).all() and (chances >= 0).all()
    assert chances.sum(axis=1) == pytest.approx(np.ones(50))
    assert chances_of([]).shape == (0, 3)


def test_a_firm_dot_is_a_light_and_a_bare_stroke_crossing_is_not() -> None:
    assert light_of() > 0.99
    assert light_of(light=0.0, light_about=0.0, light_beyond=0.0, middle=0.5, holes=0.3, strays=0.5) < 0.01


def test_what_the_network_calls_crossed_out_is_no_light() -> None:
    assert light_of(light=0.02, light_about=0.05, crossed=0.99, arms=0.7) < 0.01


def test_doubt_about_the_network_s_word_lowers_the_chance() -> None:
    said = [light_of(light=chance, light_about=chance) for chance in (0.999, 0.5, 0.05, 0.0)]
    assert said == sorted(said, reverse=True)


def test_the_trait_that_speaks_most_against_a_light_would_mend_it_most() -> None:
    odd = replace(
        USUAL, light=0.3, light_about=0.4, middle=0.5, floor=0.2, holes=0.3, strays=0.4, rim_inked=0.3
    )
    among = [("middle", -1), ("holes", 1), ("strays", 1), ("rim_inked", 1), ("rim_inked", -1)]
    found = speaking_against(odd, among)
    assert found in among and found != ("rim_inked", -1)
    mended = {name: replace(odd, **{name: getattr(USUAL, name)}) for name, _ in among}
    chances = {name: float(chances_of([traits])[0, 0]) for name, traits in mended.items()}
    # This dot is near a usual one, not the very median that the weights keep: so near that the order is the same.
    assert chances[found[0]] == max(chances.values())
    assert speaking_against(odd, [("middle", 1)]) is None


def test_what_is_unlike_every_light_learnt_from_lies_far_from_them() -> None:
    # A punched hole of 6 mm over a dark table: no speckle, no ragged rim, all ink, and nothing that the network knows.
    hole = replace(
        USUAL, light=0.01, light_about=0.03, light_beyond=0.0, diameter_mm=6.1, level=0.9, size_ratio=2.0,
        level_ratio=2.0, ragged_mm=0.02, far_inked=0.33, piece_mm=6.2,
    )  # fmt: skip
    in_lane = replace(
        USUAL, line=0.5, line_beside=0.99, line_between=0.99, piece_mm=60.0, strays=0.1, arms=0.2
    )
    assert float(chances_of([hole])[0, 0]) < LEAST_SURE
    usual, lane, odd = unlike_lights([USUAL, in_lane, hole]).tolist()
    # Of 28 traits that vary together, a plain light lies within the root of their number; nothing learnt from lies
    # as far as the limit.
    assert usual < 28**0.5 and lane < 2 * 28**0.5 and odd > MOST_UNLIKE
    assert unlike_lights([]).shape == (0,)


def test_scaling_takes_odds_and_logarithms() -> None:
    row = np.array([[0.5 if name == "light" else 1.0 for name in NAMES]])
    out = scaled(row)[0]
    assert out[NAMES.index("light")] == pytest.approx(0.0) and out[NAMES.index("level")] == pytest.approx(0.0)
    assert softmax(np.array([0.0, 0.0, np.log(2.0)])) == pytest.approx([0.25, 0.25, 0.5])


def test_the_weights_say_where_they_come_from_and_fit_the_traits() -> None:
    kept = json.loads(WEIGHTS_FILE.read_text(encoding="utf-8"))
    assert tuple(kept["traits"]) == NAMES
    assert kept["about"]["script"] == "tests/benchmarks/train_spots.py" and kept["about"]["held_out"]
