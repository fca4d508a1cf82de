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
BENT_SEGMENTS = 8.0  # shortest pieces long, from which a line is long enough to show a bow; chosen
BOW_HELD = 0.02  # chosen: a ridge, so that a few noisy pieces don't make a straight line bend
# Lines that are kept; so many times more are joined, the longest pieces first.
MOST_LINES, MERGED_SHARE = 72, 2
# Chroma channels carry less noise after JPEG than lightness does, hence the higher gain. L* has 100 steps of 2.55.
CHANNEL_GAINS = (2.55, 5.0, 5.0)
MIDDLE_LEVEL = 128  # of 8 bits, for what does not change at all
SLOW_PX = 61  # chosen: what changes over so much is light and shade, no edge


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
        """(2,) unit vector across it."""
        normal: Floats = np.array([-self.along[1], self.along[0]])
        return normal

    def at(self, t: Floats) -> Floats:
        """(N, 2) points of the bent line."""
        sideways = self.bow[0] + self.bow[1] * t + self.bow[2] * t**2
        points: Floats = self.start + t[:, None] * self.along + sideways[:, None] * self.normal
        return points


def find_segments(small: SmallPicture, blur_px: float, gain: float, size: float) -> Floats:
    """(N, 4) straight pieces x0, y0, x1, y1 of every Lab channel, its slow changes taken out, as they show in a picture
    of `size` times the small one's."""
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_NONE, size)
    found = []
    for channel, channel_gain in enumerate(CHANNEL_GAINS):
        plane = cv2.GaussianBlur(small.lab[:, :, channel], (0, 0), blur_px)
        slow = cv2.blur(plane, (SLOW_PX, SLOW_PX))
        lifted = np.clip((plane - slow) * (gain * channel_gain) + MIDDLE_LEVEL, 0, 255).astype(np.uint8)
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


def _weighed_ends(pieces: Floats, lengths: Floats) -> tuple[Floats, Floats]:
    """(3 N, 2) both ends and the middle of each piece, and how much each counts: the longer ones more."""
    points = np.concatenate([pieces[:, :2], pieces[:, 2:], (pieces[:, :2] + pieces[:, 2:]) / 2])
    return points, np.concatenate([lengths, lengths, lengths])


def _axis(points: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Middle of weighed points, (N, 2), and the unit vector along which they lie."""
    centre = weights @ points / weights.sum()
    off = points - centre
    # The eigenvector of the larger eigenvalue of the points' covariance, in closed form.
    (xx, xy), (_, yy) = (off * weights[:, None]).T @ off
    turn = 0.5 * np.arctan2(2 * xy, xx - yy)
    return centre, np.array([np.cos(turn), np.sin(turn)])


def _fit(pieces: Floats, lengths: Floats) -> Line:
    """The line through pieces, bent where they are long enough to show it."""
    if len(pieces) == 1:
        return _line_of(pieces[0], float(lengths[0]))
    points, weights = _weighed_ends(pieces, lengths)
    centre, along = _axis(points, weights)
    off = points - centre
    t, sideways = off @ along, off @ np.array([-along[1], along[0]])
    first, second = t[: len(pieces)], t[len(pieces) : 2 * len(pieces)]
    seen = _seen_length(np.minimum(first, second), np.maximum(first, second))
    bow = np.zeros(3)
    spread = float(t.max() - t.min())
    if len(pieces) >= 3 and spread > BENT_SEGMENTS * SHORTEST_SEGMENT_PX:
        scale = spread / 2
        u = t / scale
        design = np.column_stack([np.ones(len(u)), u, u**2])
        held = np.diag([0, 0, BOW_HELD * weights.sum()])
        fitted = np.linalg.solve(
            design.T @ (design * weights[:, None]) + held, design.T @ (sideways * weights)
        )
        bow = fitted / np.array([1.0, scale, scale**2])
    return Line(centre, along, bow, seen)


def _line_of(piece: Floats, length: float) -> Line:
    return Line((piece[:2] + piece[2:]) / 2, (piece[2:] - piece[:2]) / length, np.zeros(3), length)


def _on_line(pieces: Floats, directions: Floats, start: Floats, along: Floats) -> NDArray[np.bool_]:
    """Which pieces lie along a straight line, farther off the farther they lie beyond its middle."""
    normal = np.array([-along[1], along[0]])
    first, second = pieces[:, :2] - start, pieces[:, 2:] - start
    sideways = np.maximum(np.abs(first @ normal), np.abs(second @ normal))
    reach = np.abs((first + second) @ along) / 2
    turned: NDArray[np.bool_] = np.abs(directions @ normal) < np.sin(np.radians(TURN_DEG))
    near: NDArray[np.bool_] = sideways < SIDEWAYS_PX + BOW * reach
    return near & turned


def merge_segments(pieces: Floats) -> list[Line]:
    """Pieces, (N, 4) both ends' x and y, that continue each other joined to lines, the longest seen first."""
    along = pieces[:, 2:] - pieces[:, :2]
    lengths = np.hypot(along[:, 0], along[:, 1])
    order = np.argsort(-lengths)
    left, lengths, along = pieces[order], lengths[order], along[order]
    directions = along / lengths[:, None]
    lines: list[Line] = []
    while len(left) and len(lines) < MERGED_SHARE * MOST_LINES:
        mine = _on_line(left, directions, (left[0, :2] + left[0, 2:]) / 2, directions[0])
        if np.count_nonzero(mine) > 1:  # a second round has the better direction and catches the rest
            mine = _on_line(left, directions, *_axis(*_weighed_ends(left[mine], lengths[mine])))
        mine[0] = True
        lines.append(_fit(left[mine], lengths[mine]))
        left, lengths, directions = left[~mine], lengths[~mine], directions[~mine]
    return sorted(lines, key=lambda line: -line.length_px)[:MOST_LINES]
