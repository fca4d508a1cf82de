"""One least-squares fit of everything that is known: square, card edges, camera.

In:    edge points of the card's four sides and of the square's, and what is known beforehand
       (sizes with their tolerances, the usual focal lengths, a card that lies nearly flat).
Out:   a `Fit`: the camera over the card, the card's size, and the covariance of all of it.

Everything that can be off is a parameter with its own prior: the cut of each card edge, a step of each
seen edge against the true one (paper's thickness, shadow, blur), the square's side, the height at which
it lies, the curl. So the covariance carries all of them on to any point of the card.

The frame is the card as it was cut: origin at the corner of its top and left edges, x along the top edge.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from vision.camera import Camera, Lift, rotation_of
from vision.edge_points import EdgePoints
from vision.small_picture import Floats

# Places in the parameter vector.
LOG_FOCAL, CENTRE, K1, K2, TURN, SHIFT = 0, slice(1, 3), 3, 4, slice(5, 8), slice(8, 11)
WIDTH, HEIGHT, LEFT_SLANT, RIGHT_SLANT, BOTTOM_SLANT = 11, 12, 13, 14, 15
SLANTS = slice(13, 16)
EDGE_STEP = slice(16, 20)  # top, right, bottom, left
CURL, LIFT = slice(20, 23), 23
SQUARE_PLACE, SQUARE_SIDE, SQUARE_HEIGHT, SQUARE_STEP = slice(24, 27), 27, 28, slice(29, 33)
COUNT = 33
CAMERA_COUNT = 24  # the parameters up to the curl place a point; the square's only come in through the fit


@dataclass(frozen=True, slots=True)
class Priors:
    """Standard deviations of what is known beforehand; `..._mm` lengths in millimetres."""

    log_focal: float = 0.35  # 18 to 45 mm equivalent round 28 mm: what phones have, with digital zoom
    centre: float = 0.006  # of the frame's diagonal: optical axis to picture's middle, from memory
    k1: float = 0.05  # chosen: phones correct their pictures to a few per cent
    k2: float = 0.01
    cut_mm: float = 0.25  # a hand cut to +-0.5 mm, taken as 95 %
    slant_mm: float = 0.20  # over an edge's whole length
    edge_step_mm: float = 0.08  # the card's 0.2-0.4 mm side wall, seen or in shadow
    edge_step_px: float = 0.15  # sharpening and shadow beside an edge
    curl_mm: float = 0.15
    lift_mm: float = 1.5  # of an edge or corner that the picture shows to bend up
    square_side_mm: float = 0.06  # a printer's or a punch's own error
    square_height_mm: float = 0.10  # paper thicknesses and a corner that does not lie down


@dataclass(frozen=True, slots=True)
class SquareEvidence:
    """sides : edge points, side i between corners i and i + 1, clockwise as seen; corners : (4, 2) px."""

    sides: tuple[EdgePoints, EdgePoints, EdgePoints, EdgePoints]
    corners: Floats
    side_mm: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """edges : edge points of the card's top, right, bottom, left; None where an edge was not seen well.
    focal_px : the likely focal length; diagonal_px : of the whole picture, whose middle is `middle_px`."""

    edges: tuple[EdgePoints | None, EdgePoints | None, EdgePoints | None, EdgePoints | None]
    square: SquareEvidence | None
    middle_px: Floats
    diagonal_px: float
    focal_px: float


@dataclass(frozen=True, slots=True)
class Fit:
    """values, covariance : of all `COUNT` parameters; the covariance includes a misfit beyond the noise.
    base : rotation from which the turn counts; size_mm : nominal size from which WIDTH and HEIGHT count.
    misfit : root mean square of the residuals in their own standard deviations, about 1 when all is well.
    edge_misfit : the same for top, right, bottom, left and the square."""

    evidence: Evidence
    priors: Priors
    base: Floats
    size_mm: Floats
    values: Floats
    covariance: Floats
    misfit: float
    edge_misfit: Floats
    on_card: bool
    cost: float
    lift: Lift
    sigmas: Floats

    @property
    def camera(self) -> Camera:
        return _camera(self.values, self.base, self.size_mm, self.evidence, self.lift)

    @property
    def card_mm(self) -> Floats:
        """Width and height as fitted. [mm]"""
        size: Floats = self.size_mm + self.values[[WIDTH, HEIGHT]]
        return size


def _camera(values: Floats, base: Floats, size_mm: Floats, evidence: Evidence, lift: Lift) -> Camera:
    # Distance and distortion count at the likely focal length: a longer lens from farther off looks much
    # the same, and the fit would creep along that valley if these stood by themselves.
    longer = float(np.exp(values[LOG_FOCAL])) / evidence.focal_px
    return Camera(
        focal=float(np.exp(values[LOG_FOCAL])),
        centre=evidence.middle_px + values[CENTRE],
        k1=float(values[K1]) * longer**2,
        k2=float(values[K2]) * longer**4,
        rotation=base @ rotation_of(values[TURN]),
        shift=values[SHIFT] * np.array([1.0, 1.0, longer]),
        half=size_mm / 2,
        curl=values[20:24],
        lift=lift,
    )


def outward_distances(points: Floats, edge: int, values: Floats, size_mm: Floats) -> Floats:
    """Signed distance of (N, 2) points (from the card's middle) outside the card's edge
    0 top, 1 right, 2 bottom, 3 left. [mm]"""
    x, y = points.T
    width, height = size_mm
    if edge == 0:
        return np.asarray(-(y + height / 2))
    if edge == 1:
        return np.asarray(x - width / 2 - values[WIDTH] - values[RIGHT_SLANT] * y / height)
    if edge == 2:
        return np.asarray(y - height / 2 - values[HEIGHT] - values[BOTTOM_SLANT] * x / width)
    return np.asarray(-(x + width / 2 - values[LEFT_SLANT] * (y + height / 2) / height))


@dataclass(frozen=True, slots=True)
class _Data:
    """All edge points in one array; `edge` 0-3 card sides, 4-7 square sides; sigma_mm of each."""

    points: Floats
    edge: Floats
    sigma_mm: Floats


def _residuals(
    values: Floats,
    data: _Data,
    base: Floats,
    size_mm: Floats,
    evidence: Evidence,
    on_card: bool,
    lift: Lift,
) -> Floats:
    camera = _camera(values, base, size_mm, evidence, lift)
    card = data.edge < 4
    distance = np.empty(len(data.points))
    on_face = camera.to_card(data.points[card])
    edges = data.edge[card]
    part = np.empty(len(on_face))
    for edge in range(4):
        mine = edges == edge
        step = values[EDGE_STEP][edge]
        part[mine] = outward_distances(on_face[mine], edge, values, size_mm) - step
    distance[card] = part
    if not card.all() and evidence.square is not None:
        on_square = camera.to_card(data.points[~card], values[SQUARE_HEIGHT], flat=not on_card)
        x, y, angle = values[SQUARE_PLACE]
        cosine, sine = np.cos(angle), np.sin(angle)
        local = (on_square - (x, y)) @ np.array([[cosine, -sine], [sine, cosine]])
        half = (evidence.square.side_mm + values[SQUARE_SIDE]) / 2
        sides = data.edge[~card] - 4
        # Side 0 from the first corner, at (-half, -half), to the second: the top one in its own frame.
        reach = np.stack([-local[:, 1], local[:, 0], local[:, 1], -local[:, 0]])
        distance[~card] = reach[sides, np.arange(len(sides))] - half - values[SQUARE_STEP][sides]
    result: Floats = distance / data.sigma_mm
    return result


_STEPS = np.full(COUNT, 1e-4)
_STEPS[K1], _STEPS[K2] = 1e-5, 1e-5
_STEPS[CENTRE] = 1e-2
_STEPS[LOG_FOCAL] = 1e-5
_STEPS[TURN] = 1e-6
_STEPS[SHIFT] = 1e-3


def _jacobian(function: Callable[[Floats], Floats], values: Floats, free: Floats) -> Floats:
    at = function(values)
    result = np.zeros((len(at), len(values)))
    for k in np.flatnonzero(free):
        moved = values.copy()
        moved[k] += _STEPS[k]
        result[:, k] = (function(moved) - at) / _STEPS[k]
    return result


def _weights(residuals: Floats) -> Floats:
    """Cauchy weights: a stretch in shadow or under a mug counts little."""
    result: Floats = 1 / (1 + (residuals / 3.0) ** 2)
    return result


def prior_sigmas(
    evidence: Evidence, priors: Priors, px_per_mm: float, size_free: bool, lifted: bool
) -> Floats:
    """Standard deviation of every parameter beforehand, (COUNT,)."""
    sigmas = np.full(COUNT, 1e4)
    sigmas[LOG_FOCAL] = priors.log_focal
    sigmas[CENTRE] = priors.centre * evidence.diagonal_px
    sigmas[K1], sigmas[K2] = priors.k1, priors.k2
    sigmas[TURN], sigmas[SHIFT] = 10.0, 1e5
    sigmas[[WIDTH, HEIGHT]] = 1e3 if size_free else priors.cut_mm
    sigmas[[LEFT_SLANT, RIGHT_SLANT, BOTTOM_SLANT]] = priors.slant_mm
    sigmas[EDGE_STEP] = np.hypot(priors.edge_step_mm, priors.edge_step_px / px_per_mm)
    sigmas[CURL] = priors.curl_mm
    sigmas[LIFT] = priors.lift_mm if lifted else 1e-6
    sigmas[SQUARE_SIDE] = priors.square_side_mm
    sigmas[SQUARE_HEIGHT] = priors.square_height_mm
    sigmas[SQUARE_STEP] = np.hypot(0.02, 0.10 / px_per_mm)
    return sigmas


def fit_card(
    evidence: Evidence,
    start: Camera,
    size_mm: Floats,
    size_free: bool,
    on_card: bool,
    priors: Priors | None = None,
    lift: Lift | None = None,
    rounds: int = 30,
) -> Fit:
    """Gauss-Newton from a rough camera whose frame is the middle of a card of about `size_mm`.

    lift : an edge or corner that may bend up; None for a card that lies nearly flat.
    """
    priors = priors or Priors()
    lifted, lift = lift is not None, lift or Lift()
    base = start.rotation
    values = np.zeros(COUNT)
    values[LOG_FOCAL] = np.log(start.focal)
    longer = start.focal / evidence.focal_px
    values[K1], values[K2] = start.k1 / longer**2, start.k2 / longer**4
    values[SHIFT] = start.shift / np.array([1.0, 1.0, longer])
    middle = start.to_photo(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    px_per_mm = float(np.sqrt(abs(np.linalg.det(middle[1:] - middle[0]))))
    sigmas = prior_sigmas(evidence, priors, px_per_mm, size_free, lifted)
    # A sheet's thickness below the face when it lies beside the card, one sheet above when on it.
    expected = np.zeros(COUNT)
    expected[LOG_FOCAL] = np.log(evidence.focal_px)
    expected[SQUARE_HEIGHT] = 0.1 if on_card else -0.2
    values[20:24] = start.curl
    values[SQUARE_HEIGHT] = expected[SQUARE_HEIGHT]
    if evidence.square is not None:
        corners = start.to_card(evidence.square.corners)
        values[SQUARE_PLACE][:2] = corners.mean(axis=0)
        top = corners[1] - corners[0]
        values[SQUARE_PLACE][2] = np.arctan2(top[1], top[0])
    expected[SQUARE_PLACE], expected[SHIFT] = values[SQUARE_PLACE], values[SHIFT]
    data = _gather(evidence, start)
    free = np.ones(COUNT, dtype=bool)
    free[LIFT] = lifted
    if evidence.square is None:
        free[CAMERA_COUNT:] = False

    def residuals(at: Floats) -> Floats:
        return _residuals(at, data, base, size_mm, evidence, on_card, lift)

    def cost_of(at: Floats, rest: Floats) -> float:
        return float(9.0 * np.log1p((rest / 3.0) ** 2).sum() + (((at - expected) / sigmas) ** 2).sum())

    rest = residuals(values)
    cost, damping = cost_of(values, rest), 1e-3
    information = np.eye(COUNT)
    for _ in range(rounds):
        jacobian = _jacobian(residuals, values, free)
        weights = _weights(rest)
        information = jacobian.T @ (jacobian * weights[:, None]) + np.diag(sigmas**-2.0)
        slope = jacobian.T @ (weights * rest) + (values - expected) / sigmas**2
        better = False
        for _ in range(5):
            damped = information + damping * np.diag(np.diag(information))
            moved = values - np.linalg.solve(damped, slope)
            moved_rest = residuals(moved)
            moved_cost = cost_of(moved, moved_rest)
            if np.isfinite(moved_cost) and moved_cost <= cost:
                better = True
                break
            damping *= 10
        if not better:
            break
        gained = cost - moved_cost
        values, rest, cost = moved, moved_rest, moved_cost
        damping = max(damping * 0.1, 1e-9)
        if gained < 0.01:
            break
    jacobian = _jacobian(residuals, values, free)
    weights = _weights(rest)
    information = jacobian.T @ (jacobian * weights[:, None]) + np.diag(sigmas**-2.0)
    misfit = _rms(rest, weights)
    by_edge: Floats = np.array(
        [
            _rms(rest[mine], weights[mine]) if mine.any() else np.nan
            for mine in [data.edge == k for k in range(4)] + [data.edge >= 4]
        ]
    )
    # GUM 5.2 with the data's weights scaled to their real scatter; the priors stay as they are.
    data_part = jacobian.T @ (jacobian * weights[:, None]) / max(1.0, misfit) ** 2
    covariance: Floats = np.linalg.inv(data_part + np.diag(sigmas**-2.0))
    return Fit(
        evidence,
        priors,
        base,
        size_mm,
        values,
        covariance,
        misfit,
        by_edge,
        on_card,
        cost,
        lift,
        sigmas,
    )


LIFT_ANGLES, LIFT_STARTS = 16, (-0.5, -0.15, 0.2, 0.5)


def likeliest_lift(fit: Fit) -> tuple[Lift, float]:
    """The edge or corner whose bending up would explain most of what a flat card leaves over, and by how
    much the sum of squares would fall.

    One derivative for each shape: its part that no other parameter could take over is held against the
    residuals, so that hundreds of fits are spared.
    """
    data = _gather(fit.evidence, replace(fit.camera, curl=np.zeros(4)))
    free = np.ones(COUNT, dtype=bool)
    free[LIFT] = False
    if fit.evidence.square is None:
        free[CAMERA_COUNT:] = False

    def residuals(at: Floats, lift: Lift = fit.lift) -> Floats:
        return _residuals(at, data, fit.base, fit.size_mm, fit.evidence, fit.on_card, lift)

    rest = residuals(fit.values)
    root = np.sqrt(_weights(rest))
    jacobian = _jacobian(residuals, fit.values, free)[:, free] * root[:, None]
    information = jacobian.T @ jacobian + np.diag(fit.sigmas[free] ** -2.0)
    best, most = Lift(), 0.0
    for angle in np.arange(LIFT_ANGLES) * (2 * np.pi / LIFT_ANGLES):
        for start in LIFT_STARTS:
            lift = Lift(float(angle), start)
            raised = fit.values.copy()
            raised[LIFT] = 0.01
            column = (residuals(raised, lift) - rest) / 0.01 * root
            own = column - jacobian @ np.linalg.solve(information, jacobian.T @ column)
            size = float(own @ column) + fit.priors.lift_mm**-2.0
            gain = float(own @ (rest * root)) ** 2 / size
            if gain > most:
                best, most = lift, gain
    return best, most


def _rms(rest: Floats, weights: Floats) -> float:
    return float(np.sqrt((weights * rest**2).sum() / max(weights.sum(), 1e-9)))


LEAST_SIGMA_PX = 0.10  # measured on packaged photos: square corners hold to 0.2-0.4 px, a side to less


def _gather(evidence: Evidence, start: Camera) -> _Data:
    points, edge, sigma = [], [], []
    sides: list[tuple[int, EdgePoints | None]] = list(enumerate(evidence.edges))
    if evidence.square is not None:
        sides += [(4 + k, side) for k, side in enumerate(evidence.square.sides)]
    for number, side in sides:
        if side is None:
            continue
        on_card = start.to_card(side.points)
        beside = start.to_card(side.points + side.outward)
        mm_per_px = np.linalg.norm(beside - on_card, axis=1)
        points.append(side.points)
        edge.append(np.full(len(side.points), number))
        sigma.append(max(side.sigma_px, LEAST_SIGMA_PX) * mm_per_px)
    return _Data(np.vstack(points), np.concatenate(edge), np.concatenate(sigma))


def camera_of(fit: Fit, values: Floats) -> Camera:
    """The camera that other parameter values would give."""
    return _camera(values, fit.base, fit.size_mm, fit.evidence, fit.lift)


def parameter_steps() -> Floats:
    """Steps for derivatives by differences, small against each parameter's curvature, (COUNT,)."""
    return _STEPS.copy()
