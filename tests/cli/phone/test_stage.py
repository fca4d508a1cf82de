"""Where things lie on a card's picture, in per cent of it."""

import pytest

from cli.phone.card import PhoneCard
from cli.phone.stage import stage_of

FRAME = {"margin_mm": 10.0, "width_mm": 200.0, "height_mm": 100.0}
MARK = {"about": "L1", "name": "L1", "at": [90.0, 40.0], "nearest_mm": 20.0}
PROBLEM = {"number": 1, "where": [50.0, 20.0]}
QUESTION = {"id": "q", "where": None}


def stage(mark, problem):
    view = {"frame": FRAME, "marks": [mark], "problems": [problem], "questions": [QUESTION]}
    return stage_of(PhoneCard("0" * 16, "o", "t", "t", "photo.jpg", "photo.jpg", state="ready", extra=view))


def test_names_lie_off_their_mark_and_numbers_at_their_own_place_with_a_line_each():
    # The name 6 mm right of the mark and 8 mm above it; its line ends half-way, 5 mm off.
    mark = {**MARK, "tag": {"at": [96.0, 32.0], "to": [93.0, 36.0]}}
    problem = {**PROBLEM, "tag": {"at": [70.0, 20.0], "to": [52.0, 20.0]}}
    found = stage(mark, problem)
    (shown,), (spot,) = found["marks"], found["problems"]
    assert (shown["left"], shown["top"], shown["size"]) == (50.0, 50.0, 10.0)
    assert (shown["label"]["across"], shown["label"]["down"]) == (3.0, -4.0)
    assert shown["label"]["long"] == 2.5 and shown["label"]["turn"] == pytest.approx(126.9, abs=0.05)
    assert (spot["left"], spot["top"]) == (40.0, 30.0) and spot["line"] == {"long": 9.0, "turn": 180.0}
    assert found["questions"] == []


def test_a_card_that_an_earlier_version_planned_is_shown_with_its_numbers_at_their_places():
    found = stage(MARK, PROBLEM)
    (shown,), (spot,) = found["marks"], found["problems"]
    assert shown["label"] is None
    assert (spot["left"], spot["top"]) == (30.0, 30.0) and spot["line"]["long"] == 0.0
