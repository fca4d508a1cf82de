"""Ways for one branch from its joint through one to three lights.

In:    a `LaneSite`, the lights' centres in the order in which they are passed.
Out:   `Path`s: midlines with their price, the cheapest first; clear of the lane, the switch and the card's edges.
Fails: never; empty where there is no way.

A branch leaves square to the lane and goes straight through its first light, or folds once before it; from light
to light it goes straight on or folds once. Headings at a light: every 7.5 degrees, and along the line to the next one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from circuit.arrays import Floats
from circuit.branches.site import EXACTNESS_MM, Complexes, LaneSite, outlines
from circuit.polyline import SHARPEST_FOLD_DEG

_HEADING_STEP_DEG = 7.5  # chosen: as fine as the router's first look
_STRAIGHT_MM = 0.01  # a light so near to the run's line lies on it
_FOLD_MM = 3.0  # what a fold counts as, in mm of lane: as the router's
_KEPT = 400  # chosen: the cheapest ways to one light that are looked further along to the next
_MEASURED = 4000  # chosen: the cheapest ways whose outlines are held against the lane


@dataclass(frozen=True)
class Path:
    """One midline, from the lane's midline on; `price` in mm of lane."""

    points: Complexes
    positive_left: bool
    price: float


@dataclass(frozen=True)
class _Ways:
    """Ways up to one light: (K, P) corners up to the last fold; (K,) each, the heading at the light, the price up to
    there, and which place of the site it began at."""

    corners: Complexes
    ahead: Complexes
    price: Floats
    place: np.ndarray[tuple[int, ...], np.dtype[np.int64]]

    def some(self, rows: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> _Ways:
        return _Ways(self.corners[rows], self.ahead[rows], self.price[rows], self.place[rows])


def paths_through(site: LaneSite, centres: Sequence[complex]) -> list[Path]:
    """Ways through the lights in that order."""
    found: list[Path] = []
    towards = list(centres[1:])
    for ways in _to_first(site, centres[0], towards[0] if towards else None):
        for branch in _onwards(site, [ways], centres):
            found += _clear(site, branch, centres[-1])
    return sorted(found, key=lambda path: path.price)


def _onwards(site: LaneSite, ways: list[_Ways], centres: Sequence[complex]) -> list[_Ways]:
    for here, there in pairwise(centres):
        ways = [further for one in ways for further in _to_next(site, _cheapest(one), here, there)]
    return ways


def _to_first(site: LaneSite, goal: complex, following: complex | None) -> list[_Ways]:
    """Straight on to the first light, and with one fold before it."""
    sizes, places = site.sizes, site.places
    at, ahead = places.at, places.ahead
    number = np.arange(len(at))
    away = (goal - at) * np.conj(ahead)
    straight = (np.abs(away.imag) <= _STRAIGHT_MM) & (
        away.real >= sizes.past_joint + sizes.half_along - EXACTNESS_MM
    )
    rows = number[straight]
    found = [_Ways(at[rows, None], ahead[rows], np.abs(goal - at[rows]), rows)]
    for turned in _headings(ahead, goal, following):
        out, back, half_tan, fits = _one_fold(at, ahead, goal, turned)
        fits &= out >= sizes.past_joint + sizes.offset * half_tan
        fits &= back >= sizes.half_along + sizes.to_fold + sizes.offset * half_tan
        rows = number[fits]
        corner = at[rows] + out[rows] * ahead[rows]
        price = out[rows] + back[rows] + _FOLD_MM
        found.append(_Ways(np.stack([at[rows], corner], axis=1), turned[rows], price, rows))
    return _by_size(found)


def _to_next(site: LaneSite, ways: _Ways, here: complex, goal: complex) -> list[_Ways]:
    """From a light that is passed along `ahead` to the next one."""
    sizes = site.sizes
    ahead, count = ways.ahead, len(ways.ahead)
    at = np.full(count, here)
    straight = (np.abs(((goal - at) * np.conj(ahead)).imag) <= _STRAIGHT_MM) & (
        ((goal - at) * np.conj(ahead)).real > 2 * sizes.half_along
    )
    rows = np.flatnonzero(straight)
    on = ways.some(rows)
    found = [_Ways(on.corners, on.ahead, on.price + abs(goal - here), on.place)]
    for turned in _headings(ahead, goal, None):
        out, back, half_tan, fits = _one_fold(at, ahead, goal, turned)
        least = sizes.half_along + sizes.to_fold + sizes.offset * half_tan
        fits &= (out >= least) & (back >= least)
        on = ways.some(np.flatnonzero(fits))
        corner = here + out[fits] * ahead[fits]
        price = on.price + out[fits] + back[fits] + _FOLD_MM
        corners = np.concatenate([on.corners, corner[:, None]], axis=1)
        found.append(_Ways(corners, turned[fits], price, on.place))
    return _by_size(found)


def _headings(ahead: Complexes, goal: complex, following: complex | None) -> list[Complexes]:
    """Headings to come to a light with, other than straight on."""
    most = int(SHARPEST_FOLD_DEG / _HEADING_STEP_DEG)
    steps = [k for k in range(-most, most + 1) if k]
    found = [ahead * np.exp(1j * np.radians(k * _HEADING_STEP_DEG)) for k in steps]
    if following is not None:
        found.append(np.full(len(ahead), (following - goal) / abs(following - goal)))
    return found


def _one_fold(
    at: Complexes, ahead: Complexes, goal: complex, turned: Complexes
) -> tuple[Floats, Floats, Floats, np.ndarray[tuple[int, ...], np.dtype[np.bool_]]]:
    """Where a run from `at` along `ahead` meets the one through the goal along `turned`: how far it is to there, and on
    from there to the goal; the tangent of half the turn; whether it is a fold at all, and none too sharp."""
    sine = (np.conj(ahead) * turned).imag
    cosine = (np.conj(ahead) * turned).real
    fits = (np.abs(sine) > 1e-6) & (cosine >= np.cos(np.radians(SHARPEST_FOLD_DEG)) - 1e-9)
    safe = np.where(fits, sine, 1.0)
    away = goal - at
    out = (np.conj(away) * turned).imag / safe
    back = (np.conj(ahead) * away).imag / safe
    half_tan = np.sqrt(np.maximum(1 - cosine, 0.0) / np.maximum(1 + cosine, 1e-6))
    return out, back, half_tan, fits


def _by_size(ways: list[_Ways]) -> list[_Ways]:
    """Those with as many corners put together; none that are empty."""
    sizes = sorted({one.corners.shape[1] for one in ways if len(one.ahead)})
    same = [[one for one in ways if one.corners.shape[1] == size and len(one.ahead)] for size in sizes]
    return [
        _Ways(
            np.concatenate([one.corners for one in group]),
            np.concatenate([one.ahead for one in group]),
            np.concatenate([one.price for one in group]),
            np.concatenate([one.place for one in group]),
        )
        for group in same
    ]


def _cheapest(ways: _Ways) -> _Ways:
    return ways.some(np.argsort(ways.price, kind="stable")[:_KEPT])


def _clear(site: LaneSite, ways: _Ways, last: complex) -> list[Path]:
    """Those whose two tapes, from where they have left the lane, are clear of all that is laid already."""
    sizes = site.sizes
    rows = np.argsort(ways.price, kind="stable")[:_MEASURED]
    ways = ways.some(rows)
    if len(rows) == 0:
        return []
    end = last + (sizes.half_along + EXACTNESS_MM) * ways.ahead
    lines = np.concatenate([ways.corners, end[:, None]], axis=1)
    left = lines.copy()
    # The stretch beside the lane's own tape belongs to the joint, which the checker measures.
    left[:, 0] += (sizes.outer + sizes.apart + EXACTNESS_MM) * site.places.ahead[ways.place]
    shapes = outlines(left, sizes)
    shapely.prepare(site.blocked)
    shapely.prepare(site.inside)
    good = shapely.contains(site.inside, shapes) & ~shapely.intersects(site.blocked, shapes)
    return [
        Path(lines[k], bool(site.places.positive_left[ways.place[k]]), float(ways.price[k]))
        for k in np.flatnonzero(good)
    ]
