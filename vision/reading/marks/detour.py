"""Lead a window's outline along the pencil where it left it.

In:    `Ink`, `Strokes`, `Likeness`, an outline as traced.
Out:   the outline with those stretches laid along strokes that join the same ends, where there are such.
Fails: never; what can't be mended is left as it is.

The network's map of the inside is coarse: it may cut a narrow arm off, or fill a notch that other lines run
through. There the outline crosses bare paper although a stroke leads from where it left the pencil to where it
meets it again. That stroke is found as the cheapest way over the card, bare paper being dear.
"""

from __future__ import annotations

import cv2
import numpy as np

from vision.arrays import BoolImage, FloatImage, Floats
from vision.reading.marks.ink import Ink
from vision.reading.marks.likeness import Likeness
from vision.reading.marks.strokes import STEP_MM, Strokes, beside_strokes, spots_round

BESIDE_MM = 0.6  # an outline this near a stroke's middle runs along it
LEAST_GAP_MM = 2.0
BACK_MM = 1.5  # the ends of a gap are taken so far back along the pencil
GRID_PX_PER_MM = 2.5
ROOM_MM = 20.0  # around the outline in which a way is looked for
STROKE_COST, LINE_COST, TAKEN_COST = 0.06, 0.35, 2.5  # per length; bare paper's is 1
TAKEN_MM, END_MM = 0.8, 2.0  # beside the outline's other stretches; clear of this about the gap's ends
MOST_BARE = 0.25  # of a way that is taken, over bare paper
LEAST_ASIDE_MM = 1.0  # from the outline as it was: nearer, its own fitting to the stroke is finer
LINE_FROM = 0.5


def along_strokes(ink: Ink, strokes: Strokes, likeness: Likeness, polygon: Floats) -> Floats:
    """(N, 2) outline whose gaps follow strokes where strokes join their ends. [mm]"""
    ring = spots_round(polygon)
    gaps = _gaps(_near_strokes(ink, strokes, likeness, ring))
    if not gaps:
        return polygon
    low, cost, on_stroke = _ground(strokes, likeness, ring)
    pieces: list[Floats] = []
    kept_from = 0
    start = gaps[0][0]
    ring = np.roll(ring, -start, axis=0)  # the first gap comes first and none runs over the end
    for first, last in [(first - start, last - start) for first, last in gaps]:
        way = _way(ring, first, last, low, cost, on_stroke)
        if way is None:
            continue
        pieces += [ring[kept_from : first + 1], way]
        kept_from = last
    if not pieces:
        return polygon
    return np.vstack([*pieces, ring[kept_from:]])


def _near_strokes(ink: Ink, strokes: Strokes, likeness: Likeness, spots: Floats) -> BoolImage:
    """Which of (N, 2) places lie beside a stroke that is no circuit line."""
    own = strokes.points_mm[likeness.sample("line", strokes.points_mm) < LINE_FROM]
    thin = np.zeros(strokes.thin.shape, dtype=np.bool_)
    at = np.round(ink.mm_to_work(own)).astype(int)
    thin[at[:, 1], at[:, 0]] = True
    return beside_strokes(ink, thin, BESIDE_MM, spots)


def _gaps(near: BoolImage) -> list[tuple[int, int]]:
    """Stretches off the pencil as (a place on it before, a place on it after), numbered on past the ring's end
    or back from its start; all within one round of the first."""
    count = len(near)
    if near.all() or not near.any():
        return []
    first = int(np.argmax(near & ~np.roll(near, -1)))  # on the pencil, and the next is not
    rolled = np.roll(near, -first)
    edges = np.diff(np.append(rolled, True).astype(int))
    starts, stops = np.flatnonzero(edges == -1), np.flatnonzero(edges == 1) + 1
    back = round(BACK_MM / STEP_MM)
    found: list[tuple[int, int]] = []
    for start, stop in zip(starts, stops, strict=True):
        if (stop - start - 1) * STEP_MM < LEAST_GAP_MM:
            continue
        a, b = int(start) - back, int(stop) + back
        if found and a <= found[-1][1] - first:  # too near the one before: one gap
            found[-1] = (found[-1][0], b + first)
        else:
            found.append((a + first, b + first))
    if found and found[-1][1] - found[0][0] > count:
        return []
    return found


def _ground(strokes: Strokes, likeness: Likeness, ring: Floats) -> tuple[Floats, FloatImage, BoolImage]:
    """Where the grid begins [mm], its cost per length, and which of it is stroke."""
    low = ring.min(axis=0) - ROOM_MM
    size = np.ceil((ring.max(axis=0) + ROOM_MM - low) * GRID_PX_PER_MM).astype(int)
    on_stroke = np.zeros((size[1], size[0]), dtype=np.uint8)
    at = np.round((strokes.points_mm - low) * GRID_PX_PER_MM).astype(int)
    at = at[((at >= 0) & (at < size)).all(axis=1)]
    on_stroke[at[:, 1], at[:, 0]] = 1
    on_stroke = cv2.dilate(on_stroke, np.ones((3, 3), np.uint8))
    rows, columns = np.mgrid[0 : size[1], 0 : size[0]]
    places = np.stack([columns, rows], axis=-1) / GRID_PX_PER_MM + low
    line = likeness.sample("line", places) > LINE_FROM
    cost = np.where(on_stroke > 0, STROKE_COST, 1.0)
    cost = np.where(line & (on_stroke > 0), LINE_COST, cost)
    return low, cost.astype(np.float32), on_stroke > 0


def _way(
    ring: Floats, first: int, last: int, low: Floats, cost: FloatImage, on_stroke: BoolImage
) -> Floats | None:
    """The cheapest way round one gap, None where it goes over bare paper itself."""
    from skimage.graph import route_through_array

    count = len(ring)
    ends = ring[first % count], ring[last % count]
    others = ring[[k % count for k in range(last, first + count + 1)]]
    away = np.minimum(*(np.hypot(*(others - end).T) for end in ends))
    here = cost.copy()
    blocked = np.zeros(cost.shape, dtype=np.uint8)
    at = np.round((others[away > END_MM] - low) * GRID_PX_PER_MM).astype(int)
    blocked[at[:, 1], at[:, 0]] = 1
    reach = 2 * round(TAKEN_MM * GRID_PX_PER_MM) + 1
    blocked = cv2.dilate(blocked, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    here[blocked > 0] = TAKEN_COST
    start, stop = (
        tuple(int(v) for v in np.round((end - low) * GRID_PX_PER_MM).astype(int)[::-1]) for end in ends
    )
    path, _ = route_through_array(here, start, stop, fully_connected=True, geometric=True)
    cells = np.array(path)
    bare = 1.0 - float(
        (on_stroke[cells[:, 0], cells[:, 1]] & (blocked[cells[:, 0], cells[:, 1]] == 0)).mean()
    )
    if bare > MOST_BARE:
        return None
    way: Floats = cells[:, ::-1] / GRID_PX_PER_MM + low
    old = ring[[k % count for k in range(first, last + 1)]]
    aside = np.hypot(*(way[:, None] - old[None]).transpose(2, 0, 1)).min(axis=1).max()
    return way if aside > LEAST_ASIDE_MM else None
