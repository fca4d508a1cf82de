"""How far every edge point lies from where a set of parameters puts its edge, and the derivatives.

All derivatives are written out (`derivatives.py` has those of the places on the card); a model at one set of
parameters is looked at once, and what the fit asks of it shares that look.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.edges.profiles import EdgePoints
from vision.reading.fit import parameters as slot
from vision.reading.fit.bend_shape import Lift, bend_heights
from vision.reading.fit.camera import Camera, rotation_of
from vision.reading.fit.derivatives import Sightline, rotation_derivatives
from vision.reading.fit.parameters import Evidence

LEAST_SIGMA_PX = 0.10  # measured on packaged photos: square corners hold to 0.2-0.4 px, a side to less
WAVE_MM = 0.03  # chosen: how far a cut or printed edge wanders from its straight line
ALIKE = 1.5  # neighbouring profiles share the cut's wave and the table's pattern: fewer count than are taken


def camera_of(values: Floats, base: Floats, size_mm: Floats, evidence: Evidence, lift: Lift) -> Camera:
    """The camera that a parameter vector, (P,), stands for."""
    longer = longer_of(values, evidence)
    return Camera(
        focal=float(np.exp(values[slot.LOG_FOCAL])),
        centre=evidence.middle_px + values[slot.CENTRE],
        k1=float(values[slot.K1]) * longer**2,
        k2=float(values[slot.K2]) * longer**4,
        rotation=base @ rotation_of(values[slot.TURN]),
        shift=values[slot.SHIFT] * np.array([1.0, 1.0, longer]),
        half=size_mm / 2,
        curl=values[slot.CURL_AND_LIFT],
        lift=lift if lift.kind == "none" else _bent(lift, values),
    )


def _bent(lift: Lift, values: Floats) -> Lift:
    return replace(
        lift,
        angle=lift.angle + float(values[slot.BEND_TURN]),
        start=lift.start + float(values[slot.BEND_START]),
        uneven=tuple(values[slot.UNEVEN].tolist()),
    )


def longer_of(values: Floats, evidence: Evidence) -> float:
    """Focal length of (P,) values over the likely one, at which distance and distortion count: a longer lens from
    farther off looks much the same, and the fit would creep along that valley if these stood by themselves."""
    return float(np.exp(values[slot.LOG_FOCAL])) / evidence.focal_px


@dataclass(frozen=True, slots=True)
class Model:
    """All edge points of one photo. edge : (N,) 0-3 the card's top, right, bottom, left, 4-7 the square's
    sides; sigma_mm : of each point across its edge; curled : whether it lies on the card's face;
    waves : (N, half waves of all edges) how far each moves a point outward."""

    points: Floats
    edge: NDArray[np.int_]
    sigma_mm: Floats
    curled: NDArray[np.bool_]
    base: Floats
    size_mm: Floats
    evidence: Evidence
    lift: Lift
    waves: Floats

    def camera(self, values: Floats) -> Camera:
        return camera_of(values, self.base, self.size_mm, self.evidence, self.lift)

    def at(self, values: Floats) -> Standing:
        """What parameters leave over."""
        camera, above = self.camera(values), self.above(values)
        rays = camera.undistort(self.points)
        places = camera.places(rays, above, self.curled)
        distance, normal = self._distances(values, places)
        return Standing(self, values, camera, rays, places, normal, distance / self.sigma_mm)

    def place_derivatives(self, values: Floats, places_mm: Floats) -> Floats:
        """(N, 2, CAMERA_COUNT): how the place on the card's face that a pixel shows moves with the camera."""
        return self._place_columns(values, places_mm)[0]

    def place_lifts(self, values: Floats, places_mm: Floats, lifts: Sequence[Lift]) -> Floats:
        """(N, 2, lifts, heights): the same with each height of each possible bend, from a card without."""
        by_height = self._place_columns(values, places_mm)[1]
        result: Floats = (
            by_height[:, :, None, None] * bend_heights(places_mm, self.size_mm / 2, lifts)[:, None]
        )
        return result

    def _place_columns(self, values: Floats, places_mm: Floats) -> tuple[Floats, Floats]:
        """(N, 2, CAMERA_COUNT) derivatives with the camera, (N, 2) with the face's height."""
        camera = self.camera(values)
        rays = camera.undistort(camera.to_photo(places_mm))
        turned, longer = rotation_derivatives(self.base, values[slot.TURN]), longer_of(values, self.evidence)
        every = np.ones(len(places_mm))
        sightline = Sightline(camera, rays, places_mm, -camera.height(places_mm), every, turned)
        along = [sightline.columns(np.tile(axis, (len(places_mm), 1)), longer) for axis in np.eye(2)]
        return np.stack([one[0] for one in along], axis=1), np.stack([one[1] for one in along], axis=1)

    def above(self, values: Floats) -> Floats:
        """(N,) height of the plane that each point lies on, bends left out. [mm]"""
        return np.where(self.edge < 4, 0.0, values[slot.SQUARE_HEIGHT])

    def _square_axes(self, values: Floats) -> Floats:
        """(4, 2) outward normals of the square's sides in the card's frame."""
        cosine, sine = np.cos(values[slot.SQUARE_PLACE][2]), np.sin(values[slot.SQUARE_PLACE][2])
        return np.array([[sine, -cosine], [cosine, sine], [-sine, cosine], [-cosine, -sine]])

    def _distances(self, values: Floats, places: Floats) -> tuple[Floats, Floats]:
        """(N,) distances outside the edges and (N, 2) derivatives with the place. [mm]"""
        width, height = self.size_mm
        x, y = places.T
        distance = np.empty(len(places))
        normal = np.empty((len(places), 2))
        left, right, bottom = values[slot.LEFT_SLANT], values[slot.RIGHT_SLANT], values[slot.BOTTOM_SLANT]
        step = values[slot.EDGE_STEP]
        edges: list[tuple[Floats, tuple[float, float]]] = [
            (-(y + height / 2), (0.0, -1.0)),
            (x - width / 2 - values[slot.WIDTH] - right * y / height, (1.0, -right / height)),
            (y - height / 2 - values[slot.HEIGHT] - bottom * x / width, (-bottom / width, 1.0)),
            (-(x + width / 2 - left * (y + height / 2) / height), (-1.0, left / height)),
        ]
        for edge, (outside, direction) in enumerate(edges):
            mine = self.edge == edge
            distance[mine] = outside[mine] - step[edge]
            normal[mine] = direction
        distance -= self.waves @ values[slot.WANDER]
        if self.evidence.square is not None:
            half = (self.evidence.square.side_mm + values[slot.SQUARE_SIDE]) / 2
            axes = self._square_axes(values)
            for side in range(4):
                mine = self.edge == 4 + side
                from_middle = places[mine] - values[slot.SQUARE_PLACE][:2]
                distance[mine] = from_middle @ axes[side] - half - values[slot.SQUARE_STEP][side]
                normal[mine] = axes[side]
        return distance, normal


@dataclass(frozen=True)
class Standing:
    """A model at one set of parameters. rays : (N, 2) of the points; places : (N, 2) where they meet the card; normal :
    (N, 2) derivatives of the distances outside the edges with the place; residuals : (N,) these distances, in standard
    deviations."""

    model: Model
    values: Floats
    camera: Camera
    rays: Floats
    places: Floats
    normal: Floats
    residuals: Floats

    @cached_property
    def jacobian(self) -> Floats:
        """(N, COUNT) derivatives of the residuals."""
        jacobian = np.zeros((len(self.residuals), slot.COUNT))
        jacobian[:, : slot.CAMERA_COUNT] = self._moves[0]
        self._latent_columns(jacobian)
        jacobian /= self.model.sigma_mm[:, None]
        return jacobian

    def lift_columns(self, lifts: Sequence[Lift]) -> Floats:
        """(N, lifts, heights) derivatives of the residuals with each height of each possible bend, from a card
        without."""
        by_height = self._moves[1] * self.model.curled / self.model.sigma_mm
        columns: Floats = by_height[:, None, None] * bend_heights(self.places, self.model.size_mm / 2, lifts)
        return columns

    @cached_property
    def _moves(self) -> tuple[Floats, Floats]:
        """(N, CAMERA_COUNT) derivatives of the distances with the camera, (N,) with the face's height."""
        model, values = self.model, self.values
        below = -model.above(values) - self.camera.height(self.places) * model.curled
        turned = rotation_derivatives(model.base, values[slot.TURN])
        curled = model.curled.astype(np.float64)
        sightline = Sightline(self.camera, self.rays, self.places, below, curled, turned)
        return sightline.columns(self.normal, longer_of(values, model.evidence))

    def _latent_columns(self, jacobian: Floats) -> None:
        """Fill in the columns of all parameters that don't move the places."""
        edge, normal, (width, height) = self.model.edge, self.normal, self.model.size_mm
        x, y = self.places.T
        right, bottom, left = edge == 1, edge == 2, edge == 3
        jacobian[right, slot.WIDTH], jacobian[right, slot.RIGHT_SLANT] = -1.0, -y[right] / height
        jacobian[bottom, slot.HEIGHT], jacobian[bottom, slot.BOTTOM_SLANT] = -1.0, -x[bottom] / width
        jacobian[left, slot.LEFT_SLANT] = (y[left] + height / 2) / height
        jacobian[:, slot.WANDER] = -self.model.waves
        steps = range(slot.EDGE_STEP.start, slot.EDGE_STEP.stop)
        for number, column in enumerate(steps):
            jacobian[edge == number, column] = -1.0
        if self.model.evidence.square is None:
            return
        square = edge >= 4
        jacobian[square, slot.SQUARE_SIDE] = -0.5
        place = slot.SQUARE_PLACE.start
        jacobian[square, place : place + 2] = -normal[square]
        from_middle = self.places[square] - self.values[slot.SQUARE_PLACE][:2]
        # The normals turn with the square: a quarter turn clockwise (y down) of each is its derivative.
        turned = np.column_stack([-normal[square][:, 1], normal[square][:, 0]])
        jacobian[square, place + 2] = (from_middle * turned).sum(axis=1)
        jacobian[square, slot.SQUARE_HEIGHT] = self._moves[1][square]
        for side in range(4):
            jacobian[edge == 4 + side, slot.SQUARE_STEP.start + side] = -1.0


def gather(
    evidence: Evidence, start: Camera, base: Floats, size_mm: Floats, on_card: bool, lift: Lift
) -> Model:
    """The model of what was seen; `start` gives each point's scale, `on_card` where the square lies,
    `size_mm` (2,)."""
    points, edge, sigma, waves = [], [], [], []
    sides: list[tuple[int, EdgePoints | None]] = list(enumerate(evidence.edges))
    if evidence.square is not None:
        sides += [(4 + k, side) for k, side in enumerate(evidence.square.sides)]
    for number, side in sides:
        if side is None:
            continue
        on_face = start.to_card(side.points)
        beside = start.to_card(side.points + side.outward)
        mm_per_px = np.linalg.norm(beside - on_face, axis=1)
        points.append(side.points)
        waves.append(_waves(number, on_face, size_mm))
        edge.append(np.full(len(side.points), number))
        sigma.append(ALIKE * np.hypot(max(side.sigma_px, LEAST_SIGMA_PX) * mm_per_px, WAVE_MM))
    edges = np.concatenate(edge)
    curled = (edges < 4) | on_card
    return Model(
        np.vstack(points),
        edges,
        np.concatenate(sigma),
        curled,
        base,
        size_mm,
        evidence,
        lift,
        np.vstack(waves),
    )


def _waves(edge: int, places: Floats, size_mm: Floats) -> Floats:
    """(N, half waves of all edges) of one edge's points: half waves from corner to corner; none on a square."""
    columns = np.zeros((len(places), slot.WANDER.stop - slot.WANDER.start))
    if edge < 4:
        count, axis = len(slot.HALF_WAVES), edge % 2
        share = np.clip(places[:, axis] / size_mm[axis] + 0.5, 0, 1)
        columns[:, edge * count : (edge + 1) * count] = np.sin(np.pi * share[:, None] * slot.HALF_WAVES)
    return columns
