"""Find room for labels and callouts: near what they speak of, never over a mark, a trace or one another.

In:    a map of what must stay free (`Ground`) and the tags with their anchors.
Out:   one box for each tag, in the order given, and where its leader runs.
Fails: `NoRoomError` when a tag finds no free place at all; the caller gives more room and asks again.

The ground is coarse (a few pixels a cell); a tag's box is always grown to whole cells, so what is
free on the ground is free in pixels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from circuit.layout import Point

CELL_PX = 4  # chosen: fine enough to sit close, coarse enough to try every place
_SLACK_CELLS = 3  # a line drawn cell by cell may miss a cell that it only grazes: draw it broader
_NEAR = 4096  # chosen: so many of the nearest free places are put in order
_TRIED = 60  # chosen: so many of the nearest free places are tried for a clean leader
_CROSSING_PRICE_PX = 90.0  # chosen: a leader goes so much farther to avoid crossing another
_OVER_BOX_PRICE_PX = 4000.0  # never over another tag while there is any other place
_WORDS_PRICE_PX = 160.0  # chosen: covering the maker's own words costs as much as this detour


class NoRoomError(Exception):
    """No free place for a tag: an inner signal, never shown to people."""


@dataclass(frozen=True, slots=True)
class Box:
    """Pixels left..right-1, top..bottom-1."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def centre(self) -> Point:
        return ((self.left + self.right - 1) / 2, (self.top + self.bottom - 1) / 2)

    def overlaps(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def nearest(self, point: Point) -> Point:
        """The box's own point that is nearest to `point`."""
        return (
            min(max(point[0], self.left), self.right - 1),
            min(max(point[1], self.top), self.bottom - 1),
        )


@dataclass(frozen=True, slots=True)
class Tag:
    """Something to place: its size, the spot it speaks of, how near that spot its leader may come."""

    anchor: Point
    width: int
    height: int
    stand_off: float = 0.0


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a tag went; the leader runs from the box to near the anchor (None: no room for one)."""

    box: Box
    leader: tuple[Point, Point] | None


class Ground:
    """What is taken on the panel. `busy` (H, W) is a 0..1 picture of the maker's pencil: not
    forbidden, but better left in sight."""

    def __init__(self, width: int, height: int, busy: NDArray[np.float32] | None = None) -> None:
        self.width, self.height = width, height
        self._cells = np.zeros((math.ceil(height / CELL_PX), math.ceil(width / CELL_PX)), dtype=np.uint8)
        rows, cols = self._cells.shape
        self._busy_sums = np.zeros((rows + 1, cols + 1))
        if busy is not None:
            small = cv2.resize(busy, (cols, rows), interpolation=cv2.INTER_AREA)
            self._busy_sums = np.asarray(cv2.integral(small), dtype=np.float64)

    def take(self, cover: NDArray[np.float32]) -> None:
        """Take every cell that a (H, W) coverage picture touches."""
        rows, cols = np.nonzero(cover > 0)
        self._cells[rows // CELL_PX, cols // CELL_PX] = 1

    def take_polygon(self, points: Sequence[Point]) -> None:
        at = np.floor(np.asarray(points) / CELL_PX).astype(np.int32)
        cv2.fillPoly(self._cells, [at], 1)
        cv2.polylines(self._cells, [at], True, 1, _SLACK_CELLS)

    def take_line(self, points: Sequence[Point], width: float) -> None:
        if len(points) > 1:
            at = np.floor(np.asarray(points) / CELL_PX).astype(np.int32)
            cv2.polylines(self._cells, [at], False, 1, math.ceil(width / CELL_PX) + _SLACK_CELLS - 1)

    def take_disc(self, centre: Point, radius: float) -> None:
        rows, cols = np.ogrid[: self._cells.shape[0], : self._cells.shape[1]]
        dx = centre[0] - np.clip(centre[0], cols * CELL_PX, (cols + 1) * CELL_PX)
        dy = centre[1] - np.clip(centre[1], rows * CELL_PX, (rows + 1) * CELL_PX)
        self._cells[np.hypot(dx, dy) <= radius] = 1

    def take_box(self, box: Box) -> None:
        self._cells[
            max(0, box.top // CELL_PX) : math.ceil(box.bottom / CELL_PX),
            max(0, box.left // CELL_PX) : math.ceil(box.right / CELL_PX),
        ] = 1

    def is_free(self, box: Box) -> bool:
        taken = self._cells[
            box.top // CELL_PX : math.ceil(box.bottom / CELL_PX),
            box.left // CELL_PX : math.ceil(box.right / CELL_PX),
        ]
        inside = box.left >= 0 and box.top >= 0 and box.right <= self.width and box.bottom <= self.height
        return inside and not taken.any()

    def free_places(self, tag: Tag) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Top-left cells (N, 2) as row, column of every free place for the tag, and each one's cost. [px]"""
        high, wide = math.ceil(tag.height / CELL_PX), math.ceil(tag.width / CELL_PX)
        # The last row and column of cells may reach beyond the panel: leave them out.
        rows, cols = self.height // CELL_PX, self.width // CELL_PX
        if high > rows or wide > cols:
            return np.empty((0, 2), dtype=np.int64), np.empty(0)
        taken = _window_sums(cv2.integral(np.ascontiguousarray(self._cells[:rows, :cols])), high, wide)
        hides = _window_sums(self._busy_sums[: rows + 1, : cols + 1], high, wide) / (high * wide)
        places = np.argwhere(taken < 0.5)
        top, left = places[:, 0] * CELL_PX, places[:, 1] * CELL_PX
        dx = tag.anchor[0] - np.clip(tag.anchor[0], left, left + wide * CELL_PX)
        dy = tag.anchor[1] - np.clip(tag.anchor[1], top, top + high * CELL_PX)
        # Mostly the gap to the box; a little the gap to its middle, so that it does not sit askew.
        mx = tag.anchor[0] - (left + wide * CELL_PX / 2)
        my = tag.anchor[1] - (top + high * CELL_PX / 2)
        cost = np.hypot(dx, dy) + 0.15 * np.hypot(mx, my)
        return places, cost + _WORDS_PRICE_PX * np.minimum(1.0, 6 * hides[places[:, 0], places[:, 1]])


def place_tags(tags: Sequence[Tag], ground: Ground) -> tuple[Placed, ...]:
    """Place the tags one after another; takes the ground that they and their leaders cover."""
    placed: list[Placed] = []
    for tag in tags:
        places, cost = ground.free_places(tag)
        if not len(places):
            raise NoRoomError
        best = _cleanest(tag, places, cost, placed)
        placed.append(best)
        ground.take_box(best.box)
        if best.leader is not None:
            ground.take_line(best.leader, CELL_PX)
    return tuple(placed)


def _cleanest(
    tag: Tag, places: NDArray[np.int64], cost: NDArray[np.float64], placed: Sequence[Placed]
) -> Placed:
    # The very nearest, and a scatter of farther ones: the nearest all lie in the same nook.
    near = np.argpartition(cost, _NEAR)[:_NEAR] if len(cost) > _NEAR else np.arange(len(cost))
    order = near[np.lexsort((near, cost[near]))]
    spread = np.unique(np.geomspace(1, len(order), num=_TRIED).astype(np.int64) - 1)
    scattered = np.arange(0, len(cost), max(1, len(cost) // _TRIED))
    tried = np.concatenate([order[:_TRIED], order[spread], scattered])
    best: tuple[float, Placed] | None = None
    for i in tried:
        price = float(cost[i])
        if best is not None and price >= best[0]:
            continue
        top, left = int(places[i, 0]) * CELL_PX, int(places[i, 1]) * CELL_PX
        box = Box(left, top, left + tag.width, top + tag.height)
        leader = leader_of(tag, box)
        if leader is not None:
            for other in placed:
                if _segment_meets_box(leader, other.box):
                    price += _OVER_BOX_PRICE_PX
                elif other.leader is not None and _segments_cross(leader, other.leader):
                    price += _CROSSING_PRICE_PX
        if best is None or price < best[0]:
            best = (price, Placed(box, leader))
    assert best is not None
    return best[1]


def leader_of(tag: Tag, box: Box) -> tuple[Point, Point] | None:
    """From the box's middle side towards the anchor, ending `stand_off` short of it."""
    start = box.centre
    run = math.dist(start, tag.anchor)
    edge = math.dist(box.nearest(tag.anchor), tag.anchor)
    if edge <= tag.stand_off or run == 0:
        return None
    ux, uy = (tag.anchor[0] - start[0]) / run, (tag.anchor[1] - start[1]) / run
    end = (tag.anchor[0] - ux * tag.stand_off, tag.anchor[1] - uy * tag.stand_off)
    # Leave the box through its side: the smallest step that is outside of it.
    half_w, half_h = (box.right - box.left) / 2, (box.bottom - box.top) / 2
    out = min(half_w / abs(ux) if ux else math.inf, half_h / abs(uy) if uy else math.inf)
    if out >= math.dist(start, end):
        return None
    return ((start[0] + ux * out, start[1] + uy * out), end)


def _window_sums(total: NDArray[Any], high: int, wide: int) -> NDArray[Any]:
    """Sums over every window of that size, from running sums `total` (one row and column larger)."""
    sums = total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    return np.asarray(sums)


def _segments_cross(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return (side(*a, b[0]) > 0) != (side(*a, b[1]) > 0) and (side(*b, a[0]) > 0) != (side(*b, a[1]) > 0)


def _segment_meets_box(segment: tuple[Point, Point], box: Box) -> bool:
    corners = [
        (float(box.left), float(box.top)),
        (float(box.right), float(box.top)),
        (float(box.right), float(box.bottom)),
        (float(box.left), float(box.bottom)),
    ]
    inside = any(box.left <= x < box.right and box.top <= y < box.bottom for x, y in segment)
    return inside or any(_segments_cross(segment, (p, q)) for p, q in zip(corners, corners[1:] + corners[:1]))
