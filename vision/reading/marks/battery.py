"""Find the circle that was pencilled round the cell.

In:    `Ink` and `Strokes` of one card.
Out:   `Ring`s: every circle of a cell's size that the strokes give, the most complete first.
Fails: never; no ring gives an empty list.

Every stroke point votes for the centres that lie square to its direction, within a cell's radii. The
best centres are then fitted by least squares to the stroke's centre line, one value per direction from
the centre, so that a stretch that was drawn twice counts once and lines that run in count for nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.marks.ink import Ink
from vision.reading.marks.places import rings
from vision.reading.marks.strokes import Strokes
from vision.reading.middle import scatter_of
from vision.reading.ratio import over, unit
from vision.reading.robust import robust_fit

LEAST_RADIUS_MM = 5.2  # the smallest cell in the parts list (12.5 mm) drawn tightly
MOST_RADIUS_MM = 14.2  # the largest (24.5 mm), drawn loosely
RADIUS_STEP_MM = 0.25
# Chosen: points of a stroke lie 0.2 mm apart, so every other one is enough.
VOTE_CELL_MM, VOTES_EVERY = 0.5, 2
DIRECTIONS = 90  # bins round the circle, 4 degrees each
BAND_MM = 1.6  # chosen: a hand-drawn circle stays this near to its least-squares circle
MOST_TRIED = 12
NEARBY_MM = 8.0  # of a circle's guess
# A thing's rim; measured on simulated photos: pencil circles stay below 0.75 of each.
THING_STEP = 0.022
THING_BUSY = 0.055
THING_BRIGHTER = 0.009
# Chosen: of a hand's wobble, from which a direction counts less and less
FAR_SPREADS, LEAST_SPREAD_MM = 2.5, 0.15
LEAST_COVER = 0.5  # chosen: of the way round; less is an arc
COVER_ON_THE_WAY = 0.8  # chosen: of that, while the circle is still moved
LEAST_POINTS = 20  # chosen: of strokes, 4 mm of pencil; fewer fix no circle
SAME_MM = 1.5  # chosen: rings whose middle and radius differ by less in all share their stroke
WOBBLE_COSTS = 0.3  # chosen: share of the way round that a millimetre of wobble is worth
VOTES_SPREAD = 1.2  # chosen: cells over which a hand's circle scatters its votes
# Chosen: how near a stroke must lie in the first two rounds, before the guess is good
TIGHTER_MM = 2.0, 1.8
# Chosen: a hand's wobble, for small circles and as a share of large ones' radius
ON_IT_MM, ON_IT_SHARE = 0.8, 0.08
ONE_WOBBLE = 6.0  # chosen: neighbouring directions that wobble together
LEAST_STRENGTH = 1e-3  # of ridge contrast, a twentieth of faint pencil's; keeps a mean's weights above 0
LEAST_SIGMA_MM = 0.03  # chosen: the reading of one stroke's middle
# Half of the wobble is the hand's own, which the true circle has too; chosen, borne out by the bounds that hold.
WOBBLE_COUNTS = 0.5
# Where the paper is looked at: inside as shares of the radius, beyond it, and on both sides of the stroke. [mm]
WITHIN, BEYOND_MM, BESIDE_MM = (0.1, 0.85), (1.0, 2.5), (1.1, 1.9)
# Chosen: directions and radii; marks near the stroke take up few of either.
PAPER_TURNS, WITHIN_STEPS = 60, 12
BUSY_BELOW = 0.8  # chosen: of the paper's brightness; darker is pencil


@dataclass(frozen=True, slots=True)
class Ring:
    """One fitted circle.

    cover : share of directions in which there is a stroke on it. wobble_mm : deviation of the stroke's
    centre line from it. longest_gap_deg : widest stretch without a stroke. inside_tone : brightness of
    the paper inside over that just outside (1: the same paper; a coin differs). busy : share of the
    inside that is pencil. step : difference in tone between the two sides of the stroke.
    """

    x_mm: float
    y_mm: float
    radius_mm: float
    cover: float
    wobble_mm: float
    longest_gap_deg: float
    inside_tone: float
    busy: float
    step: float
    sigma_mm: float
    radius_sigma_mm: float


def find_rings(ink: Ink, strokes: Strokes, tries: int = MOST_TRIED) -> list[Ring]:
    """Every ring of a cell's size among so many that most strokes vote for, the best first; rings that share their
    stroke are given once."""
    if len(strokes.points_mm) < LEAST_POINTS:
        return []
    found: list[Ring] = []
    for x, y, radius in _votes(strokes, tries):
        ring = _fit(ink, strokes, x, y, radius)
        if ring is not None and not any(_same(ring, other) for other in found):
            found.append(ring)
    return sorted(found, key=lambda ring: -worth(ring))


def thing_likeness(ring: Ring) -> float:
    """How much the ring looks like the rim of a thing: from 1 on it is one. Pencil has the same bare
    paper on both sides and little inside."""
    return max(
        ring.step / THING_STEP,
        ring.busy / THING_BUSY,
        (ring.inside_tone - 1.0) / THING_BRIGHTER,
    )


def worth(ring: Ring) -> float:
    """Larger for a ring that is more complete and rounder."""
    return ring.cover - WOBBLE_COSTS * ring.wobble_mm


def _same(one: Ring, other: Ring) -> bool:
    apart = float(np.hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm))
    return apart + abs(one.radius_mm - other.radius_mm) < SAME_MM


def _votes(strokes: Strokes, tries: int) -> list[tuple[float, float, float]]:
    """Centres and radii with the most of a circle round them, the fullest first."""
    radii = np.arange(LEAST_RADIUS_MM, MOST_RADIUS_MM, RADIUS_STEP_MM)
    low = strokes.points_mm.min(axis=0) - 1.0
    size = np.ceil((strokes.points_mm.max(axis=0) + 1.0 - low) / VOTE_CELL_MM).astype(int) + 1
    wide, high = int(size[0]), int(size[1])
    at = ((strokes.points_mm[::VOTES_EVERY] - low) / VOTE_CELL_MM).astype(np.float32).T
    along_x, along_y = (strokes.along[::VOTES_EVERY] / VOTE_CELL_MM).astype(np.float32).T
    across = np.stack([-along_y, along_x])

    # Of one radius after the other, since votes of all are too many for a processor's near memory.
    best, of = np.full((high, wide), -np.inf, np.float32), np.zeros((high, wide), np.int32)
    for k, radius in enumerate(radii.astype(np.float32)):
        columns, rows = np.rint(np.hstack([at + radius * across, at - radius * across])).astype(np.int32)
        inside = (columns >= 0) & (rows >= 0) & (columns < wide) & (rows < high)
        votes = np.bincount((rows * wide + columns)[inside], minlength=high * wide).reshape(high, wide)
        share = cv2.GaussianBlur(votes.astype(np.float32), (0, 0), VOTES_SPREAD) / radius
        more = share > best
        best[more], of[more] = share[more], k
    peaks = []
    for _ in range(tries):
        row, column = np.unravel_index(int(best.argmax()), best.shape)
        x, y = low + np.array([column, row]) * VOTE_CELL_MM
        peaks.append((float(x), float(y), float(radii[of[row, column]])))
        reach = round(2.0 / VOTE_CELL_MM)
        best[max(0, row - reach) : row + reach + 1, max(0, column - reach) : column + reach + 1] = 0
    return peaks


def _fit(ink: Ink, strokes: Strokes, x: float, y: float, radius: float) -> Ring | None:
    """Least-squares circle of the stroke near the guess, or None when there is too little of it."""
    centre = np.array([x, y])
    turns = (np.arange(DIRECTIONS) + 0.5) * (2 * np.pi / DIRECTIONS)
    has = np.zeros(DIRECTIONS, dtype=np.bool_)
    at = np.zeros(DIRECTIONS)
    # What the centre and the radius may still move stays well within this.
    some = np.abs(np.hypot(*(strokes.points_mm - centre).T) - radius) < NEARBY_MM
    points, along, strength = strokes.points_mm[some], strokes.along[some], strokes.strength[some]
    for band in (*TIGHTER_MM, BAND_MM, BAND_MM):
        offset = points - centre
        distance = np.hypot(offset[:, 0], offset[:, 1])
        tangent = np.abs((unit(offset) * along).sum(axis=1)) < 0.5
        near = (np.abs(distance - radius) < band) & tangent
        if int(near.sum()) < LEAST_POINTS:
            return None
        bins = (np.arctan2(offset[near, 1], offset[near, 0]) / (2 * np.pi) % 1 * DIRECTIONS).astype(int)
        has, at = _per_direction(bins % DIRECTIONS, distance[near], strength[near], radius)
        if has.mean() < COVER_ON_THE_WAY * LEAST_COVER:
            return None
        basis = np.column_stack([np.ones(DIRECTIONS), np.cos(turns), np.sin(turns)])[has]
        fit, off, weight = robust_fit(basis, at[has], _far_off)
        radius = float(fit[0])
        centre = centre + fit[1:]
    if not LEAST_RADIUS_MM <= radius <= MOST_RADIUS_MM:
        return None
    return _describe(ink, centre, radius, has, off, weight)


def _far_off(off: Floats) -> float:
    """From where on a direction's stroke counts less: some deviations of those that keep to the circle. [mm]"""
    return FAR_SPREADS * max(LEAST_SPREAD_MM, float(scatter_of(off)))


def _per_direction(
    bins: NDArray[np.intp], distance: Floats, strength: Floats, radius: float
) -> tuple[NDArray[np.bool_], Floats]:
    """In each direction the mean distance of the stroke's points, by their strength."""
    weight = np.maximum(strength, LEAST_STRENGTH)
    total = np.bincount(bins, weights=weight, minlength=DIRECTIONS)
    mean = np.bincount(bins, weights=weight * distance, minlength=DIRECTIONS)
    has = total > 0
    return has, np.where(has, over(mean, total), radius)


def _describe(
    ink: Ink, centre: Floats, radius: float, has: NDArray[np.bool_], off: Floats, weight: Floats
) -> Ring | None:
    on_it = np.zeros(DIRECTIONS, dtype=np.bool_)
    on_it[np.nonzero(has)[0][np.abs(off) < max(ON_IT_MM, ON_IT_SHARE * radius)]] = True
    cover = float(on_it.mean())
    if cover < LEAST_COVER:
        return None
    wobble = float(np.sqrt(np.average(off**2, weights=weight)))
    free = int(on_it.sum()) / ONE_WOBBLE
    inside, outside, busy, step = _paper_inside(ink, centre, radius)
    return Ring(
        x_mm=float(centre[0]),
        y_mm=float(centre[1]),
        radius_mm=radius,
        cover=cover,
        wobble_mm=wobble,
        longest_gap_deg=_longest_gap(on_it) * 360.0 / DIRECTIONS,
        inside_tone=float(over(inside, outside)),
        busy=busy,
        step=step,
        sigma_mm=LEAST_SIGMA_MM + wobble * float(np.sqrt(2 / free)) * WOBBLE_COUNTS,
        radius_sigma_mm=LEAST_SIGMA_MM + wobble / float(np.sqrt(free)) * WOBBLE_COUNTS,
    )


def _longest_gap(on_it: NDArray[np.bool_]) -> int:
    where = np.nonzero(on_it)[0]
    return int(np.max(np.diff(np.append(where, where[0] + len(on_it))))) - 1


def _paper_inside(ink: Ink, centre: Floats, radius: float) -> tuple[float, float, float, float]:
    """Median tone inside and just outside the circle, the share of the inside that is dark, and the
    mean step in tone across the stroke: the same paper on both sides has none, a thing's rim has."""

    def tone(radii: Floats) -> Floats:
        return ink.sample_work(ink.tone, rings(centre[None], radii, PAPER_TURNS)[0]).astype(np.float64)

    within = tone(np.linspace(*WITHIN, WITHIN_STEPS) * radius)
    beyond = tone(radius + np.linspace(*BEYOND_MM, 4))
    inner = np.median(tone(radius - np.linspace(*BESIDE_MM, 4)), axis=0)
    outer = np.median(tone(radius + np.linspace(*BESIDE_MM, 4)), axis=0)
    # signs and lines that meet the circle take up few of the directions
    step = float(np.median(np.abs(inner - outer)))
    return float(np.median(within)), float(np.median(beyond)), float((within < BUSY_BELOW).mean()), step
