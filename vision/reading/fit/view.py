"""From photo pixels to card millimetres: what the fit says of one photo, and how surely.

In:    a `Fit`.
Out:   a `View`: positions in the card frame with their covariance, and the straightened picture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np

from circuit.layout import Card
from vision.arrays import Floats, RgbImage
from vision.reading.fit.bends import UnseenBends
from vision.reading.fit.camera import Camera
from vision.reading.fit.parameters import BOTTOM_SLANT, CAMERA_COUNT, HEIGHT, WIDTH
from vision.reading.fit.solve import Fit
from vision.reading.fit.uncertainty import SIGMAS_OF_ONE_FIGURE
from vision.reading.small_picture import halved
from vision.straight_card import StraightCard

MOST_PX_PER_MM = 10.0  # chosen: a pencil line is 0.4 mm wide; finer pixels only cost time
LEAST_PX_PER_MM = 4.0
ENOUGH_PX_PER_MM = 7.0  # measured: marks are placed as well as at 10
HALF_SLACK = 1.01  # of a ratio that is two but for the rounding
CUT_STEP_MM = 1e-4  # for differences: a corner's place is all but straight in the cut's figures
# Chosen: photo pixels to a straight one, from which reading between two would pass over others.
SKIPS_PX = 1.5
BETWEEN_PX = 2  # around what is read, for reading between pixels; sides of whole fours can be halved twice
COARSE = 16  # pixels of the straight picture between two places that are worked out
# Share of what a bend moves a mark by which that may be off beyond what its fit leaves open. On 247 simulated cards
# bent by 0.4 to 4 mm 97.5 % of the bounds hold with it, 97.4 without, 97.8 with thrice as much, which doubts 9 of them
# for nothing instead of 6; on 50 bent as an S 96.1, 94.7 and 97.4 % hold, and 3, 2 and 6 are doubted for nothing.
BEND_SHAPE = 0.1
MARGIN_MM = 6.0  # chosen: enough surroundings to see the card's edge in the overlay


@dataclass(frozen=True, slots=True)
class View:
    """How one photo looks upon one card.

    card : width and height; fit : everything behind it; turn_deg : clockwise turn of the card frame
    against the picture, 0, 90, 180 or 270; square_kind, square_side_mm : the reference.
    rivals : other fits that explain the photo nearly as well, with their odds against this one; places are the mean of
    what all say, each by its chance; flat : beside a bent card's the flat one's fit, None for a flat card;
    unseen : bends that a card taken for flat may have; None where one was fitted.
    """

    card: Card
    fit: Fit
    square_kind: Literal["coded", "plain"]
    square_side_mm: float
    turn_deg: int = 0
    rivals: tuple[tuple[Fit, float], ...] = ()
    flat: Fit | None = None
    unseen: UnseenBends | None = None

    def to_mm(self, points_px: Floats) -> Floats:
        """Card millimetres of (N, 2) photo pixels."""
        if not self.rivals:
            return self._turned(self._from_middle(self.fit.camera, points_px))
        mean: Floats = np.sum([chance * one.to_mm(points_px) for one, chance in self._each], axis=0)
        return mean

    def to_photo(self, points_mm: Floats) -> Floats:
        """Photo pixels of (..., 2) card millimetres."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        seen = self._alone_to_photo(points)
        if self.rivals:
            # Where the likeliest fit has what the mean of all has at these places, but for a hundredth of how far they
            # part: so little does that change over that way.
            seen = self._alone_to_photo(2 * points - self.to_mm(seen))
        return seen.reshape(np.shape(points_mm))

    def _alone_to_photo(self, points_mm: Floats) -> Floats:
        return self.fit.camera.to_photo(self._unturned(points_mm) - self.fit.size_mm / 2)

    @property
    def _each(self) -> list[tuple[View, float]]:
        """What each of the fits says by itself, with its chance."""
        total = 1.0 + sum(odds for _, odds in self.rivals)
        fits = [(self.fit, 1.0), *self.rivals]
        return [(self._by(fit), odds / total) for fit, odds in fits]

    def _by(self, fit: Fit) -> View:
        """The same by one fit alone."""
        return replace(self, fit=fit, rivals=(), flat=None, unseen=None)

    def _from_middle(self, camera: Camera, points_px: Floats) -> Floats:
        return camera.to_card(np.asarray(points_px, dtype=np.float64)) + self.fit.size_mm / 2

    def _frame(self, values: Floats) -> tuple[Floats, Floats]:
        """Origin (2,) and axes (2, 2, rows x and y) of the turned card's frame within the one at the
        picture's own top-left corner, for parameters that say how the card was cut.

        A turned frame starts at another corner and runs along another edge, neither of which lies where
        the nominal card has it.
        """
        corners = self.fit.corners_mm(values)
        first = -self.turn_deg // 90 % 4  # a quarter turn clockwise: the lower left corner comes first
        along = corners[(first + 1) % 4] - corners[first]
        along = along / np.linalg.norm(along)
        return corners[first], np.array([along, [-along[1], along[0]]])

    def _turned(self, points: Floats, values: Floats | None = None) -> Floats:
        origin, axes = self._frame(self.fit.values if values is None else values)
        turned: Floats = (np.asarray(points, dtype=np.float64).reshape(-1, 2) - origin) @ axes.T
        return turned

    def _unturned(self, points: Floats) -> Floats:
        origin, axes = self._frame(self.fit.values)
        straight: Floats = np.asarray(points, dtype=np.float64).reshape(-1, 2) @ axes + origin
        return straight

    def position_covariance(self, points_mm: Floats) -> Floats:
        """(N, 2, 2) covariance of the card positions of marks seen at these places. [mm^2]

        The marks' own raggedness is not in it.
        """
        jacobian = self._jacobian(points_mm)
        covariance: Floats = np.einsum(
            "nik,kl,njl->nij", jacobian, self.fit.covariance[:CAMERA_COUNT, :CAMERA_COUNT], jacobian
        )
        points_mm = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        if self.unseen is not None:
            places = self._unturned(points_mm) - self.fit.size_mm / 2
            axes = self._frame(self.fit.values)[1]
            covariance = covariance + self.unseen.position_covariance(self.fit, places, jacobian, axes)
        seen = self.to_photo(points_mm)
        each = self._each if self.rivals else []
        spread = [(one.to_mm(seen) - points_mm, chance) for one, chance in each]
        if self.flat is not None:
            spread.append((self._by(self.flat).to_mm(seen) - points_mm, BEND_SHAPE**2))
        for off, weight in spread:
            covariance = covariance + weight * off[:, :, None] * off[:, None, :]
        return covariance

    def moved_by(self, other: Fit, points_mm: Floats) -> Floats:
        """(N, 2) how far another fit lays elsewhere what this view has at (N, 2) places. [mm]"""
        moved: Floats = self._by(other).to_mm(self.to_photo(points_mm)) - points_mm
        return moved

    def joint_covariance(self, points_mm: Floats) -> Floats:
        """(2N, 2N) covariance of x0, y0, x1, y1, ... of several marks together. [mm^2]"""
        flat = self._jacobian(points_mm).reshape(-1, CAMERA_COUNT)
        covariance: Floats = flat @ self.fit.covariance[:CAMERA_COUNT, :CAMERA_COUNT] @ flat.T
        return covariance

    def _jacobian(self, points_mm: Floats) -> Floats:
        """(N, 2, parameters): how the card position of a held pixel moves with each parameter, the law of
        propagation's derivatives (GUM 5.2)."""
        fit = self.fit
        places = self._unturned(points_mm)
        axes = self._frame(fit.values)[1]
        by_camera = fit.place_derivatives(places - fit.size_mm / 2)
        jacobian: Floats = np.einsum("ab,nbk->nak", axes, by_camera)
        # Where the frame begins and how it lies changes with how the card was cut.
        for k in range(WIDTH, BOTTOM_SLANT + 1):
            cut = fit.values.copy()
            cut[k] += CUT_STEP_MM
            jacobian[:, :, k] += (self._turned(places, cut) - self._turned(places)) / CUT_STEP_MM
        return jacobian

    @property
    def edge_bound_mm(self) -> float:
        """How far the right and bottom edges may be cut off where the card's size has them: what the fit
        found, and 95 % of what it leaves open. [mm]"""
        fit, (width, height) = self.fit, (self.card.width_mm, self.card.height_mm)
        corners = self._turned(fit.corners_mm(fit.values))
        right, bottom = corners[corners[:, 0] > width / 2, 0], corners[corners[:, 1] > height / 2, 1]
        off = max(np.abs(right - width).max(), np.abs(bottom - height).max())
        sigma = np.sqrt(np.diag(fit.covariance)[[WIDTH, HEIGHT]].max())
        return float(off + SIGMAS_OF_ONE_FIGURE * sigma)

    def px_per_mm(self, points_mm: Floats) -> Floats:
        """Photo pixels per millimetre at these places: the geometric mean over directions, (N,)."""
        points_mm = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        here = self._alone_to_photo(points_mm)
        right = self._alone_to_photo(points_mm + np.array([0.5, 0.0])) - here
        down = self._alone_to_photo(points_mm + np.array([0.0, 0.5])) - here
        area = np.abs(right[:, 0] * down[:, 1] - right[:, 1] * down[:, 0])
        density: Floats = np.sqrt(area) / 0.5
        return density

    @property
    def square_mm(self) -> Floats | None:
        """(4, 2) corners of the reference square in the card frame."""
        square = self.fit.evidence.square
        return None if square is None else self.to_mm(square.corners)


def _straight_scale(density: float) -> float:
    """Pixels per millimetre of the straight picture: the photo's own, within limits; the half or quarter of
    them where that is fine enough, since halving a photo costs next to nothing."""
    halves = density / 2.0 ** np.arange(1, 4)
    fine = halves[(halves >= ENOUGH_PX_PER_MM) & (halves <= MOST_PX_PER_MM)]
    if density > MOST_PX_PER_MM and len(fine):
        return float(fine[0])
    return float(np.clip(density, LEAST_PX_PER_MM, MOST_PX_PER_MM))


def _coarse_grid(columns: int, rows: int, scale: float) -> Floats:
    """(M, N, 2) card millimetres of every `COARSE`-th pixel of a straight picture, from half a step before it to as far
    beyond. Where the photo shows them is smooth, and is enlarged to all pixels, to well under a tenth of a pixel."""
    axes = [
        (COARSE * (np.arange(-(-count // COARSE) + 2) - 0.5)) / scale - MARGIN_MM for count in (columns, rows)
    ]
    return np.stack(np.meshgrid(*axes), axis=-1)


def straighten(pixels: RgbImage, view: View) -> StraightCard:
    """The card seen straight from above, with a margin of what lies round it."""
    width, height = view.card.width_mm, view.card.height_mm
    ends = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height], [width / 2, height / 2]])
    density = float(np.median(view.px_per_mm(ends)))
    scale = _straight_scale(density)
    columns = round((width + 2 * MARGIN_MM) * scale)
    rows = round((height + 2 * MARGIN_MM) * scale)
    sparse = view.to_photo(_coarse_grid(columns, rows, scale)).astype(np.float32)
    low = np.clip(np.floor(sparse.min(axis=(0, 1))).astype(int) - BETWEEN_PX, 0, None) // 4 * 4
    high = (np.ceil(sparse.max(axis=(0, 1))).astype(int) + BETWEEN_PX + 4) // 4 * 4
    whole = pixels[low[1] : high[1], low[0] : high[0]]
    size = (COARSE * sparse.shape[1], COARSE * sparse.shape[0])
    dense = cv2.resize(sparse - low.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    dense = dense[COARSE : COARSE + rows, COARSE : COARSE + columns]
    # Where the photo is much finer than the straight picture, plain interpolation would skip pixels.
    ratio = density / scale
    patch = halved(whole, ratio * HALF_SLACK)
    ratio *= patch.shape[1] / whole.shape[1]
    if ratio > SKIPS_PX:
        patch = cv2.resize(patch, None, fx=1 / ratio, fy=1 / ratio, interpolation=cv2.INTER_AREA)
    if patch is not whole:
        factor = np.array(patch.shape[1::-1], dtype=np.float32) / np.array(
            whole.shape[1::-1], dtype=np.float32
        )
        dense = (dense + 0.5) * factor - 0.5
    straight = cv2.remap(
        np.ascontiguousarray(patch),
        np.asarray(dense, dtype=np.float32),
        None,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return StraightCard(straight, scale, view.card, MARGIN_MM, view.square_mm, view.square_kind == "coded")
