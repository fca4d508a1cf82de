"""Tags, where they went, and whether each is plainly read as its own mark's.

In:    a tag with its spot and the spots it could be taken for; boxes.
Out:   leaders; what in a place may be mistaken.
Fails: never.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.layout import Point
from vision.drawing.box import Box

# A tag that lies nearly as near another mark as its own is read as that one's: it goes elsewhere where there is room
# near, and gets a line to its mark where there is none. So many times as far must every other mark be: chosen by eye on
# 40 cards of 10 to 20 lights.
_PLAINLY_NEARER = 1.5


@dataclass(frozen=True, slots=True)
class Tag:
    """Something to place: its size, the spot it speaks of, how near that spot its leader may come, and the spots of
    its kind that it could be taken to speak of instead."""

    anchor: Point
    width: float
    height: float
    stand_off: float = 0.0
    others: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a tag went; the leader runs from the box to near the anchor (None: no room for one)."""

    box: Box
    leader: tuple[Point, Point] | None

    def moved(self, x: float, y: float) -> Placed:
        """The same place, so much farther right and down. [mm]"""
        if self.leader is None:
            return Placed(self.box.moved(x, y), None)
        (ax, ay), (bx, by) = self.leader
        return Placed(self.box.moved(x, y), ((ax + x, ay + y), (bx + x, by + y)))


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
    out = min(box.width / 2 / abs(ux) if ux else math.inf, box.height / 2 / abs(uy) if uy else math.inf)
    if out >= math.dist(start, end):
        return None
    return ((start[0] + ux * out, start[1] + uy * out), end)


def needs_leader(tag: Tag, placed: Placed, beyond_mm: float) -> bool:
    """Whether only a line tells what the tag speaks of: it lies farther than that from its spot, or nearly as near
    another one. Where there is no room for a line, none is needed."""
    leader = placed.leader
    return leader is not None and (math.dist(*leader) > beyond_mm or may_be_mistaken(tag, placed.box))


def may_be_mistaken(tag: Tag, box: Box) -> bool:
    """Whether another spot is nearly as near the box as the tag's own, so that only a line tells which it means."""
    return bool(mistaken(tag, np.array([box.left]), np.array([box.top]))[0] > 0)


def mistaken(tag: Tag, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """(N,) for boxes of the tag's size with these (N,) left and top sides: 0 where no other spot is nearly as near as
    its own, 1 where the box lies on another."""
    own = _seen_distance(tag, tag.anchor, x, y)
    reach = _PLAINLY_NEARER * (float(own.max(initial=0.0)) + math.hypot(tag.width, tag.height))
    worst = np.zeros(len(x))
    for other in tag.others:
        if math.dist(other, tag.anchor) <= reach:
            missing = 1.0 - _seen_distance(tag, other, x, y) / np.maximum(_PLAINLY_NEARER * own, 1e-9)
            np.maximum(worst, missing, out=worst)
    return worst


def _seen_distance(
    tag: Tag, spot: Point, x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far a spot seems from boxes of the tag's size: the eye goes by a box's near side and by its middle."""
    dx = spot[0] - np.clip(spot[0], x, x + tag.width)
    dy = spot[1] - np.clip(spot[1], y, y + tag.height)
    to_middle = np.hypot(spot[0] - x - tag.width / 2, spot[1] - y - tag.height / 2)
    return np.asarray(np.hypot(dx, dy) + to_middle)
