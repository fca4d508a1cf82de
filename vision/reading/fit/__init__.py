"""One least-squares fit of square, card edges and camera; see `vision.reading.fit.solve`."""

from vision.reading.fit.models import fit_models, main_focal_px, rivals
from vision.reading.fit.parameters import (
    CAMERA_COUNT,
    HEIGHT,
    LIFT,
    LOG_FOCAL,
    SLANTS,
    WIDTH,
    Evidence,
    Priors,
    SquareEvidence,
)
from vision.reading.fit.solve import Fit, fit_card

__all__ = [
    "CAMERA_COUNT",
    "HEIGHT",
    "LIFT",
    "LOG_FOCAL",
    "SLANTS",
    "WIDTH",
    "Evidence",
    "Fit",
    "Priors",
    "SquareEvidence",
    "fit_card",
    "fit_models",
    "main_focal_px",
    "rivals",
]
