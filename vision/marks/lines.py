"""The two circuit lines that the maker pencilled, as polylines from the battery on.

In:    the `Lane` (strokes that run side by side), the battery circle, the lights.
Out:   two `SeenLine`s, or none when no lane was pencilled.
Fails: never; a lane that can't be followed from the battery gives none.

Where both lines show, the middle between them is certain even where one is faint, hidden by a dot or cut
by a corner. So the lane's middle is followed first, and each line is then looked for beside it.
"""

from __future__ import annotations

import math
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.marks.ink import BoolImage, Ink
from vision.marks.lanes import Lane
from vision.marks.seen import SeenCircle, SeenLight, SeenLine
from vision.marks.strokes import Strokes
from vision.marks.tidy import tidy_line

Floats = NDArray[np.float64]

STEP_MM = 1.0
AHEAD_MM = 1.6
BEND_DEG = 35.0
JUMP_MM = 11.0  # chosen: a corner with a dot in it hides this much of a lane
SIDE_STEP_MM = 0.9  # the middle moves aside by less from one step to the next
STRAIGHT_MM = 0.7  # chosen: bends of the middle smaller than this are the hand's
LEAST_LENGTH_MM = 12.0
TURN_BACK = -0.95  # cosine; a lane turns by up to 160 degrees at a light
MISS_MM = 1.6  # by how much the lane's middle may miss a light
PASSED_MM = 2.2
LIGHT_OFF_MM = 2.5
LEAST_LIGHTS = 0.65  # chosen: of the lights lie on the lane
MOST_STEPS = 1500
LINE_SIGMA_MM = 0.2  # the hand's own tremble
SIGN_MM = (1.6, 5.5)  # chosen: how large a plus sign is drawn
SIGN_REACH_MM = 10.0  # from the battery circle
SIGN_TURN_DEG = (
    35.0  # measured on simulated photos: a sign farther round the circle belongs to either line as often
)
MITRE_MOST = 2.5

Polarity = Literal["positive", "negative"]


def find_drawn_lines(
    ink: Ink,
    strokes: Strokes,
    lane: Lane | None,
    battery: SeenCircle | None,
    lights: tuple[SeenLight, ...],
    rest: BoolImage,
) -> tuple[SeenLine, ...]:
    """The two lines, or (). `rest` are the thinned strokes without ring, dots and lane, for the signs."""
    if lane is None or battery is None:
        return ()
    centres = np.array([light.centre for light in lights]).reshape(-1, 2)
    middle = _follow(strokes, lane, battery, centres)
    if middle is None or not _passes_most(middle, centres):
        return ()
    sides = [_beside(middle, sign * lane.apart_mm / 2) for sign in (1.0, -1.0)]
    lines = [tidy_line(ink, side) for side in sides]
    polarities = _polarities(ink, rest, battery, lines)
    return tuple(
        SeenLine(tuple((float(x), float(y)) for x, y in line), LINE_SIGMA_MM, polarity)
        for line, polarity in zip(lines, polarities)
    )


def _passes_most(middle: Floats, lights: Floats) -> bool:
    """A lane that misses the lights was followed wrongly."""
    if not len(lights):
        return False
    near = [_away(light, middle) < LIGHT_OFF_MM for light in lights]
    return float(np.mean(near)) >= LEAST_LIGHTS


def _away(point: Floats, line: Floats) -> float:
    """Distance of a point from a polyline. [mm]"""
    a, b = line[:-1], line[1:]
    way = b - a
    part = ((point - a) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-9)
    foot = a + np.clip(part, 0.0, 1.0)[:, None] * way
    return float(np.hypot(*(foot - point).T).min())


def _follow(strokes: Strokes, lane: Lane, battery: SeenCircle, lights: Floats) -> Floats | None:
    """(N, 2) corners of the lane's middle, from the battery on, or None."""
    middles = (strokes.points_mm[lane.on_lane] + lane.partner_mm[lane.on_lane]) / 2
    along = strokes.along[lane.on_lane]
    centre = np.array(battery.centre)
    from_battery = np.hypot(*(middles - centre).T)
    unused = from_battery > battery.diameter_mm / 2 - 3.0
    # the lane leaves the battery: of what is near, what points away from it
    outward = np.abs(((middles - centre) * along).sum(axis=1)) / np.maximum(from_battery, 1e-9) > 0.6
    starts = unused & outward
    if not starts.any():
        return None
    start = int(np.argmin(np.where(starts, from_battery, np.inf)))
    here = middles[start]
    way = along[start] if float((along[start] * (here - centre)).sum()) > 0 else -along[start]
    path, waiting = [here], np.ones(len(lights), dtype=np.bool_)
    for _ in range(MOST_STEPS):
        waiting &= np.hypot(*(lights - here).T) > PASSED_MM if len(lights) else waiting
        offset = middles - here
        ahead = offset @ way
        aside = np.abs(offset @ np.array([-way[1], way[0]]))
        same = np.abs(along @ way) > math.cos(math.radians(BEND_DEG))
        unused &= ~((ahead < 0.3) & (ahead > -3.0) & (aside < SIDE_STEP_MM) & same)
        near = unused & same & (ahead > 0.2) & (ahead < AHEAD_MM) & (aside < SIDE_STEP_MM)
        if int(near.sum()) >= 2:
            here = middles[near].mean(axis=0)
            turn = np.where((along[near] @ way)[:, None] > 0, along[near], -along[near]).mean(axis=0)
            way = turn / max(float(np.hypot(*turn)), 1e-9)
            path.append(here)
            continue
        light = _light_ahead(here, way, lights, waiting)
        if light is not None:
            way = (lights[light] - here) / max(float(np.hypot(*(lights[light] - here))), 1e-9)
            here = lights[light]
            waiting[light] = False
            path.append(here)
        onward = _jump(middles, along, unused, here, way, from_light=light is not None)
        if onward is None and light is None:
            break
        if onward is None:
            continue
        index, way_on = onward
        crossing = _meet(here, way, middles[index], way_on) if light is None else None
        if crossing is not None:
            path.append(crossing)
        here, way = middles[index], way_on
        unused[index] = False
        path.append(here)
    line = np.array(path)
    if len(line) < 2 or float(np.hypot(*np.diff(line, axis=0).T).sum()) < LEAST_LENGTH_MM:
        return None
    simple = cv2.approxPolyDP(line.astype(np.float32), STRAIGHT_MM, False).reshape(-1, 2)
    return simple.astype(np.float64) if len(simple) >= 2 else None


def _light_ahead(here: Floats, way: Floats, lights: Floats, waiting: NDArray[np.bool_]) -> int | None:
    """The nearest light that the lane has not passed yet and that lies ahead."""
    best, nearest = None, JUMP_MM
    for index in np.nonzero(waiting)[0]:
        offset = lights[index] - here
        distance = float(np.hypot(*offset))
        if distance < nearest and float(offset @ way) > 0.5 * distance:
            best, nearest = int(index), distance
    return best


def _jump(
    middles: Floats,
    along: Floats,
    unused: NDArray[np.bool_],
    here: Floats,
    way: Floats,
    from_light: bool,
) -> tuple[int, Floats] | None:
    """Where the lane goes on behind a corner or a dot: the index of the next middle and its way.

    From a light's middle on the lane leads straight away from it.
    """
    offset = middles - here
    distance = np.maximum(np.hypot(offset[:, 0], offset[:, 1]), 1e-9)
    inward = (offset * along).sum(axis=1)
    onward = np.where(inward[:, None] > 0, along, -along)
    miss = np.abs(offset[:, 0] * along[:, 1] - offset[:, 1] * along[:, 0])
    turn = 1.0 - (onward @ way)
    cost = distance * (1.0 + 0.4 * turn) + (2.0 * miss if from_light else 0.0)
    fit = unused & (distance < JUMP_MM) & (distance > 0.2) & (onward @ way > TURN_BACK)
    if from_light:
        fit &= miss < MISS_MM
    else:
        fit &= (offset @ way) / distance > 0.3
    cost = np.where(fit, cost, np.inf)
    index = int(np.argmin(cost))
    if not np.isfinite(cost[index]):
        return None
    return index, np.asarray(onward[index], dtype=np.float64)


def _meet(a: Floats, way_a: Floats, b: Floats, way_b: Floats) -> Floats | None:
    """Where the lane's middle turns: the crossing of its two straights, if it lies between them."""
    cross = float(way_a[0] * way_b[1] - way_a[1] * way_b[0])
    if abs(cross) < math.sin(math.radians(15.0)):
        return None
    offset = b - a
    ahead = float(offset[0] * way_b[1] - offset[1] * way_b[0]) / cross
    if not -2.0 < ahead < JUMP_MM:
        return None
    return np.asarray(a + ahead * way_a, dtype=np.float64)


def _beside(line: Floats, offset: float) -> Floats:
    """The line moved to its side by `offset`, its corners mitred."""
    steps = np.diff(line, axis=0)
    ways = steps / np.maximum(np.hypot(steps[:, 0], steps[:, 1]), 1e-9)[:, None]
    normals = np.column_stack([-ways[:, 1], ways[:, 0]])
    moved = [line[0] + offset * normals[0]]
    for before, after, corner in zip(normals[:-1], normals[1:], line[1:-1]):
        bisector = before + after
        size = float((bisector**2).sum())
        stretch = min(2.0 / max(size, 1e-6), MITRE_MOST)
        moved.append(corner + offset * stretch * bisector)
    moved.append(line[-1] + offset * normals[-1])
    return np.array(moved)


def _polarities(
    ink: Ink, rest: BoolImage, battery: SeenCircle, lines: list[Floats]
) -> tuple[Polarity | None, Polarity | None]:
    """Which line is positive: the one whose start lies nearer to the one plus sign at the battery."""
    signs = _plus_signs(ink, rest, battery)
    if len(signs) != 1:
        return None, None
    centre = np.array(battery.centre)
    sign = signs[0] - centre
    turns = [_turn_deg(sign, line[0] - centre) for line in lines]
    if min(turns) > SIGN_TURN_DEG or abs(turns[0] - turns[1]) < 5.0:
        return None, None
    return ("positive", "negative") if turns[0] < turns[1] else ("negative", "positive")


def _turn_deg(a: Floats, b: Floats) -> float:
    size = float(np.hypot(*a) * np.hypot(*b))
    return math.degrees(math.acos(float(np.clip((a * b).sum() / max(size, 1e-9), -1.0, 1.0))))


def _plus_signs(ink: Ink, rest: BoolImage, battery: SeenCircle) -> list[Floats]:
    """Middles of small upright crosses at or in the battery circle. [mm]"""
    scale = ink.work_px_per_mm
    count, labels, stats, _ = cv2.connectedComponentsWithStats(rest.astype(np.uint8), connectivity=8)
    found = []
    for label in range(1, count):
        width, height = (float(stats[label, k]) for k in (cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT))
        if not all(SIGN_MM[0] <= side / scale <= SIGN_MM[1] for side in (width, height)):
            continue
        if not 0.6 <= width / height <= 1.67:
            continue
        rows, columns = np.nonzero(labels == label)
        middle = ink.work_to_mm(np.array([[np.median(columns), np.median(rows)]]))[0]
        if math.dist(middle, battery.centre) > battery.diameter_mm / 2 + SIGN_REACH_MM:
            continue
        on_bar = np.abs(rows - np.median(rows)) <= 0.12 * height + 1
        on_post = np.abs(columns - np.median(columns)) <= 0.12 * width + 1
        bar, post = int((on_bar & ~on_post).sum()), int((on_post & ~on_bar).sum())
        if float((on_bar | on_post).mean()) > 0.9 and min(bar, post) > 0.35 * max(bar, post):
            found.append(middle)
    return found
