"""The pencilled lane: two circuit lines side by side from the battery past the lights.

In:    the network's map of circuit lines, the battery circle, the lights.
Out:   `Lane`: the corners of its middle and how far the lines lie apart, or None.
Fails: never.

A lane leads from the battery to a light, and from light to light. So every straight way between two of
them is asked how much of it has a line on both sides, and the lane is the chain of such legs whose two
lines cover best what looks like a circuit line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.marks.ink import FloatImage
from vision.marks.likeness import Likeness
from vision.marks.seen import SeenCircle, SeenLight

Floats = NDArray[np.float64]

ASIDE_MM = np.arange(0.9, 3.3, 0.15)  # half the distance of two lines; tape of 2 to 5 mm
TOLERANCE_MM = 0.5  # the hand's
STEP_MM = 0.5
CLEAR_MM = 0.4  # past the rim of a light or the battery circle
LEAST_LEG = 0.5  # of a leg has a line on both sides
LEAST_LIGHTS = 0.65  # chosen: of the lights lie on the lane
LEAST_EXPLAINED = 0.4  # intersection over union with what looks like a circuit line; wrong ways stay below
PLAIN_EXPLAINED = 0.6  # a lane that covers as much leaves nothing to look for
START_MM = 6.0  # from the battery's rim to where the lines begin to enclose something
BEND_MM = 1.0  # bends of the middle smaller than this are the hand's
TAIL_MM = 12.0  # a lane runs on past its last light by less
MOST_CHAINS = 400
LIGHT_OFF_MM = 2.5
LINE_MM = 1.5  # width in which a line of the lane is compared with the map
MITRE_MOST = 1.6
SHARP = 0.5  # of the sum of two unit normals: a turn by more than 150 degrees
LINE_FROM = 0.5
LEAST_LINE_MM2 = 12.0  # of map that looks like a line: less is no lane


@dataclass(frozen=True, slots=True)
class Lane:
    """middle : (N, 2) corners from the battery on; apart_mm : distance of the two lines' middles."""

    middle: Floats
    apart_mm: float


def line_area_mm2(likeness: Likeness) -> float:
    """How much of the card looks like a circuit line."""
    return float((likeness.of("line") > LINE_FROM).sum()) / likeness.px_per_mm**2


def find_lane(likeness: Likeness, battery: SeenCircle, lights: Sequence[SeenLight]) -> Lane | None:
    """The lane that starts at the battery and explains the pencilled lines best, if there is one."""
    if not lights or line_area_mm2(likeness) < LEAST_LINE_MM2:
        return None
    reach = 2 * round(TOLERANCE_MM * likeness.px_per_mm) + 1
    near = np.asarray(cv2.dilate(likeness.of("line"), np.ones((reach, reach), np.uint8)), dtype=np.float32)
    nodes = np.array([battery.centre, *(light.centre for light in lights)], dtype=np.float64)
    radii = np.array([battery.diameter_mm, *(light.diameter_mm for light in lights)]) / 2
    legs, half = _legs(likeness, near, nodes, radii)
    best, share = None, LEAST_EXPLAINED
    for chain in _chains(legs):
        if len(chain) < 2:
            continue
        lane = _lane(likeness, near, nodes[chain], radii[chain], half)
        explained = _explained(likeness, lane)
        if explained > share and _passes_most(lane, nodes[1:]):
            best, share = lane, explained
    if share >= PLAIN_EXPLAINED:
        return best
    winding = _winding_lane(likeness, nodes[0], radii[0])
    if winding is not None and _explained(likeness, winding) > share and _passes_most(winding, nodes[1:]):
        return winding
    return best


def _winding_lane(likeness: Likeness, battery: Floats, radius: float) -> Lane | None:
    """The longest way from the battery's rim along the middle of what the lines enclose: a lane that also
    bends where there is no light, as long as it does not cross itself."""
    from skimage.graph import MCP
    from skimage.morphology import skeletonize

    lines = (likeness.of("line") > LINE_FROM).astype(np.uint8)
    reach = 2 * round(ASIDE_MM[-1] * likeness.px_per_mm) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    room = reach // 2 + 1
    walled = cv2.copyMakeBorder(lines, room, room, room, room, cv2.BORDER_CONSTANT)
    band = cv2.morphologyEx(walled, cv2.MORPH_CLOSE, disc)[room:-room, room:-room]
    middle = skeletonize(band > 0)
    rows, columns = np.nonzero(middle)
    if len(rows) < 2:
        return None
    away = np.abs(np.hypot(*(likeness.to_mm(np.column_stack([columns, rows])) - battery).T) - radius)
    start = int(away.argmin())
    if away[start] > START_MM:
        return None
    ways = MCP(np.where(middle, 1.0, -1.0), fully_connected=True)
    costs, _ = ways.find_costs([(int(rows[start]), int(columns[start]))])
    end = np.unravel_index(int(np.where(np.isfinite(costs), costs, -1.0).argmax()), costs.shape)
    path = likeness.to_mm(np.array(ways.traceback(end), dtype=np.float64)[:, ::-1])
    corners = cv2.approxPolyDP(path.astype(np.float32), BEND_MM, False).reshape(-1, 2).astype(np.float64)
    if len(corners) < 2:
        return None
    return Lane(corners, 2 * _half_along(likeness, corners))


def _half_along(likeness: Likeness, middle: Floats) -> float:
    """Half the distance at which both lines show best along a lane's middle."""
    plain = np.zeros(len(ASIDE_MM))
    for a, b in pairwise(middle):
        length = float(np.hypot(*(b - a)))
        along = (b - a) / max(length, 1e-9)
        spots = a + np.arange(0.0, length, STEP_MM)[:, None] * along
        across = np.array([-along[1], along[0]])
        plain += _both_sides(likeness, likeness.of("line"), spots, across).sum(axis=1)
    return float(ASIDE_MM[int(plain.argmax())])


def _lane(likeness: Likeness, near: FloatImage, middle: Floats, radii: Floats, half: float) -> Lane:
    """The lane along a chain: from the battery's rim to where its lines end."""
    first = middle[1] - middle[0]
    middle[0] += first / max(float(np.hypot(*first)), 1e-9) * radii[0]
    tail = _tail(likeness, near, middle, radii[-1], half)
    return Lane(np.vstack([middle, tail]) if tail is not None else middle, 2 * half)


def _passes_most(lane: Lane, lights: Floats) -> bool:
    """A lane that misses the lights was followed wrongly."""
    a, b = lane.middle[:-1], lane.middle[1:]
    way = b - a
    along = np.einsum("ij,nij->ni", way, lights[:, None] - a) / np.maximum((way**2).sum(axis=1), 1e-9)
    foot = a + np.clip(along, 0.0, 1.0)[..., None] * way
    away = np.linalg.norm(lights[:, None] - foot, axis=2).min(axis=1)
    return float((away < LIGHT_OFF_MM).mean()) >= LEAST_LIGHTS


def _both_sides(likeness: Likeness, image: FloatImage, spots: Floats, across: Floats) -> Floats:
    """(len(ASIDE_MM), N) the weaker side's map beside each of (N, 2) spots."""
    shift = ASIDE_MM[:, None, None] * across
    sides = [likeness.read(image, spots[None] + sign * shift) for sign in (1.0, -1.0)]
    return np.asarray(np.minimum(*sides), dtype=np.float64)


def _legs(likeness: Likeness, near: FloatImage, nodes: Floats, radii: Floats) -> tuple[Floats, float]:
    """(N, N) how much of the way between two nodes has a line on both sides, and half the distance of
    the lines where they show best."""
    count = len(nodes)
    score = np.zeros((count, count))
    plain = np.zeros(len(ASIDE_MM))
    for a in range(count):
        for b in range(a + 1, count):
            way = nodes[b] - nodes[a]
            length = float(np.hypot(*way))
            if length < 1e-6:
                continue
            low, high = radii[a] + CLEAR_MM, length - radii[b] - CLEAR_MM
            if high - low < 2 * STEP_MM:  # dots side by side: what shows between their middles
                low, high = 0.35 * length, 0.65 * length
            along = way / length
            across = np.array([-along[1], along[0]])
            spots = nodes[a] + np.arange(low, high + 1e-9, min(STEP_MM, (high - low) / 2))[:, None] * along
            both = _both_sides(likeness, near, spots, across).mean(axis=1)
            score[a, b] = score[b, a] = both.max()
            if both.max() >= LEAST_LEG:
                plain += _both_sides(likeness, likeness.of("line"), spots, across).sum(axis=1)
    return score, float(ASIDE_MM[int(plain.argmax())])


def _chains(legs: Floats) -> Iterator[list[int]]:
    """Chains of good legs from node 0 that can't go on, those along the clearest legs first."""
    good = [
        sorted((b for b in range(1, len(legs)) if legs[a, b] >= LEAST_LEG), key=lambda b: -legs[a, b])
        for a in range(len(legs))
    ]
    stack, given = [[0]], 0
    while stack and given < MOST_CHAINS:
        chain = stack.pop()
        onward = [b for b in good[chain[-1]] if b not in chain]
        stack.extend([*chain, b] for b in reversed(onward))
        if not onward:
            given += 1
            yield chain


def _tail(likeness: Likeness, near: FloatImage, middle: Floats, radius: float, half: float) -> Floats | None:
    """Where the lane ends past its last light, straight on; None when it ends there."""
    way = middle[-1] - middle[-2]
    along = way / max(float(np.hypot(*way)), 1e-9)
    across = np.array([-along[1], along[0]])
    reach = np.arange(0.0, TAIL_MM, STEP_MM)
    spots = middle[-1] + reach[:, None] * along
    sides = [likeness.read(near, spots + sign * half * across) for sign in (1.0, -1.0)]
    ends = np.nonzero(np.minimum(*sides) < LINE_FROM)[0]
    ends = ends[reach[ends] > radius]
    far = float(reach[ends[0]]) - STEP_MM - TOLERANCE_MM if len(ends) else TAIL_MM
    return middle[-1] + far * along if far > 1.0 else None


def _explained(likeness: Likeness, lane: Lane) -> float:
    """Intersection over union of what looks like a circuit line and the lane's own two lines."""
    seen = likeness.of("line") > LINE_FROM
    drawn = np.zeros(seen.shape, np.uint8)
    for side in (0.5, -0.5):
        at = np.round(likeness.to_px(beside(lane.middle, side * lane.apart_mm)) * 16).astype(np.int32)
        cv2.polylines(drawn, [at], False, 1, round(LINE_MM * likeness.px_per_mm), shift=4)
    lines = drawn > 0
    return float((seen & lines).sum()) / max(float((seen | lines).sum()), 1.0)


def beside(line: Floats, offset: float) -> Floats:
    """The line moved to its side by `offset`, its corners mitred."""
    steps = np.diff(line, axis=0)
    ways = steps / np.maximum(np.hypot(steps[:, 0], steps[:, 1]), 1e-9)[:, None]
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
