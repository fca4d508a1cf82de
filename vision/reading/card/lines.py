"""Long straight edges in the small picture.

In:    a `SmallPicture`.
Out:   `Line`s, the best supported first; [] when there is none.
       Lens distortion bends a card's edge by up to about 1 % of its length, so a line here is a
       straight chord with a bow.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.small_picture import SmallPicture

SHORTEST_SEGMENT_PX = 22.0  # chosen: shorter pieces are texture, at a long side of 800 px
SIDEWAYS_PX = 5.0  # chosen: chords of one bent card edge lie this near to each other
TURN_DEG = 4.0  # chosen, likewise
BOW = 0.01  # what a lens bends an edge by, of the distance along it


@dataclass(frozen=True, slots=True)
class Line:
    """start, along : a point and the unit direction; normal = along turned by +90 degrees.
    bow : sideways offset is bow[0] + bow[1] t + bow[2] t^2 at t px along from `start`.
    length_px : how much of it was seen."""

    start: Floats
    along: Floats
    bow: Floats
    length_px: float

    @property
    def normal(self) -> Floats:
        normal: Floats = np.array([-self.along[1], self.along[0]])
        return normal

    def at(self, t: Floats) -> Floats:
        """(N, 2) points of the bent line."""
        sideways = self.bow[0] + self.bow[1] * t + self.bow[2] * t**2
        points: Floats = self.start + t[:, None] * self.along + sideways[:, None] * self.normal
        return points


def find_segments(small: SmallPicture, blur_px: float, gain: float) -> Floats:
    """(N, 4) straight pieces x0, y0, x1, y1 of every Lab channel, its slow changes taken out."""
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_NONE)
    found = []
    # Chroma channels carry less noise after JPEG than lightness does, hence the higher gain.
    for channel, channel_gain in ((0, 2.55), (1, 5.0), (2, 5.0)):
        plane = cv2.GaussianBlur(small.lab[:, :, channel], (0, 0), blur_px)
        slow = cv2.blur(plane, (61, 61))
        lifted = np.clip((plane - slow) * (gain * channel_gain) + 128, 0, 255).astype(np.uint8)
        segments = detector.detect(lifted)[0]
        if segments is not None:
            found.append(segments.reshape(-1, 4).astype(np.float64))
    if not found:
        return np.empty((0, 4))
    pieces = np.vstack(found)
    lengths = np.hypot(pieces[:, 2] - pieces[:, 0], pieces[:, 3] - pieces[:, 1])
    long_ones: Floats = pieces[lengths >= SHORTEST_SEGMENT_PX]
    return long_ones


def _seen_length(lows: Floats, highs: Floats) -> float:
    order = np.argsort(lows)
    total, reach = 0.0, -np.inf
    for low, high in zip(lows[order], highs[order], strict=True):
        total += max(0.0, high - max(low, reach))
        reach = max(reach, high)
    return float(total)


def _fit(pieces: Floats) -> Line:
    ends = np.vstack([pieces[:, :2], pieces[:, 2:]])
    middle = (pieces[:, :2] + pieces[:, 2:]) / 2
    lengths = np.hypot(pieces[:, 2] - pieces[:, 0], pieces[:, 3] - pieces[:, 1])
    points = np.vstack([ends, middle])
    weights = np.tile(lengths, 3)
    centre = np.average(points, axis=0, weights=weights)
    spread = (points - centre) * np.sqrt(weights)[:, None]
    along = np.linalg.svd(spread, full_matrices=False)[2][0]
    t = (points - centre) @ along
    sideways = (points - centre) @ np.array([-along[1], along[0]])
    first, second = t[: len(pieces)], t[len(pieces) : 2 * len(pieces)]
    lows, highs = np.minimum(first, second), np.maximum(first, second)
    seen = _seen_length(lows, highs)
    bow = np.zeros(3)
    if len(pieces) >= 3 and np.ptp(t) > 8 * SHORTEST_SEGMENT_PX:
        # A ridge term keeps a few noisy pieces from making a straight line bend.
        scale = np.ptp(t) / 2
        design = np.stack([np.ones_like(t), t / scale, (t / scale) ** 2], axis=1)
        normal = design.T @ (design * weights[:, None]) + np.diag([0, 0, 0.02 * weights.sum()])
        fitted = np.linalg.solve(normal, design.T @ (sideways * weights))
        bow = fitted / np.array([1.0, scale, scale**2])
    return Line(centre, along, bow, seen)


def _on_line(pieces: Floats, line: Line) -> NDArray[np.bool_]:
    directions = pieces[:, 2:] - pieces[:, :2]
    directions = directions / np.linalg.norm(directions, axis=1, keepdims=True)
    first, second = pieces[:, :2] - line.start, pieces[:, 2:] - line.start
    sideways = np.maximum(np.abs(first @ line.normal), np.abs(second @ line.normal))
    reach = np.abs((first + second) / 2 @ line.along)
    turned: NDArray[np.bool_] = np.abs(directions @ line.normal) < np.sin(np.radians(TURN_DEG))
    return (sideways < SIDEWAYS_PX + BOW * reach) & turned


def merge_segments(pieces: Floats, most: int = 72) -> list[Line]:
    """Pieces that continue each other joined to lines, the longest seen first."""
    left = pieces.copy()
    lengths = np.hypot(left[:, 2] - left[:, 0], left[:, 3] - left[:, 1])
    left = left[np.argsort(-lengths)]
    lines: list[Line] = []
    while len(left) and len(lines) < 3 * most:
        line = _fit(left[:1])
        for _ in range(2):  # the second round has the better direction and catches the rest
            mine = _on_line(left, line)
            mine[0] = True
            line = _fit(left[mine])
        lines.append(line)
        left = left[~mine]
    lines.sort(key=lambda line: -line.length_px)
    return lines[:most]
