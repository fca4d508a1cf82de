"""What the recording of placings tells is true, and the price learnt from it finds what it should."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.placing_price import AS_THEY_ARE, BY_LOGARITHM, is_wrong, judge, learn
from tests.benchmarks.placing_samples import PhotoSample, PlacingSample, kept, make
from tests.benchmarks.reading_score import Score


def test_a_recorded_photo_agrees_with_its_score(tmp_path: Path):
    out = tmp_path / "samples.jsonl"
    assert make(out, 881, range(1), 1, 60.0) == 1
    assert make(out, 881, range(1), 1, 60.0) == 0  # what is there already is left alone
    (photo,) = kept([out])
    assert photo.told.outcome == "read"
    stood = [one for one in photo.placings if one.stood]
    assert len(stood) == 1
    # The marks' errors are the placing's and the marks' own, found to a tenth of a millimetre or so.
    worst = max(error for error, *_ in photo.told.lights)
    assert worst == pytest.approx(stood[0].off_mm, abs=0.15)
    assert stood[0].rms_mm <= stood[0].off_mm


def made_up(number: int, wrong: bool, doubted: bool) -> PhotoSample:
    """Wrong placings leave three times as much over; nothing else tells them."""
    rng = np.random.default_rng(number)
    measures = dict.fromkeys((*BY_LOGARITHM, *AS_THEY_ARE), 1.0)
    measures |= {"misfit": float(np.exp(rng.normal(1.1 if wrong else 0.0, 0.2))), "rival_dearer": 1e6}
    score = Score("x.jpg", "A", "read", None, {}, outcome="doubt" if doubted else "read")
    score.says = ["edges-faint"] if doubted else []
    return PhotoSample(1, number, asdict(score), [PlacingSample(True, 2.0 if wrong else 0.2, 0.1, measures)])


def test_a_price_finds_the_one_measure_that_tells():
    learnt = learn([made_up(k, k % 5 == 0, False) for k in range(400)])
    others = [made_up(1000 + k, k % 5 == 0, k % 7 == 0) for k in range(200)]
    placings = [one for photo in others for one in photo.placings]
    odds, wrong = learnt.log_odds(placings), is_wrong(placings)
    # Five and a half standard deviations apart: no more than a few of 200 on the wrong side of the middle.
    assert odds[wrong].min() > np.quantile(odds[~wrong], 0.97)
    told = judge(learnt, others)
    assert "200 placings, 40 wrong" in told
    assert "the reading's doubts: 29, wrong among them 6" in told
    assert "as many doubts stop 29" in told
