"""Which named size a measured card is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from circuit.asked import Asked
from circuit.card_sizes import CARD_SIZES
from vision.arrays import Floats

FITS = 11.8  # chi-squared of two figures that 99.7 % of true sizes stay under
RIVAL = 4.0  # a second size within this of the best can't be told from it
APART_MM = 1.2  # sizes nearer than this are not asked for: A6 and a quarter of A4
MISPRINT = 0.08  # chosen: printers "fit to page" by up to some 8 %


@dataclass(frozen=True, slots=True)
class SizeMatch:
    """size_mm : nominal width and height as the card lies; name : None for a size typed in.
    distance : squared, in standard deviations; off_mm : the larger difference of the two sides."""

    size_mm: Floats
    name: str | None
    distance: float
    off_mm: float

    @property
    def fits(self) -> bool:
        return self.distance < FITS


def compare(measured_mm: Floats, covariance: Floats, size_mm: Floats, name: str | None) -> SizeMatch:
    """The measured size, (2,) with its (2, 2) covariance, against one nominal size, lying as given."""
    off = measured_mm - size_mm
    return SizeMatch(size_mm, name, float(off @ np.linalg.solve(covariance, off)), float(np.abs(off).max()))


def compare_either_way(
    measured_mm: Floats, covariance: Floats, sides_mm: tuple[float, float], name: str | None
) -> SizeMatch:
    """The better of the two ways a card of these sides can lie, for a measured (2,) with its (2, 2) covariance."""
    ways = [np.array(sides_mm), np.array(sides_mm[::-1])]
    return min((compare(measured_mm, covariance, way, name) for way in ways), key=lambda m: m.distance)


def known_sizes(measured_mm: Floats, covariance: Floats) -> list[SizeMatch]:
    """Every named size, the likeliest first, for a measured (2,) with its (2, 2) covariance."""
    matches = [
        compare_either_way(measured_mm, covariance, (size.short_mm, size.long_mm), size.name)
        for size in CARD_SIZES
    ]
    return sorted(matches, key=lambda match: match.distance)


def possible_sizes(measured_mm: Floats, covariance: Floats, asked: Asked) -> list[SizeMatch]:
    """The size that was given, else every named one, the likeliest first, for a measured (2,) with its (2, 2)
    covariance."""
    if asked.card_mm is None:
        return known_sizes(measured_mm, covariance)
    return [compare_either_way(measured_mm, covariance, asked.card_mm, asked.card_name)]


def rivals(matches: list[SizeMatch]) -> list[SizeMatch]:
    """Sizes other than the first that it can't be told from."""
    best = matches[0]
    return [
        match
        for match in matches[1:]
        if match.fits
        and match.distance < best.distance + RIVAL
        and np.abs(match.size_mm - best.size_mm).max() > APART_MM
    ]


def near_sizes(matches: list[SizeMatch]) -> list[SizeMatch]:
    """Sizes other than the first that are so near it that the card may as well be one of them."""
    best = matches[0]
    return [
        match
        for match in matches[1:]
        if match.fits and np.abs(match.size_mm - best.size_mm).max() <= APART_MM
    ]


def scaled_match(measured_mm: Floats, covariance: Floats) -> tuple[SizeMatch, float] | None:
    """The named size that a square printed too large or too small would turn into this one, (2,), and by which
    factor the square would be off; None when no size does."""
    best: tuple[SizeMatch, float] | None = None
    for size in CARD_SIZES:
        for way in (np.array(size.lying(True)), np.array(size.lying(False))):
            factor = float((measured_mm @ way) / (way @ way))
            if abs(factor - 1) > MISPRINT:
                continue
            match = compare(measured_mm / factor, covariance, way, size.name)
            if match.fits and (best is None or match.distance < best[0].distance):
                best = (match, factor)
    return best
