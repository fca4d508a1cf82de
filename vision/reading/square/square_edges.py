"""One square as it is seen, its four sides measured to a fraction of a pixel.

In:    the photo and rough corners.
Out:   `SquareSeen`; None where four sides of one square are not to be seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from vision.arrays import Floats, RgbImage
from vision.reading.card.lines import Line
from vision.reading.card.outline import meeting
from vision.reading.edges.find_edge import find_edge
from vision.reading.edges.profiles import EdgePoints, sample, straight_course
from vision.reading.four_corners import corners_apart, side_lengths
from vision.reading.small_picture import SmallPicture

# Of linear light; a mat's lines have under half of it, black paper on black felt over twice.
LEAST_STEP = 0.006
HARDLY_A_STEP = LEAST_STEP / 2  # chosen: on the way there, less than which can't become one
SIDE_POINTS = 28  # profiles along one side
SIDE_ENDS = 0.07  # share of a side at either end that the corner's rounding spoils
# So far in from both sides at a corner a cut square is as dark as elsewhere. Of 675 squares one had less than 0.6 of
# its step at three corners, since its table was as dark; a phone's camera has none.
CORNER_SHARE, CORNER_PX, CORNER_STEP, LEAST_STEP_LEVELS = 0.025, 2.0, 0.35, 10.0
SAME = 0.02  # share of the side by which two ways to lay a square differ at most that are one
DARK_IN_LIGHT = (-1.0, -1.0, -1.0)  # inside less outside: darker in all of red, green and blue
# Of a side: a coded square's border is a sixth of it, and the search must not reach the code
REACH_SHARE = 1 / 9
# Chosen: of the reach; what lies so far beyond all four sides is mostly table.
TABLE_AT = np.linspace(0.5, 1.0, 4)
AGAIN_REACH_PX = 4.0  # chosen: of the second search at the least
# Chosen, in shares of a side: where the inside near a corner is looked at, and both sides' surroundings.
INSIDE_AT = ((0.25, 0.25), (0.2, 0.1), (0.1, 0.2))
BESIDE_AT, BESIDE_OUT = (0.15, 0.2, 0.25), -0.06
LEAST_NOISE_PX = 0.1  # added to an edge's noise, so that one seen without noise is not clear beyond measure
ONE_PLACE = 0.3  # share of the side by which a corner may lie off at one and the same place
ONE_SIZE = 0.45  # chosen: of the side, what corners that lie off by that much can change it by
# Chosen: of a square, its inner part; L* above its middle that counts as light, and the share that may be so.
INNER, LIGHTER, MOST_LIGHTER, LEAST_INNER_PX = 0.8, 14.0, 0.04, 9
# Chosen: what lies about it; of the way to its lightness, more than glare adds.
ABOUT, NEARLY_PAPER = (1.05, 1.2), 0.4


@dataclass(frozen=True, slots=True)
class SquareSeen:
    """corners : (4, 2) photo px, clockwise as seen; sides : edge points from corner i to i + 1.
    side_mm : None for a plain one, whose side is not written on it."""

    kind: Literal["coded", "plain"]
    side_mm: float | None
    corners: Floats
    sides: tuple[EdgePoints, EdgePoints, EdgePoints, EdgePoints]

    @property
    def side_px(self) -> float:
        return float(side_lengths(self.corners).mean())


def _clockwise(corners: Floats) -> Floats:
    return corners if cv2.contourArea(corners.astype(np.float32), oriented=True) > 0 else corners[::-1]


def _straight(edge: EdgePoints) -> Line:
    """The straight line of least squares along an edge."""
    centre = edge.points.mean(axis=0)
    along = np.linalg.svd(edge.points - centre, full_matrices=False)[2][0]
    return Line(centre, along, np.zeros(3), 0.0)


def refine_square(
    pixels: RgbImage,
    corners: Floats,
    reach_px: float,
    kind: Literal["coded", "plain"],
    side_mm: float | None,
    step: Sequence[float] = DARK_IN_LIGHT,
) -> SquareSeen | None:
    """Lay four edges along the rough corners; None when they are not the four sides of one dark square.

    step : (3,) how its linear light differs from what lies about it, if it is no darker.
    """
    corners = _clockwise(np.asarray(corners, dtype=np.float64))
    length = side_lengths(corners).min()
    reach = float(min(reach_px, length * REACH_SHARE))
    direction = np.array(step) / np.linalg.norm(step)
    for _ in range(2):
        courses = [
            straight_course(corners[i], corners[(i + 1) % 4], SIDE_POINTS, SIDE_ENDS) for i in range(4)
        ]
        # A light line beside the square is no greater step than the table is.
        about = [sample(pixels, course, reach * TABLE_AT) @ direction for course in courses]
        table = float(np.median(about))
        sides = []
        for course in courses:
            edge = find_edge(pixels, course, reach, direction, table)
            if edge is None or (kind == "plain" and edge.contrast < HARDLY_A_STEP):
                return None
            sides.append(edge)
        lines = [_straight(side) for side in sides]
        corners = np.array([meeting(lines[i - 1], lines[i], corners[i]) for i in range(4)])
        reach = max(AGAIN_REACH_PX, reach / 4)
    # Four lines of a cutting mat bound a square, too, but nothing dark.
    if kind == "plain" and (min(side.contrast for side in sides) < LEAST_STEP or _rounded(pixels, corners)):
        return None
    return SquareSeen(kind, side_mm, corners, (sides[0], sides[1], sides[2], sides[3]))


def _rounded(pixels: RgbImage, corners: Floats) -> bool:
    """Whether three corners at least are rounded off: a button, a phone's camera, no cut paper."""
    side_px = float(side_lengths(corners).mean())
    inset = max(CORNER_SHARE, CORNER_PX / side_px)
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    to_photo = cv2.getPerspectiveTransform(unit, corners.astype(np.float32))
    # At each corner of the unit square: the place asked for, the inside and, along both sides, what lies beyond.
    places = [(inset, inset), *INSIDE_AT]
    places += [at for t in BESIDE_AT for at in ((BESIDE_OUT, t), (t, BESIDE_OUT))]
    offsets = np.array(places, dtype=np.float32)
    turned = unit[:, None] + offsets[None] * (1 - 2 * unit[:, None])
    x, y = cv2.perspectiveTransform(turned.reshape(1, -1, 2), to_photo)[0].T
    shades = cv2.remap(pixels, x[None], y[None], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    shades = shades.reshape(4, len(places), 3).astype(np.float64)
    beyond = np.median(shades[:, 4:], axis=1)
    step = shades[:, 1:4].mean(axis=1) - beyond
    size = np.linalg.norm(step, axis=1)
    depth = ((shades[:, 0] - beyond) * step).sum(axis=1) / np.maximum(size, LEAST_STEP_LEVELS) ** 2
    return int(((depth < CORNER_STEP) & (size > LEAST_STEP_LEVELS)).sum()) >= 3


def alike(corners: Floats, rough: Floats, most: float = ONE_PLACE) -> bool:
    """Whether two squares, (4, 2) corners each, lie at one place: no corner farther off than that share of the side."""
    return bool(corners_apart(corners, rough) < most * side_lengths(rough).mean())


def lies_at(corners: Floats, rough: Floats) -> bool:
    """Whether a square, (4, 2) corners, lies where something of about its size was seen. Four sides laid round a
    blurred blob may be those of a square turned by half a quarter, so its corners tell no more than its middle."""
    side = side_lengths(rough).mean()
    off = np.linalg.norm(corners.mean(axis=0) - rough.mean(axis=0))
    return bool(off < ONE_PLACE * side and abs(side_lengths(corners).mean() - side) < ONE_SIZE * side)


def clearness(square: SquareSeen) -> float:
    """How plain all four edges are: the least of contrast over noise."""
    return min(abs(side.contrast) * side.share / (side.sigma_px + LEAST_NOISE_PX) for side in square.sides)


def distinct(squares: Sequence[SquareSeen]) -> list[SquareSeen]:
    """The clearest first, without those that are laid as one of them is."""
    ranked = sorted(squares, key=lambda square: -clearness(square))
    return [
        one
        for k, one in enumerate(ranked)
        if not any(alike(one.corners, other.corners, SAME) for other in ranked[:k])
    ]


def solid(small: SmallPicture, corners_px: Floats) -> bool:
    """False for a patch, by its (4, 2) corners in the photo, with anything light in it: a coded square that could not
    be read is no plain one, whose side it would be given. Its white cells are nearly as light as the paper about it;
    glare on dark paper is not."""
    corners = small.to_small(corners_px)
    middle = corners.mean(axis=0)
    inner, near, wide = (
        np.round(middle + size * (corners - middle)).astype(np.int32) for size in (INNER, *ABOUT)
    )
    x, y, across, down = cv2.boundingRect(wide)
    left, top = max(x, 0), max(y, 0)
    lightness = small.lab[top : max(y + down, 0), left : max(x + across, 0), 0]
    places = np.zeros(lightness.shape, dtype=np.uint8)
    if places.size:
        for place, shape in enumerate((wide, near, inner), start=1):
            cv2.fillConvexPoly(places, shape - np.array([left, top], np.int32), place)
    light, about = lightness[places == 3], lightness[places == 1]
    if light.size < LEAST_INNER_PX:
        return False
    dark = float(np.median(light))
    paper = float(np.median(about)) if about.size else dark
    return bool(np.mean(light > dark + max(LIGHTER, NEARLY_PAPER * (paper - dark))) < MOST_LIGHTER)
