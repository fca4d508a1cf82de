"""Find the reference square: coded first, then plain.

In:    the photo and its reduced copy.
Out:   `SquareSeen`s with subpixel edge points; [] when there is none.
       A plain square is only a candidate here: which dark square is the reference is settled
       together with the card, in `vision.view`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from vision.card.outline import Outline, outlines
from vision.card.scene import Scene
from vision.edge_points import EdgePoints, find_edge, straight_course
from vision.photo import RgbImage
from vision.small_picture import Floats, SmallPicture

SMALLEST_CODE, LARGEST_CODE = 10, 49  # ids of DICT_4X4_50 that are a side in millimetres
# Long side [px] and threshold constant of the searches for markers, each only if the one before found
# none: a dim or faint print needs a lower constant, a blurred one fewer pixels.
CODE_SEARCHES = ((1200, 7.0), (1200, 3.0), (800, 7.0), (2000, 3.0))
LEAST_STEP = (
    0.006  # of linear light; a mat's lines have under half of it, black paper on black felt over twice
)
SIDE_POINTS = 28  # profiles along one side
SIDE_ENDS = 0.07  # share of a side at either end that the corner's rounding spoils


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
        return float(np.linalg.norm(np.roll(self.corners, -1, axis=0) - self.corners, axis=1).mean())


def _clockwise(corners: Floats) -> Floats:
    return corners if cv2.contourArea(corners.astype(np.float32), oriented=True) > 0 else corners[::-1]


def _meet(first: EdgePoints, second: EdgePoints) -> Floats | None:
    """Where two edges meet, each taken as the straight line of least squares near there."""
    lines = []
    for edge in (first, second):
        centre = edge.points.mean(axis=0)
        along = np.linalg.svd(edge.points - centre, full_matrices=False)[2][0]
        lines.append((centre, along))
    (p, u), (q, v) = lines
    sine = u[0] * v[1] - u[1] * v[0]
    if abs(sine) < 0.2:
        return None
    t = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / sine
    return np.asarray(p + t * u)


def refine_square(
    pixels: RgbImage, corners: Floats, reach_px: float, kind: Literal["coded", "plain"], side_mm: float | None
) -> SquareSeen | None:
    """Lay four edges along the rough corners; None when they are not the four sides of one dark square."""
    corners = _clockwise(np.asarray(corners, dtype=np.float64))
    length = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min()
    # A coded square's border is one sixth of its side: the search must not reach the code inside it.
    reach = float(min(reach_px, length / 9))
    for _ in range(2):
        sides = []
        for i in range(4):
            course = straight_course(corners[i], corners[(i + 1) % 4], SIDE_POINTS, SIDE_ENDS)
            # Dark inside, lighter outside.
            edge = find_edge(pixels, course, reach, direction=np.array([-1.0, -1.0, -1.0]))
            if edge is None:
                return None
            sides.append(edge)
        met = [_meet(sides[i - 1], sides[i]) for i in range(4)]
        found = np.array([point for point in met if point is not None])
        if len(found) < 4:
            return None
        corners, reach = found, max(4.0, reach / 4)
    # Four lines of a cutting mat bound a square, too, but nothing dark.
    if kind == "plain" and min(side.contrast for side in sides) < LEAST_STEP:
        return None
    return SquareSeen(kind, side_mm, corners, (sides[0], sides[1], sides[2], sides[3]))


def squares_at(
    pixels: RgbImage, small: SmallPicture, scene: Scene
) -> tuple[list[SquareSeen], list[SquareSeen]]:
    """The squares where a first look sees some, the coded ones if there are any, else the plain ones; and
    other ways to lay the plain ones' sides, where something beside them looks like a side, too."""
    places = outlines(scene.square, LEAST_MAP_PX, MOST_PLACES)
    seen = [ways for place in places if (ways := _squares_at(pixels, small, scene, place))]
    coded = [ways[0] for ways in seen if ways[0].kind == "coded"]
    if coded:
        return sorted(coded, key=lambda square: -square.side_px), []
    return [ways[0] for ways in seen], [way for ways in seen for way in ways[1:]]


def search_squares(pixels: RgbImage, small: SmallPicture) -> list[SquareSeen]:
    """The squares of the whole picture: dearer than to look where some are seen."""
    return find_coded_squares(pixels) or find_plain_squares(pixels, small)


def _squares_at(pixels: RgbImage, small: SmallPicture, scene: Scene, place: Outline) -> list[SquareSeen]:
    """The ways to lay a square at one patch of the scene's map, the clearest first; [] when it is none or
    can't be made out."""
    rough = small.to_photo(scene.to_small(place.corners))
    patch = _Patch.about(pixels, rough)
    for threshold_constant in PATCH_CONSTANTS:
        for corners, number in _codes_in(patch.rgb, threshold_constant):
            seen = refine_square(pixels, patch.to_photo(corners), 3.0 * patch.step, "coded", float(number))
            if seen is not None:
                return [seen]
    if place.on_border.max() > CUT_SIDE:
        return []
    ways: list[SquareSeen] = []
    tries = [(corners, FOUND_REACH_PX) for corners in _dark_fours(patch, rough)]
    for corners, reach_px in (*tries, (patch.to_patch(rough), PATCH_REACH_PX)):
        seen = refine_square(pixels, patch.to_photo(corners), reach_px * patch.step, "plain", None)
        if seen is not None and alike(seen.corners, rough) and _solid(small, seen):
            ways.append(seen)
    ways.sort(key=lambda square: -_clearness(square))
    return [
        way for k, way in enumerate(ways) if not any(alike(way.corners, w.corners, SAME) for w in ways[:k])
    ]


SAME = 0.02  # share of the side by which two ways to lay a square differ at most that are one
CUT_SIDE = 0.35  # share of a side that is the picture's border, from which a square counts as cut
LEAST_MAP_PX = 3.0  # side of the smallest patch of the map that is looked at
MOST_PLACES = 4
PATCH_SIDE_PX = 130  # to which a square's side is brought when it is looked at closely
PATCH_ROOM = 0.5  # of its side, on all sides
PATCH_CONSTANTS = (7.0, 3.0)  # threshold constants of the marker search: a dim or faint print needs the lower
FOUND_REACH_PX = 6.0  # how far a dark shape's own corners may be off in the patch
PATCH_REACH_PX = 14.0  # how far the first look may be off in the patch; a map px is some 6 to 13 of these


@dataclass(frozen=True, slots=True)
class _Patch:
    """A part of the photo at a size that suits the square in it. step : photo px per patch px."""

    rgb: RgbImage
    origin: Floats
    step: float

    @classmethod
    def about(cls, pixels: RgbImage, corners: Floats) -> _Patch:
        side = float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).mean())
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
        return (np.asarray(points, dtype=np.float64) + 0.5) * self.step - 0.5 + self.origin

    def to_patch(self, points: Floats) -> Floats:
        return (np.asarray(points, dtype=np.float64) - self.origin + 0.5) / self.step - 0.5


def alike(corners: Floats, rough: Floats, most: float = 0.3) -> bool:
    """Whether two squares lie at one place: no corner farther off than that share of the side."""
    side = np.linalg.norm(np.roll(rough, -1, axis=0) - rough, axis=1).mean()
    far = min(np.linalg.norm(np.roll(corners, k, axis=0) - rough, axis=1).max() for k in range(4))
    return bool(far < most * side)


def _dark_fours(patch: _Patch, rough: Floats) -> list[Floats]:
    """Dark four-cornered shapes in the patch about the place looked for, at a few thresholds between its
    own shade and that of what is about it. [patch px]"""
    grey = cv2.GaussianBlur(cv2.cvtColor(patch.rgb, cv2.COLOR_RGB2GRAY), (0, 0), 1.5)
    own = patch.to_patch(rough)
    middle = own.mean(axis=0)
    inside = np.zeros(grey.shape, np.uint8)
    cv2.fillConvexPoly(inside, np.round(middle + 0.7 * (own - middle)).astype(np.int32), 1)
    wide = np.zeros(grey.shape, np.uint8)
    cv2.fillConvexPoly(wide, np.round(middle + 1.25 * (own - middle)).astype(np.int32), 1)
    if not inside.any() or wide.all():
        return []
    dark, about = float(np.median(grey[inside > 0])), float(np.median(grey[wide == 0]))
    found = []
    for share in (0.45, 0.25, 0.65):
        mask = (grey < dark + share * (about - dark)).astype(np.uint8)
        for contour in cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
            if cv2.pointPolygonTest(contour, (float(middle[0]), float(middle[1])), False) < 0:
                continue
            corners = _four_corners(cv2.convexHull(contour))
            if corners is not None:
                found.append(corners)
    return found


def _codes_in(rgb: RgbImage, threshold_constant: float) -> list[tuple[Floats, int]]:
    """Corners and number of each marker whose number can be a side."""
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.minMarkerPerimeterRate = 0.05
    # The white paper round the code may end close to the picture's border without harm.
    settings.minDistanceToBorder = 0
    settings.adaptiveThreshConstant = threshold_constant
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), settings)
    corners, ids, _ = detector.detectMarkers(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY))
    if ids is None:
        return []
    return [
        (quad.reshape(4, 2).astype(np.float64), int(number))
        for quad, number in zip(corners, ids.ravel(), strict=True)
        if SMALLEST_CODE <= number <= LARGEST_CODE
    ]


def find_coded_squares(pixels: RgbImage) -> list[SquareSeen]:
    """Every coded square wholly in sight whose number can be a side, the largest first."""
    height, width = pixels.shape[:2]
    for long_side, threshold_constant in CODE_SEARCHES:
        scale = min(1.0, long_side / max(height, width))
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        rgb = pixels if scale == 1.0 else cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
        found: list[SquareSeen] = []
        for quad, number in _codes_in(rgb, threshold_constant):
            rough = (quad + 0.5) / scale - 0.5
            seen = refine_square(pixels, rough, 3.0 / scale, "coded", float(number))
            if seen is not None:
                found.append(seen)
        if found:
            return sorted(found, key=lambda square: -square.side_px)
    return []


def find_plain_squares(
    pixels: RgbImage,
    small: SmallPicture,
    most: int = 6,
    likely: Callable[[Floats], bool] = lambda corners: True,
) -> list[SquareSeen]:
    """Dark four-cornered patches that may be a plain square, the most square-like first.

    likely : tells by rough corners [photo px] whether a patch is worth a closer look."""
    kept: list[tuple[Floats, SquareSeen]] = []
    places: list[Floats] = []
    rough = [item for item in _dark_quads(small) if likely(small.to_photo(item[1]))]
    for _, corners in rough:
        middle = corners.mean(axis=0)
        near = [k for k, place in enumerate(places) if np.linalg.norm(middle - place) < SAME_PLACE_PX]
        if near and len(near) >= TRIES_EACH:
            continue
        if not near and len(set(map(tuple, np.round(places, 0)))) >= 3 * most:
            break
        places.append(middle)
        seen = refine_square(pixels, small.to_photo(corners), 4.0 / small.scale, "plain", None)
        if seen is None or not _solid(small, seen):
            continue
        again = next(
            (k for k, (at, _) in enumerate(kept) if np.linalg.norm(at - middle) < SAME_PLACE_PX), None
        )
        if again is None:
            kept.append((middle, seen))
        elif _clearness(seen) > _clearness(kept[again][1]):
            kept[again] = (kept[again][0], seen)
    return [seen for _, seen in kept[:most]]


SAME_PLACE_PX = 8.0  # patches of one thing at several thresholds; small px
TRIES_EACH = 3  # thresholds at which one thing's edges are laid, the clearest kept


def _clearness(square: SquareSeen) -> float:
    """How plain all four edges are: the least of contrast over noise."""
    return min(abs(side.contrast) * side.share / (side.sigma_px + 0.1) for side in square.sides)


def _solid(small: SmallPicture, square: SquareSeen) -> bool:
    """False for a patch with anything light in it: a coded square that could not be read is no plain one,
    whose side it would be given."""
    corners = small.to_small(square.corners)
    middle = corners.mean(axis=0)
    inner = (middle + 0.8 * (corners - middle)).astype(np.int32)
    mask = np.zeros(small.lab.shape[:2], dtype=np.uint8)
    cv2.fillConvexPoly(mask, inner, 1)
    light = small.lab[:, :, 0][mask > 0]
    if light.size < 9:
        return False
    return bool(np.mean(light > np.median(light) + 14.0) < 0.04)


def _dark_quads(small: SmallPicture) -> list[tuple[float, Floats]]:
    """Rough corners of dark patches, with a rank: the smaller the likelier."""
    light = cv2.GaussianBlur(small.lab[:, :, 0], (0, 0), 0.8)
    width, height = small.size
    least, largest = (0.02 * max(width, height)) ** 2, 0.12 * width * height
    rough: list[tuple[float, Floats]] = []
    for level in np.arange(4.0, 56.0, 3.0):
        dark = (light < level).astype(np.uint8)
        # Dark table, light card, dark square on it: patches lie within each other, so all are listed.
        for contour in cv2.findContours(dark, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0]:
            area = cv2.contourArea(contour)
            if not least < area < largest:
                continue
            hull = cv2.convexHull(contour)
            if area < 0.88 * cv2.contourArea(hull):
                continue
            corners = _four_corners(hull)
            if corners is None:
                continue
            fill = area / max(cv2.contourArea(corners.astype(np.float32)), 1.0)
            edges = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
            if not 0.9 < fill < 1.06 or edges.min() < 0.4 * edges.max():
                continue
            if corners.min() < 1 or (corners.max(axis=0) > np.array([width - 2, height - 2])).any():
                continue
            inside = np.zeros_like(dark)
            cv2.fillConvexPoly(inside, corners.astype(np.int32), 1)
            # Solid black paper is darker than most things with corners.
            shade = float(cv2.mean(light, inside)[0])
            if shade > level:
                continue  # a light patch in dark surroundings
            rough.append((shade / 60.0 + 4 * abs(1 - fill), corners))
    rough.sort(key=lambda item: item[0])
    return rough


def _four_corners(hull: Floats) -> Floats | None:
    """The hull as four corners: None when it is rounder than that."""
    around = cv2.arcLength(hull, True)
    for tolerance in (0.02, 0.03, 0.045, 0.06):
        polygon = cv2.approxPolyDP(hull, tolerance * around, True)
        if len(polygon) == 4:
            corners: Floats = polygon.reshape(4, 2).astype(np.float64)
            return corners
        if len(polygon) < 4:
            return None
    return None
