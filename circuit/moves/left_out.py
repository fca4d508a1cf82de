"""Lights that stand in each other's way, and the fewest without which a lane goes through the rest.

In:    a layout, the router.
Out:   labels.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

import numpy as np

from circuit.arrays import Floats
from circuit.layout import Layout
from circuit.moves.router import Router
from circuit.moves.shift import marks_of
from circuit.settings import Settings

_AT_HAND_MM = 15.0  # what is farther away than this crowds nobody: chosen, a lane's width and two folds
_MOST_LEFT_OUT = 3  # a card that needs more left out is a card to be drawn again: chosen
_SHARE_AFTER_MOVES = 0.25  # of the router's work, for a card that moves did not mend: chosen
_MOST_SINGLES = 6  # lights tried one at a time, those that lack most room: chosen


def fewest_left_out(layout: Layout, router: Router) -> tuple[str, ...]:
    """The fewest lights found without which the rest, as drawn, keeps every rule and has a lane."""
    router.left = max(router.left, _SHARE_AFTER_MOVES * router.at_first)
    for left_out in in_the_way(layout, router.settings):
        rest = layout.without(left_out)
        if rest.lights and router.lane(rest) is not None:
            return tuple(light.label for light in layout.lights if light.label in left_out)
    return ()


def in_the_way(layout: Layout, settings: Settings) -> list[tuple[str, ...]]:
    """Sets of lights to try without: one at a time the most crowded ones, then two, then three."""
    count = len(layout.lights)
    ranked = [layout.lights[k].label for k, _ in crowded_first(layout, settings) if k < count]
    sets: list[tuple[str, ...]] = [(label,) for label in ranked[:_MOST_SINGLES]]
    return sets + [tuple(ranked[:size]) for size in range(2, min(_MOST_LEFT_OUT, count - 1) + 1)]


def crowded_first(layout: Layout, settings: Settings) -> list[tuple[int, Floats]]:
    """Marks (numbered as in `marks_of`), the most crowded first, each with the (2,) unit way from what crowds it.

    What is near crowds in proportion to how much nearer it is than `_AT_HAND_MM`: other lights, edges, the switch.
    """
    marks = marks_of(layout)
    around = settings.battery_zone_radius_mm
    card = np.array([layout.card.width_mm, layout.card.height_mm])
    crowded: list[tuple[float, int, Floats]] = []
    for k, mark in enumerate(marks):
        away = np.concatenate([mark - np.delete(marks, k, axis=0), np.diag(mark), np.diag(mark - card)])
        distances = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-9)
        room = distances.copy()
        if layout.battery is not None:
            others = len(marks) - 1
            room[others - 1 if k < others else slice(None)] -= around
        push = np.maximum(_AT_HAND_MM - room, 0.0)
        way = ((push / distances)[:, None] * away).sum(axis=0)
        size = float(np.hypot(*way))
        crowded.append((float(push.sum()), k, way / size if size > 0 else np.array([1.0, 0.0])))
    return [(k, way) for _, k, way in sorted(crowded, key=lambda item: (-item[0], item[1]))]
