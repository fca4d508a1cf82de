"""How the place on the card that a pixel shows moves with each parameter of the camera and of the bend.

A pixel's ray leaves the camera's place E in the card's frame along D and meets the face where its height is right:
P = E + l D. A small change of the parameters moves the point of the ray at hand by q = dE + l dD, and the face by dh
upwards. What lies in the face's plane of that is dP = q - s (q_z + dh), with s = D_xy / D_z the ray's slope; on a bent
face dh holds the slope g of the face times dP, too, and the paper is longer there by k = g . g / 2 along the bend's
direction d. So a distance along a unit vector n changes by w . q - (m . s) dh of the parameter alone, with
m = (I + g s^T - k d d^T)^-1 n and w = (m, -m . s): one vector for each pixel, which all parameters share.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from vision.arrays import Floats
from vision.reading.fit import parameters as slot
from vision.reading.fit.camera import Camera


@dataclass(frozen=True, slots=True)
class Sightline:
    """Rays of one camera, and where they meet the card's face or a plane above it.

    rays : (N, 2); places : (N, 2), and how far they lie below the flat card, (N,) [mm]; curled : (N,) 1 for those that
    lie on the bent face, 0 for the rest; turned : (3, 3, 3) derivatives of the camera's rotation with its rotation
    vector."""

    camera: Camera
    rays: Floats
    places: Floats
    below: Floats
    curled: Floats
    turned: Floats

    def columns(self, normals: Floats, longer: float) -> tuple[Floats, Floats]:
        """(N, CAMERA_COUNT) derivatives of n . P with the camera's parameters, for (N, 2) vectors n, and (N,) those
        with the height by which all is raised. longer : focal length over the likely one, at which distance
        and distortion count (see `model.camera_of`)."""
        camera, rays = self.camera, self.rays
        ends = np.column_stack([rays, np.ones(len(rays))])
        directions = ends @ camera.rotation
        slopes = directions[:, :2] / directions[:, 2:]
        w = self._shared(normals, slopes)
        by_height = w[:, 2]  # what rises by so much is seen that much farther along its ray's slope
        columns = np.zeros((len(rays), slot.CAMERA_COUNT))

        eye = -camera.shift @ camera.rotation
        depth = (self.below - eye[2]) / directions[:, 2]  # along D, of the place that each ray meets
        seen = w @ camera.rotation.T  # w in the camera's frame
        sideways = depth[:, None] * seen[:, :2]

        square = (rays**2).sum(axis=1)
        steep = 1 + 3 * camera.k1 * square + 5 * camera.k2 * square**2
        radial = (rays * sideways).sum(axis=1) / steep
        grown = 1 + camera.k1 * square + camera.k2 * square**2  # of a ray's radius by the lens
        by_k1, by_k2 = -square * radial, -(square**2) * radial
        columns[:, slot.K1], columns[:, slot.K2] = by_k1 * longer**2, by_k2 * longer**4
        columns[:, slot.LOG_FOCAL] = -grown * radial + 2 * camera.k1 * by_k1 + 4 * camera.k2 * by_k2
        columns[:, slot.LOG_FOCAL] -= camera.shift[2] * seen[:, 2]
        # Across the radius a ray shrinks by `grown`, along it by `steep`.
        along = ((1 - steep / grown) * radial / np.maximum(square, 1e-300))[:, None] * rays
        columns[:, slot.CENTRE] = -(sideways / grown[:, None] + along) / camera.focal
        columns[:, slot.SHIFT] = -seen * np.array([1.0, 1.0, longer])
        from_middle = depth[:, None] * ends - camera.shift
        columns[:, slot.TURN] = np.einsum("ni,kij,nj->nk", from_middle, self.turned, w)
        u, v = (self.places / camera.half).T
        raised = by_height * self.curled
        columns[:, slot.CURL] = raised[:, None] * np.column_stack([u * u, v * v, u * v])
        if camera.lift.kind != "none":
            drawn_in = camera.lift.drawn_in(self.places, camera.half) * self.curled[:, None]
            columns[:, slot.LIFT] = raised * camera.lift.shape(self.places, camera.half)
            # What is drawn in grows with the lift's square.
            columns[:, slot.LIFT] += 2 * camera.curl[3] * (w[:, :2] * drawn_in).sum(axis=1)
            # What start and unevenness change in the length drawn in, some hundredths of a millimetre, is left out.
            figures = camera.lift.by_figures(self.places, camera.half)
            columns[:, slot.BEND_TURN : slot.UNEVEN.stop] = camera.curl[3] * raised[:, None] * figures
            turned = np.column_stack([-drawn_in[:, 1], drawn_in[:, 0]])
            columns[:, slot.BEND_TURN] += camera.curl[3] ** 2 * (w[:, :2] * turned).sum(axis=1)
        return columns, by_height

    def _shared(self, normals: Floats, slopes: Floats) -> Floats:
        m, camera = normals, self.camera
        if np.any(camera.curl):
            g = camera.slope(self.places) * self.curled[:, None]
            m = _sheared(normals, g, slopes)
            if camera.curl[3]:
                d = np.broadcast_to(camera.lift.direction, m.shape)
                steep = camera.curl[3] * camera.lift.slope(self.places, camera.half)
                k = (steep**2).sum(axis=1) / 2 * self.curled
                e = _sheared(d, g, slopes)
                m = m + e * (k * (d * m).sum(axis=1) / (1 - k * (d * e).sum(axis=1)))[:, None]
        return np.column_stack([m, -(m * slopes).sum(axis=1)])


def _sheared(vectors: Floats, g: Floats, s: Floats) -> Floats:
    """(N, 2) vectors times the inverse of I + g s^T, by Sherman and Morrison's formula."""
    result: Floats = vectors - g * ((vectors * s).sum(axis=1) / (1 + (g * s).sum(axis=1)))[:, None]
    return result


def rotation_derivatives(base: Floats, vector: Floats) -> Floats:
    """(3, 3, 3) derivatives of base @ R(vector) with the three figures of a rotation vector."""
    by_vector = cv2.Rodrigues(np.asarray(vector, dtype=np.float64))[1]
    derivatives: Floats = base @ by_vector.reshape(3, 3, 3)
    return derivatives
