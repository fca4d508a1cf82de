"""Verdicts on dark spots: from chances to lights, doubts and nothing, one mark where spots overlap."""

from __future__ import annotations

import numpy as np
import pytest

from tests.vision.reading.marks.straight_cards import Sheet
from vision.reading.marks.dots import (
    LEAST_DOUBTED,
    LEAST_SURE,
    SILENT_WRONG_IN_LOOKS,
    Judged,
    judge_dots,
    verdict_of,
)
from vision.reading.marks.ink import read_ink
from vision.reading.marks.likeness import read_likeness
from vision.reading.marks.spots import find_spots


def judged(sheet: Sheet) -> list[Judged]:
    straight = sheet.straight()
    ink = read_ink(straight)
    likeness = read_likeness(straight, ink)
    return judge_dots(ink, likeness, find_spots(ink, likeness))


def test_the_limits_are_where_a_doubt_costs_as_much_as_a_verdict() -> None:
    # Bayes' rule for minimum risk: at the limit one look costs as much as the mark's risk of being wrong in silence.
    assert pytest.approx(1 - LEAST_DOUBTED) == SILENT_WRONG_IN_LOOKS * LEAST_DOUBTED
    assert pytest.approx(LEAST_SURE) == SILENT_WRONG_IN_LOOKS * (1 - LEAST_SURE)


@pytest.mark.parametrize(
    ("light", "crossed", "verdict"),
    [
        (LEAST_SURE, 0.0, "light"),
        (LEAST_SURE - 0.001, 0.0, "doubt"),
        (LEAST_DOUBTED, 0.0, "doubt"),
        (0.5, 0.5, "doubt"),
        (LEAST_DOUBTED - 0.001, 0.0, None),
        (0.01, 0.9, "crossed"),
        (0.01, 0.4, None),
    ],
)
def test_chances_become_verdicts(light: float, crossed: float, verdict: str | None) -> None:
    assert verdict_of(light, crossed) == verdict


def test_plain_dots_are_lights_and_a_struck_out_one_is_none() -> None:
    sheet = Sheet(100, 100, 2)
    places = [sheet.dot(25, 25, 3.2)[:2], sheet.dot(70, 30, 2.6)[:2], sheet.dot(30, 70, 4.0)[:2]]
    struck = sheet.dot(75, 75, 3.2)
    sheet.cross_out(struck[0], struck[1], 4.5)
    found = judged(sheet)
    lights = [item.blob for item in found if item.verdict == "light"]
    assert len(lights) == len(places)
    for x, y in places:
        # A tenth of a millimetre: the rays' own step.
        assert min(np.hypot(blob.x_mm - x, blob.y_mm - y) for blob in lights) < 0.1
    assert [item.verdict for item in found if np.hypot(item.blob.x_mm - 75, item.blob.y_mm - 75) < 2] == [
        "crossed"
    ]


def test_bare_paper_has_no_marks() -> None:
    assert judged(Sheet(60, 60, 4)) == []


def test_spots_on_one_another_are_one_mark() -> None:
    sheet = Sheet(60, 60, 3)
    sheet.dot(30, 30, 4.6, press=0.6, patchy=0.8)
    found = judged(sheet)
    assert len(found) == 1 and found[0].verdict in ("light", "doubt")
    for k, one in enumerate(found):
        assert not any(one.blob.overlaps(other.blob) for other in found[:k])


def test_a_word_is_no_light() -> None:
    sheet = Sheet(80, 60, 5)
    sheet.dot(15, 15, 3.0)
    sheet.word("glow", 30, 40, 5.0)
    assert [item for item in judged(sheet) if item.verdict == "light" and item.blob.y_mm > 30] == []
