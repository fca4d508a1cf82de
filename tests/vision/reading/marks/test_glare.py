"""Patches that a lamp's reflection whites out, on drawn cards."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.vision.reading.marks.straight_cards import KRAFT, WHITE, three_dots
from vision.reading.marks import find_marks
from vision.straight_card import StraightCard


def glared(straight: StraightCard, x_mm: float, y_mm: float, reach_mm: float, adds: float) -> StraightCard:
    """The same, 0.7 as bright as a camera takes it that a lamp dazzles, with that lamp's reflection on it."""
    rows, columns = np.mgrid[: straight.pixels.shape[0], : straight.pixels.shape[1]]
    at = (np.array([x_mm, y_mm]) + straight.margin_mm) * straight.px_per_mm
    off_mm = np.hypot(columns - at[0], rows - at[1]) / straight.px_per_mm
    added = adds * np.exp(-((off_mm / reach_mm) ** 2) / 2)[..., None]
    return replace(straight, pixels=np.clip(straight.pixels * 0.7 + added, 0, 255).astype(np.uint8))


def a_card(paper: tuple[int, int, int] = WHITE) -> StraightCard:
    return three_dots(3).straight(paper)


@pytest.mark.parametrize("paper", [WHITE, KRAFT])
def test_a_card_whited_out_over_a_dot_is_doubted_there(paper: tuple[int, int, int]) -> None:
    seen = find_marks(glared(a_card(paper), 60, 24, 8, 300))
    assert not seen.sure
    [doubt] = [doubt for doubt in seen.doubts if doubt.says.key == "glare"]
    # The patch is some 10 mm wide; its middle is the lamp's own place but for the paper's grain at its rim.
    assert doubt.where_mm is not None and math.dist(doubt.where_mm, (60, 24)) < 1.5


def test_marks_show_through_weak_glare_and_nothing_is_said() -> None:
    seen = find_marks(glared(a_card(), 60, 24, 8, 60))
    assert seen.sure and len(seen.lights) == 3 and seen.doubts == ()


def test_paper_that_is_nearly_white_all_over_hides_nothing() -> None:
    bright = a_card()
    seen = find_marks(replace(bright, pixels=np.clip(bright.pixels * 1.2, 0, 255).astype(np.uint8)))
    assert seen.sure and len(seen.lights) == 3 and seen.doubts == ()


def test_a_bright_thing_on_the_card_is_no_glare() -> None:
    dim = a_card()
    pixels = (dim.pixels * 0.7).astype(np.uint8)
    reach = round(8 * dim.px_per_mm)
    row, column = (round((at + dim.margin_mm) * dim.px_per_mm) for at in (46, 50))
    pixels[row - reach : row + reach, column - reach : column + reach] = 255
    assert find_marks(replace(dim, pixels=pixels)).hidden == ()
