"""A smooth curve laid where the summed contrast across an edge is greatest.

It finds an edge far too faint to be seen in any single profile.
"""

from __future__ import annotations

import numpy as np

from vision.arrays import Floats
from vision.reading.edges.profiles import slopes
from vision.reading.middle import quantile

SMOOTH_SAMPLES = 1.6  # of the slopes that a curve is laid along; chosen
# Slopes are counted in that of a profile which six of ten stay below, none for more than that, and what falls the
# other way for a little: so a shiny thing across the edge doesn't lead the curve.
TYPICAL_SHARE, MOST_AGAINST, MOST_FOR = 0.6, -0.3, 1.0


def _grid(*counts: int) -> Floats:
    """Every combination of so many values from -1 to 1, (N, 3)."""
    axes = [np.linspace(-1, 1, count) for count in counts]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))


# Tries for offset, slant and bow, first over all of their range, then each round about the best within a share of it.
FIRST_TRIES, NEXT_TRIES, NARROWER = _grid(13, 9, 5), _grid(9, 9, 5), np.array([0.2, 0.25, 0.4])
ROUNDS = 4


def lay_along(profiles: Floats, offsets: Floats, bow_px: float) -> Floats | None:
    """(N,) offsets of the curve along which (N, M) profiles fall most, from inside to outside; None where nothing
    falls that way. bow_px : how far the curve may be bent."""
    falls = -slopes(profiles, SMOOTH_SAMPLES)
    typical = quantile(falls.max(axis=1), TYPICAL_SHARE)
    if typical <= 0:
        return None
    return lay_curve(np.clip(falls / typical, MOST_AGAINST, MOST_FOR), offsets, bow_px)


def lay_curve(strength: Floats, offsets: Floats, bow_most: float) -> Floats:
    """Offsets (N,) of the smooth curve a + b u + c (u^2 - 1/3), u in -1..1, of greatest mean strength."""
    count, across = strength.shape
    u = np.linspace(-1, 1, count)
    shapes = np.stack([np.ones(count), u, u**2 - 1 / 3])
    spacing = offsets[1] - offsets[0]
    # Nothing is gained beyond either end: a column of zeros there, so that one look-up serves all curves.
    walled = np.zeros((count, across + 2), np.float32)
    walled[:, 1:-1] = strength
    flat, row_starts = walled.ravel(), np.arange(count, dtype=np.float32) * (across + 2)
    to_column, first = (shapes / spacing).astype(np.float32), np.float32(1 - offsets[0] / spacing)
    centre, span, tries = np.zeros(3), np.array([offsets[-1], offsets[-1], bow_most]), FIRST_TRIES
    for _ in range(ROUNDS):
        curves = centre + tries * span
        columns = curves.astype(np.float32) @ to_column
        columns += first
        np.rint(columns, out=columns)
        np.clip(columns, 0, across + 1, out=columns)
        columns += row_starts
        centre = curves[int(np.argmax(flat[columns.astype(np.int32)].sum(axis=1)))]
        span, tries = span * NARROWER, NEXT_TRIES
    curve: Floats = centre @ shapes
    return curve
