"""Plain measures of points and polylines in millimetres: places between, distances, lengths, headings, turns.

In:    points as a `Polyline` (x right, y down).
Out:   floats; angles in degrees, a positive turn is clockwise as seen on the card (y down).
Fails: ValueError where a measure needs more points than there are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from circuit.layout import Point, Polyline

# The rules: a turn of less is no fold, the tape is eased round it by hand.
EASED_TURN_DEG = 15.0
SHARPEST_FOLD_DEG = 135.0  # the most that folds flat: chosen with makers, common practice, no source


def between(a: Point, b: Point, share: float) -> Point:
    """The point that lies this share of the way from `a` to `b`."""
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))


def middle_of(points: Sequence[Point]) -> Point:
    """The mean of points, such as an outline's corners; ZeroDivisionError for none."""
    return (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))


def nearest_on_run(point: Point, a: Point, b: Point) -> tuple[float, Point]:
    """How far a point lies from the straight run between two others, and the run's place that is nearest to it."""
    step, length2 = (b[0] - a[0], b[1] - a[1]), math.dist(a, b) ** 2
    share = ((point[0] - a[0]) * step[0] + (point[1] - a[1]) * step[1]) / (length2 or 1.0)
    foot = between(a, b, min(max(share, 0.0), 1.0))
    return math.dist(point, foot), foot


def length(line: Polyline) -> float:
    """End to end along the line; 0.0 for a single point. [mm]"""
    return math.fsum(math.dist(a, b) for a, b in pairwise(line))


def heading_deg(a: Point, b: Point) -> float:
    """Direction from `a` to `b`, 0 = +x, 90 = down, in (-180, 180]. ValueError when they coincide."""
    if a == b:
        raise ValueError("two points at the same place have no direction")
    return math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))


def turn_deg(before_deg: float, after_deg: float) -> float:
    """Signed turn from one heading to the next, in (-180, 180]."""
    return -((before_deg - after_deg + 180.0) % 360.0 - 180.0)


def turns_deg(line: Polyline) -> tuple[float, ...]:
    """Signed turn at each inner point; two fewer than there are points."""
    headings = [heading_deg(a, b) for a, b in pairwise(line)]
    return tuple(turn_deg(a, b) for a, b in pairwise(headings))
