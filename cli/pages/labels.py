"""Find each label a place where it covers neither a mark nor another label.

In:    what is drawn already, as boxes and thick lines in page millimetres.
Out:   boxes for the labels; a label always gets one, the least bad place at worst.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from circuit.layout import Point
from cli.pages.lines import distance_to_box
from cli.pages.paper import Box

_HARD = 1000.0  # chosen: covering a trace, a body or a label
_SOFT = 4.0  # chosen: crossing a faint line
_DIRECTIONS = 16
_STEPS_MM = (0.0, 1.0, 2.0, 3.5, 5.0, 7.0, 9.5, 12.5, 16.0, 20.0)
LABEL_INSET_MM = 0.8  # chosen: labels keep so far inside the card's outline
_AIR_MM = 0.5  # chosen: least distance between a label and what is around it


@dataclass(slots=True)
class Labels:
    """The room on one drawing. `inside` is where labels may lie; `showing` is the part of it that is
    on this page, None for all: a label that is not wholly on it is not drawn."""

    inside: Box
    showing: Box | None = None
    boxes: list[Box] = field(default_factory=list)
    lines: list[tuple[Point, Point, float, bool]] = field(default_factory=list)  # ends, half width, hard

    def keep_clear(self, box: Box) -> None:
        self.boxes.append(box)

    def keep_off(
        self, points: Sequence[Point], width: float, *, hard: bool = True, closed: bool = False
    ) -> None:
        """Labels keep off that line; from a faint one (`hard=False`) only if there is better room."""
        ring = [*points, points[0]] if closed else list(points)
        self.lines.extend((a, b, width / 2, hard) for a, b in pairwise(ring))

    def place(self, about: Point, clear_mm: float | None, width: float, height: float) -> Box:
        """A box of that size near `about`, its nearest side at least `clear_mm` away (None: about it, if
        there is room); it is taken from now on."""
        best: tuple[float, Box] | None = None
        for off, box in _candidates(about, clear_mm, width, height):
            cost = off + self._cost(box) + (0.0 if self.inside.holds(box) else 10 * _HARD)
            if best is None or cost < best[0] - 1e-9:
                best = (cost, box)
            if best[0] <= off:  # nothing further out can be better
                break
        assert best is not None
        self.boxes.append(best[1])
        return best[1]

    def _cost(self, box: Box) -> float:
        roomy = Box(box.left - _AIR_MM, box.top - _AIR_MM, box.width + 2 * _AIR_MM, box.height + 2 * _AIR_MM)
        cost = _HARD * sum(roomy.meets(other) for other in self.boxes)
        for a, b, half, hard in self.lines:
            if _far(a, b, box, half + _AIR_MM):
                continue
            if distance_to_box(a, b, box) < half + (_AIR_MM if hard else 0.0):
                cost += _HARD if hard else _SOFT
        return cost


def _candidates(
    about: Point, clear_mm: float | None, width: float, height: float
) -> Iterator[tuple[float, Box]]:
    """Boxes round the point, near ones first, with their price for distance."""
    if clear_mm is None:
        yield 0.0, Box(about[0] - width / 2, about[1] - height / 2, width, height)
    clear = clear_mm or 0.0
    for step in _STEPS_MM:
        reach = clear + step
        for index in range(_DIRECTIONS):
            # Right first, then round: most labels then lie to the right, which reads calmly.
            angle = 2 * math.pi * index / _DIRECTIONS
            ux, uy = math.cos(angle), math.sin(angle)
            # The box's centre, so that its nearest side or corner is `reach` away in that direction.
            x = about[0] + ux * reach + width / 2 * _sideways(ux)
            y = about[1] + uy * reach + height / 2 * _sideways(uy)
            yield step, Box(x - width / 2, y - height / 2, width, height)


def _sideways(part: float) -> float:
    return max(-1.0, min(1.0, part * 1.5))


def _far(a: Point, b: Point, box: Box, reach: float) -> bool:
    return (
        max(a[0], b[0]) < box.left - reach
        or min(a[0], b[0]) > box.right + reach
        or max(a[1], b[1]) < box.top - reach
        or min(a[1], b[1]) > box.bottom + reach
    )


def nearest_on(box: Box, point: Point) -> Point:
    """The box's point nearest to that one: where a leader line ends."""
    return (min(max(point[0], box.left), box.right), min(max(point[1], box.top), box.bottom))


def ring_points(centre: Point, radius: float, count: int = 24) -> Iterable[Point]:
    return [
        (
            centre[0] + radius * math.cos(2 * math.pi * i / count),
            centre[1] + radius * math.sin(2 * math.pi * i / count),
        )
        for i in range(count)
    ]
