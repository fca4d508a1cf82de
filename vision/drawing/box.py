"""Upright rectangles and the place a card has on a sheet, all in sheet millimetres, y down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from circuit.layout import Point


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle: its left and top side, its size."""

    left: float
    top: float
    width: float
    height: float

    @classmethod
    def around(cls, points: Iterable[Point]) -> Box:
        """The smallest box that holds the points (at least one)."""
        xs, ys = zip(*points)
        return cls(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))

    @property
    def right(self) -> float:
        """The right side. [mm]"""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """The lower side. [mm]"""
        return self.top + self.height

    @property
    def centre(self) -> Point:
        """Its middle."""
        return (self.left + self.width / 2, self.top + self.height / 2)

    @property
    def corners(self) -> tuple[Point, Point, Point, Point]:
        """From the top-left one on, clockwise on the sheet."""
        return (
            (self.left, self.top),
            (self.right, self.top),
            (self.right, self.bottom),
            (self.left, self.bottom),
        )

    def inset(self, by: float) -> Box:
        """Smaller by so much on every side; larger where `by` is below 0. [mm]"""
        return Box(self.left + by, self.top + by, self.width - 2 * by, self.height - 2 * by)

    def moved(self, x: float, y: float) -> Box:
        """The same box, so much farther right and down. [mm]"""
        return Box(self.left + x, self.top + y, self.width, self.height)

    def nearest(self, point: Point) -> Point:
        """The box's own point that is nearest to `point`."""
        return (
            min(max(point[0], self.left), self.right),
            min(max(point[1], self.top), self.bottom),
        )

    def holds(self, other: Box, slack: float = 1e-6) -> bool:
        """Whether the other lies inside, give or take `slack`. [mm]"""
        return (
            other.left >= self.left - slack
            and other.top >= self.top - slack
            and other.right <= self.right + slack
            and other.bottom <= self.bottom + slack
        )

    def meets(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


@dataclass(frozen=True, slots=True)
class Placing:
    """Card millimetres to sheet millimetres: scaled, then shifted; mirrored about the card's middle."""

    left: float
    top: float
    scale: float = 1.0
    mirror_width_mm: float | None = None

    def at(self, point: Point) -> Point:
        """A card point's place on the sheet."""
        x = point[0] if self.mirror_width_mm is None else self.mirror_width_mm - point[0]
        return (self.left + x * self.scale, self.top + point[1] * self.scale)

    def along(self, points: Iterable[Point]) -> list[Point]:
        """Several card points on the sheet."""
        return [self.at(point) for point in points]
