"""A square looked at closely where it is thought to lie.

In:    the photo and rough corners.
Out:   four-cornered shapes about that place, and the plain squares that colour alone tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats, RgbImage
from vision.reading.colours import LINEAR, as_lab
from vision.reading.four_corners import four_corners, side_lengths
from vision.reading.middle import median
from vision.reading.ratio import unit
from vision.reading.sight import Sight
from vision.reading.square.square_edges import (
    DARK_IN_LIGHT,
    SAME,
    SquareSeen,
    alike,
    distinct,
    lies_at,
    refine_square,
    solid,
)

Mask = NDArray[np.bool_]


PATCH_SIDE_PX = 130  # to which a square's side is brought when it is looked at closely
PATCH_ROOM = 0.5  # of its side, on all sides
FOUND_REACH_PX = 6.0  # how far a dark shape's own corners may be off in the patch
LEAST_COLOUR_GAP = 5.0  # Lab units; two squares of one dark paper differ by 2
COLOUR_SHARES = (0.5, 0.35)
GRAIN_PX = 9  # median over so much of the patch: wood's grain goes, a square's sides stay
LINEAR_NOISE = 0.005  # of linear light
EVERY = 4  # chosen: pixel of a part that is looked at for its colour, some thousands of each
CORE, BESIDE = 0.7, 1.25  # chosen: times the rough shape's size, what is surely inside and what surely beside
SMOOTH_PX = 1.5  # chosen: of the patch, before shades and colours are compared
# Chosen: of the way from its shade to its surroundings', the likeliest first.
SHADE_SHARES = (0.45, 0.25, 0.65)
IN_LEVELS, MIDDLE_LEVEL = 100, 78  # of a share of that way as eight bits: a share of 0 is the middle level
ROUGH_REACH_PX = 14.0  # how far the first look may be off in the patch; a map px is some 6 to 13 of these


@dataclass(frozen=True, slots=True)
class Patch:
    """A part of the photo at a size that suits the square in it. step : photo px per patch px."""

    rgb: RgbImage
    origin: Floats
    step: float

    @classmethod
    def about(cls, pixels: RgbImage, corners: Floats) -> Patch:
        """What lies about a square's (4, 2) corners. [photo px]"""
        side = float(side_lengths(corners).mean())
        room = PATCH_ROOM * side
        low = np.clip(np.floor(corners.min(axis=0) - room).astype(int), 0, None)
        high = np.ceil(corners.max(axis=0) + room).astype(int)
        part = pixels[low[1] : high[1], low[0] : high[0]]
        step = side / PATCH_SIDE_PX
        size = (max(8, round(part.shape[1] / step)), max(8, round(part.shape[0] / step)))
        way = cv2.INTER_AREA if step > 1 else cv2.INTER_LINEAR
        return cls(
            np.ascontiguousarray(cv2.resize(part, size, interpolation=way)), low.astype(np.float64), step
        )

    def to_photo(self, points: Floats) -> Floats:
        """Photo pixels of the patch's (..., 2) pixels."""
        return (np.asarray(points, dtype=np.float64) + 0.5) * self.step - 0.5 + self.origin

    def to_patch(self, points: Floats) -> Floats:
        """The patch's pixels of (..., 2) photo pixels."""
        return (np.asarray(points, dtype=np.float64) - self.origin + 0.5) / self.step - 0.5


def within_and_about(patch: Patch, rough: Floats) -> tuple[Mask, Mask] | None:
    """The patch's pixels, (H, W), that are surely of the square of these (4, 2) corners, and those surely beside it."""
    own = patch.to_patch(rough)
    middle = own.mean(axis=0)
    inside, wide = (np.zeros(patch.rgb.shape[:2], np.uint8) for _ in range(2))
    for mask, size in ((inside, CORE), (wide, BESIDE)):
        cv2.fillConvexPoly(mask, np.round(middle + size * (own - middle)).astype(np.int32), 1)
    if not inside.any() or wide.all():
        return None
    return inside > 0, wide == 0


def dark_fours(patch: Patch, rough: Floats) -> list[Floats]:
    """Dark four-cornered shapes, (4, 2), in the patch about the place looked for, at a few thresholds between its
    own shade and that of what is about it. [patch px]"""
    parts = within_and_about(patch, rough)
    if parts is None:
        return []
    grey = cv2.GaussianBlur(cv2.cvtColor(patch.rgb, cv2.COLOR_RGB2GRAY), (0, 0), SMOOTH_PX)
    dark, about = (float(np.median(grey[part])) for part in parts)
    if about <= dark:
        return []
    shade = (grey.astype(np.float32) - dark) / (about - dark)
    return fours_below(shade, patch.to_patch(rough).mean(axis=0), SHADE_SHARES)


def fours_below(
    values: NDArray[np.float32], middle: Floats, levels: Sequence[float], known: Sequence[Floats] = ()
) -> list[Floats]:
    """The known four-cornered shapes, (4, 2), and those about the middle in which the values lie below each level;
    those that lie as an earlier one does are left out: their sides would be measured alike. [patch px]"""
    found = list(known)
    for level in levels:
        mask = (values < level).astype(np.uint8)
        for contour in cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
            if cv2.pointPolygonTest(contour, (float(middle[0]), float(middle[1])), False) < 0:
                continue
            corners = four_corners(contour)
            if corners is not None and not any(alike(corners, other, SAME) for other in found):
                found.append(corners)
    return found


def _telling(own: Floats, about: Floats, noise: float) -> Floats:
    """(3,) direction of colour in which the surroundings lie farthest from the square for what both vary by:
    Fisher's discriminant. The grain of wood varies more in brightness than in colour."""
    spread = np.cov(own.T) + np.cov(about.T) + noise**2 * np.eye(3)
    way = np.linalg.solve(spread, median(about, axis=0) - median(own, axis=0))
    return unit(way)


def by_colour(sight: Sight, patch: Patch, rough: Floats) -> list[SquareSeen]:
    """The ways to lay a plain square, roughly at these (4, 2) corners, that is no darker than its surroundings but of
    another colour: blue paper on a green mat. The clearest first."""
    parts = within_and_about(patch, rough)
    if parts is None:
        return []
    lab = as_lab(np.asarray(cv2.GaussianBlur(patch.rgb, (0, 0), SMOOTH_PX), dtype=np.uint8))
    own, about = (lab[part][::EVERY].astype(np.float64) for part in parts)
    gap = median(about, axis=0) - median(own, axis=0)
    if float(np.linalg.norm(gap)) < LEAST_COLOUR_GAP:
        return []
    middle = patch.to_patch(rough).mean(axis=0)
    fours: list[Floats] = []
    for way, grain_px in ((gap, 1), (_telling(own, about, 1.0), GRAIN_PX)):
        onto = way / (way @ gap)  # 0 in its own colour, 1 in that of its surroundings
        along = lab @ onto.astype(np.float32) - np.float32(median(own, axis=0) @ onto)
        coarse = np.clip(along * IN_LEVELS + MIDDLE_LEVEL, 0, 255).astype(np.uint8)
        along = (cv2.medianBlur(coarse, grain_px).astype(np.float32) - MIDDLE_LEVEL) / IN_LEVELS
        fours = fours_below(along, middle, COLOUR_SHARES, fours)
    inner, outer = (LINEAR[patch.rgb[part][::EVERY]].astype(np.float64) for part in parts)
    steps = (median(inner, axis=0) - median(outer, axis=0), -_telling(inner, outer, LINEAR_NOISE))
    return laid_on(sight, patch, rough, fours, [step.tolist() for step in steps])


def laid_on(
    sight: Sight,
    patch: Patch,
    rough: Floats,
    fours: Sequence[Floats],
    steps: Sequence[Sequence[float]] = (DARK_IN_LIGHT,),
) -> list[SquareSeen]:
    """The ways to lay a plain square's sides along four-cornered shapes, (4, 2) [patch px], the clearest first, by how
    its light differs from what lies about it. The place as first seen only where none of the shapes serves: those lie
    nearer."""
    for tries in (
        [(corners, FOUND_REACH_PX) for corners in fours],
        [(patch.to_patch(rough), ROUGH_REACH_PX)],
    ):
        laid = (
            refine_square(sight.pixels, patch.to_photo(corners), reach_px * patch.step, "plain", None, step)
            for step in steps
            for corners, reach_px in tries
        )
        ways = [
            seen
            for seen in laid
            if seen is not None and lies_at(seen.corners, rough) and solid(sight.small, seen.corners)
        ]
        if ways:
            return distinct(ways)
    return []
