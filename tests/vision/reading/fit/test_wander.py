"""How far the edges of one card wander is told by its own photo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.reading.fit.test_fit import SIZE, camera, evidence
from vision.reading.fit.parameters import HALF_WAVES, WANDER_FALL
from vision.reading.fit.solve import fit_card
from vision.reading.fit.wander import BOWS_MM, likely_bow_mm, with_likely_wander


def wandering(bow_mm: float, seed: int):
    """A card's edges whose half waves are dice of this scale, along what the fit takes for its edges' lengths."""
    seen, rng = evidence(camera(), 0.3, seed), np.random.default_rng(seed)
    edges = []
    for edge in seen.edges:
        share = np.linspace(0, 1, len(edge.points) + 2)[1:-1]
        heights = rng.normal(0, bow_mm, len(HALF_WAVES)) / HALF_WAVES**WANDER_FALL
        off_mm = np.sin(np.pi * share[:, None] * HALF_WAVES) @ heights
        px_per_mm = np.linalg.norm(np.diff(edge.points[[0, -1]], axis=0)) / np.mean(SIZE)
        edges.append(replace(edge, points=edge.points + px_per_mm * off_mm[:, None] * edge.outward))
    return replace(seen, edges=tuple(edges))


@pytest.mark.parametrize("bow_mm", [0.0, 0.3])
def test_straight_edges_are_told_from_wandering_ones(bow_mm):
    fits = [fit_card(wandering(bow_mm, seed), camera(), SIZE, False, False) for seed in range(6)]
    scales = [likely_bow_mm(fit) for fit in fits]
    # Sixteen half waves tell a scale to a fifth or so; the middle one of six to much less than the factor of two.
    assert np.median(scales) < 0.06 if bow_mm == 0 else 0.15 < np.median(scales) <= BOWS_MM[-1]


def test_straight_edges_tell_more_of_a_place_than_wandering_ones():
    straight, wavy = (
        with_likely_wander(fit_card(wandering(bow, 1), camera(), SIZE, False, False)) for bow in (0.0, 0.3)
    )
    assert np.trace(straight.covariance[:5, :5]) < np.trace(wavy.covariance[:5, :5])
    assert straight.priors.bow_mm < wavy.priors.bow_mm
