"""Light of one lamp on a parallel sheet, against the distance from the lamp's middle.

In:    candela straight ahead, the lamp's size, its distance below the sheet. [cd, mm]
Out:   illuminance of the sheet. [lux]
Fails: ValueError for a distance or a size that is not above 0.

A lamp with a 120 degree viewing angle is a Lambertian emitter. Far away (five times its size) it is
a point, and E = I0 cos^4 / h^2 = I0 h^2 / (h^2 + r^2)^2. Behind a card's window it is not far away,
so the law is integrated over the lamp's face, taken as a disc of equal area:

        sheet  ------------+-----------+--
                           |<--- r --->|
        h                  |
                       ####+####            disc of radius a, facing the sheet
        card   ------------------------

What the sheet throws back falls on the matt back card, which throws it up again, and so on. Between two wide
matt planes a gap H apart, light that leaves one spreads on the other as H^2 / (pi (H^2 + r^2)^2), so that each
round is a convolution. Its Fourier transform is k H K1(k H), and all rounds together are a geometric series.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from circuit.arrays import Floats
from circuit.glow.bessel import j0, j1, k1

_MM2_PER_M2 = 1e6
_FARTHEST_MM = 700.0  # beyond the diagonal of any card
_RADII = 240  # chosen: between them the light is interpolated, within 1e-3 (tests)
_PROFILES = 256  # kept at hand: one for each kind of light at each height of foam that is tried
_RING_NODES, _TURN_NODES = 8, 12  # of the spread's average: exact to 1e-3 of the peak (tests)
_WAVES = 200  # of the bounced light's transform; more change nothing that counts (tests)
_SHORTEST_WAVE = 30.0  # times 1 / (lamp's height + two gaps): beyond it less than 1e-11 is left
_FAR_GAPS = 25.0  # so many gaps away bounced light falls as 1 / r^4, as its transform's k^2 ln k says


def disc_lux(candela: float, radius_mm: float, height_mm: float, away_mm: ArrayLike) -> Floats:
    """Illuminance `away_mm`, of any shape, from the middle of a Lambertian disc parallel to the sheet. [lux]

    Raises ValueError for a size or a distance that is not above 0.

    E = pi L F with luminance L = I0 / (pi a^2) and the view factor from a small face to a parallel disc
    off its axis, F = (1 - (h^2 + r^2 - a^2) / sqrt((h^2 + r^2 + a^2)^2 - 4 r^2 a^2)) / 2.

    References
    ----------
    .. [1] A standard result of radiation heat transfer (view factor, element to parallel disc); formula from
       memory, held in the tests against a sum of point lamps over the disc.
    """
    if not (radius_mm > 0 and height_mm > 0):
        raise ValueError(f"a lamp needs a size and a distance above 0, got {radius_mm} and {height_mm}")
    r2 = np.square(np.asarray(away_mm, dtype=float))
    h2, a2 = height_mm**2, radius_mm**2
    root = np.sqrt((h2 + r2 + a2) ** 2 - 4 * r2 * a2)
    # 1 - (h2 + r2 - a2) / root without its cancellation far out: (root^2 - (..)^2) / (root (root + ..)).
    factor = 2 * a2 * h2 / (root * (root + h2 + r2 - a2))
    lux: Floats = _MM2_PER_M2 * candela * factor / a2
    return lux


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """One kind of lamp's light against distance, for one candela; made by `profile`."""

    radii_mm: Floats
    log_lux: Floats

    def lux(self, candela: float, away_mm: Floats) -> Floats:
        """Illuminance at distances, of any shape, from the lamp's middle. [lux]"""
        lux: Floats = candela * np.exp(np.interp(away_mm, self.radii_mm, self.log_lux))
        return lux

    @property
    def spot_mm(self) -> float:
        """Width of the bright spot that one lamp makes: where the light has fallen to half."""
        half = self.log_lux[0] - math.log(2)
        return 2 * float(np.interp(-half, -self.log_lux, self.radii_mm))


@lru_cache(maxsize=_PROFILES)
def profile(
    radius_mm: float, height_mm: float, gap_mm: float, spread_mm: float = 0.0, bounce: float = 0.0
) -> Profile:
    """Work out a lamp's light against distance once.

    Parameters
    ----------
    radius_mm : of the lamp's face.
    height_mm : from the lamp's face to the sheet.
    gap_mm : from the back card to the sheet, for the bounces.
    spread_mm : standard deviation of the sheet's own sideways spread; 0 for none.
    bounce : share of the light that comes back to the sheet at each round between sheet and card, in 0..1: what
        the sheet throws back times what the card does.

    References
    ----------
    .. [1] Transform of the kernel: tables of Hankel transforms, from memory; held in the tests against a Monte
       Carlo of light between two matt planes.
    """
    # Close together where the light changes fast, far apart where it has died away.
    radii = height_mm * np.sinh(np.linspace(0.0, math.asinh(_FARTHEST_MM / height_mm), _RADII))
    lux = np.zeros_like(radii)
    for sideways, weight in _spread_nodes(radii, spread_mm):
        lux += weight * disc_lux(1.0, radius_mm, height_mm, sideways)
    if bounce > 0:
        lux += bounced_lux(radius_mm, height_mm, gap_mm, spread_mm, bounce, radii)
    return Profile(radii, np.log(lux))


def bounced_lux(
    radius_mm: float, height_mm: float, gap_mm: float, spread_mm: float, bounce: float, away_mm: Floats
) -> Floats:
    """What one candela puts on the sheet after one round and more between sheet and card,
    at (R,) distances. [lux]"""
    longest = _SHORTEST_WAVE / (height_mm + 2 * gap_mm)
    # Waves close together where they are long: far away only these are left.
    nodes, weights = np.polynomial.legendre.leggauss(_WAVES)
    share = (nodes + 1) / 2
    k, dk = longest * share**2, longest * share * weights
    through = k * gap_mm * k1(k * gap_mm)  # once across the gap
    rounds = bounce * through**2 / (1 - bounce * through**2)
    lamp = math.pi * k * height_mm * k1(k * height_mm) * 2 * j1(k * radius_mm) / (k * radius_mm)
    waves = lamp * rounds * np.exp(-((k * spread_mm) ** 2) / 2) * k * dk / (2 * math.pi)
    far = _FAR_GAPS * gap_mm
    near = np.minimum(away_mm, far)
    lux: Floats = (
        _MM2_PER_M2 * (j0(np.outer(near, k)) @ waves) * np.minimum(far / np.maximum(away_mm, far), 1.0) ** 4
    )
    # Where next to nothing is left, rounding may leave less than nothing.
    return np.maximum(lux, 0.0)


def _spread_nodes(radii: Floats, spread_mm: float) -> list[tuple[Floats, float]]:
    """Distances from the lamp of points scattered round each radius as a round Gaussian is, with
    weights that sum to 1: Gauss-Laguerre in the square of the distance, even steps in angle."""
    if spread_mm <= 0:
        return [(radii, 1.0)]
    squares, weights = np.polynomial.laguerre.laggauss(_RING_NODES)
    nodes = []
    for square, weight in zip(squares, weights):
        step = spread_mm * math.sqrt(2 * square)
        for k in range(_TURN_NODES):
            turn = 2 * math.pi * (k + 0.5) / _TURN_NODES
            away = np.hypot(radii + step * math.cos(turn), step * math.sin(turn))
            nodes.append((away, float(weight) / _TURN_NODES))
    return nodes
