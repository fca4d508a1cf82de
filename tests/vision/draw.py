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

from tests.card_kit import camera as phone
from tests.card_kit.outlines import Plane, Points, blend, coverage, rectangle, resample, span, square_about
from tests.card_kit.pencil import along_run
from tests.card_kit.square import CELLS, white_cells
from tests.card_kit.tone import STEPS, tone_curve

Image = NDArray[np.uint8]

PLANE_PX_PER_MM = 9.0  # chosen: 1.5 to 2 times as fine as the photos drawn here
GRAPHITE = 0.14  # chosen: light that a well filled pencil mark gives back, as a share of the paper's
INK, WHITE = 0.03, 0.86  # chosen: the same for printed black and for its paper
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
        centre = np.array([self.x_mm, self.y_mm])
        return square_about(centre, self.side_mm * self.printed_scale / 2, self.turn_deg)


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
    lens: phone.Camera

    def to_px(self, points_mm: Points | Sequence[tuple[float, float]]) -> Points:
        """Where (N, 2) card millimetres are in the photo. [px]"""
        return self.lens.project(phone.TABLE.to_world(np.asarray(points_mm, dtype=np.float64)))

    @cached_property
    def card_corners_px(self) -> Points:
        """(4, 2) clockwise from the card's own top-left corner."""
        return self.to_px(rectangle(self.drawing.width_mm, self.drawing.height_mm))

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
    lens = _lens(drawing, camera)
    plane, (left_mm, top_mm) = _paint(drawing, _margins(drawing), rng)
    # Cells of the plane are averaged over about one photo pixel before they are sampled: with the
    # plane 1.5 to 2 times as fine, a Gaussian of 0.8 plane pixels stands for that box.
    plane = cv2.GaussianBlur(plane, (0, 0), 0.8)
    x, y = lens.sampling_maps(phone.TABLE, (0, 0, camera.width_px, camera.height_px))
    at = ((x - np.float32(left_mm)) * PLANE_PX_PER_MM - 0.5, (y - np.float32(top_mm)) * PLANE_PX_PER_MM - 0.5)
    light = cv2.remap(plane, *at, interpolation=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    if blur_px > 0:
        light = cv2.GaussianBlur(light, (0, 0), blur_px)
    return Shot(_develop(light * brightness, falloff, noise, rng), drawing, camera, lens)


def _lens(drawing: Drawing, camera: Camera) -> phone.Camera:
    """The camera where card and square just fill their share of the picture."""
    reach = rectangle(drawing.width_mm, drawing.height_mm)
    if drawing.square:
        reach = np.vstack([reach, drawing.square.corners_mm])
    aim = np.append(camera.aim_mm or (reach.min(axis=0) + reach.max(axis=0)) / 2, 0.0)
    rotation = phone.orientation(camera.tilt_deg, camera.tilt_toward_deg, camera.roll_deg)
    seen = (phone.TABLE.to_world(reach) - aim) @ rotation.T
    half = camera.fill / 2 * np.array([camera.width_px, camera.height_px])
    focal_px = camera.focal * math.hypot(camera.width_px, camera.height_px)
    distance = phone.fitting_distance(seen, focal_px, half)
    return phone.camera_before(
        aim,
        distance,
        rotation,
        size_px=(camera.width_px, camera.height_px),
        equivalent_mm=camera.focal * phone.FULL_FRAME_DIAGONAL_MM,
        bends=(camera.k1, camera.k2),
    )


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
    drawing: Drawing, margins: tuple[float, float, float, float], rng: np.random.Generator
) -> tuple[Plane, tuple[float, float]]:
    """The plane of the card in linear light, (H, W, 3) float32, and the mm of its first corner."""
    left, top, right, bottom = margins
    columns = round((left + drawing.width_mm + right) * PLANE_PX_PER_MM)
    rows = round((top + drawing.height_mm + bottom) * PLANE_PX_PER_MM)
    cells = (math.ceil(length / PLANE_PX_PER_MM / TABLE_STEP_MM) + 2 for length in (rows, columns))
    soft = rng.normal(1.0, 0.10, tuple(cells)).astype(np.float32)
    soft = cv2.resize(soft, (columns, rows), interpolation=cv2.INTER_CUBIC)
    plane = _Canvas(soft[:, :, None] * np.asarray(drawing.table, np.float32), (-left, -top), rng)

    plane.fill(rectangle(drawing.width_mm, drawing.height_mm), drawing.paper)
    for stroke in drawing.strokes:
        plane.stroke(np.asarray(stroke.points_mm, dtype=np.float64), stroke.width_mm, stroke.tone)
    for ring in (drawing.ring, *drawing.more_rings):
        if ring:
            plane.stroke(_ring_points(ring), ring.stroke_mm, 0.85)
    for dot in drawing.dots:
        plane.dot(dot)
    if drawing.square:
        plane.square(drawing.square)
    return plane.light, (-left, -top)


class _Canvas:
    """Linear light that is painted on by distances to outlines, window by window. The paper's tooth, the share of
    graphite that a spot of it takes, is one tile reused everywhere."""

    def __init__(self, light: Plane, origin_mm: tuple[float, float], rng: np.random.Generator) -> None:
        self.light, self.origin = light, np.array(origin_mm)
        tile = cv2.GaussianBlur(rng.random((256, 256)).astype(np.float32), (0, 0), 1.0)
        self.tooth = np.clip(0.9 + (tile - 0.5) * 1.2, 0.5, 1.0)

    def window(self, points_mm: Points, reach_mm: float = 0.0) -> tuple[slice, slice, Points, Points]:
        """The pixels about points of the plane and the mm of their centres; may be empty."""
        at = (points_mm - self.origin) * PLANE_PX_PER_MM
        columns, rows = (
            span(at[:, axis], reach_mm * PLANE_PX_PER_MM + 2, self.light.shape[1 - axis]) for axis in (0, 1)
        )
        x = (np.arange(columns.start, columns.stop) + 0.5) / PLANE_PX_PER_MM + self.origin[0]
        y = (np.arange(rows.start, rows.stop) + 0.5) / PLANE_PX_PER_MM + self.origin[1]
        return rows, columns, x[None, :], y[:, None]

    def fill(self, corners_mm: Points, colour: Sequence[float]) -> None:
        """Fill a convex polygon, clockwise as seen (y down), with true coverage along its sides."""
        rows, columns, x, y = self.window(corners_mm)
        cover = coverage(x, y, corners_mm, PLANE_PX_PER_MM)
        blend(self.light[rows, columns], np.asarray(colour, np.float32), cover)

    def stroke(self, points: Points, width_mm: float, tone: float) -> None:
        """Pencil a polyline; a chain of short windows keeps long lines cheap. Where pieces of one
        stroke meet they don't darken twice: the distance is to the whole neighbourhood."""
        fine = resample(points, 4.0)
        half = width_mm / 2
        shade = np.zeros(self.light.shape[:2], np.float32)
        for a, b in pairwise(fine):
            rows, columns, x, y = self.window(np.array([a, b]), half)
            _, away = along_run(x, y, a, b)
            cover = np.clip((half - away) * PLANE_PX_PER_MM + 0.5, 0, 1).astype(np.float32)
            np.maximum(shade[rows, columns], cover, out=shade[rows, columns])
        rows, columns, _, _ = self.window(fine, half)
        self._darken(rows, columns, shade[rows, columns] * tone)

    def dot(self, dot: Dot) -> None:
        radius = dot.diameter_mm / 2
        rows, columns, x, y = self.window(np.array([[dot.x_mm, dot.y_mm]]), radius * 1.4)
        angle = np.arctan2(y - dot.y_mm, x - dot.x_mm)
        turn = 2.399 * (dot.x_mm + dot.y_mm)  # each dot its own shape, without a generator's state
        wave = np.cos(2 * angle + turn) + 0.6 * np.cos(6 * angle - 1.7 * turn)
        edge = radius * (1 + dot.ragged * wave / 1.6)
        cover = np.clip((edge - np.hypot(x - dot.x_mm, y - dot.y_mm)) * PLANE_PX_PER_MM + 0.5, 0, 1)
        self._darken(rows, columns, cover.astype(np.float32))

    def square(self, square: Square) -> None:
        corners = square.corners_mm
        if square.coded:
            middle = corners.mean(axis=0)
            self.fill(middle + (corners - middle) * (1 + 1.4 * 2 / CELLS), (WHITE, WHITE, WHITE))
        self.fill(corners, (INK, INK, INK))
        if not square.coded:
            return
        right, down = (corners[1] - corners[0]) / CELLS, (corners[3] - corners[0]) / CELLS
        rows, columns, x, y = self.window(corners)
        cell2 = float(right @ right)
        u = ((x - corners[0, 0]) * right[0] + (y - corners[0, 1]) * right[1]) / cell2
        v = ((x - corners[0, 0]) * down[0] + (y - corners[0, 1]) * down[1]) / cell2
        row, column = (np.clip(np.floor(at), 0, CELLS - 1).astype(int) for at in (v, u))
        self.light[rows, columns][white_cells(square.side_mm)[row, column]] = WHITE

    def _darken(self, rows: slice, columns: slice, cover: Plane) -> None:
        tooth = self.tooth[np.ix_(*(np.arange(part.start, part.stop) % 256 for part in (rows, columns)))]
        self.light[rows, columns] *= (1 - (1 - GRAPHITE) * cover * tooth)[:, :, None]


def _develop(light: Plane, falloff: float, noise: float, rng: np.random.Generator) -> Image:
    """Linear light to picture levels: light falling off across the picture, sRGB curve, noise."""
    rows, columns = light.shape[:2]
    down = np.linspace(0, 0.6, rows, dtype=np.float32)[:, None]
    across = np.linspace(0, 0.4, columns, dtype=np.float32)[None, :]
    lit = np.clip(light * (1 - falloff * (down + across))[:, :, None], 0, 1)
    levels = tone_curve()[(lit * (STEPS - 1) + 0.5).astype(np.uint16)]
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
