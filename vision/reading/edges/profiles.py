"""Light across an edge: profiles square to a rough course, and what is measured of an edge.

In:    the photo and a rough course of the edge (points with outward normals).
Out:   light at given distances from the course, in linear values.
Fails: never; beyond the picture its rim goes on.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from vision.arrays import Floats, RgbImage
from vision.reading.colours import LINEAR

ENDS_TOO = 0.01  # chosen: of a spacing, so that rounding does not lose the last offset
TANGENT_SAMPLES = 7  # chosen: averaged along the edge for each profile
KERNEL_SIGMAS = 3  # of the Gaussian's reach; beyond it 0.3 % are left


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

    @property
    def course(self) -> Course:
        """Along the edge as it was seen."""
        return Course(self.points, self.outward)


def evenly(reach: float, spacing: float) -> Floats:
    """(N,) offsets from -reach on to reach, an even distance apart."""
    return np.arange(-reach, reach + ENDS_TOO * spacing, spacing)


def straight_course(start: Floats, end: Floats, count: int, ends: float) -> Course:
    """Course from corner to corner, (2,) each, without the share `ends` at either end; walking it, the inside lies
    to the right (y down: clockwise round a shape as seen)."""
    t = np.linspace(ends, 1 - ends, count)[:, None]
    points = start + t * (end - start)
    along = (end - start) / np.linalg.norm(end - start)
    return Course(points, np.repeat([[along[1], -along[0]]], count, axis=0))


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
    # Light adds up in linear values: an edge blurred by the lens is symmetric there, not in the coded ones.
    light = cv2.LUT(values, LINEAR).reshape(count, TANGENT_SAMPLES, -1)
    averaged: Floats = light.mean(axis=1).reshape(count, across, 3).astype(np.float64)
    return averaged


def slopes(profiles: Floats, sigma: float) -> Floats:
    """Derivative of (N, M) profiles along axis 1, smoothed by a Gaussian of `sigma` samples."""
    reach = int(np.ceil(KERNEL_SIGMAS * sigma))
    u = np.arange(-reach, reach + 1)
    kernel = u * np.exp(-(u**2) / (2 * sigma**2))
    kernel = kernel / np.abs(kernel * u).sum()
    result: Floats = cv2.filter2D(profiles, -1, kernel[None, :], borderType=cv2.BORDER_REPLICATE)
    return result


def read_at(profiles: Floats, offsets: Floats, places: Floats) -> Floats:
    """(N, ...) values of (N, M, ...) profiles at one place each, the nearest sample. `offsets` evenly spaced."""
    index = np.rint((places - offsets[0]) / (offsets[1] - offsets[0])).astype(int)
    values: Floats = profiles[np.arange(len(profiles)), np.clip(index, 0, len(offsets) - 1)]
    return values
