"""Geometry of what is drawn on a card: shortened lines, creases, body corners, the place that a card has on a page.

In:    points in card millimetres.
Out:   points in card or page millimetres.
Fails: never for a line of two different points or more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from circuit.layout import Point, Polyline
from circuit.polyline import heading_deg, turn_deg
from circuit.tape_list import EASED_TURN_DEG, SAME_POINT_MM
from cli.pages.paper import Box


@dataclass(frozen=True, slots=True)
class Placing:
    """Card millimetres to page millimetres: scaled, then shifted; mirrored about the card's middle."""

    left: float
    top: float
    scale: float = 1.0
    mirror_width_mm: float | None = None

    def at(self, point: Point) -> Point:
        x = point[0] if self.mirror_width_mm is None else self.mirror_width_mm - point[0]
        return (self.left + x * self.scale, self.top + point[1] * self.scale)

    def along(self, points: Iterable[Point]) -> list[Point]:
        return [self.at(point) for point in points]


def tidy(line: Polyline) -> Polyline:
    """The line without points that repeat the one before."""
    kept = [line[0]]
    kept.extend(b for a, b in pairwise(line) if math.dist(a, b) > SAME_POINT_MM)
    return tuple(kept)


def shortened_line(line: Polyline, by_mm: float) -> Polyline:
    """The line with that much cut off each end; never more than a third of an end run."""
    line = tidy(line)
    if len(line) < 2:
        return line
    first = _towards(line[0], line[1], by_mm)
    last = _towards(line[-1], line[-2], by_mm)
    return (first, *line[1:-1], last)


@dataclass(frozen=True, slots=True)
class Crease:
    """Where tape is folded over: the fold's point, the slanting crease's ends, the corner's outer side."""

    at: Point
    inner: Point
    outer: Point
    turn_deg: float


def creases(line: Polyline, tape_width_mm: float) -> tuple[Crease, ...]:
    """The folds of a trace in order; turns so small that tape is eased round have none."""
    line = tidy(line)
    found = []
    for before, here, after in zip(line, line[1:], line[2:]):
        turn = turn_deg(heading_deg(before, here), heading_deg(here, after))
        if abs(turn) < EASED_TURN_DEG:
            continue
        # Towards the inner side: the sum of the unit vectors back and on.
        bx, by = _unit(here, before)
        ax, ay = _unit(here, after)
        sx, sy = bx + ax, by + ay
        size = math.hypot(sx, sy)
        if size < 1e-9:
            continue
        half = tape_width_mm / 2 / math.cos(math.radians(min(abs(turn), 150.0)) / 2)
        dx, dy = sx / size * half, sy / size * half
        found.append(Crease(here, (here[0] + dx, here[1] + dy), (here[0] - dx, here[1] - dy), turn))
    return tuple(found)


def spots_along(line: Polyline, every_mm: float, from_start_mm: float) -> Iterator[Point]:
    """Points along the line at equal distances, the middle of runs that are long enough preferred: none near a fold."""
    for a, b in pairwise(tidy(line)):
        run = math.dist(a, b)
        if run < from_start_mm:
            continue
        count = max(1, round(run / every_mm))
        for index in range(count):
            t = (index + 0.5) / count
            yield (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)


def body_corners(centre: Point, length_mm: float, width_mm: float, heading: float) -> Polyline:
    """A light's body, its length along the heading [deg]; the first two corners are the heading's side."""
    c, s = math.cos(math.radians(heading)), math.sin(math.radians(heading))
    corners = []
    for along, across in ((0.5, -0.5), (0.5, 0.5), (-0.5, 0.5), (-0.5, -0.5)):
        u, v = along * length_mm, across * width_mm
        corners.append((centre[0] + u * c - v * s, centre[1] + u * s + v * c))
    return tuple(corners)


def box_around(points: Iterable[Point]) -> Box:
    xs, ys = zip(*points)
    return Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def distance_to_box(a: Point, b: Point, box: Box) -> float:
    """From the line piece a-b to the box; 0.0 where they meet."""
    if _crosses(a, b, box):
        return 0.0
    corners = ((box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom))
    return min(
        _point_to_box(a, box), _point_to_box(b, box), *(_point_to_piece(corner, a, b) for corner in corners)
    )


def _crosses(a: Point, b: Point, box: Box) -> bool:
    """Whether any of the piece lies in the box: its share inside each pair of sides, cut down in turn."""
    first, last = 0.0, 1.0
    for start, step, low, high in (
        (a[0], b[0] - a[0], box.left, box.right),
        (a[1], b[1] - a[1], box.top, box.bottom),
    ):
        if step == 0.0:
            if not low <= start <= high:
                return False
            continue
        enters, leaves = sorted(((low - start) / step, (high - start) / step))
        first, last = max(first, enters), min(last, leaves)
    return first <= last


def _point_to_box(point: Point, box: Box) -> float:
    return math.hypot(
        max(box.left - point[0], 0.0, point[0] - box.right),
        max(box.top - point[1], 0.0, point[1] - box.bottom),
    )


def _point_to_piece(point: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    share = 0.0 if square == 0.0 else ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / square
    share = min(max(share, 0.0), 1.0)
    return math.hypot(point[0] - a[0] - share * dx, point[1] - a[1] - share * dy)


def _unit(a: Point, b: Point) -> Point:
    size = math.dist(a, b)
    return ((b[0] - a[0]) / size, (b[1] - a[1]) / size)


def _towards(a: Point, b: Point, by_mm: float) -> Point:
    run = math.dist(a, b)
    share = min(by_mm / run, 1 / 3) if run > 0 else 0.0
    return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)
