"""Find room for labels and callouts: near what they speak of, never over a mark, a tape or one another.

In:    a map of what must stay free (`Taken`) and the tags with their anchors, in one plane's millimetres.
Out:   one box for each tag, in the order given, and where its leader runs.
Fails: `NoRoomError` when a tag finds no free place at all and may not lie on anything; the caller gives more
       room and asks again.

The map is coarse (a third of a millimetre a cell); what is taken is always grown to whole cells, so what is
free on the map is free on the sheet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from circuit.layout import Point
from circuit.polyline import nearest_on_run
from vision.drawing.box import Box
from vision.drawing.tags import Placed, Tag, leader_of, mistaken

CELL_MM = 0.33  # chosen: fine enough to sit close, coarse enough to try every place
_SLACK_CELLS = 4  # a line drawn cell by cell misses cells that it only grazes: draw it broader
_NEARBY_MM = (12.0, 30.0)  # chosen: searched first, so far round a tag's spot
_NEAR = 4096  # chosen: so many of the nearest free places are put in order
_TRIED = 60  # chosen: so many of the nearest free places are tried for a clean leader
# Prices, as the detour in millimetres that a tag takes to avoid it. Chosen by eye.
_CROSSING_PRICE_MM = 7.0  # a leader that crosses another
_OVER_BOX_PRICE_MM = 320.0  # a leader over another tag: never while there is any other place
_OVER_MARK_PRICE_MM = 20.0  # a leader that runs over another mark, and seems to mean that one
_BUSY_PRICE_MM = 13.0  # covering the maker's own words
_FAINT_PRICE_MM = 4.0  # covering a faint line
_TAKEN_PRICE_MM = 1000.0  # covering all that is taken, where that is allowed at all
_FULLY_BUSY = 1 / 6  # share of a tag over pencil that counts as covering words
_ASKEW = 0.15  # share of the way to the tag's middle that counts: a tag should not sit askew
# As near as may be to a mark that isn't its own, in shares of what is missing to being plainly its own's: on 40 cards
# of 10 to 20 lights.
_MISTAKEN_PRICE_MM = 10.0
# Of two places as good the right one: most labels then lie alike, which reads calmly.
_TO_THE_LEFT_PRICE_MM = 0.4


class NoRoomError(Exception):
    """No free place for a tag: an inner signal, never shown to people."""


class Taken:
    """What is taken within an area. `busy` (H, W), 0 to 1, is a picture of the maker's pencil all over the area:
    not forbidden, but better left in sight."""

    def __init__(self, area: Box, busy: NDArray[np.float32] | None = None) -> None:
        self.area = area
        self._columns, self._rows = (math.floor(side / CELL_MM + 1e-6) for side in (area.width, area.height))
        size = (max(1, self._columns), max(1, self._rows))
        self._hard, self._faint = Image.new("L", size), Image.new("L", size)
        self._busy = np.zeros((size[1], size[0]), dtype=np.float32)
        if busy is not None:
            inside = Image.fromarray(busy).resize(size, Image.Resampling.BOX)
            self._busy = np.asarray(inside, dtype=np.float32)

    def _cells(self, points: Sequence[Point]) -> list[Point]:
        """A cell's middle at whole numbers."""
        return [
            ((x - self.area.left) / CELL_MM - 0.5, (y - self.area.top) / CELL_MM - 0.5) for x, y in points
        ]

    def _layer(self, faint: bool) -> ImageDraw.ImageDraw:
        return ImageDraw.Draw(self._faint if faint else self._hard)

    def take_shape(self, points: Sequence[Point]) -> None:
        """Keep tags off a filled outline."""
        at = self._cells(points)
        draw = self._layer(faint=False)
        draw.polygon(at, 1)
        draw.line([*at, at[0], at[1]], 1, _SLACK_CELLS, joint="curve")

    def take_line(
        self, points: Sequence[Point], width: float, *, closed: bool = False, faint: bool = False
    ) -> None:
        """`faint`: tags keep off it only while there is better room."""
        if len(points) > 1:
            at = self._cells([*points, points[0]] if closed else points)
            wide = math.ceil(width / CELL_MM) + (1 if faint else _SLACK_CELLS - 1)
            draw = self._layer(faint)
            draw.line(at, 1, wide, joint="curve")
            for x, y in at:  # ends are cut off square, a cell short at worst
                draw.ellipse((x - wide / 2, y - wide / 2, x + wide / 2, y + wide / 2), 1)

    def take_disc(self, centre: Point, radius: float) -> None:
        """Keep tags off a disc."""
        ((x, y),) = self._cells([centre])
        reach = radius / CELL_MM + 1
        self._layer(faint=False).ellipse((x - reach, y - reach, x + reach, y + reach), 1)

    def take_box(self, box: Box) -> None:
        """Keep tags off a box."""
        (left, top), (right, bottom) = self._cells([(box.left, box.top), (box.right, box.bottom)])
        # From the first cell that it touches to the last.
        spot = (
            math.floor(left + 0.5),
            math.floor(top + 0.5),
            math.ceil(right - 0.5),
            math.ceil(bottom - 0.5),
        )
        if spot[2] >= spot[0] and spot[3] >= spot[1]:
            self._layer(faint=False).rectangle(spot, 1)

    def places(self, tag: Tag, *, on_taken: bool) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Top-left corners (N, 2) of the free places for the tag, x then y, and each one's cost. [mm]

        Those near its anchor where there are any, else those all over the area. `on_taken`: where no place is
        free at all, every place, at a price.
        """
        none = (np.empty((0, 2)), np.empty(0))
        if math.ceil(tag.height / CELL_MM) > self._rows or math.ceil(tag.width / CELL_MM) > self._columns:
            return none
        whole = (slice(0, self._rows), slice(0, self._columns))
        near = [(self._near(tag, reach), False) for reach in _NEARBY_MM]
        for spot, over in (*near, (whole, False), (whole, True)):
            if over and not on_taken:
                return none
            found = self._places_in(tag, spot, over=over)
            if len(found[0]):
                return found
        return none

    def _near(self, tag: Tag, reach: float) -> tuple[slice, slice]:
        ((x, y),) = self._cells([tag.anchor])
        wide, high = ((side + reach) / CELL_MM for side in (tag.width, tag.height))
        return (
            slice(max(0, math.floor(y - high)), max(0, min(self._rows, math.ceil(y + high)))),
            slice(max(0, math.floor(x - wide)), max(0, min(self._columns, math.ceil(x + wide)))),
        )

    def _places_in(
        self, tag: Tag, spot: tuple[slice, slice], *, over: bool
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        high, wide = math.ceil(tag.height / CELL_MM), math.ceil(tag.width / CELL_MM)
        taken = _window_sums(np.asarray(self._hard)[spot], high, wide)
        rows, columns = np.nonzero((taken == 0) | over)
        x = self.area.left + (columns + spot[1].start) * CELL_MM
        y = self.area.top + (rows + spot[0].start) * CELL_MM
        ax, ay = tag.anchor
        dx = ax - np.clip(ax, x, x + tag.width)
        dy = ay - np.clip(ay, y, y + tag.height)
        mx, my = ax - (x + tag.width / 2), ay - (y + tag.height / 2)
        cost = np.hypot(dx, dy) + _ASKEW * np.hypot(mx, my) + _TO_THE_LEFT_PRICE_MM * (mx > 0)
        cost += _MISTAKEN_PRICE_MM * mistaken(tag, x, y)
        hides = _window_sums(self._busy[spot], high, wide)[rows, columns] / (high * wide)
        cost += _BUSY_PRICE_MM * np.minimum(1.0, hides / _FULLY_BUSY)
        cost += _FAINT_PRICE_MM * (_window_sums(np.asarray(self._faint)[spot], high, wide)[rows, columns] > 0)
        cost += _TAKEN_PRICE_MM * taken[rows, columns] / (high * wide)
        return np.column_stack([x, y]), cost


def place_tags(tags: Sequence[Tag], taken: Taken, *, on_taken: bool = False) -> tuple[Placed, ...]:
    """Place the tags one after another; takes the room that they and their leaders cover.

    `on_taken`: a tag without any free place lies where it covers least. Raises NoRoomError otherwise, and
    for a tag larger than the area.
    """
    placed: list[Placed] = []
    for tag in tags:
        corners, cost = taken.places(tag, on_taken=on_taken)
        if not len(corners):
            raise NoRoomError
        best = _cleanest(tag, corners, cost, placed)
        placed.append(best)
        taken.take_box(best.box)
        if best.leader is not None:
            taken.take_line(best.leader, CELL_MM)
    return tuple(placed)


def _cleanest(
    tag: Tag, corners: NDArray[np.float64], cost: NDArray[np.float64], placed: Sequence[Placed]
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
        box = Box(float(corners[i, 0]), float(corners[i, 1]), tag.width, tag.height)
        leader = leader_of(tag, box)
        if leader is not None:
            price += _OVER_MARK_PRICE_MM * sum(
                nearest_on_run(spot, *leader)[0] < tag.stand_off for spot in tag.others
            )
            for other in placed:
                if _segment_meets_box(leader, other.box):
                    price += _OVER_BOX_PRICE_MM
                elif other.leader is not None and _segments_cross(leader, other.leader):
                    price += _CROSSING_PRICE_MM
        if best is None or price < best[0]:
            best = (price, Placed(box, leader))
    assert best is not None
    return best[1]


def _window_sums(values: NDArray[Any], high: int, wide: int) -> NDArray[Any]:
    """Sums over every window of that size; none where it is larger than the values."""
    if values.shape[0] < high or values.shape[1] < wide:
        return np.empty((0, 0))
    kind = np.float64 if values.dtype.kind == "f" else np.int32
    total = np.zeros((values.shape[0] + 1, values.shape[1] + 1), dtype=kind)
    total[1:, 1:] = values.cumsum(axis=0, dtype=kind).cumsum(axis=1)
    below, above = total[high:], total[: total.shape[0] - high]
    return np.asarray(below[:, wide:] - below[:, :-wide] - above[:, wide:] + above[:, :-wide])


def _segments_cross(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    (ax, ay), (bx, by) = a
    (cx, cy), (dx, dy) = b
    if max(ax, bx) < min(cx, dx) or max(cx, dx) < min(ax, bx):  # most lie far apart
        return False
    if max(ay, by) < min(cy, dy) or max(cy, dy) < min(ay, by):
        return False
    c_side = (bx - ax) * (cy - ay) > (by - ay) * (cx - ax)
    d_side = (bx - ax) * (dy - ay) > (by - ay) * (dx - ax)
    a_side = (dx - cx) * (ay - cy) > (dy - cy) * (ax - cx)
    b_side = (dx - cx) * (by - cy) > (dy - cy) * (bx - cx)
    return c_side != d_side and a_side != b_side


def _segment_meets_box(segment: tuple[Point, Point], box: Box) -> bool:
    (ax, ay), (bx, by) = segment
    right, bottom = box.right, box.bottom
    if max(ax, bx) < box.left or min(ax, bx) >= right or max(ay, by) < box.top or min(ay, by) >= bottom:
        return False
    inside = any(box.left <= x < right and box.top <= y < bottom for x, y in segment)
    corners = box.corners
    # Both diagonals: a line that passes through a box crosses one of them.
    return inside or _segments_cross(segment, corners[::2]) or _segments_cross(segment, corners[1::2])
