"""Placings without pictures run, and say what a reading would."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.benchmarks import placing_geometry
from tests.benchmarks.placing_geometry import main, placing_of, setting_of
from tests.card_kit.outlines import rectangle


def test_the_table_runs(capsys):
    main(["--seed", "5", "--count", "3"])
    told = capsys.readouterr().out.splitlines()
    assert told[1].startswith("all             3")
    assert any(line.startswith("said to be bent") for line in told)


def test_a_flat_card_of_its_very_size_seen_without_error_is_placed_to_a_tenth(monkeypatch):
    for name in (
        "EDGE_PX",
        "WAVE_PX",
        "POINT_PX",
        "STEP_PX",
        "STEP_SPREAD_PX",
        "SIDE_PX",
        "SIDE_POINT_PX",
        "MARK_MM",
    ):
        monkeypatch.setattr(placing_geometry, name, 0.0)
    rng = np.random.default_rng(3)
    setting = setting_of(rng, curl=0.0)
    assert setting is not None
    card = replace(setting.card, corners_mm=rectangle(*setting.card.nominal_mm), wander_mm=np.zeros((4, 2)))
    sheet = replace(setting.sheet, along_mm=np.array([-500.0, 500.0]), reach_mm=np.array([-500.0, 500.0]))
    flat = replace(setting, card=card, sheet=replace(sheet, lift_mm=np.zeros(2)))
    placing = placing_of(flat, rng)
    assert placing is not None
    # The square's thickness and its own slack of some hundredths are all that is not known.
    assert placing.off.max() < 0.1
    assert not placing.doubted


def test_what_is_far_from_any_mark_is_wrong_and_a_wide_bound_doubted():
    sure = placing_geometry.Placing(0.0, 0.0, np.array([0.1, 1.2]), np.array([0.3, 0.4]))
    assert sure.wrong
    assert not sure.doubted
    assert replace(sure, bounds=np.array([0.3, 0.9])).doubted
