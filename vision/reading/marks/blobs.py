"""Dark compact spots on the card, each measured in rays from its middle.

In:    `Ink`, and places near them.
Out:   `Blob`s: centre, radius and what tells a filled dot from a letter, a smudge or a crossing.
Fails: never; no dark spot gives an empty list.

A stroke is 0.3-0.9 mm wide, a dot 2-5 mm: the mean ink under a small disc finds everything that could
be a dot (`probe.py`). Then 72 rays from its middle are cut where the ink ends. The median ray is the dot; rays
that run on are strokes that touch it and have no say in its centre.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import FloatImage, Floats
from vision.reading.marks.ink import Ink
from vision.reading.middle import median, quantile, scatter_of
from vision.reading.ratio import NOTHING, over
from vision.reading.robust import robust_fit

RAYS = 72
_ANGLES = np.arange(RAYS) * (2 * np.pi / RAYS)
_WAYS = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])
RAY_STEP_MM = 0.1
RAY_REACH_MM = 4.6  # chosen: a 5 mm dot and 2 mm of what lies around it
SMOOTHING_MM = 0.12  # chosen: bridges the paper's grain, hardly widens a stroke
CLOUD_MM = 0.25  # smoothing that makes a cloud of specks one spot
ROUNDS = 4  # recentring settles in three
OUTLINE_ROUNDS = 6  # chosen: of an outline's own fit, which strokes lead astray at first
EDGE_AT = 0.5  # of the dot's level: where a blurred edge truly is
SHORT_COUNTS = 1.5  # chosen: how much farther a ray that falls short may be off than one that runs on
LEAST_FAR_MM = 0.1  # chosen: a step of the rays
STRAY_MM = 0.3  # chosen: a ray this far off the fitted outline is a stroke's or a nick's
LEAST_RADIUS_MM = 0.3
CORE_MM = 0.8  # chosen: the level is looked for within the smallest dot
LEVEL_WITHIN = 0.75  # chosen: of the radius, clear of the blurred rim
MOST_SHIFT_MM = 0.6  # chosen: in one round of recentring; farther is a stroke's pull
MOST_ADRIFT_MM = 2.5  # chosen: a spot that moved by a large dot's radius is another's
# Chosen: of the outline, clear of its blur; its middle; for the floor
INSIDE, INNER, FLOOR_WITHIN = 0.8, 0.4, 0.65
BARE = 0.4  # chosen: of the level; paler is paper
HIGH, LOW = 0.75, 0.25  # the edge's width is measured between these shares of the level
# A centre's standard deviation: the rays' reading, and what raggedness and touching strokes add; chosen, the stated
# bounds hold for 97 to 99 % of simulated marks.
SIGMA_MM, SIGMA_PER_RAGGED, SIGMA_PER_STRAYS = 0.03, 0.25, 0.12
LARGER_COUNTS = 0.1  # chosen: of two outlines alike the larger one, per mm of radius
DARKER_TIMES = 2.0  # chosen: a dot's own grain and rim are less uneven than this
FLOOR_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Blob:
    """One dark spot. Shares and ratios are 0..1 unless said.

    level : ink of its inside. middle : ink of the inner third over that of the rest of the inside
    (a ring or a letter's loop is far below 1). floor : ink of its palest tenth over its own. holes : share
    of the inside that is bare paper.
    ragged_mm : deviation of the outline from a circle. long : (long - short) / (long + short) half axis.
    strays : share of rays that run on past the outline (strokes that touch). edge_mm : distance over
    which the ink falls from three to one quarter of its level.
    """

    x_mm: float
    y_mm: float
    radius_mm: float
    level: float
    middle: float
    floor: float
    holes: float
    ragged_mm: float
    long: float
    strays: float
    edge_mm: float
    sigma_mm: float

    def overlaps(self, other: Blob) -> bool:
        """Whether the two spots' discs share paper."""
        apart = np.hypot(self.x_mm - other.x_mm, self.y_mm - other.y_mm)
        return bool(apart < self.radius_mm + other.radius_mm)


def measure_blobs(ink: Ink, starts_mm: Floats, smoothing_mm: float = SMOOTHING_MM) -> list[Blob]:
    """The spots at or near (N, 2) places; places that settle on one spot give it once."""
    if len(starts_mm) == 0:
        return []
    smooth = cv2.GaussianBlur(ink.fine, (0, 0), smoothing_mm * ink.px_per_mm)
    return _unique(_measure(ink, np.asarray(smooth, dtype=np.float32), starts_mm))


def _rays(ink: Ink, smooth: FloatImage, centres: Floats) -> Floats:
    """(N, RAYS, steps) ink along the rays of every centre."""
    reach = np.arange(round(RAY_REACH_MM / RAY_STEP_MM)) * RAY_STEP_MM
    x, y = (
        (at[:, None, None] + np.outer(way, reach) * ink.px_per_mm).astype(np.float32)
        for at, way in zip(ink.mm_to_fine(centres).T, _WAYS.T, strict=True)
    )
    shape = x.shape
    flat = (shape[0] * shape[1], shape[2])
    got = cv2.remap(
        smooth, x.reshape(flat), y.reshape(flat), cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
    )
    return np.asarray(got, dtype=np.float64).reshape(shape)


def _radius_of(profile: Floats) -> tuple[Floats, Floats]:
    """Radius and level of each (N, steps) median profile: where it falls below half its inside.

    The level is that of the disc whose mean falls least under its darkest part, so that a pale grain in
    the very middle does not end the dot there.
    """
    steps = np.arange(profile.shape[1])
    weights = steps + 0.5  # area of the ring
    mean = np.cumsum(profile * weights, axis=1) / np.cumsum(weights)
    core = round(CORE_MM / RAY_STEP_MM)
    level = mean[:, 3:core].max(axis=1)
    radius = np.zeros(len(profile))
    for _ in range(2):
        below = profile < EDGE_AT * level[:, None]
        # two steps in a row below, past the level's own first steps
        ends = below[:, :-1] & below[:, 1:] & (steps[None, :-1] >= 2)
        radius = np.maximum(_first_fall(profile, ends, EDGE_AT * level), LEAST_RADIUS_MM)
        inner = steps[None, :] * RAY_STEP_MM <= LEVEL_WITHIN * radius[:, None]
        level = over((profile * weights * inner).sum(axis=1), (weights * inner).sum(axis=1))
    return radius, level


def _edges(rays: Floats, radius: Floats, level: Floats) -> Floats:
    """(N, RAYS) distance at which each ray leaves the ink, looked for from half the radius on."""
    steps = np.arange(rays.shape[2])
    start = (0.5 * radius / RAY_STEP_MM).astype(int)
    below = (rays < EDGE_AT * level[:, None, None]) & (steps[None, None, :] >= start[:, None, None])
    return np.maximum(_first_fall(rays, below, EDGE_AT * level[:, None]), 0.0)


def _first_fall(ink: Floats, below: NDArray[np.bool_], limit: Floats) -> Floats:
    """(...) how far out (..., steps) ink first lies below the (...) limit, between two steps; the last step where it
    nowhere does. [mm]"""
    first = np.where(below.any(axis=-1), below.argmax(axis=-1), ink.shape[-1] - 1)
    before, after = (
        np.take_along_axis(ink, at[..., None], axis=-1)[..., 0] for at in (np.maximum(first - 1, 0), first)
    )
    span = np.where(before - after > 1e-6, before - after, 1.0)
    part = np.clip((before - limit) / span, 0.0, 1.0)
    return np.asarray((first - 1 + part) * RAY_STEP_MM, dtype=np.float64)


def _fit_outline(edges: Floats, radius: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Robust r + dx cos + dy sin through each row of edges: (N, 3) and which rays keep to it."""
    basis = np.column_stack([np.ones(RAYS), _WAYS])
    start = np.column_stack([radius, np.zeros_like(radius), np.zeros_like(radius)])

    def far(off: Floats) -> Floats:
        # running on past the outline is what a stroke does; falling short is raggedness
        least: Floats = np.where(off > 0, 1.0, SHORT_COUNTS) * scatter_of(off)[..., None]
        return np.maximum(least, LEAST_FAR_MM)

    fits, off, _ = robust_fit(basis, edges, far, rounds=OUTLINE_ROUNDS, start=start)
    return fits, np.abs(off) <= STRAY_MM


def _measure(ink: Ink, smooth: FloatImage, starts: Floats) -> list[Blob]:
    centres = starts.copy()
    for turn in range(ROUNDS):
        rays = _rays(ink, smooth, centres)
        profiles = median(rays, axis=1)
        radius, level = _radius_of(profiles)
        edges = _edges(rays, radius, level)
        fits, keeps = _fit_outline(edges, radius)
        if turn + 1 < ROUNDS:
            shift = fits[:, 1:]
            size = np.linalg.norm(shift, axis=1, keepdims=True)
            centres = centres + shift * np.minimum(1.0, MOST_SHIFT_MM / np.maximum(size, 1e-9))
    near = np.linalg.norm(centres - starts, axis=1) < MOST_ADRIFT_MM
    measured = (centres, rays, profiles, edges, fits, keeps, level)
    return _described(*(values[near] for values in measured))


def _described(
    centres: Floats,
    rays: Floats,
    profiles: Floats,
    edges: Floats,
    fits: Floats,
    keeps: NDArray[np.bool_],
    level: Floats,
) -> list[Blob]:
    """The spots about (N, 2) centres, by their (N, RAYS, steps) rays, (N, steps) median profiles, (N, RAYS) edges and
    which of them keep to the outline, (N, 3) outlines, (N,) levels."""
    outline = fits[:, :1] + fits[:, 1:] @ _WAYS.T
    radius = np.maximum(fits[:, 0], LEAST_RADIUS_MM)
    reach = np.arange(rays.shape[2]) * RAY_STEP_MM
    area = reach + RAY_STEP_MM / 2
    inside, inner = ((reach < share * outline[..., None]) * area for share in (INSIDE, INNER))
    size, core = inside.sum(axis=(1, 2)), inner.sum(axis=(1, 2))
    ink, core_ink = (np.einsum("nrs,nrs->n", rays, within) for within in (inside, inner))
    middle = over(core_ink, core) / np.maximum(over(ink - core_ink, size - core), 1e-6)
    holes = over(np.einsum("nrs,nrs->n", rays < BARE * level[:, None, None], inside), size)
    kept, count = np.where(keeps, edges - outline, 0.0), np.maximum(keeps.sum(axis=1), 1)
    ragged = np.where(keeps.any(axis=1), np.sqrt((kept**2).sum(axis=1) / count), STRAY_MM)
    long = np.where(keeps.any(axis=1), 2 * np.abs(kept @ np.exp(2j * _ANGLES)) / count / radius, 1.0)
    shift, diameter = _centroid(edges, outline, keeps)
    strays = 1.0 - keeps.mean(axis=1)
    columns = {
        "x_mm": centres[:, 0] + shift[:, 0],
        "y_mm": centres[:, 1] + shift[:, 1],
        "radius_mm": diameter / 2,
        "level": level,
        "middle": middle,
        "floor": _floor(rays, FLOOR_WITHIN * diameter / 2) / np.maximum(level, 1e-6),
        "holes": holes,
        "ragged_mm": ragged,
        "long": long,
        "strays": strays,
        "edge_mm": _fall(profiles, level),
        "sigma_mm": SIGMA_MM + SIGMA_PER_RAGGED * ragged + SIGMA_PER_STRAYS * strays,
    }
    names = list(columns)
    return [
        Blob(**dict(zip(names, values, strict=True)))
        for values in zip(*(column.tolist() for column in columns.values()), strict=True)
    ]


def _floor(rays: Floats, within_mm: Floats) -> Floats:
    """(N,) the level that a tenth of the ink within so far of each middle stays below."""
    counts = np.ceil(within_mm / RAY_STEP_MM).astype(int).clip(1)
    return np.array(
        [quantile(one[:, :count].ravel(), FLOOR_SHARE) for one, count in zip(rays, counts, strict=True)]
    )


def _fall(profile: Floats, level: Floats) -> Floats:
    """(N,) distance between three quarters and one quarter of the level on the way out of (N, steps). [mm]"""
    steps = np.arange(profile.shape[1])
    high, low = profile >= HIGH * level[:, None], profile < LOW * level[:, None]
    start = np.where(high, steps, 0).max(axis=1)
    ends = np.where(low & (steps >= start[:, None]), steps, len(steps)).min(axis=1)
    return np.asarray((ends - start) * RAY_STEP_MM, dtype=np.float64)


def _centroid(edges: Floats, outline: Floats, keeps: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """(N, 2) centroid of each spot's own ink from the rays' origin, and its (N,) diameter by area. [mm]

    Rays of touching strokes are cut at the fitted outline.
    """
    cut = np.where(keeps, edges, outline)
    # the polygon's centroid: the weight of graphite inside is its grain's, which is chance
    wedge = cut**2 / 2 * (2 * np.pi / RAYS)
    total = np.maximum(wedge.sum(axis=1), NOTHING)
    shift = (cut * wedge) @ _WAYS * (2 / 3) / total[:, None]
    return shift, np.asarray(2 * np.sqrt(total / np.pi), dtype=np.float64)


def _unique(blobs: list[Blob]) -> list[Blob]:
    """Of candidates that settled on one spot the roundest; a part of a larger dot is no dot, unless it is so much
    darker that it lies in a shadow or on a smudge."""
    ordered = sorted(blobs, key=lambda b: b.strays + b.ragged_mm - LARGER_COUNTS * b.radius_mm)
    figures = np.array([(b.x_mm, b.y_mm, b.radius_mm, b.level) for b in ordered]).reshape(-1, 4)
    x, y, radius, level = figures.T
    apart = np.hypot(x[:, None] - x, y[:, None] - y)
    beside = (apart > np.maximum(0.5 * radius[:, None], radius)) | (level[:, None] > DARKER_TIMES * level)
    kept: list[int] = []
    for k in range(len(ordered)):
        if beside[k, kept].all():
            kept.append(k)
    return [ordered[k] for k in kept]
