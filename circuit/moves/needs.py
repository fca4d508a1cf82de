"""What distances the marks need among each other and to what does not move.

In:    a layout, the maker's settings.
Out:   `Needs`: least distances between centres, and to edges, battery and window. [mm]
Fails: `UsageError` for a limit that no rule has.

A need is a rule's limit where that is kept, and more where it is not: a mark that is moved at all is moved beyond
doubt. A distance that is kept, though not beyond doubt, may stay as it is.

What is doubtful is reckoned as the checker does. A mark that is rubbed out and pencilled anew is taken to be
read as surely as the one before: it keeps its uncertainty, and its new place clears each limit by that. How well
a hand hits the place told is not reckoned; the next photo measures where the mark is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.check.finding import in_quadrature
from circuit.check.marks import edge_distances
from circuit.enclosed import outside_distance
from circuit.layout import Layout
from circuit.rules import limit_of
from circuit.settings import Settings
from circuit.switch import shape_of

# Moves are told to a tenth of a millimetre, so a mark that is moved gets a tenth of that to spare: chosen.
SPARE_MM = 0.01


@dataclass(frozen=True)
class Needs:
    """Least distances for n lights and the battery: `apart` (n, n) between lights, `zone` (n,) from
    light to battery, `edge` (n, 4) to the card's left, right, top and bottom edge, `inside` (n,) to the
    window's outline from within (-inf: no window), `cell_edge` (4,), `cell_window` (0: no window)."""

    apart: Floats
    zone: Floats
    edge: Floats
    inside: Floats
    cell_edge: Floats
    cell_window: float


def mark_needs(layout: Layout, settings: Settings) -> Needs:
    """What the mark rules ask for, with room for doubt where a mark has to move anyway."""
    lights, battery, card = layout.lights, layout.battery, layout.card
    count = len(lights)
    half = max(settings.light.length_mm, settings.light.width_mm) / 2
    ring = settings.battery_zone_radius_mm
    cuts = {"left": 0.0, "right": card.uncertainty_mm, "top": 0.0, "bottom": card.uncertainty_mm}
    apart = np.zeros((count, count))
    for i in range(count):
        for j in range(i):
            apart[i, j] = apart[j, i] = _need(
                math.dist(lights[i].centre, lights[j].centre),
                limit_of(settings, "lights-too-close"),
                in_quadrature(lights[i].uncertainty_mm, lights[j].uncertainty_mm),
            )
    zone, inside = np.zeros(count), np.full(count, -math.inf)
    edge = np.zeros((count, 4))
    for i, light in enumerate(lights):
        sides = edge_distances(light.centre, card)
        limit = half + limit_of(settings, "light-near-edge")
        edge[i] = [
            _need(sides[side][0], limit, in_quadrature(light.uncertainty_mm, cut))
            for side, cut in cuts.items()
        ]
        if battery is not None:
            zone[i] = _need(
                math.dist(light.centre, battery.centre),
                ring + half,
                in_quadrature(light.uncertainty_mm, battery.uncertainty_mm),
            )
        if layout.window is not None:
            outside, _ = outside_distance(light.centre, layout.window)
            inside[i] = _need(
                -outside,
                limit_of(settings, "light-outside-window"),
                in_quadrature(light.uncertainty_mm, layout.window_uncertainty_mm),
            )
    cell_edge, cell_window = np.zeros(4), 0.0
    if battery is not None:
        # The lid, wherever its hinge; the tongue has to find its own side.
        sides = edge_distances(battery.centre, card)
        lid = shape_of(settings).half_mm + limit_of(settings, "switch-off-card")
        cell_edge = np.array(
            [
                _need(sides[side][0], lid, in_quadrature(battery.uncertainty_mm, cut))
                for side, cut in cuts.items()
            ]
        )
        if layout.window is not None:
            outside, _ = outside_distance(battery.centre, layout.window)
            cell_window = _need(
                outside,
                ring + limit_of(settings, "cell-under-window"),
                in_quadrature(battery.uncertainty_mm, layout.window_uncertainty_mm),
            )
    return Needs(apart, zone, edge, inside, cell_edge, cell_window)


def _need(measured: float, limit: float, uncertainty: float) -> float:
    if measured < limit - 1e-6:
        return limit + uncertainty + SPARE_MM
    return min(limit + uncertainty, measured)
