"""Whether what lies just inside the card's edges is the card, and what lies just outside is not.

In:    the photo, courses along the edges, photo pixels per millimetre.
Out:   how far a strip along an edge differs from the card farther in, and the card from what lies beyond the edge.

An edge that was laid along something else, a stripe of a cloth beside the card, say, has a strip of table on
its inner side. Brightness says nothing there, with the lamp's fall-off and a bent card's shade; colour does.
A pencil line that was taken for the edge, a fold's across the card, say, has the same paper on both sides.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.arrays import Floats, RgbImage
from vision.reading.edges.profiles import Course, EdgePoints, sample
from vision.reading.middle import median

NEAR_MM, FARTHER_MM = np.linspace(0.5, 1.4, 7), np.linspace(3.0, 6.0, 9)  # chosen: inside of the edge
BESIDE_MM = np.linspace(1.0, 2.0, 5)  # chosen: to both sides; blur and the edge's own shadow reach less far
STRETCHES, PASSED_OVER = 8, 2  # of one edge, and the strangest of them: a clip may lie there, or marks
SIDE_STRETCHES, SIDE_PASSED_OVER = 12, 3  # of an edge as laid: where nothing is seen something mostly lies
DARKEST = 1e-3  # of linear light; below it a channel is noise
# Logarithm of light, brightness left out. Measured on 19,500 edges: none of the right ones reaches it, edges that
# lie along something else over a third of their length lie at 0.065 to 0.7.
STRANGE = 0.062
# Where the fit lays an edge, seen or not: of bent cards one of 6,400 right ones reaches it and 11 of 44 wrong ones; of
# others seen over part of an edge no right one of 38 on stripes has over half of it, wrong ones 0.12 to 0.9.
STRANGE_AS_LAID = 0.1
# Logarithm of any colour's light. Of 6,400 right cards one has less at one of its edges, of 44 wrong ones 7.
LEAST_STEP = 0.03


def courses(edges: Sequence[EdgePoints | None]) -> list[Course]:
    """Along the edges as they were seen."""
    return [edge.course for edge in edges if edge is not None]


def strangest_tint(
    pixels: RgbImage,
    along: Sequence[Course],
    px_per_mm: float,
    stretches: int = STRETCHES,
    passed_over: int = PASSED_OVER,
) -> float:
    """How far at most the strip along an edge differs from the card farther in, in colour whatever the brightness, as
    a logarithm of linear light; zero without edges."""
    parts = (stretches_inside(pixels, course, px_per_mm, stretches) for course in along)
    return max((tint_apart(part, passed_over) for part in parts), default=0.0)


def least_step(pixels: RgbImage, along: Sequence[Course], px_per_mm: float) -> float:
    """By how much at least the card differs from what lies beyond an edge, as a logarithm of linear light in the
    colour that tells most; zero without edges."""
    return min((_step(pixels, course, px_per_mm) for course in along), default=0.0)


def _step(pixels: RgbImage, course: Course, px_per_mm: float) -> float:
    places = np.concatenate([-BESIDE_MM[::-1], BESIDE_MM]) * px_per_mm
    light = sample(pixels, course, places)
    parts = [np.split(part, 2, axis=1) for part in np.array_split(light, STRETCHES) if len(part)]
    steps = [_log(middle_of(inside)) - _log(middle_of(beyond)) for inside, beyond in parts]
    return float(median(np.array([np.abs(step).max() for step in steps])))


def stretches_inside(
    pixels: RgbImage, course: Course, px_per_mm: float, stretches: int = STRETCHES
) -> list[tuple[Floats, Floats]]:
    """Linear light of each stretch along an edge: (N, M, 3) just inside it, and (N, L, 3) farther in."""
    inwards = -np.concatenate([NEAR_MM, FARTHER_MM]) * px_per_mm
    light = sample(pixels, course, inwards)
    parts = [part for part in np.array_split(light, stretches) if len(part)]
    return [(part[:, : len(NEAR_MM)], part[:, len(NEAR_MM) :]) for part in parts]


def tint_apart(parts: Sequence[tuple[Floats, Floats]], passed_over: int = PASSED_OVER) -> float:
    """How far the strip just inside an edge differs in colour from the card farther in, (N, M, 3) and (N, L, 3) of each
    of its stretches, but for the strangest of these."""
    tints = [
        np.linalg.norm(tint_of(middle_of(near)) - tint_of(middle_of(farther))) for near, farther in parts
    ]
    return float(sorted(tints, reverse=True)[min(passed_over, len(tints) - 1)])


def tint_of(light: Floats) -> Floats:
    """(3,) colour of (3,) linear light whatever its brightness."""
    logarithm = _log(light)
    tint: Floats = logarithm - logarithm.mean()
    return tint


def middle_of(light: Floats) -> Floats:
    """(3,) median of (N, M, 3) light."""
    return median(light.reshape(-1, 3), axis=0)


def _log(light: Floats) -> Floats:
    """Logarithm of linear light, of any shape."""
    return np.asarray(np.log(np.maximum(light, DARKEST)), dtype=np.float64)
