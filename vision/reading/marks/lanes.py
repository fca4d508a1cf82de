"""The pencilled lane: two circuit lines side by side from the battery past the lights.

In:    the network's map of circuit lines, the battery circle, the lights.
Out:   `DrawnLane`: the corners of its middle and how far the lines lie apart, or None.
Fails: never.

A lane leads from the battery to a light, and from light to light. So every straight way between two of
them is asked how much of it has a line on both sides, and the lane is the chain of such legs whose two
lines cover best what looks like a circuit line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np

from vision.arrays import BoolImage, FloatImage, Floats
from vision.reading.marks.legs import (
    LEAST_LEG,
    STEP_MM,
    TOLERANCE_MM,
    Ground,
    Legs,
    find_straight_legs,
    off_way,
    weaker_side,
    with_bent_legs,
)
from vision.reading.marks.likeness import Likeness
from vision.reading.marks.seen import SeenCircle, SeenLight
from vision.reading.ratio import unit

LEAST_LIGHTS = 0.65  # chosen: of the lights lie on the lane
LEAST_EXPLAINED = 0.4  # intersection over union with what looks like a circuit line; wrong ways stay below
PLAIN_WORTH = 0.52  # a lane of all lights that covers as much leaves nothing to look for
SURE_WORTH = 0.5  # measured: of 479 right lanes 47 are worth less, of 48 wrong ones 24
MISSED_COUNTS = 0.3  # chosen: of the lines a lane leads past every light
TAIL_MM = 12.0  # a lane runs on past its last light by less
MOST_CHAINS = 30  # chosen: that are laid and weighed, those along the clearest legs first
LIGHT_OFF_MM = 2.5
LINE_MM = 1.5  # width in which a line of the lane is compared with the map
MITRE_MOST = 1.6
SHARP = 0.5  # of the sum of two unit normals: a turn by more than 150 degrees
LINE_FROM = 0.5
LEAST_LINE_MM2 = 12.0  # of map that looks like a line: less is no lane


@dataclass(frozen=True, slots=True)
class DrawnLane:
    """middle : (N, 2) corners from the battery on; apart_mm : distance of the two lines' middles; sure : it leads
    past the lights and leaves little of the lines over."""

    middle: Floats
    apart_mm: float
    sure: bool = False


def line_area_mm2(likeness: Likeness) -> float:
    """How much of the card looks like a circuit line."""
    return float((likeness.of("line") > LINE_FROM).sum()) / likeness.px_per_mm**2


def find_lane(
    likeness: Likeness, seen: FloatImage, battery: SeenCircle, lights: Sequence[SeenLight]
) -> DrawnLane | None:
    """The lane that starts at the battery and explains the pencilled lines best, if there is one.

    seen : 0 where the square hides the card, as the likeness's maps lie."""
    nodes = np.array([battery.centre, *(light.centre for light in lights)], dtype=np.float64)
    radii = np.array([battery.diameter_mm, *(light.diameter_mm for light in lights)]) / 2
    if not lights or line_area_mm2(likeness) < LEAST_LINE_MM2:
        return None
    ground = Ground.of(likeness, seen)
    best, worth = _best_chain(ground, nodes, radii)
    return None if best is None else replace(best, sure=worth >= SURE_WORTH)


def _best_chain(ground: Ground, nodes: Floats, radii: Floats) -> tuple[DrawnLane | None, float]:
    """The lane of legs from mark to mark that is worth most, and its worth."""
    best: DrawnLane | None = None
    worth = LEAST_EXPLAINED
    # From the cheap to the dear: straight legs; with bends; with one leg whose lines are not to be seen.
    legs = find_straight_legs(ground, nodes, radii)
    for bent, bridged in ((False, False), (True, False), (True, True)):
        legs = with_bent_legs(ground, nodes, radii, legs) if bent and not bridged else legs
        if legs.half_mm is None:
            continue
        for chain in _chains(legs.score, bridged):
            lane = _lane(ground, _corners(nodes, chain, legs), radii[chain], legs.half_mm)
            if (found := _worth(ground, lane, nodes[1:])) > worth:
                best, worth = lane, found
        if worth >= PLAIN_WORTH:
            break
    return best, worth


def _worth(ground: Ground, lane: DrawnLane, lights: Floats) -> float:
    """How well a lane explains the lines, less for lights that it misses; 0 for one that was followed wrongly."""
    share = _passed(lane, lights)
    return _explained(ground, lane) - MISSED_COUNTS * (1 - share) if share >= LEAST_LIGHTS else 0.0


def _corners(nodes: Floats, chain: list[int], legs: Legs) -> Floats:
    """(N, 2) corners of a chain's middle, its bends included."""
    corners = [nodes[chain[0]]]
    for a, b in pairwise(chain):
        corners += [*legs.way(a, b), nodes[b]]
    return np.array(corners)


def _lane(ground: Ground, middle: Floats, radii: Floats, half: float) -> DrawnLane:
    """The lane along a chain: from the battery's rim to where its lines end."""
    first = middle[1] - middle[0]
    middle[0] += unit(first) * radii[0]
    tail = _tail(ground, middle, radii[-1], half)
    return DrawnLane(np.vstack([middle, tail]) if tail is not None else middle, 2 * half)


def _passed(lane: DrawnLane, lights: Floats) -> float:
    """Share of the lights that lie on a lane."""
    return float((off_way(lights, lane.middle) < LIGHT_OFF_MM).mean())


def _chains(legs: Floats, bridged: bool) -> Iterator[list[int]]:
    """Chains of good legs from node 0 that can't go on, those along the clearest legs first; `bridged`: where one
    can't go on it may leap once to any node."""
    onward_from = [sorted(range(1, len(legs)), key=lambda b: -legs[a, b]) for a in range(len(legs))]
    stack, given = [([0], bridged)], 0
    while stack and given < MOST_CHAINS:
        chain, may_leap = stack.pop()
        left = [b for b in onward_from[chain[-1]] if b not in chain]
        onward = [b for b in left if legs[chain[-1], b] >= LEAST_LEG]
        if not onward and len(chain) > 1:
            given += 1
            yield chain
        leap = not onward and may_leap
        stack.extend(([*chain, b], may_leap and not leap) for b in reversed(left if leap else onward))


def _tail(ground: Ground, middle: Floats, radius: float, half: float) -> Floats | None:
    """Where the lane ends past its last light, straight on; None when it ends there."""
    way = middle[-1] - middle[-2]
    along = unit(way)
    across = np.array([-along[1], along[0]])
    reach = np.arange(0.0, TAIL_MM, STEP_MM)
    spots = middle[-1] + reach[:, None] * along
    ends = np.nonzero(weaker_side(ground.likeness, ground.near, spots, half * across) < LINE_FROM)[0]
    ends = ends[reach[ends] > radius]
    far = float(reach[ends[0]]) - STEP_MM - TOLERANCE_MM if len(ends) else TAIL_MM
    return middle[-1] + far * along if far > 1.0 else None


def _explained(ground: Ground, lane: DrawnLane) -> float:
    """Intersection over union of what looks like a circuit line and the lane's own two lines, where the card is
    to be seen."""
    lines, shown = _drawn(ground, lane), ground.line > LINE_FROM
    return float((shown & lines).sum()) / max(float((shown | lines).sum()), 1.0)


def _drawn(ground: Ground, lane: DrawnLane) -> BoolImage:
    """A lane's two lines where the card is to be seen, as the map lies."""
    likeness = ground.likeness
    drawn = np.zeros(ground.line.shape, np.uint8)
    for side in (0.5, -0.5):
        at = np.round(likeness.to_px(beside(lane.middle, side * lane.apart_mm)) * 16).astype(np.int32)
        cv2.polylines(drawn, [at], False, 1, round(LINE_MM * likeness.px_per_mm), shift=4)
    return np.asarray((drawn > 0) & (ground.seen > 0.5), dtype=np.bool_)


def beside(line: Floats, offset: float) -> Floats:
    """The line, (N, 2), moved to its side by `offset`, its corners mitred."""
    ways = unit(np.diff(line, axis=0))
    normals = np.column_stack([-ways[:, 1], ways[:, 0]])
    moved = [line[0] + offset * normals[0]]
    for before, after, corner in zip(normals[:-1], normals[1:], line[1:-1]):
        bisector = before + after
        size = float(np.hypot(*bisector))
        if size < SHARP:  # the lane turns back: a pencil goes round the light in two corners
            moved += [corner + offset * before, corner + offset * after]
        else:
            moved.append(corner + offset * bisector / size * min(2.0 / size, MITRE_MOST))
    moved.append(line[-1] + offset * normals[-1])
    return np.array(moved)
