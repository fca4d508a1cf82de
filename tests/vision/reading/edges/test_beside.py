"""What lies just inside an edge is the card, or it is told to be something else."""

from __future__ import annotations

import numpy as np
import pytest

from vision.reading.edges.beside import (
    LEAST_STEP,
    STRANGE,
    courses,
    least_step,
    strangest_tint,
)
from vision.reading.edges.profiles import Course, EdgePoints

PX_PER_MM = 8.0
IVORY, LINEN = (245, 238, 215), (232, 230, 222)


def edge_at(rows: np.ndarray) -> EdgePoints:
    """An upper edge of a sheet, at these rows for x from 40 to 760."""
    x = np.linspace(40, 760, len(rows))
    outward = np.repeat([[0.0, -1.0]], len(rows), axis=0)
    return EdgePoints(np.column_stack([x, rows]), outward, 0.2, 1.0, 0.3, 1.0)


def along(rows: np.ndarray) -> list[Course]:
    return courses([edge_at(rows), None])


def ivory_on_linen(shade: np.ndarray | float = 1.0) -> np.ndarray:
    """(400, 800, 3): an ivory sheet from row 150 on, under a light that falls off as `shade` (800,) says."""
    picture = np.full((400, 800, 3), LINEN, dtype=np.float64)
    picture[150:] = IVORY
    picture *= np.broadcast_to(shade, 800)[None, :, None]
    picture += np.random.default_rng(3).normal(0, 2.0, picture.shape)
    return np.clip(np.round(picture), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("shade", [1.0, np.linspace(1.0, 0.45, 800)], ids=["even", "fall-off"])
def test_a_right_edge_has_the_card_on_its_inner_side(shade):
    assert strangest_tint(ivory_on_linen(shade), along(np.full(72, 150.0)), PX_PER_MM) < STRANGE / 2


def test_an_edge_that_runs_off_over_the_table_is_told():
    # From a third of its length on it leaves the card, by 2 mm at its end.
    slanting = 150.0 - np.clip(np.linspace(-8, 16, 72), 0, None)
    assert strangest_tint(ivory_on_linen(), along(slanting), PX_PER_MM) > STRANGE


def test_one_thing_on_the_edge_is_no_matter():
    pixels = ivory_on_linen()
    pixels[100:200, 300:370] = (200, 30, 30)  # a clip
    assert strangest_tint(pixels, along(np.full(72, 150.0)), PX_PER_MM) < STRANGE


def test_no_edge_no_strip():
    assert strangest_tint(ivory_on_linen(), courses([None, None, None, None]), PX_PER_MM) == 0.0
    assert least_step(ivory_on_linen(), [], PX_PER_MM) == 0.0


def test_a_shadow_along_the_edge_is_no_other_colour():
    pixels = ivory_on_linen()
    pixels[150:162] = pixels[150:162] * 0.7
    assert strangest_tint(pixels, along(np.full(72, 150.0)), PX_PER_MM) < STRANGE


def test_a_pencil_line_across_the_card_has_no_step():
    pixels = ivory_on_linen()
    pixels[248:252] = pixels[248:252] // 2
    assert least_step(pixels, along(np.full(72, 250.0)), PX_PER_MM) < LEAST_STEP / 2
    assert least_step(pixels, along(np.full(72, 150.0)), PX_PER_MM) > LEAST_STEP
