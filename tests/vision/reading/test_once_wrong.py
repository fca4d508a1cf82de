"""Simulated photos that an earlier reading was sure of and got wrong: never again in silence.

Each stands for a kind of mistake; the reader knows neither seed nor number. A doubt or a refusal is enough.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.benchmarks.photo_simulator.__main__ import main as simulate
from tests.benchmarks.reading import score_photo


@pytest.mark.parametrize(
    ("seed", "number"),
    [
        pytest.param(2718, 298, id="pencil-line-well-inside-a-bent-white-card"),
        pytest.param(9876, 744, id="edge-a-millimetre-off-on-marble"),
        pytest.param(1357, 758, id="bent-card-seen-aslant"),
        pytest.param(5623, 422, id="bent-card-that-a-tile-makes-another-size"),
        pytest.param(5623, 805, id="outer-rim-of-the-card's-shadow"),
        pytest.param(9753, 499, id="pencilled-fold-taken-for-an-edge"),
        pytest.param(1864, 21, id="edge-half-along-a-stripe-explained-by-a-bend"),
        pytest.param(1864, 331, id="speckled-dot-on-brown-card"),
        pytest.param(1593, 403, id="bent-edge-laid-over-the-cloth"),
        pytest.param(1593, 474, id="dot-paled-by-glare-on-grainy-brown-card"),
        pytest.param(1593, 458, id="dot-paled-by-glare"),
        pytest.param(3690, 339, id="bend-that-rests-on-a-third-of-an-edge"),
        pytest.param(3690, 535, id="half-filled-dot-alone"),
        pytest.param(3690, 973, id="phone's-camera-for-a-square"),
        pytest.param(4321, 877, id="pencil-line-beside-the-edge"),
        pytest.param(4321, 705, id="bent-card-on-stripes"),
        pytest.param(4321, 169, id="half-filled-dot-on-a-line"),
        pytest.param(1234, 19, id="light-in-the-shadow-of-a-finger"),
        pytest.param(6420, 574, id="thinly-filled-dot-on-rough-card"),
        pytest.param(1021, 231, id="bent-card-on-white-tiles"),
        pytest.param(3141, 721, id="mere-hook-of-a-dot-in-a-lane"),
        pytest.param(505, 850, id="square-cut-by-the-frame"),
    ],
)
def test_a_photo_that_was_once_read_wrongly_is_right_or_doubted(seed: int, number: int, tmp_path: Path):
    _is_right_or_doubted(seed, number, tmp_path, "--clean")


@pytest.mark.parametrize(
    ("seed", "number"),
    [
        pytest.param(520101, 554, id="arch-with-one-side-higher"),
        pytest.param(520105, 503, id="flat-topped-arch-taken-for-a-low-one"),
        pytest.param(520105, 564, id="corner-that-rises-late"),
        pytest.param(530102, 401, id="flat-topped-arch-seen-aslant"),
        pytest.param(530103, 251, id="lopsided-arch-taken-for-a-raised-end"),
        pytest.param(530105, 559, id="bent-end-of-a-card-whose-edges-bow"),
        pytest.param(530105, 565, id="peaked-arch"),
    ],
)
def test_a_card_bent_unevenly_that_was_once_read_wrongly_is_right_or_doubted(
    seed: int, number: int, tmp_path: Path
):
    _is_right_or_doubted(seed, number, tmp_path)


@pytest.mark.parametrize(
    ("seed", "number"),
    [
        pytest.param(520102, 909, id="dot-at-the-rim-of-a-finger's-shadow"),
        pytest.param(520103, 887, id="half-filled-dot-that-lane-and-window-cross"),
    ],
)
def test_a_mark_that_was_once_missed_on_paper_as_it_is_is_right_or_doubted(
    seed: int, number: int, tmp_path: Path
):
    _is_right_or_doubted(seed, number, tmp_path)


@pytest.mark.parametrize(
    ("seed", "number", "bend", "curl"), [(810101, 0, "s", "1.5"), (810110, 3, "corners", "3.5")]
)
def test_a_card_bent_both_ways_or_at_two_corners_that_was_once_read_wrongly_is_right_or_doubted(
    seed: int, number: int, bend: str, curl: str, tmp_path: Path
):
    _is_right_or_doubted(seed, number, tmp_path, "--bend", bend, "--curl", curl, "--refuse-share", "0")


@pytest.mark.parametrize("number", [5, 8])
def test_a_card_whose_both_ends_rise_that_was_once_read_wrongly_is_right_or_doubted(
    number: int, tmp_path: Path
):
    _is_right_or_doubted(850102, number, tmp_path, "--bend", "ends", "--curl", "3.5", "--refuse-share", "0")


def _is_right_or_doubted(seed: int, number: int, tmp_path: Path, *wishes: str) -> None:
    simulate([str(tmp_path), "--count", "1", "--first", str(number), "--seed", str(seed), *wishes])
    (truth_file,) = tmp_path.glob("*.json")
    score = score_photo(truth_file)
    assert score.outcome != "crash", score.says
    assert not score.silent_wrong, (score.detail, json.loads(truth_file.read_text())["scene"])
