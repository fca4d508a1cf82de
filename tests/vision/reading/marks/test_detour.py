"""An outline that left the pencil is led along it; what can't be mended stays as it is."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon

from tests.vision.reading.marks.straight_cards import Sheet
from vision.reading.marks.detour import along_strokes
from vision.reading.marks.ink import read_ink
from vision.reading.marks.likeness import CHANNELS, PX_PER_MM, STRIDE, Likeness
from vision.reading.marks.strokes import trace_strokes

# A house with a tower at its right, and the same as seen by who missed the tower, or filled the gap beside it.
HOUSE = [(15.0, 70.0), (15.0, 35.0), (40.0, 35.0), (40.0, 20.0), (46.0, 20.0), (46.0, 70.0)]
WITHOUT_TOWER = [(15.0, 70.0), (15.0, 35.0), (40.0, 35.0), (46.0, 35.0), (46.0, 70.0)]
NOTCHED = [
    (15.0, 70.0), (15.0, 25.0), (28.0, 25.0), (28.0, 50.0),
    (33.0, 50.0), (33.0, 25.0), (46.0, 25.0), (46.0, 70.0),
]  # fmt: skip
FILLED = [(15.0, 70.0), (15.0, 25.0), (28.0, 25.0), (33.0, 25.0), (46.0, 25.0), (46.0, 70.0)]


def drawn(*strokes: list[tuple[float, float]], closed: bool = True):
    """Ink and strokes of a card with these pencilled on it, and a map on which nothing looks like a lane."""
    sheet = Sheet(60, 90, 5)
    for points in strokes:
        sheet.stroke(points, 0.5, 0.6, 0.05, closed=closed)
    ink = read_ink(sheet.straight())
    shape = [round((side + 2 * sheet.margin_mm) * PX_PER_MM / STRIDE) for side in (90, 60)]
    maps = np.zeros((len(CHANNELS), *shape), np.float32)
    return ink, trace_strokes(ink), Likeness(maps, PX_PER_MM / STRIDE, sheet.margin_mm)


def overlap(one, other) -> float:
    first, second = Polygon(one).buffer(0), Polygon(other).buffer(0)
    return first.intersection(second).area / first.union(second).area


@pytest.mark.parametrize(
    ("true", "traced"), [(HOUSE, WITHOUT_TOWER), (NOTCHED, FILLED)], ids=["arm", "notch"]
)
def test_a_stretch_over_bare_paper_follows_the_stroke_that_joins_its_ends(true, traced):
    assert overlap(traced, true) < 0.95
    led = along_strokes(*drawn(true), np.array(traced))
    # The way goes from grid cell to grid cell, 0.4 mm each: 0.97 leaves 0.2 mm all round.
    assert overlap(led, true) > 0.97


def test_an_outline_on_its_stroke_is_left_alone():
    traced = np.array(HOUSE)
    assert along_strokes(*drawn(HOUSE), traced) is traced


def test_a_gap_that_no_stroke_bridges_is_left_alone():
    open_house = [*HOUSE[3:], HOUSE[0], (15.0, 42.0)]  # the left wall's upper end and the eaves are missing
    traced = np.array(HOUSE)
    assert along_strokes(*drawn(open_house, closed=False), traced) is traced


def test_a_blank_card_leaves_it_alone():
    traced = np.array(HOUSE)
    assert along_strokes(*drawn(), traced) is traced
