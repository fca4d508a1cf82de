"""The card's edges are measured, in the photo where they show, else in the small picture."""

from __future__ import annotations

import numpy as np
import pytest

from vision.reading.card.find_card import EDGE_ENDS, EDGE_POINTS, EDGE_REACH_PX, find_edges, outline_searches
from vision.reading.edges.find_edge import find_edge
from vision.reading.edges.profiles import Course
from vision.reading.sight import first_sight
from vision.reading.small_picture import halved, shrink

LEFT, TOP, RIGHT, BOTTOM = 401.5, 300.5, 1899.5, 1400.5


def faint_sheet(step: float, noise: float) -> np.ndarray:
    """(1800, 2400, 3): an upright sheet, `step` grey levels lighter than the table, in a noisy photo."""
    rng = np.random.default_rng(4)
    grey = np.full((1800, 2400, 1), 150.0)
    grey[301:1401, 402:1900] += step
    return np.clip(np.round(grey + rng.normal(0, noise, (1800, 2400, 3))), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(("step", "noise"), [(40.0, 3.0), (4.0, 20.0)])
def test_edges_are_measured_even_where_noise_drowns_them(step, noise):
    pixels = faint_sheet(step, noise)
    small = shrink(pixels)
    quad = next(quads[0] for quads in outline_searches(small, 3) if quads)
    edges = find_edges(first_sight(pixels), quad)
    assert edges is not None
    levels = (TOP, RIGHT, BOTTOM, LEFT)
    for side, (edge, level) in enumerate(zip(edges, levels, strict=True)):
        off = edge.points[:, (side + 1) % 2] - level
        # Of noise alone the mean of so many points has their standard deviation over the root of their count: three of
        # those, and a twentieth of a pixel for what the drawing's own rounding adds.
        assert abs(off.mean()) < 3 * edge.sigma_px / np.sqrt(len(off)) + 0.05


def test_the_case_above_needs_the_small_picture():
    pixels = faint_sheet(4.0, 20.0)
    small = shrink(pixels)
    quad = next(quads[0] for quads in outline_searches(small, 3) if quads)
    seen = []
    for side in range(4):
        rough = quad.course(side, EDGE_POINTS, EDGE_ENDS)
        course = Course(small.to_photo(rough.points), rough.outward)
        seen.append(find_edge(pixels, course, EDGE_REACH_PX / small.scale))
    assert any(edge is None for edge in seen)


def test_halving_keeps_the_mean_and_stops_in_time():
    pixels = np.random.default_rng(1).integers(0, 255, (120, 200, 3)).astype(np.uint8)
    assert halved(pixels, 1.9) is pixels
    half, quarter = halved(pixels, 2.0), halved(pixels, 5.0)
    assert half.shape == (60, 100, 3) and quarter.shape == (30, 50, 3)
    # A sum of four is rounded to whole levels, halves up: an eighth of a level on average.
    assert abs(half.mean() - pixels.mean()) < 0.15
    assert halved(pixels[:119], 2.0).shape == (119, 200, 3)  # an odd side is left to other ways
