"""Small, fast drawings of pencil layouts whose truth is exact, for the unit tests of the reading.

In:    a `Drawing` (card, square and marks in card millimetres) and a `Camera` (pose and lens).
Out:   `Shot.pixels`, (H, W, 3) uint8 RGB, and where everything is in it, in pixels and millimetres.
Fails: nothing here fails; a drawing without square, dots or battery circle is what refusals are tested on.

The plane of the card is painted once, finer than the photo, each mark from its distance function, so
that every edge has its true coverage and every centre lies where it is said to, off any pixel grid.
The photo then samples that plane backwards through camera and lens. Nothing is ever square-on unless a
test asks for it. Pixel centres are at integers; the frame's zero is the card's top-left corner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Image = NDArray[np.uint8]

PLANE_PX_PER_MM = 9.0  # chosen: 1.5 to 2 times as fine as the photos drawn here
GRAPHITE = 0.14  # chosen: light that a well filled pencil mark gives back, as a share of the paper's
INK = 0.03  # chosen: the same for printed black
TABLE_STEP_MM = 9.0  # chosen: size of the table's soft unevenness


@dataclass(frozen=True, slots=True)
class Dot:
    """One filled dot. Its outline wanders by `ragged` of its radius in even waves only, so that
    its centroid stays exactly at (x, y)."""

    x_mm: float
    y_mm: float
    diameter_mm: float = 3.0
    ragged: float = 0.06


@dataclass(frozen=True, slots=True)
class Ring:
    """One pencil circle: the centre line's least-squares circle. `wobble_mm` is the size of waves
    of 2 and more round the circle, which change neither centre nor diameter. It is drawn from
    `start_deg` through `sweep_deg`: under 360 leaves a gap, over 360 overshoots."""

    x_mm: float
    y_mm: float
    diameter_mm: float = 20.6
    wobble_mm: float = 0.12
    start_deg: float = 40.0
    sweep_deg: float = 366.0
    stroke_mm: float = 0.55


@dataclass(frozen=True, slots=True)
class Stroke:
    """One pencil line through `points_mm`; `tone` 1 is as dark as a dot, 0 leaves no mark."""

    points_mm: Sequence[tuple[float, float]]
    width_mm: float = 0.5
    tone: float = 0.8


@dataclass(frozen=True, slots=True)
class Square:
    """The reference square: outer black side, centre in the card frame, turned clockwise."""

    side_mm: float = 30.0
    x_mm: float = -30.0
    y_mm: float = 40.0
    turn_deg: float = 7.0
    coded: bool = True
    printed_scale: float = 1.0  # below 1: the printer shrank it, and the code still claims `side_mm`

    @property
    def corners_mm(self) -> Points:
        """(4, 2) corners of the black, clockwise from its own top-left."""
        half = self.side_mm * self.printed_scale / 2
        ring = np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
        return _turned(ring, self.turn_deg) + np.array([self.x_mm, self.y_mm])


@dataclass(frozen=True, slots=True)
class Drawing:
    """One card as it lies on the table; colours are linear shares of light, (R, G, B)."""

    width_mm: float = 107.95
    height_mm: float = 139.7
    dots: tuple[Dot, ...] = (Dot(31.23, 40.81, 3.1), Dot(62.47, 35.16, 2.4), Dot(55.92, 71.38, 4.3))
    ring: Ring | None = field(default_factory=lambda: Ring(80.13, 112.04))
    square: Square | None = field(default_factory=Square)
    strokes: tuple[Stroke, ...] = ()
    more_rings: tuple[Ring, ...] = ()
    paper: tuple[float, float, float] = (0.80, 0.78, 0.74)
    table: tuple[float, float, float] = (0.22, 0.15, 0.10)


@dataclass(frozen=True, slots=True)
class Camera:
    """A phone over the card: a pinhole with radial distortion, x_d = x_u (1 + k1 r^2 + k2 r^4)
    in units of the focal length, about the picture's middle."""

    width_px: int = 900
    height_px: int = 1200
    tilt_deg: float = 12.0
    tilt_toward_deg: float = 70.0  # the direction, in the picture, in which the card falls away
    roll_deg: float = 4.0  # how far the card's up is turned clockwise in the picture
    fill: float = 0.88  # the share of the picture that card and square take; over 1 cuts them
    aim_mm: tuple[float, float] | None = None  # what the picture's middle looks at; None: the middle of all
    focal: float = 0.62  # in picture diagonals
    k1: float = 0.0
    k2: float = 0.0


@dataclass(frozen=True)
class Shot:
    """One photo with its truth. `to_px` takes any points of the card's plane into the photo."""

    pixels: Image
    drawing: Drawing
    camera: Camera
    homography: Points  # (3, 3) card mm -> undistorted px

    def to_px(self, points_mm: Points | Sequence[tuple[float, float]]) -> Points:
        """Where (N, 2) card millimetres are in the photo. [px]"""
        return to_px(self.homography, self.camera, np.asarray(points_mm, dtype=np.float64))

    @cached_property
    def card_corners_px(self) -> Points:
        """(4, 2) clockwise from the card's own top-left corner."""
        w, h = self.drawing.width_mm, self.drawing.height_mm
        return self.to_px([(0, 0), (w, 0), (w, h), (0, h)])

    @cached_property
    def square_corners_px(self) -> Points:
        """(4, 2) clockwise from the square's own first corner; (0, 2) without a square."""
        square = self.drawing.square
        return self.to_px(square.corners_mm) if square else np.zeros((0, 2))

    @cached_property
    def lights_mm(self) -> Points:
        """(N, 2) true centres of the dots."""
        return np.array([(dot.x_mm, dot.y_mm) for dot in self.drawing.dots], dtype=np.float64).reshape(-1, 2)


def draw(
    drawing: Drawing | None = None,
    camera: Camera | None = None,
    *,
    seed: int = 1,
    noise: float = 2.0,
    falloff: float = 0.25,
    blur_px: float = 0.6,
    brightness: float = 1.0,
) -> Shot:
    """Photograph `drawing`: `noise` is a standard deviation in picture levels (0-255), `falloff`
    the share of light lost from one corner of the picture to the other, `blur_px` a Gaussian's
    standard deviation in the photo."""
    drawing, camera = drawing or Drawing(), camera or Camera()
    rng = np.random.default_rng(seed)
    homography = pose(drawing, camera)
    plane, origin_mm = _paint(drawing, PLANE_PX_PER_MM, _margins(drawing), rng)
    # Cells of the plane are averaged over about one photo pixel before they are sampled: with the
    # plane 1.5 to 2 times as fine, a Gaussian of 0.8 plane pixels stands for that box.
    plane = cv2.GaussianBlur(plane, (0, 0), 0.8)
    light = cv2.remap(
        plane,
        *_sampling_maps(homography, camera, origin_mm),
        interpolation=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    if blur_px > 0:
        light = cv2.GaussianBlur(light, (0, 0), blur_px)
    return Shot(_develop(light * brightness, falloff, noise, rng), drawing, camera, homography)


def draw_straight(
    drawing: Drawing | None = None,
    px_per_mm: float = 8.0,
    margin_mm: float = 0.0,
    *,
    seed: int = 1,
    noise: float = 2.0,
    falloff: float = 0.25,
    blur_mm: float = 0.08,
) -> Image:
    """The card seen straight from above, (H, W, 3) uint8: what a perfect straightening would give.
    Pixel (column, row) lies at (column + 0.5) / px_per_mm - margin_mm card millimetres."""
    drawing = drawing or Drawing()
    rng = np.random.default_rng(seed)
    plane, _ = _paint(drawing, px_per_mm, (margin_mm,) * 4, rng)
    light = cv2.GaussianBlur(plane, (0, 0), blur_mm * px_per_mm) if blur_mm > 0 else plane
    return _develop(light, falloff, noise, rng)


def pose(drawing: Drawing, camera: Camera) -> Points:
    """(3, 3) homography from card millimetres to undistorted pixels."""
    w, h = drawing.width_mm, drawing.height_mm
    f = camera.focal * math.hypot(camera.width_px, camera.height_px)
    middle = ((camera.width_px - 1) / 2, (camera.height_px - 1) / 2)
    reach = np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=np.float64)
    if drawing.square:
        reach = np.vstack([reach, drawing.square.corners_mm])
    aim = np.asarray(camera.aim_mm or (reach.min(axis=0) + reach.max(axis=0)) / 2)
    roll, tilt, toward = (math.radians(a) for a in (camera.roll_deg, camera.tilt_deg, camera.tilt_toward_deg))
    turn = np.array([[math.cos(roll), -math.sin(roll)], [math.sin(roll), math.cos(roll)]])
    axis = np.array([-math.sin(toward), math.cos(toward), 0.0])
    lean, _ = cv2.Rodrigues(axis * -tilt)
    turned = np.eye(3)
    turned[:2, :2] = turn
    rotation = lean @ turned
    # Each point fits when f |x| / (distance + z) is within its half of the picture; the worst decides.
    seen = (reach - aim) @ rotation[:, :2].T
    half = camera.fill / 2 * np.array([camera.width_px, camera.height_px])
    distance = float(np.max(f * np.abs(seen[:, :2]) / half - seen[:, 2:]))
    shift = np.array([0.0, 0.0, distance]) - rotation @ np.array([aim[0], aim[1], 0.0])
    lens = np.array([[f, 0, middle[0]], [0, f, middle[1]], [0, 0, 1]])
    matrix = lens @ np.column_stack([rotation[:, 0], rotation[:, 1], shift])
    return np.asarray(matrix / matrix[2, 2])


def to_px(homography: Points, camera: Camera, points_mm: Points) -> Points:
    """(N, 2) card millimetres to (N, 2) pixels, lens distortion included."""
    ones = np.column_stack([points_mm.reshape(-1, 2), np.ones(len(points_mm))]) @ homography.T
    ideal = ones[:, :2] / ones[:, 2:]
    middle = np.array([(camera.width_px - 1) / 2, (camera.height_px - 1) / 2])
    f = camera.focal * math.hypot(camera.width_px, camera.height_px)
    off = (ideal - middle) / f
    r2 = np.sum(off**2, axis=1, keepdims=True)
    return np.asarray(middle + off * f * (1 + camera.k1 * r2 + camera.k2 * r2**2))


def _sampling_maps(
    homography: Points, camera: Camera, origin_mm: tuple[float, float]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """For each photo pixel, where on the painted plane it looks. [plane px]"""
    middle = ((camera.width_px - 1) / 2, (camera.height_px - 1) / 2)
    f = camera.focal * math.hypot(camera.width_px, camera.height_px)
    x = (np.arange(camera.width_px, dtype=np.float32) - middle[0])[None, :] / f
    y = (np.arange(camera.height_px, dtype=np.float32) - middle[1])[:, None] / f
    if camera.k1 or camera.k2:
        # Undistorting is one dimension only: tabulate r_u -> r_d finely and read it backwards.
        r_u = np.linspace(0, 1.5, 6000)
        r_d = r_u * (1 + camera.k1 * r_u**2 + camera.k2 * r_u**4)
        seen = np.sqrt(x * x + y * y)
        grows = np.interp(np.linspace(0, 1.2, 4000), r_d, r_u) / np.maximum(np.linspace(0, 1.2, 4000), 1e-12)
        grows[0] = 1.0
        scale = cv2.remap(
            grows.astype(np.float32)[None, :],
            (seen * (3999 / 1.2)).astype(np.float32),
            np.zeros_like(seen, dtype=np.float32),
            cv2.INTER_LINEAR,
        )
        x, y = x * scale, y * scale
    back = np.linalg.inv(homography)
    to_ideal = np.array([[f, 0, middle[0]], [0, f, middle[1]], [0, 0, 1]])
    m = (back @ to_ideal).astype(np.float64)
    under = m[2, 0] * x + m[2, 1] * y + m[2, 2]
    s = PLANE_PX_PER_MM
    map_x = ((m[0, 0] * x + m[0, 1] * y + m[0, 2]) / under - origin_mm[0]) * s - 0.5
    map_y = ((m[1, 0] * x + m[1, 1] * y + m[1, 2]) / under - origin_mm[1]) * s - 0.5
    return map_x.astype(np.float32), map_y.astype(np.float32)


def _margins(drawing: Drawing) -> tuple[float, float, float, float]:
    """Left, top, right, bottom room round the card that holds the square and its white border."""
    room = np.full(4, 12.0)
    if drawing.square:
        reach = drawing.square.corners_mm
        border = 0.35 * drawing.square.side_mm
        low, high = reach.min(axis=0) - border, reach.max(axis=0) + border
        over = (-low[0], -low[1], high[0] - drawing.width_mm, high[1] - drawing.height_mm)
        room = np.maximum(room, over)
    return (float(room[0]), float(room[1]), float(room[2]), float(room[3]))


def _paint(
    drawing: Drawing, scale: float, margins: tuple[float, float, float, float], rng: np.random.Generator
) -> tuple[NDArray[np.float32], tuple[float, float]]:
    """The plane of the card in linear light, (H, W, 3) float32, and the mm of its first corner."""
    left, top, right, bottom = margins
    columns = round((left + drawing.width_mm + right) * scale)
    rows = round((top + drawing.height_mm + bottom) * scale)
    plane = _Plane(np.empty((rows, columns, 3), np.float32), scale, (-left, -top))
    plane.light[:] = np.asarray(drawing.table, np.float32)
    soft_shape = (math.ceil(rows / scale / TABLE_STEP_MM) + 2, math.ceil(columns / scale / TABLE_STEP_MM) + 2)
    soft = rng.normal(1.0, 0.10, soft_shape).astype(np.float32)
    plane.light *= cv2.resize(soft, (columns, rows), interpolation=cv2.INTER_CUBIC)[:, :, None]

    plane.card(drawing.width_mm, drawing.height_mm, drawing.paper)
    grain = _Grain(rng)
    for stroke in drawing.strokes:
        plane.stroke(np.asarray(stroke.points_mm, dtype=np.float64), stroke.width_mm, stroke.tone, grain)
    for ring in (drawing.ring, *drawing.more_rings):
        if ring:
            plane.stroke(_ring_points(ring), ring.stroke_mm, 0.85, grain)
    for dot in drawing.dots:
        plane.dot(dot, grain)
    if drawing.square:
        plane.square(drawing.square)
    return plane.light, (-left, -top)


class _Grain:
    """Paper tooth: the share of graphite that a spot of paper takes, one tile reused everywhere."""

    def __init__(self, rng: np.random.Generator) -> None:
        tile = cv2.GaussianBlur(rng.random((256, 256)).astype(np.float32), (0, 0), 1.0)
        self.tile = np.clip(0.9 + (tile - 0.5) * 1.2, 0.5, 1.0)

    def over(self, rows: slice, columns: slice) -> NDArray[np.float32]:
        r = np.arange(rows.start, rows.stop) % 256
        c = np.arange(columns.start, columns.stop) % 256
        return np.asarray(self.tile[np.ix_(r, c)])


class _Plane:
    """A canvas in linear light that is painted by distance functions, window by window."""

    def __init__(self, light: NDArray[np.float32], scale: float, origin_mm: tuple[float, float]) -> None:
        self.light, self.scale, self.origin = light, scale, origin_mm

    def window(self, low_mm: Points, high_mm: Points) -> tuple[slice, slice, Points, Points]:
        """The pixels about a box of the plane and the mm of their centres; may be empty."""
        spans = []
        for axis, limit in ((0, self.light.shape[1]), (1, self.light.shape[0])):
            first = math.floor((low_mm[axis] - self.origin[axis]) * self.scale) - 2
            last = math.ceil((high_mm[axis] - self.origin[axis]) * self.scale) + 2
            spans.append(slice(min(max(first, 0), limit), min(max(last, 0), limit)))
        x = (np.arange(spans[0].start, spans[0].stop) + 0.5) / self.scale + self.origin[0]
        y = (np.arange(spans[1].start, spans[1].stop) + 0.5) / self.scale + self.origin[1]
        return spans[1], spans[0], x[None, :], y[:, None]

    def card(self, width_mm: float, height_mm: float, colour: Sequence[float]) -> None:
        """Fill the card: its sides run along the axes, so its coverage is a product of two ramps."""
        rows, columns, x, y = self.window(np.zeros(2), np.array([width_mm, height_mm]))
        ramp_x = np.clip(np.minimum(x, width_mm - x) * self.scale + 0.5, 0, 1).astype(np.float32)
        ramp_y = np.clip(np.minimum(y, height_mm - y) * self.scale + 0.5, 0, 1).astype(np.float32)
        spot = self.light[rows, columns]
        spot += (ramp_y * ramp_x)[:, :, None] * (np.asarray(colour, np.float32) - spot)

    def polygon(self, corners_mm: Points, colour: Sequence[float]) -> None:
        """Fill a convex polygon, clockwise as seen (y down), with true coverage along its sides."""
        rows, columns, x, y = self.window(corners_mm.min(axis=0), corners_mm.max(axis=0))
        cover = np.full((y.shape[0], x.shape[1]), 1.0, np.float32)
        for a, b in zip(corners_mm, np.roll(corners_mm, -1, axis=0), strict=True):
            along = (b - a) / math.dist(a, b)
            inside = (y - a[1]) * along[0] - (x - a[0]) * along[1]
            cover *= np.clip(inside * self.scale + 0.5, 0, 1)
        spot = self.light[rows, columns]
        spot += cover[:, :, None] * (np.asarray(colour, np.float32) - spot)

    def stroke(self, points: Points, width_mm: float, tone: float, grain: _Grain) -> None:
        """Pencil a polyline; a chain of short windows keeps long lines cheap. Where pieces of one
        stroke meet they don't darken twice: the distance is to the whole neighbourhood."""
        fine = _in_short_pieces(points, 4.0)
        half = width_mm / 2
        shade = np.zeros(self.light.shape[:2], np.float32)
        for a, b in pairwise(fine):
            rows, columns, x, y = self.window(np.minimum(a, b) - half, np.maximum(a, b) + half)
            span = b - a
            length2 = max(float(span @ span), 1e-12)
            t = np.clip(((x - a[0]) * span[0] + (y - a[1]) * span[1]) / length2, 0, 1)
            distance = np.hypot(x - a[0] - t * span[0], y - a[1] - t * span[1])
            cover = np.clip((half - distance) * self.scale + 0.5, 0, 1).astype(np.float32)
            np.maximum(shade[rows, columns], cover, out=shade[rows, columns])
        low, high = fine.min(axis=0) - half, fine.max(axis=0) + half
        rows, columns, _, _ = self.window(low, high)
        self._darken(rows, columns, shade[rows, columns] * tone, grain)

    def dot(self, dot: Dot, grain: _Grain) -> None:
        radius = dot.diameter_mm / 2
        centre = np.array([dot.x_mm, dot.y_mm])
        reach = radius * 1.4
        rows, columns, x, y = self.window(centre - reach, centre + reach)
        angle = np.arctan2(y - dot.y_mm, x - dot.x_mm)
        turn = 2.399 * (dot.x_mm + dot.y_mm)  # each dot its own shape, without a generator's state
        wave = np.cos(2 * angle + turn) + 0.6 * np.cos(6 * angle - 1.7 * turn)
        edge = radius * (1 + dot.ragged * wave / 1.6)
        cover = np.clip((edge - np.hypot(x - dot.x_mm, y - dot.y_mm)) * self.scale + 0.5, 0, 1)
        self._darken(rows, columns, cover.astype(np.float32), grain)

    def square(self, square: Square) -> None:
        corners = square.corners_mm
        side = square.side_mm * square.printed_scale
        if not square.coded:
            self.polygon(corners, (INK, INK, INK))
            return
        bits = _marker_cells(round(square.side_mm))
        cells = len(bits)
        border = 1 + 1.4 * 2 / cells
        middle = corners.mean(axis=0)
        self.polygon(middle + (corners - middle) * border, (0.86, 0.86, 0.86))
        self.polygon(corners, (INK, INK, INK))
        right, down = (corners[1] - corners[0]) / cells, (corners[3] - corners[0]) / cells
        rows, columns, x, y = self.window(corners.min(axis=0), corners.max(axis=0))
        step2 = (side / cells) ** 2
        u = ((x - corners[0, 0]) * right[0] + (y - corners[0, 1]) * right[1]) / step2
        v = ((x - corners[0, 0]) * down[0] + (y - corners[0, 1]) * down[1]) / step2
        white = bits[
            np.clip(np.floor(v), 0, cells - 1).astype(int), np.clip(np.floor(u), 0, cells - 1).astype(int)
        ]
        inside = (u > 1) & (u < cells - 1) & (v > 1) & (v < cells - 1)
        self.light[rows, columns][white & inside] = 0.86

    def _darken(self, rows: slice, columns: slice, cover: NDArray[np.float32], grain: _Grain) -> None:
        taken = cover * grain.over(rows, columns)
        self.light[rows, columns] *= (1 - (1 - GRAPHITE) * taken)[:, :, None]


def _develop(light: NDArray[np.float32], falloff: float, noise: float, rng: np.random.Generator) -> Image:
    """Linear light to picture levels: light falling off across the picture, sRGB curve, noise."""
    rows, columns = light.shape[:2]
    down = np.linspace(0, 0.6, rows, dtype=np.float32)[:, None]
    across = np.linspace(0, 0.4, columns, dtype=np.float32)[None, :]
    lit = np.clip(light * (1 - falloff * (down + across))[:, :, None], 0, 1)
    # IEC 61966-2-1 encoding by a table of 4096 steps: exact to a tenth of a level where it matters.
    steps = np.linspace(0, 1, 4096)
    curve = np.where(steps <= 0.0031308, 12.92 * steps, 1.055 * steps ** (1 / 2.4) - 0.055) * 255
    levels = curve.astype(np.float32)[(lit * 4095 + 0.5).astype(np.uint16)]
    if noise > 0:
        # One normal field rolled differently for each channel: three times as fast, as good here.
        grey = rng.standard_normal((rows, columns), dtype=np.float32) * noise
        levels += np.stack(
            [np.roll(grey, shift, axis=(0, 1)) for shift in ((0, 0), (37, 11), (5, 71))], axis=2
        )
    return np.clip(levels + 0.5, 0, 255).astype(np.uint8)


def _ring_points(ring: Ring) -> Points:
    angle = np.radians(ring.start_deg + np.linspace(0, ring.sweep_deg, 120))
    wave = np.cos(2 * angle + ring.x_mm) + 0.5 * np.cos(3 * angle + ring.y_mm)
    radius = ring.diameter_mm / 2 + ring.wobble_mm * wave / 1.5
    return np.column_stack([ring.x_mm + radius * np.cos(angle), ring.y_mm + radius * np.sin(angle)])


def _in_short_pieces(points: Points, piece_mm: float) -> Points:
    out = [points[0]]
    for a, b in pairwise(points):
        count = max(1, math.ceil(math.dist(a, b) / piece_mm))
        out += [a + (b - a) * (k / count) for k in range(1, count + 1)]
    return np.array(out)


def _marker_cells(number: int) -> NDArray[np.bool_]:
    """(6, 6) cells of a DICT_4X4_50 marker with its black border; True is white."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return np.asarray(cv2.aruco.generateImageMarker(dictionary, number, 6)) > 127


def _turned(points: Points, turn_deg: float) -> Points:
    angle = math.radians(turn_deg)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    return points @ turn.T
