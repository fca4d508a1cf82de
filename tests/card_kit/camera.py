"""The phone over the table: pose, lens, and the sheet that may bend up from it.

World millimetres: x right and y down on the card's plane as it would lie flat, z away from the
lens, so that a thing of height h has z = -h. Pixels: (0, 0) is the centre of the top-left pixel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import cv2
import numpy as np

from tests.card_kit.outlines import Plane, Points

NODE_PX = 8  # chosen: the maps are exact at every eighth pixel and straight between: within 0.01 px
FULL_FRAME_DIAGONAL_MM = 43.2666  # 36 x 24 mm: what an equivalent focal length refers to


@dataclass(frozen=True, slots=True)
class Sheet:
    """A card of even thickness, flat or bent. It bends about one direction only, as paper does: along
    `direction_deg` the slope follows `slope` over the arc length `along_mm`, nothing is stretched."""

    thickness_mm: float = 0.3
    direction_deg: float = 0.0
    along_mm: Points = field(default_factory=lambda: np.array([-400.0, 400.0]))
    reach_mm: Points = field(default_factory=lambda: np.array([-400.0, 400.0]))
    lift_mm: Points = field(default_factory=lambda: np.array([0.0, 0.0]))

    @staticmethod
    def bent(
        thickness_mm: float,
        direction_deg: float,
        span_mm: tuple[float, float],
        start_mm: float,
        lift_mm: float,
        way: str,
    ) -> Sheet:
        """A sheet that reaches over `span_mm` along the direction. `way` "end": flat up to `start_mm`,
        then a curve that rises to `lift_mm` at the end; "ends": both ends rise so, flat as far from the middle as
        `start_mm` lies from it; "arch": one arc, highest in its middle; "s": the far end rises, the near half is an
        arc of the same height, whose end and the trough between touch the table."""
        low, stop_mm = span_mm
        middle = (low + stop_mm) / 2
        start_mm = low if way == "arch" else start_mm
        s = np.arange(low - 80, stop_mm + 80, 0.1)
        if way == "ends":
            flat = abs(start_mm - middle)
            beyond = np.maximum(np.abs(s - middle) - flat, 0)
            slope = 2 * lift_mm / (stop_mm - middle - flat) ** 2 * beyond * np.sign(s - middle)
        elif way == "arch":
            span = stop_mm - start_mm
            slope = np.where((s >= start_mm) & (s <= stop_mm), -8 * lift_mm / span**2 * (s - middle), 0)
        elif way == "s":
            # A bend that grows evenly from end to end; laid on a table it is the third Chebyshev polynomial, whose
            # highest places are equal, and so are its lowest.
            half = (stop_mm - low) / 2
            x = np.clip((s - middle) / half, -1, 1)
            slope = np.where(np.abs(s - middle) <= half, lift_mm / 2 * (12 * x**2 - 3) / half, 0)
        else:
            slope = np.where(s > start_mm, 2 * lift_mm / (stop_mm - start_mm) ** 2 * (s - start_mm), 0)
        angle = np.arctan(slope)
        reach = s[0] + np.concatenate([[0], np.cumsum(np.cos(angle)[:-1] * 0.1)])
        lift = np.concatenate([[0], np.cumsum(np.sin(angle)[:-1] * 0.1)])
        # Lay the flat part (or the arch's middle) where the paper's own coordinates are.
        anchor = start_mm if way == "end" else middle
        reach += anchor - float(np.interp(anchor, s, reach))
        return Sheet(thickness_mm, direction_deg, s, reach, lift - lift.min())

    def _turned(self, points: Points, way: int) -> Points:
        a = math.radians(self.direction_deg) * way
        return points @ np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])

    def to_world(self, paper_mm: Points, above_mm: float = 0.0) -> Points:
        """(N, 3) world places of (N, 2) points on the upper face, `above_mm` above it."""
        turned = self._turned(np.asarray(paper_mm, dtype=np.float64), 1)
        lift = np.interp(turned[:, 0], self.along_mm, self.lift_mm)
        turned = np.column_stack([np.interp(turned[:, 0], self.along_mm, self.reach_mm), turned[:, 1]])
        flat = self._turned(turned, -1)
        return np.column_stack([flat, -(self.thickness_mm + above_mm + lift)])

    def meet(self, eye: Points, ray: Points, above_mm: float = 0.0) -> Points:
        """(N, 2) paper points where rays from `eye` along (N, 3) meet the upper face. The lift is
        found by repeating: its slopes are small against the view's, so each turn gains a digit."""
        base = self.thickness_mm + above_mm
        lift = np.zeros(len(ray))
        for _ in range(1 if len(self.along_mm) == 2 else 9):
            t = (-(base + lift) - eye[2]) / ray[:, 2]
            flat = eye[:2] + ray[:, :2] * t[:, None]
            turned = self._turned(flat, 1)
            lift = np.interp(turned[:, 0], self.reach_mm, self.lift_mm)
        turned[:, 0] = np.interp(turned[:, 0], self.reach_mm, self.along_mm)
        return self._turned(turned, -1)


TABLE = Sheet(thickness_mm=0.0)


@dataclass(frozen=True, slots=True)
class Camera:
    """Pinhole with radial distortion: x_d = x_u (1 + k1 r^2 + k2 r^4) in units of the focal length,
    about the picture's middle. `rotation` takes the world's axes to the camera's; `eye` is the lens."""

    width_px: int
    height_px: int
    equivalent_mm: float
    rotation: Points
    eye: Points
    k1: float
    k2: float
    tilt_deg: float
    roll_deg: float

    @property
    def focal_px(self) -> float:
        return self.equivalent_mm / FULL_FRAME_DIAGONAL_MM * math.hypot(self.width_px, self.height_px)

    @property
    def middle_px(self) -> Points:
        return np.array([(self.width_px - 1) / 2, (self.height_px - 1) / 2])

    def project(self, world: Points) -> Points:
        """(N, 2) pixels of (N, 3) world points."""
        seen = (np.asarray(world, dtype=np.float64) - self.eye) @ self.rotation.T
        ideal = seen[:, :2] / seen[:, 2:]
        r2 = np.sum(ideal**2, axis=1, keepdims=True)
        return np.asarray(self.middle_px + self.focal_px * ideal * (1 + self.k1 * r2 + self.k2 * r2**2))

    def rays(self, px: Points) -> Points:
        """(N, 3) world directions of (N, 2) pixels; undistorts by Newton's method on the radius."""
        bent = (px - self.middle_px) / self.focal_px
        goal = np.linalg.norm(bent, axis=1)
        r = goal.copy()
        for _ in range(6):
            value = r * (1 + self.k1 * r**2 + self.k2 * r**4) - goal
            r = r - value / (1 + 3 * self.k1 * r**2 + 5 * self.k2 * r**4)
        ideal = bent * (r / np.maximum(goal, 1e-12))[:, None]
        return np.column_stack([ideal, np.ones(len(px))]) @ self.rotation

    def sampling_maps(
        self, sheet: Sheet, box: tuple[int, int, int, int], above_mm: float = 0.0
    ) -> tuple[Plane, Plane]:
        """Paper millimetres (x, y) under every pixel of `box` (left, top, right, bottom)."""
        left, top, right, bottom = box
        columns = math.ceil((right - left) / NODE_PX) + 4
        rows = math.ceil((bottom - top) / NODE_PX) + 4
        # cv2.resize puts node j at pixel NODE_PX * j + (NODE_PX - 1) / 2; two spare nodes each side.
        first = (NODE_PX - 1) / 2 - 2 * NODE_PX
        u, v = np.meshgrid(
            left + first + NODE_PX * np.arange(columns), top + first + NODE_PX * np.arange(rows)
        )
        met = sheet.meet(self.eye, self.rays(np.column_stack([u.ravel(), v.ravel()])), above_mm)
        out = []
        for axis in (0, 1):
            nodes = met[:, axis].reshape(rows, columns).astype(np.float32)
            # Not INTER_CUBIC: OpenCV's cubic does not keep a straight ramp straight (0.4 px off at 8 px).
            full = cv2.resize(nodes, (columns * NODE_PX, rows * NODE_PX), interpolation=cv2.INTER_LINEAR)
            skip = 2 * NODE_PX
            out.append(full[skip : skip + bottom - top, skip : skip + right - left])
        return out[0], out[1]


def orientation(tilt_deg: float, toward_deg: float, roll_deg: float) -> Points:
    """(3, 3) what takes the world's axes to the camera's. `toward_deg`: the direction in the picture in which the
    table falls away; `roll_deg`: how far the card's up is turned clockwise in the picture."""
    roll, tilt, toward = (math.radians(a) for a in (roll_deg, tilt_deg, toward_deg))
    turned = np.eye(3)
    turned[:2, :2] = [[math.cos(roll), -math.sin(roll)], [math.sin(roll), math.cos(roll)]]
    axis = np.array([math.sin(toward), -math.cos(toward), 0.0])
    lean, _ = cv2.Rodrigues(axis * tilt)
    return np.asarray(lean @ turned)


def fitting_distance(seen: Points, focal_px: float, half_px: Points) -> float:
    """From how far (N, 3) places, seen about the picture's middle, just lie within so many pixels of it."""
    # Each place fits when f |x| / (distance + z) is within its half of the picture; the worst decides.
    return float(np.max(focal_px * np.abs(seen[:, :2]) / half_px - seen[:, 2:]))


def camera_before(
    middle: Points,
    distance_mm: float,
    rotation: Points,
    *,
    size_px: tuple[int, int],
    equivalent_mm: float,
    bends: tuple[float, float] = (0.0, 0.0),
) -> Camera:
    """A camera so far before a place (3,) of the world; `bends`: k1 and k2 of its lens. It tells no angles."""
    eye = middle - rotation.T @ np.array([0.0, 0.0, distance_mm])
    return Camera(*size_px, equivalent_mm, rotation, eye, *bends, tilt_deg=0.0, roll_deg=0.0)


def aim(
    corners: Points,
    *,
    width_px: int,
    height_px: int,
    equivalent_mm: float,
    tilt_deg: float,
    toward_deg: float,
    roll_deg: float,
    fill: float,
    nudge: tuple[float, float],
    k1: float = 0.0,
    k2: float = 0.0,
    target: Points | None = None,
) -> Camera:
    """A camera that holds all of `corners` (N, 3) within `fill` of the picture, or looks at `target`
    with the same distance. `toward_deg`: the direction in the picture in which the table falls away."""
    rotation = orientation(tilt_deg, toward_deg, roll_deg)
    diagonal = math.hypot(width_px, height_px)
    f = equivalent_mm / FULL_FRAME_DIAGONAL_MM * diagonal
    half = np.array([width_px, height_px]) / 2 * fill
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2 if target is None else target
    middle = np.array([middle[0], middle[1], 0.0])
    # Centre the group in the picture by shifting the aim a few times; then take the nearest distance
    # from which it fits.
    offset = np.zeros(2)
    distance = 300.0
    for _ in range(8):
        seen = (corners - middle) @ rotation.T
        seen[:, :2] += offset
        distance = fitting_distance(seen, f, half)
        placed = f * seen[:, :2] / (seen[:, 2:] + distance)
        low, high = placed.min(axis=0), placed.max(axis=0)
        offset -= (low + high) / 2 * distance / f * 0.8
    free = np.maximum(np.array([width_px, height_px]) / 2 - (high - low) / 2, 0)
    offset += np.asarray(nudge) * free * distance / f * 0.6
    eye = middle - rotation.T @ np.array([offset[0], offset[1], distance])
    return Camera(width_px, height_px, equivalent_mm, rotation, eye, k1, k2, tilt_deg, roll_deg)
