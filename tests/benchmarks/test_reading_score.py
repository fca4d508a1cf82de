"""The scorer of readings: fails what is wrong, passes what is right, whichever way the card lies."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from circuit.layout import BatteryMark, Card, DrawnLine, Layout, LightMark, Reading
from tests.benchmarks import photo_simulator, reading
from tests.benchmarks.photo_simulator import __main__ as simulate
from tests.benchmarks.reading_score import Score, compare, pair, start, turned

SURE = Reading("photo.jpg", "coded", 30.0, 0.3, True)
CORNERS = np.array([(0.0, 0.0), (108.2, 0.0), (108.0, 139.5), (0.1, 139.8)])
LINES = {"positive": [[70.0, 100.0], [30.0, 42.0]], "negative": [[73.0, 98.0], [33.0, 39.0]]}


def truth_of(**changes):
    truth = {
        "photo": "photo.jpg",
        "tier": "C",
        "expect": "read",
        "reason": None,
        "card": {
            "width_mm": 108.1,
            "height_mm": 139.65,
            "colour": "white",
            "corners_mm": CORNERS.tolist(),
            "corners_px": (CORNERS * 8).tolist(),
        },
        "square": {
            "kind": "coded",
            "side_mm": 30.0,
            "corners_px": [[-200, 0], [-20, 0], [-20, 180], [-200, 180]],
        },
        "lights": [{"x_mm": 30.0, "y_mm": 40.0}, {"x_mm": 60.0, "y_mm": 42.0}],
        "battery": {"x_mm": 75.0, "y_mm": 110.0, "diameter_mm": 20.5},
        "window": [[20.0, 20.0], [80.0, 20.0], [80.0, 60.0], [20.0, 60.0]],
        "lines": LINES,
        "camera": {"tilt_deg": 12.0, "k1": 0.02},
        "image": {"width": 1512, "height": 2016, "jpeg_quality": 80},
        "curl_mm": 0.0,
        "scene": {"table": "oak", "light": "lamp", "shadow": "none", "glare": False, "square_on_card": False},
    }
    return truth | changes


def layout_of(truth, side=0, shift=(0.0, 0.0)):
    """The reading that is right but for `shift`, with the card's side `side` on top."""

    def place(points):
        return turned(np.asarray(points, dtype=float), CORNERS, side) + np.array(shift)

    lights = place([(m["x_mm"], m["y_mm"]) for m in truth["lights"]])
    ring = place([(truth["battery"]["x_mm"], truth["battery"]["y_mm"])])[0]
    lines = tuple(
        DrawnLine(tuple((float(x), float(y)) for x, y in place(points)), name)
        for name, points in LINES.items()
    )
    return Layout(
        Card(107.95, 139.7),
        tuple(LightMark(f"L{k}", float(x), float(y), 3.0, 0.3) for k, (x, y) in enumerate(lights)),
        BatteryMark(float(ring[0]), float(ring[1]), 20.6, 0.3, 0.3),
        tuple((float(x), float(y)) for x, y in place(truth["window"])),
        lines,
    )


def score_of(truth, layout, sure=True) -> Score:
    score = start(truth)
    compare(score, truth, layout, replace(SURE, sure=sure))
    return score


@pytest.mark.parametrize("side", [0, 1, 2, 3])
def test_a_right_reading_is_perfect_whichever_side_is_on_top(side):
    truth = truth_of()
    score = score_of(truth, layout_of(truth, side))
    assert score.perfect and not score.silent_wrong
    assert [mark[0] for mark in score.lights] == pytest.approx([0, 0], abs=1e-9)
    assert (score.window, score.lines) == ("right", "right")


def test_a_small_error_is_measured_and_held_against_its_bound():
    truth = truth_of()
    score = score_of(truth, layout_of(truth, shift=(0.3, 0.4)))
    assert score.perfect
    assert score.lights[0][0] == pytest.approx(0.5) and score.lights[0][1] == 0.3
    assert reading.covered(score.lights).strip() == "0.0"


def test_a_light_missed_invented_or_far_off_is_a_silent_wrong_answer_unless_doubted():
    truth = truth_of()
    right = layout_of(truth)
    missing = replace(right, lights=right.lights[:1])
    invented = replace(right, lights=(*right.lights, LightMark("L9", 90.0, 20.0)))
    off = layout_of(truth, shift=(1.2, 0.0))
    bad_ring = replace(right, battery=replace(right.battery, diameter_mm=22.3))
    no_ring = replace(right, battery=None)
    for layout in (missing, invented, off, bad_ring, no_ring):
        assert score_of(truth, layout).silent_wrong
        assert not score_of(truth, layout, sure=False).silent_wrong
        assert not score_of(truth, layout, sure=False).perfect
    assert score_of(truth, missing).missed == 1 and score_of(truth, invented).extra == 1


def test_a_photo_to_refuse_that_is_read_as_sure_is_a_silent_wrong_answer():
    truth = truth_of(expect="refuse", reason="square and card disagree")
    assert score_of(truth, layout_of(truth)).silent_wrong
    assert score_of(truth, layout_of(truth), sure=False).refused_rightly


def test_windows_and_lines_are_judged():
    truth = truth_of()
    right = layout_of(truth)
    small = replace(right, window=((20.0, 20.0), (80.0, 20.0), (80.0, 50.0), (20.0, 50.0)))
    assert score_of(truth, small).window == "poor"
    # The outlines are laid on a grid: a row of it is a hundredth.
    assert score_of(truth, small).window_iou == pytest.approx(0.75, abs=0.01)
    assert score_of(truth, replace(right, window=None)).window == "missed"
    swapped = tuple(
        replace(line, polarity={"positive": "negative", "negative": "positive"}[line.polarity])
        for line in right.drawn_lines
    )
    assert score_of(truth, replace(right, drawn_lines=swapped)).lines == "wrong polarity"
    assert score_of(truth, replace(right, drawn_lines=swapped[:1])).lines == "poor"
    assert score_of(truth_of(lines=None), right).lines == "invented"


def test_pairing_takes_the_best_whole_not_the_nearest_first():
    true, read = np.array([(0.0, 0.0), (2.0, 0.0)]), np.array([(1.1, 0.0), (3.5, 0.0)])
    assert [(i, j) for i, j, _ in pair(true, read)] == [(0, 0), (1, 1)]
    assert pair(true, np.array([(10.0, 0.0)])) == []
    assert pair(np.zeros((0, 2)), read) == []


def test_the_benchmark_runs_on_simulated_photos(tmp_path, capsys):
    assert photo_simulator.__doc__
    simulate.main([str(tmp_path), "--count", "1", "--seed", "3", "--tier", "A", "--refuse-share", "0"])
    simulate.main([str(tmp_path), "--count", "1", "--seed", "4", "--tier", "A", "--refuse", "no square"])
    scores = reading.main([str(tmp_path), "--out", str(tmp_path / "scores.json")])
    printed = capsys.readouterr().out
    assert len(scores) == 2 and "tier A" in printed and "no square" in printed
    assert [s["photo"] for s in json.loads((tmp_path / "scores.json").read_text())] == [
        s.photo for s in scores
    ]
    assert all(s.outcome != "crash" and s.decode_seconds > 0 for s in scores)
    assert not any(s.silent_wrong for s in scores)
    again = reading.main([str(tmp_path / "scores.json")])
    assert [(s.photo, s.outcome, s.perfect) for s in again] == [
        (s.photo, s.outcome, s.perfect) for s in scores
    ]


def test_every_kind_of_bad_photo_is_listed():
    truth = truth_of()
    bad = replace(layout_of(truth), lights=layout_of(truth).lights[:1])
    silent, doubted = score_of(truth, bad), score_of(truth, bad, sure=False)
    refused, crashed = start(truth), start(truth)
    refused.outcome, refused.cause, refused.says = "refused", "no-card", ["I can't make out the card."]
    crashed.says = ["ValueError: no"]
    lines = reading.bad_photos([doubted, refused, silent, crashed])
    assert [line.split()[0] for line in lines] == ["CRASH", "SILENT", "wrong,", "refused"]
    assert "missed a light at (60.0, 42.0) mm, px (480, 336)" in lines[1]
    assert "tier C" in reading.table([silent, doubted])
