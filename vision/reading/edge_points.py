"""Where exactly an edge runs, to a fraction of a pixel, at the photo's full size.

In:    the photo, a rough course of the edge (points with outward normals), how far off it may be.
Out:   `EdgePoints`; None when nothing along the course looks like one edge.

The courses come from the reduced picture and may be several photo pixels off and bent by the lens.
So a smooth curve is first laid where the summed contrast across it is greatest, which finds an edge
far too faint to be seen in any single profile; only then is each profile's own steepest place taken.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from vision.arrays import Floats, RgbImage
from vision.reading.middle import median, scatter_of

# Light adds up in linear values: an edge blurred by the lens is symmetric there, not in the coded ones.
# sRGB decoding as in IEC 61966-2-1:1999; phones bend the curve further, so this is near, not exact.
_CODED = np.arange(256) / 255.0
LINEAR = np.where(_CODED <= 0.04045, _CODED / 12.92, ((_CODED + 0.055) / 1.055) ** 2.4).astype(np.float32)

# Where there is no edge each profile's steepest place is anywhere within reach: a deviation of half of it.
SCATTERED = 0.35
LEAST_SCATTER_PX = 0.02  # chosen: no edge in a photo is known better point by point
TANGENT_SAMPLES = 7  # chosen: averaged along the edge for each profile


@dataclass(frozen=True, slots=True)
class Course:
    """A rough edge: (N, 2) points in order along it and (N, 2) unit normals that point outward. [px]"""

    points: Floats
    outward: Floats


@dataclass(frozen=True, slots=True)
class EdgePoints:
    """points : (N, 2) of the edge [px]; sigma_px : standard deviation of one point across the edge;
    blur_px : standard deviation of the edge's own spread; contrast : step of linear light, inside
    less outside, 0..1; share : part of the course where the edge was seen."""

    points: Floats
    outward: Floats
    sigma_px: float
    blur_px: float
    contrast: float
    share: float


def straight_course(start: Floats, end: Floats, count: int, ends: float, inside_right: bool = True) -> Course:
    """Course from corner to corner without the share `ends` at either end; walking it, the inside
    lies to the right (y down: clockwise round a shape as seen)."""
    t = np.linspace(ends, 1 - ends, count)[:, None]
    points = start + t * (end - start)
    along = (end - start) / np.linalg.norm(end - start)
    outward = np.array([along[1], -along[0]]) * (1 if inside_right else -1)
    return Course(points, np.repeat(outward[None], count, axis=0))


def sample(pixels: RgbImage, course: Course, offsets: Floats) -> Floats:
    """(N, offsets, 3) linear light across a course at `offsets` in order [px], outward ones positive, each averaged
    along the edge over the spacing of the points."""
    count, across = len(course.points), len(offsets)
    along = np.stack([-course.outward[:, 1], course.outward[:, 0]], axis=1)
    spacing = float(np.linalg.norm(course.points[-1] - course.points[0])) / max(count - 1, 1)
    shifts = (np.arange(TANGENT_SAMPLES) - (TANGENT_SAMPLES - 1) / 2) * spacing / TANGENT_SAMPLES
    starts = course.points[:, None] + shifts[:, None] * along[:, None]
    # Only the patch round the edge goes to remap, whose coordinates end at 32767.
    ends = starts[:, :, None] + offsets[[0, -1], None] * course.outward[:, None, None]
    low = np.clip(np.floor(ends.min(axis=(0, 1, 2))).astype(int) - 2, 0, None)
    high = np.ceil(ends.max(axis=(0, 1, 2))).astype(int) + 3
    patch = pixels[low[1] : max(high[1], low[1] + 1), low[0] : max(high[0], low[0] + 1)]
    if patch.size == 0:
        return np.zeros((count, across, 3))
    starts, outward = (starts - low).astype(np.float32), course.outward.astype(np.float32)
    columns, rows = (
        (starts[:, :, k, None] + outward[:, k, None, None] * offsets.astype(np.float32)).reshape(-1, across)
        for k in (0, 1)
    )
    values = cv2.remap(
        np.ascontiguousarray(patch), columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    light = cv2.LUT(values, LINEAR).reshape(count, TANGENT_SAMPLES, -1)
    averaged: Floats = light.mean(axis=1).reshape(count, across, 3).astype(np.float64)
    return averaged


def _slopes(profiles: Floats, sigma: float) -> Floats:
    """Derivative of (N, M) profiles along axis 1, smoothed by a Gaussian of `sigma` samples."""
    reach = int(np.ceil(3 * sigma))
    u = np.arange(-reach, reach + 1)
    kernel = -u * np.exp(-(u**2) / (2 * sigma**2))
    kernel = kernel / np.abs(kernel * u).sum()
    slopes: Floats = cv2.filter2D(
        profiles, -1, -kernel[None, :].astype(np.float64), borderType=cv2.BORDER_REPLICATE
    )
    return slopes


def _lay_curve(strength: Floats, offsets: Floats, bow_most: float) -> Floats:
    """Offsets (N,) of the smooth curve a + b u + c (u^2 - 1/3), u in -1..1, of greatest mean strength."""
    count, across = strength.shape
    u = np.linspace(-1, 1, count)
    shapes = np.stack([np.ones(count), u, u**2 - 1 / 3])
    spacing = offsets[1] - offsets[0]
    half = offsets[-1]
    # Nothing is gained beyond either end: a column of zeros there, so that one look-up serves all curves.
    walled = np.zeros((count, across + 2), np.float32)
    walled[:, 1:-1] = strength
    flat, row_starts = walled.ravel(), np.arange(count, dtype=np.float32) * (across + 2)
    to_column, first = (shapes / spacing).astype(np.float32), np.float32(1 - offsets[0] / spacing)
    centre = np.zeros(3)
    span = np.array([half, half, bow_most])
    steps = np.array([13, 9, 5])
    for _ in range(4):
        axes = [centre[k] + np.linspace(-span[k], span[k], steps[k]) for k in range(3)]
        tries = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=1)
        columns = np.rint(tries.astype(np.float32) @ to_column + first)
        places = np.clip(columns, 0, across + 1) + row_starts
        centre = tries[int(np.argmax(flat[places.astype(np.int32)].sum(axis=1)))]
        span = span * np.array([0.2, 0.25, 0.4])
        steps = np.array([9, 9, 5])
    curve: Floats = centre @ shapes
    return curve


def find_edge(
    pixels: RgbImage,
    course: Course,
    reach_px: float,
    direction: Floats | None = None,
    bow_most_px: float | None = None,
) -> EdgePoints | None:
    """The edge within `reach_px` of the course.

    direction : (3,) linear-light colour of inside less outside; taken from the ends of the profiles
        when None. None is returned when under a quarter of the course shows an edge.
    """
    reach_px = max(reach_px, 4.0)
    spacing = max(0.5, reach_px / 24)
    offsets = np.arange(-reach_px - 3 * spacing, reach_px + 3.01 * spacing, spacing)
    profiles = sample(pixels, course, offsets)
    bow = reach_px / 2 if bow_most_px is None else bow_most_px
    of_the_sheet = direction is None
    if direction is None:
        depth = max(2, len(offsets) // 5)
        direction = np.median(profiles[:, :depth].mean(axis=1) - profiles[:, -depth:].mean(axis=1), axis=0)
    if not np.any(direction):
        return None
    way = direction / np.linalg.norm(direction)
    laid = _lay(profiles, offsets, way, bow)
    if laid is None:
        return None
    tries = [(laid, way)]
    if of_the_sheet:
        inner = _inner_edge(profiles, offsets, laid, bow)
        tries = [inner, *tries] if inner is not None else tries
    for curve, colour in tries:
        moved = Course(course.points + curve[:, None] * course.outward, course.outward)
        edge = _take_peaks(pixels, moved, colour, max(3.0, 1.5 * spacing))
        if edge is not None:
            return _at_the_sheets_end(pixels, edge, reach_px) if of_the_sheet else edge
    return None


MIX_OFFSETS = np.arange(-1.6, 0.721, 0.04)  # from well inside the sheet to well outside, in reaches
ALL_SHEET, ALL_TABLE = slice(2, 11), slice(-11, None)  # of them, where nothing else is taken to be seen
MIX_PARTS, LEAST_PARTS = 6, 4  # stretches of an edge that are measured each for itself, and must be known
OFF_LINE = 0.15  # of the reach, by which a stretch may lie off the straight line through them
# Measured on 6,500 edges: colours nearer to each other than this (sine of the angle between them) tell too little.
LEAST_SINE = 0.08
MOST_LEFT = 0.3  # of a share, by which sheet and table may be off what they are farther away
AROUND_END = 6  # samples to both sides of the end, within which blur mixes the two

CODED_POWER = 0.45  # back to about the coded values, in which a grey shadow beside brown card still shows
INNER_SHARE = 0.3  # slope of an inner edge over the outer one's from which it is the paper's own
INNER_NOISE = 3.0  # and over the slopes of the paper's grain
INNER_GAP_PX = 2.0  # how far inside it must lie
# What lies so far within the outer edge and is, beyond it, so near the sheet's own colour is a pencil line.
LINE_GAP_PX, LINE_SHARE, LINE_SINE = 5.0, 0.5, 0.04


def _inner_edge(
    profiles: Floats, offsets: Floats, outer: Floats, bow_px: float
) -> tuple[Floats, Floats] | None:
    """The edge of the sheet itself where what was laid first is the far side of its shadow: the curve and
    the colour direction there; None when there is no such inner edge.

    A sheet lies on a rim of its own shadow. On a light table the step from shadow to table can be the
    greater one, but where the paper's own colour first changes is its edge.
    """
    coded = np.clip(profiles, 0, 1) ** CODED_POWER
    slopes = np.sqrt(sum(_slopes(coded[..., channel], 1.6) ** 2 for channel in range(3)))
    inside = offsets[None, :] < outer[:, None] - INNER_GAP_PX
    third = max(4, len(offsets) // 3)
    noise = float(np.median(slopes[:, 2:third]))
    masked = np.where(inside, slopes, 0.0)
    scale = float(np.quantile(masked.max(axis=1), 0.6))
    if scale <= 0:
        return None
    curve = _lay_curve(np.clip((masked - noise) / scale, -0.3, 1.0), offsets, bow_px)
    spacing = offsets[1] - offsets[0]
    rows = np.arange(len(profiles))

    def along(values: Floats, where: Floats) -> Floats:
        index = np.clip(np.rint((where - offsets[0]) / spacing).astype(int), 0, len(offsets) - 1)
        taken: Floats = values[rows, index]
        return taken

    force, outer_force = float(np.median(along(masked, curve))), float(np.median(along(slopes, outer)))
    if force < INNER_SHARE * outer_force or force < INNER_NOISE * noise:
        return None
    reach = 2.5
    sheet, between, beyond = (
        np.median(along(profiles, where), axis=0)
        for where in (curve - reach, (curve + outer) / 2, outer + reach)
    )
    if (
        np.median(outer - curve) > LINE_GAP_PX
        and np.linalg.norm(between - sheet) < LINE_SHARE * np.linalg.norm(between - beyond)
        and _sine(between, sheet) < LINE_SINE
    ):
        return None  # a pencil line along the edge: beyond it the sheet goes on
    step = sheet - np.median(along(profiles, curve + reach), axis=0)
    table = np.median(profiles[:, -third:].reshape(-1, 3), axis=0)
    table /= max(float(np.linalg.norm(table)), 1e-9)
    # Across the table's own colour its shade is not seen, whose far side would be a second step.
    colour = step - (step @ table) * table
    if np.linalg.norm(colour) > LEAST_SINE * np.linalg.norm(sheet):
        step = colour
    if not np.any(step):
        return None
    return curve, step / np.linalg.norm(step)


def _at_the_sheets_end(pixels: RgbImage, edge: EdgePoints, reach_px: float) -> EdgePoints:
    """The edge moved to where the sheet's own colour ends, where sheet and table differ in colour.

    The steepest place can be the far side of the sheet's shadow, or be drawn towards it: brown card on a light
    table ends in a rim of grey that is nearer to the card in brightness. Measured: a third of the edges' error
    goes.
    """
    offsets = MIX_OFFSETS * reach_px
    light = sample(pixels, Course(edge.points, edge.outward), offsets)
    parts = np.array_split(np.arange(len(light)), MIX_PARTS)
    ends = np.array([_end_of_sheet(median(light[part], axis=0), offsets) for part in parts])
    known = np.isfinite(ends)
    if known.sum() < LEAST_PARTS:
        return edge
    middles = np.array([part.mean() for part in parts])
    if known.sum() < MIX_PARTS:
        line = np.polynomial.polynomial.polyfit(middles[known], ends[known], 1)
        on_line = np.polynomial.polynomial.polyval(middles, line)
        if np.abs(ends - on_line)[known].max() > OFF_LINE * reach_px:
            return edge
        ends = np.where(known, ends, on_line)
    shift = np.interp(np.arange(len(light)), middles, ends)
    return replace(edge, points=edge.points + shift[:, None] * edge.outward)


def _sine(first: Floats, second: Floats) -> float:
    """Of the angle between two (3,) colours: how unlike they are, however bright."""
    size = max(float(np.linalg.norm(first) * np.linalg.norm(second)), 1e-12)
    return float(np.linalg.norm(np.cross(first, second))) / size


def _end_of_sheet(profile: Floats, offsets: Floats) -> float:
    """Where a (N, 3) profile of linear light goes from mostly sheet to mostly table; nan where that can't be told.

    Light is taken for so much of the sheet's colour and so much of the table's. Shade on the table lowers the
    table's part and leaves the sheet's, so a rim of shadow counts for table however dark it is.
    """
    colours = np.column_stack([median(profile[part], axis=0) for part in (ALL_SHEET, ALL_TABLE)])
    weight = 2 / (colours.sum(axis=1) + 0.04)  # noise grows with the light
    weighted = colours * weight[:, None]
    if _sine(weighted[:, 0], weighted[:, 1]) < LEAST_SINE:
        return float("nan")
    sheet = (np.linalg.pinv(weighted) @ (profile * weight).T)[0]
    first = int(np.argmax(sheet < 0.5))
    if first == 0:
        return float("nan")
    step = float(offsets[1] - offsets[0])
    end = float(offsets[first - 1]) + step * float(
        (sheet[first - 1] - 0.5) / (sheet[first - 1] - sheet[first])
    )
    ideal = np.where(offsets < end, 1.0, 0.0)
    beyond = np.abs(offsets - end) > AROUND_END * step
    return end if np.abs(sheet - ideal)[beyond].max() < MOST_LEFT else float("nan")


def _lay(profiles: Floats, offsets: Floats, way: Floats, bow_px: float) -> Floats | None:
    """The curve of greatest contrast along one colour direction; None where nothing falls that way."""
    falls = -_slopes(profiles @ way, 1.6)  # inside is the larger value along `way`
    scale = float(np.quantile(falls.max(axis=1), 0.6))
    if scale <= 0:
        return None
    return _lay_curve(np.clip(falls / scale, -0.3, 1.0), offsets, bow_px)


def _take_peaks(pixels: RgbImage, course: Course, direction: Floats, reach_px: float) -> EdgePoints | None:
    spacing = 0.5
    outer = max(10.0, 2.5 * reach_px)
    offsets = np.arange(-outer, outer + 0.01, spacing)
    profiles = sample(pixels, course, offsets) @ direction
    falls = -_slopes(profiles, 2.4)
    near = np.flatnonzero(np.abs(offsets) <= reach_px)
    best = near[0] + np.argmax(falls[:, near], axis=1)
    rows = np.arange(len(falls))
    interior = (best > near[0]) & (best < near[-1])
    before, at, after = falls[rows, best - 1], falls[rows, best], falls[rows, best + 1]
    bend = before - 2 * at + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1), 0.0)
    found = offsets[best] + np.clip(shift, -1, 1) * spacing
    typical = np.median(at[interior]) if interior.any() else 0.0
    seen = interior & (at > 0.35 * typical) & (typical > 0)
    if seen.sum() < max(6, 0.25 * len(falls)):
        return None
    # What a smooth curve leaves over is the noise; a thing across the edge is left out here already.
    cubic = np.vander(np.linspace(-1, 1, len(falls)), 4)
    keep = seen.copy()
    for _ in range(4):
        kept = cubic[keep]
        rest = found - cubic @ np.linalg.solve(kept.T @ kept, kept.T @ found[keep])
        sigma = float(scatter_of(rest[keep])) + LEAST_SCATTER_PX
        again = seen & (np.abs(rest) < 3.0 * sigma)
        if again.sum() < max(6, 0.2 * len(falls)):
            break
        keep = again
    if sigma > SCATTERED * reach_px:
        return None
    inner = profiles[:, offsets < -0.7 * outer].mean()
    outside = profiles[:, offsets > 0.7 * outer].mean()
    return EdgePoints(
        course.points[keep] + found[keep, None] * course.outward[keep],
        course.outward[keep],
        sigma,
        _edge_spread(profiles[keep], found[keep], offsets),
        float(inner - outside),
        float(keep.mean()),
    )


def _edge_spread(profiles: Floats, found: Floats, offsets: Floats) -> float:
    """Standard deviation of the blur, from the mean profile aligned on the edge. [px]"""
    grid = np.arange(-8.0, 8.01, 0.5)
    aligned = np.array(
        [np.interp(grid + place, offsets, profile) for place, profile in zip(found, profiles, strict=True)]
    )
    mean = median(aligned, axis=0)
    high, low = mean[:4].mean(), mean[-4:].mean()
    if abs(high - low) < 1e-6:
        return 8.0
    level = (mean - low) / (high - low)
    # From 84 % to 16 % of the step lie two standard deviations of a Gaussian blur.
    falling = np.minimum.accumulate(level)
    upper = np.interp(-0.8413, -falling, grid)
    lower = np.interp(-0.1587, -falling, grid)
    return float(max(lower - upper, 0.0) / 2)
