"""Places for moved marks in steps that can be told and done, and which of them are the nearest.

In:    a layout and its `Needs`; the maker's units.
Out:   grid steps, places about a point, cards with their worst marks on grid places, the least to do first.
Fails: never; where there would be too many cards to look at, None.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.enclosed import enclosed
from circuit.layout import Layout
from circuit.lengths import FINEST_MM, HAND_STEP_MM
from circuit.moves.needs import Needs
from circuit.moves.shift import least_and_missing, marks_of, with_marks
from circuit.settings import Units

_REACH_STEPS = 2  # chosen: a place that clears its limits lies within two steps of any that does
_MOST_PLACES = 3000  # of one mark, that are looked at: chosen, 13 mm round in steps of 0.5 mm
_MOST_PAIRS = 4_000_000  # of two marks' places: chosen, some 200 MB
_MOST_MARKS = 2  # that are moved together: chosen, three have too many places
_EXACT_MM = 1e-6
# A mark moved at all is rubbed out and pencilled anew: one moved by a little more is less to do than two, by less
# in all, of which one goes by what a pencil misses anyway. Chosen.
EACH_MARK_MM = 1.0


def grid_mm(layout: Layout, mark: int, units: Units) -> float:
    """The steps that a mark is moved in, aside and up or down, from where it is: what a hand can do; of exact marks,
    which come from a file, what is told, so that a move that is followed as it reads is the one that was checked."""
    marks = (*layout.lights, *((layout.battery,) if layout.battery else ()))
    return (HAND_STEP_MM if marks[mark].uncertainty_mm > 0 else FINEST_MM)[units]


def places_about(place: Floats, home: Floats, step: float) -> list[Floats]:
    """(2,) places whole steps from the mark's home round a place, the nearest to home first."""
    x, y = np.round((place - home) / step)
    reach = range(-_REACH_STEPS, _REACH_STEPS + 1)
    corners = [home + np.array([x + i, y + j]) * step for i in reach for j in reach]
    return sorted(corners, key=lambda corner: (math.dist(corner, home), tuple(corner)))


def lights_to_move(layout: Layout, needs: Needs) -> tuple[int, ...] | None:
    """The lights that miss a need, where they are few enough for all their places to be looked at; else None."""
    _, missing = least_and_missing(layout, needs, marks_of(layout))
    lights = tuple(sorted(k for k in missing if k < len(layout.lights)))
    return lights if 0 < len(lights) <= _MOST_MARKS else None


def nearest_cards(
    layout: Layout, needs: Needs, lights: tuple[int, ...], below_mm: float, units: Units
) -> Iterator[tuple[float, Layout]] | None:
    """Every card with these lights moved by whole steps (or one of two where it was), all other marks where they are,
    that keeps its needs and is less to do than `below_mm` (its movement, and `EACH_MARK_MM` for each mark moved): how
    much there is to do, and the card. None where they are too many."""
    reached = [_places_within(layout, needs, k, lights, below_mm - EACH_MARK_MM, units) for k in lights]
    many = [len(places) for places, _ in reached]
    if max(many) > _MOST_PLACES or math.prod(many) > _MOST_PAIRS:
        return None
    (one, away), *more = reached
    if not more:
        total = away + EACH_MARK_MM * (away > 0)
        pairs = np.arange(len(one))[:, None]
    else:
        (other, farther) = more[0]
        good = np.hypot(*(one[:, None, :] - other[None, :, :]).transpose(2, 0, 1)) >= needs.apart[lights]
        together = away[:, None] + farther[None, :]
        together += EACH_MARK_MM * ((away[:, None] > 0).astype(float) + (farther[None, :] > 0))
        pairs = np.argwhere(good & (together < below_mm))
        total = together[pairs[:, 0], pairs[:, 1]]
    order = np.argsort(total, kind="stable")
    return ((float(total[i]), _card(layout, lights, reached, pairs[i])) for i in order)


def _card(
    layout: Layout,
    lights: tuple[int, ...],
    reached: list[tuple[Floats, Floats]],
    chosen: NDArray[np.int64],
) -> Layout:
    marks = marks_of(layout)
    for k, (places, _), place in zip(lights, reached, chosen, strict=True):
        marks[k] = places[place]
    return with_marks(layout, marks)


def _places_within(
    layout: Layout, needs: Needs, k: int, lights: tuple[int, ...], below_mm: float, units: Units
) -> tuple[Floats, Floats]:
    """A light's grid places nearer than `below_mm`, its home too, that keep its needs of all but the other of `lights`;
    and how far each is."""
    home, step = marks_of(layout)[k], grid_mm(layout, k, units)
    steps = int(below_mm / step) + 1
    around = np.stack(np.meshgrid(*[np.arange(-steps, steps + 1)] * 2), axis=-1).reshape(-1, 2)
    places = home + around * step
    away = np.hypot(*(places - home).T)
    places, away = places[away < below_mm], away[away < below_mm]
    keeps = _keeps_needs(layout, needs, k, lights, places)
    return places[keeps], away[keeps]


def _keeps_needs(
    layout: Layout, needs: Needs, k: int, lights: tuple[int, ...], places: Floats
) -> NDArray[np.bool_]:
    marks, card = marks_of(layout), layout.card
    x, y = places.T
    edges = np.stack([x, card.width_mm - x, y, card.height_mm - y], axis=1)
    keeps = (edges >= needs.edge[k] - _EXACT_MM).all(axis=1)
    for j in range(len(layout.lights)):
        if j not in lights:
            keeps &= np.hypot(*(places - marks[j]).T) >= needs.apart[k, j] - _EXACT_MM
    if layout.battery is not None:
        keeps &= np.hypot(*(places - marks[-1]).T) >= needs.zone[k] - _EXACT_MM
    if layout.window is not None:
        area, edge = enclosed(layout.window)
        points = shapely.points(places)
        inside = shapely.distance(points, edge)
        inside = np.where(shapely.covers(area, points), inside, -inside)
        keeps &= inside >= needs.inside[k] - _EXACT_MM
    return np.asarray(keeps)
