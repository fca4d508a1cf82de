"""Where exactly an edge runs, to a fraction of a pixel, at the photo's full size.

In:    the photo, a rough course of the edge (points with outward normals), how far off it may be.
Out:   `EdgePoints`; None when nothing along the course looks like one edge.

The courses come from the reduced picture and may be several photo pixels off and bent by the lens.
So a smooth curve is first laid where the summed contrast across it is greatest, which finds an edge
far too faint to be seen in any single profile; only then is each profile's own steepest place taken.
"""

from __future__ import annotations

import numpy as np

from vision.arrays import Floats, RgbImage
from vision.reading.edges.curve import lay_along
from vision.reading.edges.profiles import Course, EdgePoints, evenly, sample, slopes
from vision.reading.edges.sheet_end import at_the_sheets_end, inner_edge
from vision.reading.middle import median, scatter_of

LEAST_REACH_PX = 4.0  # chosen: any course may be off by so much
REACH_SAMPLES, LEAST_SPACING_PX = 24, 0.5  # of the search for the curve: samples to either side; chosen
SIDE_SAMPLES = 3  # beyond the reach, so that a slope at its end is known
BOW_SHARE = 0.5  # of the reach, by which an edge may be bent
END_SHARE = 5  # a fifth of a profile at either end tells the colours inside and outside

# Of the profiles that each show their own steepest place; chosen
PEAK_SPACING_PX, PEAK_SMOOTH_SAMPLES = 0.5, 2.4
# From the curve laid within which it lies, and in that one's samples
PEAK_REACH_PX, PEAK_REACH_SAMPLES = 3.0, 1.5
LEAST_AROUND_PX, AROUND = 10.0, 2.5  # what of the surroundings is looked at: so far, or that many reaches
FAR_SHARE = 0.7  # of it, beyond which light counts as inside's or outside's
LEAST_STEEP = 0.35  # of the usual steepness, below which a profile shows no edge
LEAST_SEEN = 0.25  # of the profiles, that must show one and keep to one curve
OFF_CURVE_SIGMAS = 3.0  # off the smooth curve through all: a thing across the edge
CURVE_ROUNDS = 4
# Where there is no edge each profile's steepest place is anywhere within reach: a deviation of half of it.
SCATTERED = 0.35
LEAST_SCATTER_PX = 0.02  # chosen: no edge in a photo is known better point by point

SPREAD_OFFSETS_PX = np.arange(-8.0, 8.01, 0.5)  # of the mean profile that tells the blur
FLAT_SAMPLES, NO_STEP, WIDEST_SPREAD_PX = 4, 1e-6, 8.0  # its ends; a step that is none; the spread of that
ONE_SIGMA_BELOW, ONE_SIGMA_ABOVE = 0.1587, 0.8413  # of a Gaussian's sum: between them lie two deviations


def find_edge(
    pixels: RgbImage,
    course: Course,
    reach_px: float,
    direction: Floats | None = None,
    floor: float = -np.inf,
) -> EdgePoints | None:
    """The edge within `reach_px` of the course; None when under a quarter of the course shows one.

    direction : (3,) linear-light colour of inside less outside; None for a sheet, whose colours the ends of the
        profiles tell. floor : light along that direction below which all counts alike as the curve is laid.
    """
    reach_px = max(reach_px, LEAST_REACH_PX)
    spacing = max(LEAST_SPACING_PX, reach_px / REACH_SAMPLES)
    most = reach_px + SIDE_SAMPLES * spacing
    offsets = evenly(most, spacing)
    profiles = sample(pixels, course, offsets)
    bow = BOW_SHARE * reach_px
    of_the_sheet = direction is None
    if direction is None:
        depth = max(2, len(offsets) // END_SHARE)
        direction = median(profiles[:, :depth].mean(axis=1) - profiles[:, -depth:].mean(axis=1), axis=0)
    if not np.any(direction):
        return None
    way = direction / np.linalg.norm(direction)
    laid = lay_along(np.maximum(profiles @ way, floor), offsets, bow)
    if laid is None:
        return None
    tries = [(laid, way)]
    if of_the_sheet:
        inner = inner_edge(profiles, offsets, laid, bow)
        tries = [inner, *tries] if inner is not None else tries
    for curve, colour in tries:
        moved = Course(course.points + curve[:, None] * course.outward, course.outward)
        edge = _take_peaks(pixels, moved, colour, max(PEAK_REACH_PX, PEAK_REACH_SAMPLES * spacing))
        if edge is not None:
            return at_the_sheets_end(pixels, edge, reach_px) if of_the_sheet else edge
    return None


def _take_peaks(pixels: RgbImage, course: Course, direction: Floats, reach_px: float) -> EdgePoints | None:
    """Each profile's own steepest place, those that a smooth curve joins; None where few profiles show one."""
    around = max(LEAST_AROUND_PX, AROUND * reach_px)
    offsets = evenly(around, PEAK_SPACING_PX)
    profiles = sample(pixels, course, offsets) @ direction
    found, steep = _steepest(profiles, offsets, reach_px)
    known = np.isfinite(found)
    typical = median(steep[known]) if known.any() else 0.0
    seen = known & (steep > LEAST_STEEP * typical) & (typical > 0)
    if seen.sum() < LEAST_SEEN * len(found):
        return None
    # What a smooth curve leaves over is the noise; a thing across the edge is left out here already.
    cubic = np.vander(np.linspace(-1, 1, len(found)), 4)
    keep = seen
    for _ in range(CURVE_ROUNDS):
        kept = cubic[keep]
        rest = found - cubic @ np.linalg.solve(kept.T @ kept, kept.T @ found[keep])
        sigma = float(scatter_of(rest[keep])) + LEAST_SCATTER_PX
        again = seen & (np.abs(rest) < OFF_CURVE_SIGMAS * sigma)
        if again.sum() < LEAST_SEEN * len(found) or np.array_equal(again, keep):
            break
        keep = again
    if sigma > SCATTERED * reach_px:
        return None
    inner = profiles[:, offsets < -FAR_SHARE * around].mean()
    outside = profiles[:, offsets > FAR_SHARE * around].mean()
    return EdgePoints(
        course.points[keep] + found[keep, None] * course.outward[keep],
        course.outward[keep],
        sigma,
        _edge_spread(profiles[keep], found[keep], offsets),
        float(inner - outside),
        float(keep.mean()),
    )


def _steepest(profiles: Floats, offsets: Floats, reach_px: float) -> tuple[Floats, Floats]:
    """(N,) where each profile falls most within reach, between samples by a parabola, nan where only at the reach's
    end; (N,) how steeply."""
    falls = -slopes(profiles, PEAK_SMOOTH_SAMPLES)
    near = np.flatnonzero(np.abs(offsets) <= reach_px)
    best = near[0] + np.argmax(falls[:, near], axis=1)
    rows = np.arange(len(falls))
    before, at, after = falls[rows, best - 1], falls[rows, best], falls[rows, best + 1]
    bend = before - 2 * at + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1), 0.0)
    interior = (best > near[0]) & (best < near[-1])
    found = offsets[best] + np.clip(shift, -1, 1) * PEAK_SPACING_PX
    return np.where(interior, found, np.nan), at


def _edge_spread(profiles: Floats, found: Floats, offsets: Floats) -> float:
    """Standard deviation of the blur, from the mean profile aligned on the edge. [px]"""
    places = SPREAD_OFFSETS_PX[None] + found[:, None]
    column = np.clip((places - offsets[0]) / PEAK_SPACING_PX, 0, len(offsets) - 1)
    low = np.minimum(column.astype(int), len(offsets) - 2)
    rows, part = np.arange(len(profiles))[:, None], column - low
    mean = median(profiles[rows, low] * (1 - part) + profiles[rows, low + 1] * part, axis=0)
    inner, outer = mean[:FLAT_SAMPLES].mean(), mean[-FLAT_SAMPLES:].mean()
    if abs(inner - outer) < NO_STEP:
        return WIDEST_SPREAD_PX
    falling = np.minimum.accumulate((mean - outer) / (inner - outer))
    upper, lower = (
        np.interp(-level, -falling, SPREAD_OFFSETS_PX) for level in (ONE_SIGMA_ABOVE, ONE_SIGMA_BELOW)
    )
    return float(max(lower - upper, 0.0) / 2)
