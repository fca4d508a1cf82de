"""The one camera model of the reading: pinhole, radial distortion about the middle, a card that may curl.

    photo px  ->  undistorted ray  ->  point on the card's face  [mm]

Model: u = c + f x'', x'' = x' (1 + k1 r^2 + k2 r^4), r^2 = x'^2 + y'^2 (Brown-Conrady's radial terms, as in
the OpenCV reference, calib3d introduction); the card's point P maps to x' = X/Z, y' = Y/Z of R P + t.
The card's own frame has its middle as origin here, x right and y down, so z points into the table;
heights are given upward. Places on the face are the paper's own: paper bends but does not stretch, so what stands up
reaches less far along the table than it is long.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.fit.bend_shape import Lift

FLAT = np.zeros(4)  # the curl of a card that lies flat
LEAST_STEEP = 0.2  # chosen: below it a lens folds its picture back, as no phone's does
NEWTON_STEPS = 3  # from a start that is right to second order: below 1e-6 px at the corner for |k1| of 0.1
CURL_STEPS = 3  # each cuts the error by the ray's slope times the face's


@dataclass(frozen=True, slots=True)
class Camera:
    """focal, centre : px; k1, k2 : in units of the focal length; rotation : (3, 3), card to camera;
    shift : (3,) of the card's middle in the camera's frame [mm];
    half : (2,) half the card's width and height [mm];
    curl : (4,) heights of the face [mm]: curl[0] u^2 + curl[1] v^2 + curl[2] u v + curl[3] lift, with u, v
    in -1..1 over the card; lift : the one edge or corner that curl[3] bends up."""

    focal: float
    centre: Floats
    k1: float
    k2: float
    rotation: Floats
    shift: Floats
    half: Floats
    curl: Floats
    lift: Lift

    def undistort(self, points_px: Floats) -> Floats:
        """(N, 2) rays x', y' of pixels. Newton on the radius; the model is one-to-one in a phone's picture."""
        distorted = (points_px - self.centre) / self.focal
        square = (distorted**2).sum(axis=1)
        # The radius as a factor of the distorted one: r = s r_d, s (1 + k1 s^2 r_d^2 + k2 s^4 r_d^4) = 1.
        a, b = self.k1 * square, self.k2 * square**2
        s = 1 / (1 + a + b)
        for _ in range(NEWTON_STEPS):
            s2 = s * s
            value = s * (1 + a * s2 + b * s2 * s2) - 1
            s = s - value / np.maximum(1 + 3 * a * s2 + 5 * b * s2 * s2, LEAST_STEEP)
        rays: Floats = distorted * s[:, None]
        return rays

    def height(self, points_mm: Floats) -> Floats:
        """Height of the face above the flat card, (N,). [mm]"""
        u, v = (points_mm / self.half).T
        height: Floats = self.curl[0] * u * u + self.curl[1] * v * v + self.curl[2] * u * v
        if self.curl[3]:
            height += self.curl[3] * self.lift.shape(points_mm, self.half)
        return height

    def slope(self, points_mm: Floats) -> Floats:
        """(N, 2) derivatives of the height with the place."""
        u, v = (points_mm / self.half).T
        by_u, by_v = 2 * self.curl[0] * u + self.curl[2] * v, 2 * self.curl[1] * v + self.curl[2] * u
        slope: Floats = np.column_stack([by_u, by_v]) / self.half
        if self.curl[3]:
            slope += self.curl[3] * self.lift.slope(points_mm, self.half)
        return slope

    def drawn_in(self, points_mm: Floats) -> Floats:
        """(N, 2) by how much less far places on the face reach along the table than they lie on the paper. The curl's
        own share, under 0.01 mm for what `Priors` lets it be, is left out."""
        if not self.curl[3]:
            return np.zeros_like(points_mm)
        drawn: Floats = self.curl[3] ** 2 * self.lift.drawn_in(points_mm, self.half)
        return drawn

    def places(self, rays: Floats, above_mm: Floats | float, curled: NDArray[np.bool_] | bool) -> Floats:
        """Where (N, 2) rays meet the card's face, or `above_mm` (N,) it, from its middle, (N, 2) [mm].
        `curled` (N,) tells which lie on the bent face; the rest lie on the plane that a flat card fills."""
        eye = -self.shift @ self.rotation  # the camera in the card's frame, z down
        directions = rays @ self.rotation[:2] + self.rotation[2]
        slopes = directions[:, :2] / directions[:, 2:]
        depth = -np.asarray(above_mm) - eye[2]
        points: Floats = eye[:2] + np.broadcast_to(depth, len(rays))[:, None] * slopes
        if np.any(self.curl):
            for _ in range(CURL_STEPS):
                flat = eye[:2] + (depth - self.height(points) * curled)[:, None] * slopes
                points = flat + self.drawn_in(points) * np.asarray(curled)[..., None]
        return points

    def to_card(self, points_px: Floats, above_mm: float = 0.0) -> Floats:
        """Points on the card's face, or `above_mm` it, from its middle, (N, 2) [mm]."""
        return self.places(self.undistort(points_px), above_mm, True)

    def to_photo(self, points_mm: Floats, above_mm: float = 0.0) -> Floats:
        """Photo pixels of (N, 2) points on the face, from the card's middle, as in `to_card`. [px]"""
        points_mm = np.asarray(points_mm, dtype=np.float64)
        bent = bool(np.any(self.curl))
        z = -above_mm - (self.height(points_mm) if bent else np.zeros(len(points_mm)))
        flat = points_mm - self.drawn_in(points_mm) if bent else points_mm
        seen = np.column_stack([flat, z]) @ self.rotation.T + self.shift
        rays = seen[:, :2] / seen[:, 2:]
        square = (rays**2).sum(axis=1)
        factor = 1 + self.k1 * square + self.k2 * square**2
        pixels: Floats = rays * factor[:, None] * self.focal + self.centre
        return pixels


def rotation_of(vector: Floats) -> Floats:
    """(3, 3) rotation of a rotation vector [rad]."""
    matrix: Floats = cv2.Rodrigues(np.asarray(vector, dtype=np.float64))[0]
    return matrix


@dataclass(frozen=True, slots=True)
class RoughPose:
    """rotation, shift (of the card's middle, for a card of height 1), aspect : width over height."""

    rotation: Floats
    shift: Floats
    aspect: float
    skew: float


def rough_pose(corners_px: Floats, focal: float, centre: Floats) -> RoughPose:
    """Pose of a rectangle of unknown aspect from its (4, 2) corners (top left first, clockwise) for a given
    focal length. `skew` is the cosine between its sides that comes out: 0 where the focal length fits."""
    unit = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]], dtype=np.float32)
    rays = ((corners_px - centre) / focal).astype(np.float32)
    homography = cv2.getPerspectiveTransform(unit, rays).astype(np.float64)
    first, second, third = homography.T
    if third[2] < 0:
        first, second, third = -first, -second, -third
    width, height = float(np.linalg.norm(first)), float(np.linalg.norm(second))
    skew = float(first @ second / (width * height))
    # The nearest pair of axes at right angles, each turned by half of what is missing.
    x, y = first / width, second / height
    x, y = x + y, x - y
    x, y = x / np.linalg.norm(x), y / np.linalg.norm(y)
    x, y = (x + y) / np.sqrt(2), (x - y) / np.sqrt(2)
    rotation = np.column_stack([x, y, np.cross(x, y)])
    return RoughPose(rotation, third / height, width / height, skew)
