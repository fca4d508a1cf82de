"""Whether what lies just inside the card's edges is the card.

In:    the photo, the edges as laid, photo pixels per millimetre.
Out:   how far in colour a strip along an edge differs from the card farther in.

An edge that was laid along something else, a stripe of a cloth beside the card, say, has a strip of table on
its inner side. A little brightness says nothing there, with the lamp's fall-off and a bent card's shade; colour does.
Much less brightness does, too, all along: the shadow of a card that stands up, whose outer rim was taken for the edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vision.edge_points import Course, EdgePoints, sample
from vision.middle import median
from vision.photo import RgbImage
from vision.small_picture import Floats

NEAR_MM, FARTHER_MM = np.linspace(0.5, 1.4, 7), np.linspace(3.0, 6.0, 9)  # chosen: inside of the edge
SHADE_MM = 1.25  # chosen: as far in from the edge as a shadow must reach, or it may be a pencil line
STRETCHES = 8  # of one edge
PASSED_OVER = 2  # the strangest of them: a clip may lie there, or marks
SHADED = 5  # chosen: of all stretches, those that a shadow must lie along
DARKEST = 1e-3  # of linear light; below it a channel is noise
# Logarithm of light, brightness left out. Measured on 19,500 edges: none of the right ones reaches it, edges that
# lie along something else over a third of their length lie at 0.065 to 0.7.
STRANGE = 0.062
STRANGE_IF_FAINT = 0.035  # where an edge is seen over little of its length: 4 of 4,750 right cards reach it
# Logarithm of light. Measured on 6,600 right cards: one reaches it, the next 0.30; rims of shadows have 0.43 to 1.1.
SHADE = 0.35


@dataclass(frozen=True, slots=True)
class Strip:
    """How far the strip along an edge differs from the card farther in: tint, in colour whatever the brightness;
    shade, in darkness all along. Logarithms of linear light."""

    tint: float
    shade: float


def strangest_strip(pixels: RgbImage, edges: Sequence[EdgePoints | None], px_per_mm: float) -> Strip:
    """The greatest of either difference along any edge; zero without edges."""
    strips = [_strip(pixels, edge, px_per_mm) for edge in edges if edge is not None]
    return Strip(
        max((strip.tint for strip in strips), default=0.0),
        max((strip.shade for strip in strips), default=0.0),
    )


def _strip(pixels: RgbImage, edge: EdgePoints, px_per_mm: float) -> Strip:
    inwards = -np.concatenate([NEAR_MM, FARTHER_MM]) * px_per_mm
    light = sample(pixels, Course(edge.points, edge.outward), inwards)
    parts = [part for part in np.array_split(light, STRETCHES) if len(part)]
    near, farther = slice(len(NEAR_MM)), slice(len(NEAR_MM), None)
    tints = [float(np.linalg.norm(_tint(part[:, near]) - _tint(part[:, farther]))) for part in parts]
    shades = [_shade(part[:, near], part[:, farther]) for part in parts]
    return Strip(_ranked(tints, PASSED_OVER + 1), _ranked(shades, SHADED))


def _ranked(values: list[float], rank: int) -> float:
    """The rank-th greatest, or the least of fewer."""
    return sorted(values, reverse=True)[min(rank, len(values)) - 1]


def _shade(near: Floats, farther: Floats) -> float:
    """By how much the strip is darker wherever one looks across it, up to `SHADE_MM`."""
    across = np.log(np.maximum(median(near[:, NEAR_MM <= SHADE_MM], axis=0), DARKEST)).mean(axis=1)
    return float(np.log(np.maximum(median(farther.reshape(-1, 3), axis=0), DARKEST)).mean() - across.max())


def _tint(light: Floats) -> Floats:
    """(3,) colour of (N, M, 3) linear light whatever its brightness."""
    middle = np.log(np.maximum(median(light.reshape(-1, 3), axis=0), DARKEST))
    tint: Floats = middle - middle.mean()
    return tint
