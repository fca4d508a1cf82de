"""Four sides laid round a map of chances: the card's or the square's outline as a first look sees it.

In:    one of a `FirstLook`'s maps.
Out:   `Outline`s in map pixels; none where the map shows nothing of that size.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.card.first_look import Chances
from vision.reading.card.lines import Line
from vision.reading.four_corners import four_corners
from vision.reading.ratio import unit
from vision.reading.robust import robust_fit

FINER = 4  # times the map is enlarged before its half-way line is followed
NEAR_BORDER_PX = 1.0  # of the picture; map px: the half-way line can't come nearer
CORNER_SHARE = 0.08  # of a side at either end where the half-way line is rounded
BOW_HELD = 0.05  # chosen: a bow counts for nothing by one point in twenty
LOOSE_PX = 0.5  # map px: points farther off than this count ever less in a side's fit
LEAST_POINTS = 6  # of a side that is bent; chosen
LEAST_SINE = 0.15  # chosen: of the angle at which two sides meet
ROOM_PX = 3  # map px about a patch; chosen
SIDE_POINTS, SIDE_ENDS = 9, 0.08  # chosen: places along a side, its ends left out


@dataclass(frozen=True, slots=True)
class Outline:
    """corners : (4, 2) map px, clockwise as seen, outside the picture where a side runs out of it.
    lines : side i from corner i to i + 1; on_border : (4,) share of each side that is the picture's border
    (a card that goes on beyond it); borne_out : see the function of that name;
    filled : mean chance within."""

    corners: Floats
    lines: tuple[Line, Line, Line, Line]
    on_border: Floats
    borne_out: float
    filled: float

    @property
    def plain(self) -> bool:
        """True for a sheet that the map leaves no doubt about."""
        return self.borne_out > PLAIN

    @property
    def cut_off(self) -> bool:
        """True for a sheet of which a good part of a side is the picture's border."""
        return bool(self.on_border.max() > CUT_SHARE)


CUT_SHARE = 0.25
PLAIN = 0.7  # see `borne_out`: right outlines have 0.8 or more, wrong ones less than half
LEVELS = (0.5, 0.8, 0.93)  # chances at which the map is cut: what only might be card falls away at the higher


def sheets(chances: Chances) -> list[Outline]:
    """Outlines that the card may have, the likeliest first; [] where the map shows none."""
    found: list[Outline] = []
    for level in LEVELS:
        found += outlines(chances, LEAST_SHEET_PX, 1, level)
        if any(outline.plain for outline in found):
            break
    return sorted(found, key=lambda outline: -outline.borne_out)


LEAST_SHEET_PX = 16.0  # side of the smallest sheet: a tenth of the picture's long side


def outlines(chances: Chances, least_px: float, most: int = 1, level: float = 0.5) -> list[Outline]:
    """The outlines of the map's largest patches, largest first; `least_px`: side of the smallest [map px]."""
    patches = cv2.findContours((chances > level).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[
        0
    ]
    sized = [(cv2.contourArea(patch), patch) for patch in patches]
    sized = sorted((item for item in sized if item[0] > least_px**2), key=lambda item: -item[0])
    found = [_outline(chances, patch, level) for _, patch in sized[:most]]
    return [outline for outline in found if outline is not None]


STRIP_PX = (1.5, 4.0)  # map px from a side between which its inside and its outside are compared


def borne_out(chances: Chances, ring: Floats) -> float:
    """How well the map bears out (4, N, 2) map px along four sides, clockwise: the least of the sides' chance
    inside less the chance outside, from 1 to -1."""
    least = 1.0
    for side in ring:
        along = side[-1] - side[0]
        outward = unit(np.array([along[1], -along[0]]))
        inner, outer = (
            np.mean([_read(chances, side + way * distance * outward) for distance in STRIP_PX])
            for way in (-1, 1)
        )
        least = min(least, float(inner - outer))
    return least


def _read(chances: Chances, points: Floats) -> Floats:
    """Chances at (N, 2) map px; 0 outside the picture."""
    maps = points.astype(np.float32)[None]
    read: Floats = cv2.remap(chances, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderValue=0)[0]
    return read


def _outline(chances: Chances, patch: NDArray[np.int32], level: float) -> Outline | None:
    left, top, wide, high = cv2.boundingRect(patch)
    height, width = chances.shape
    only = np.zeros((height, width), np.uint8)
    cv2.drawContours(only, [patch], -1, 1, -1)
    alone = np.where(cv2.dilate(only, np.ones((3, 3), np.uint8)) > 0, chances, 0)
    left, top = max(left - ROOM_PX, 0), max(top - ROOM_PX, 0)
    part = alone[top : top + high + 2 * ROOM_PX, left : left + wide + 2 * ROOM_PX]
    own = cv2.copyMakeBorder(part, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    fine = cv2.resize(own, None, fx=FINER, fy=FINER, interpolation=cv2.INTER_LINEAR)
    rims = cv2.findContours((fine > level).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    if not rims:
        return None
    rim = max(rims, key=cv2.contourArea)
    points = (rim.reshape(-1, 2) + 0.5) / FINER - 0.5 + np.array([left - 1, top - 1])
    limits = np.array([width - 1, height - 1], dtype=np.float64)
    border = ((points < NEAR_BORDER_PX) | (points > limits - NEAR_BORDER_PX)).any(axis=1)
    # Of a card that runs out of the picture a corner is missing.
    rough = four_corners(points, most_added=np.inf)
    if rough is None:
        return None
    return _laid(chances, points, border, rough)


def _cross(first: Floats, second: Floats) -> float:
    return float(first[0] * second[1] - first[1] * second[0])


def _laid(chances: Chances, points: Floats, border: NDArray[np.bool_], rough: Floats) -> Outline | None:
    """Each side laid through the half-way points nearest to it, bent as a lens may bend it."""
    ahead = np.roll(rough, -1, axis=0) - rough
    lengths = np.linalg.norm(ahead, axis=1)
    if lengths.min() < 2:
        return None
    units = ahead / lengths[:, None]
    from_corner = points[:, None, :] - rough[None]
    t = (from_corner * units[None]).sum(axis=2)
    sideways = np.abs(from_corner[..., 0] * units[:, 1] - from_corner[..., 1] * units[:, 0])
    beyond = np.maximum(np.maximum(-t, t - lengths), 0)
    nearest = np.argmin(np.hypot(sideways, beyond), axis=1)
    lines, shares = [], []
    for side in range(4):
        share = t[:, side] / lengths[side]
        mine = (nearest == side) & (share > CORNER_SHARE) & (share < 1 - CORNER_SHARE)
        shares.append(float(border[mine].mean()) if mine.any() else 1.0)
        free = mine & ~border
        lines.append(
            bent_line(points[free if free.sum() > 8 else mine], rough[side], units[side], lengths[side])
        )
    corners = np.array([meeting(lines[k - 1], lines[k], rough[k]) for k in range(4)])
    ring = np.array([_side_points(lines[k], corners[k], corners[(k + 1) % 4]) for k in range(4)])
    within = np.zeros(chances.shape, np.uint8)
    cv2.fillPoly(within, [np.round(corners).astype(np.int32)], 1)
    filled = float(chances[within > 0].mean()) if within.any() else 0.0
    four = (lines[0], lines[1], lines[2], lines[3])
    return Outline(corners, four, np.array(shares), borne_out(chances, ring), filled)


def _side_points(line: Line, start: Floats, end: Floats) -> Floats:
    low, high = (start - line.start) @ line.along, (end - line.start) @ line.along
    return line.at(low + np.linspace(SIDE_ENDS, 1 - SIDE_ENDS, SIDE_POINTS) * (high - low))


def bent_line(points: Floats, start: Floats, along: Floats, length: float) -> Line:
    """A parabola of robust least squares through (N, 2) points; held straight where there is little to bend it by."""
    if len(points) < LEAST_POINTS:
        return Line(start, along, np.zeros(3), 0.0)
    u = (points - start) @ along / length * 2 - 1
    sideways = (points - start) @ np.array([-along[1], along[0]])
    design = np.column_stack([np.ones_like(u), u, u**2 - 1 / 3])
    held = np.diag([0.0, 0.0, BOW_HELD * len(u)])
    a, b, c = robust_fit(design, sideways, lambda _: LOOSE_PX, held=held)[0]
    # From u in -1..1 along the side to t in px from `start`.
    k = 2 / length
    bow = np.array([a - b + c * (1 - 1 / 3), (b - 2 * c) * k, c * k**2])
    return Line(start, along, bow, length)


def meeting(first: Line, second: Line, near: Floats) -> Floats:
    """(2,) where two bent lines meet, by Newton from a place near there."""
    point = near
    for _ in range(4):
        tangents, offsets = [], []
        for line in (first, second):
            t = float((point - line.start) @ line.along)
            slope = line.bow[1] + 2 * line.bow[2] * t
            tangents.append(line.along + slope * line.normal)
            offsets.append(line.at(np.array([t]))[0])
        sine = _cross(tangents[0], tangents[1])
        if abs(sine) < LEAST_SINE:
            return near
        step = _cross(offsets[1] - offsets[0], tangents[1]) / sine
        point = offsets[0] + step * tangents[0]
    return np.asarray(point, dtype=np.float64)


def apart_px(outline: Outline, ring: Floats) -> float:
    """How far off another outline's farthest side lies: (4, N, 2) map px along its sides, in any order."""
    worst = 0.0
    for side in ring:
        offsets = []
        for line in outline.lines:
            t = (side - line.start) @ line.along
            sideways = (side - line.at(t)) @ line.normal
            offsets.append(float(np.abs(sideways).mean()))
        worst = max(worst, min(offsets))
    return worst
