"""The card as seen straight from above, which the mark finders read and the overlay is drawn on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.layout import Card
from vision.arrays import AnyFloats, RgbImage

Points = NDArray[np.float64]  # (N, 2), x then y


def px_to_mm(points_px: AnyFloats, px_per_mm: float, margin_mm: float) -> Points:
    """Card millimetres of (..., 2) positions in a picture of the card from above (pixel centres at integers)."""
    return (np.asarray(points_px, dtype=np.float64) + 0.5) / px_per_mm - margin_mm


def mm_to_px(points_mm: AnyFloats, px_per_mm: float, margin_mm: float) -> Points:
    """Positions in such a picture of (..., 2) card millimetres."""
    return (np.asarray(points_mm, dtype=np.float64) + margin_mm) * px_per_mm - 0.5


@dataclass(frozen=True, slots=True)
class StraightCard:
    """A straightened picture of one card.

    pixels : (H, W, 3) uint8 RGB; the card's rectangle with `margin_mm` of surroundings around it.
    px_per_mm : scale of `pixels`. [px/mm]
    square_mm : (4, 2) corners of the reference square in the card frame, or None; it may lie on
        the card, where it hides what is under it, or beside it.
    square_coded : whether white paper lies about it.
    """

    pixels: RgbImage
    px_per_mm: float
    card: Card
    margin_mm: float = 0.0
    square_mm: Points | None = None
    square_coded: bool = False

    def to_mm(self, points_px: Points) -> Points:
        """Card millimetres of (N, 2) pixel positions (pixel centres at integers)."""
        return px_to_mm(points_px, self.px_per_mm, self.margin_mm)

    def to_px(self, points_mm: Points) -> Points:
        """Pixel positions of (N, 2) card millimetres."""
        return mm_to_px(points_mm, self.px_per_mm, self.margin_mm)
