"""One least-squares fit of everything that is known: square, card edges, camera.

In:    edge points of the card's four sides and of the square's, and what is known beforehand
       (sizes with their tolerances, the usual focal lengths, a card that lies nearly flat).
Out:   a `Fit`: the camera over the card, the card's size, and the covariance of all of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.arrays import Floats
from vision.reading.fit import parameters as slot
from vision.reading.fit.bend_shape import Lift
from vision.reading.fit.camera import Camera
from vision.reading.fit.model import Model, Standing, gather, longer_of
from vision.reading.fit.parameters import Evidence, Priors, bend_prior, prior_sigmas, wander_sigmas

ON_CARD_MM, BESIDE_MM = 0.1, -0.2  # height of the square's face: one sheet above the card's, or below it
OUTLYING = 1.5  # from which a point counts less and less: right edges leave a third of a deviation, so some five times
OUTLYING_OF_MISFIT = 3.0  # the same for what the fit left over: what lies far off is to show there
BENT_ROUNDS = 12  # of a bend's fit, which starts from a first order about the flat card's
WANDER_ROUNDS = 6  # from a fit of another wander, which lies near
MOST_ROUNDS = 30  # chosen: fits end by themselves after some ten
FIRST_DAMPING, MOST_DAMPINGS = 1e-4, 6  # chosen: of Levenberg and Marquardt's, each ten times the one before
ENOUGH = 0.02  # fall of the sum of squares below which a round has brought nothing


@dataclass(frozen=True, slots=True)
class Fit:
    """standing : what was seen, and how all `COUNT` parameters explain it; covariance : of these, a misfit beyond the
    noise included. sigmas : what is known of each parameter beforehand.
    misfit : root mean square of the residuals in their own standard deviations, about 1 when all is well.
    cost : what was minimised.
    """

    standing: Standing
    priors: Priors
    covariance: Floats
    misfit: float
    on_card: bool
    cost: float
    sigmas: Floats

    @property
    def model(self) -> Model:
        return self.standing.model

    @property
    def values(self) -> Floats:
        """(COUNT,) the parameters."""
        return self.standing.values

    @property
    def evidence(self) -> Evidence:
        return self.model.evidence

    @property
    def size_mm(self) -> Floats:
        """(2,) nominal width and height, from which WIDTH and HEIGHT count. [mm]"""
        return self.model.size_mm

    @property
    def camera(self) -> Camera:
        return self.standing.camera

    def place_derivatives(self, places_mm: Floats) -> Floats:
        """(N, 2, CAMERA_COUNT): how the place on the face that a pixel shows, from the card's middle, moves with each
        parameter of the camera."""
        return self.model.place_derivatives(self.values, places_mm)

    def corners_mm(self, values: Floats) -> Floats:
        """(4, 2) corners of the card as cut: top left at (0, 0), clockwise as seen. [mm]"""
        width, height = self.size_mm
        left, right, bottom = values[slot.LEFT_SLANT], values[slot.RIGHT_SLANT], values[slot.BOTTOM_SLANT]
        across, down = width + values[slot.WIDTH], height + values[slot.HEIGHT]
        # Slants are small: the second order, a hundredth of a millimetre, is left out.
        return np.array(
            [
                [0.0, 0.0],
                [across - right / 2, 0.0],
                [across + right / 2, down + bottom / 2],
                [left, down - bottom / 2],
            ]
        )

    @property
    def lift_mm(self) -> float:
        """How high what is bent up stands, or the middle of an arch; 0 for a card that lies flat. [mm]"""
        return 0.0 if self.model.lift.kind == "none" else float(self.values[slot.LIFT])

    @property
    def card_mm(self) -> Floats:
        """(2,) width and height as fitted. [mm]"""
        size: Floats = self.size_mm + self.values[[slot.WIDTH, slot.HEIGHT]]
        return size


def robust_weights(residuals: Floats, outlying: float = OUTLYING) -> Floats:
    """Cauchy weights of residuals, of any shape: a stretch in shadow or under a mug counts little."""
    result: Floats = 1 / (1 + (residuals / outlying) ** 2)
    return result


def _first_values(evidence: Evidence, start: Camera, on_card: bool) -> Floats:
    values = np.zeros(slot.COUNT)
    longer = start.focal / evidence.focal_px
    values[slot.LOG_FOCAL] = np.log(start.focal)
    values[slot.K1], values[slot.K2] = start.k1 / longer**2, start.k2 / longer**4
    values[slot.SHIFT] = start.shift / np.array([1.0, 1.0, longer])
    values[slot.CURL_AND_LIFT] = start.curl
    values[slot.SQUARE_HEIGHT] = ON_CARD_MM if on_card else BESIDE_MM
    if evidence.square is not None:
        corners = start.to_card(evidence.square.corners)
        values[slot.SQUARE_PLACE][:2] = corners.mean(axis=0)
        top = corners[1] - corners[0]
        values[slot.SQUARE_PLACE][2] = np.arctan2(top[1], top[0])
    return values


def fit_card(
    evidence: Evidence,
    start: Camera,
    size_mm: Floats,
    size_free: bool,
    on_card: bool,
    priors: Priors | None = None,
    lift: Lift | None = None,
    rounds: int = MOST_ROUNDS,
) -> Fit:
    """Gauss-Newton from a rough camera whose frame is the middle of a card of about `size_mm`, (2,).

    size_free : nothing is known of the size beforehand, the square alone gives it.
    lift : an edge or corner that may bend up; None for a card that lies nearly flat.
    """
    priors = priors or Priors()
    bend = Lift.nowhere() if lift is None else lift
    values = _first_values(evidence, start, on_card)
    middle = start.to_photo(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    px_per_mm = float(np.sqrt(abs(np.linalg.det(middle[1:] - middle[0]))))
    sigmas = prior_sigmas(evidence, priors, px_per_mm, size_free, bend)
    model = gather(evidence, start, start.rotation, size_mm, on_card, bend)
    return _fitted(model, priors, values, sigmas, on_card, rounds)


def with_bend(flat: Fit, lift: Lift, values: Floats) -> Fit:
    """The same supposition but for a bend, from values of all parameters, (P,), that lie near. Paper on a table bends
    up: a fit on its way down, from which none of 116 came back, is left where it is."""
    sigmas = flat.sigmas.copy()
    sigmas[slot.BEND] = bend_prior(flat.priors, lift)
    return _fitted(
        replace(flat.model, lift=lift), flat.priors, values, sigmas, flat.on_card, BENT_ROUNDS, flat.values
    )


def with_size(fit: Fit, size_mm: Floats) -> Fit:
    """The same supposition for a card meant to be of another size, (2,), that is all but the same: for A6, a
    quarter of A4."""
    values, middle = fit.values.copy(), (size_mm - fit.size_mm) / 2
    values[[slot.WIDTH, slot.HEIGHT]] -= 2 * middle
    # All is counted from the card's middle, which lies elsewhere.
    values[slot.SQUARE_PLACE][:2] -= middle
    longer = np.array([1.0, 1.0, longer_of(values, fit.evidence)])
    values[slot.SHIFT] += fit.camera.rotation[:, :2] @ middle / longer
    model = replace(fit.model, size_mm=size_mm)
    return _fitted(model, fit.priors, values, fit.sigmas, fit.on_card, BENT_ROUNDS)


def with_wander(fit: Fit, bow_mm: float) -> Fit:
    """The same supposition fitted on with another scale for how far the edges wander; see `Priors.bow_mm`."""
    priors = replace(fit.priors, bow_mm=bow_mm)
    sigmas = fit.sigmas.copy()
    sigmas[slot.WANDER] = wander_sigmas(bow_mm)
    return _fitted(fit.model, priors, fit.values, sigmas, fit.on_card, WANDER_ROUNDS)


def _fitted(
    model: Model,
    priors: Priors,
    values: Floats,
    sigmas: Floats,
    on_card: bool,
    rounds: int,
    unknown: Floats | None = None,
) -> Fit:
    """unknown : values near which what nothing is known of is held; None: those given."""
    unknown = values if unknown is None else unknown
    expected = np.zeros(slot.COUNT)
    expected[slot.LOG_FOCAL] = np.log(model.evidence.focal_px)
    expected[slot.SQUARE_HEIGHT] = ON_CARD_MM if on_card else BESIDE_MM
    # Nothing is known of these; their sigmas only keep the equations solvable.
    expected[slot.SQUARE_PLACE], expected[slot.SHIFT] = unknown[slot.SQUARE_PLACE], unknown[slot.SHIFT]
    standing, cost = _descend(model, values, expected, sigmas, rounds)
    rest, jacobian = standing.residuals, standing.jacobian
    misfit = _rms(rest, robust_weights(rest, OUTLYING_OF_MISFIT))
    # GUM 5.2 with the data's weights scaled to their real scatter; the priors stay as they are.
    data_part = jacobian.T @ (jacobian * robust_weights(rest)[:, None]) / max(1.0, misfit) ** 2
    covariance: Floats = np.asarray(np.linalg.inv(data_part + np.diag(sigmas**-2.0)), dtype=np.float64)
    return Fit(standing, priors, covariance, misfit, on_card, cost, sigmas)


def _descend(
    model: Model, values: Floats, expected: Floats, sigmas: Floats, rounds: int
) -> tuple[Standing, float]:
    """Damped Gauss-Newton with robust weights: where it ends, and the cost there."""

    def cost_of(at: Standing) -> float:
        robust = OUTLYING**2 * np.log1p((at.residuals / OUTLYING) ** 2).sum()
        return float(robust + (((at.values - expected) / sigmas) ** 2).sum())

    here, damping = model.at(values), FIRST_DAMPING
    cost = cost_of(here)
    for _ in range(rounds):
        weights = robust_weights(here.residuals)
        information = here.jacobian.T @ (here.jacobian * weights[:, None]) + np.diag(sigmas**-2.0)
        slope = here.jacobian.T @ (weights * here.residuals) + (here.values - expected) / sigmas**2
        gained = 0.0
        for _ in range(MOST_DAMPINGS):
            damped = information + damping * np.diag(np.diag(information))
            with np.errstate(over="ignore", invalid="ignore"):  # a step that leads nowhere is taken back
                there = model.at(here.values - np.linalg.solve(damped, slope))
                moved_cost = cost_of(there)
            if np.isfinite(moved_cost) and moved_cost <= cost:
                gained = cost - moved_cost
                here, cost = there, moved_cost
                damping = max(damping / 10, 1e-9)
                break
            damping *= 10
        pointing_down = model.lift.kind != "none" and here.values[slot.LIFT] < 0
        if gained < ENOUGH or pointing_down:
            break
    return here, cost


def _rms(rest: Floats, weights: Floats) -> float:
    return float(np.sqrt((weights * rest**2).sum() / max(weights.sum(), 1e-9)))
