"""The rules that marks alone must keep: lights, edges, window, cell.

In:    a `Scene`; its traces are not looked at.
Out:   one `Finding` per pair that matters, kept limits included where that is cheap.
Fails: never. No window, no battery: nothing to measure.

Interpretations
- A light's body is taken as half its longer side round its centre ("centre - 2.5 mm" for 5050):
  which way it lies is settled by the traces, not by the mark.
- The window's outline has a bound of its own, which counts beside that of the mark held against it.
- The card's right and bottom edges are known as well as its cut: `Card.uncertainty_mm`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from circuit.check.finding import Finding, in_quadrature
from circuit.check.scene import Scene
from circuit.enclosed import outside_distance
from circuit.layout import BatteryMark, Card, Point
from circuit.lengths import format_length
from circuit.part_kinds import CellPart
from circuit.parts import default_parts
from circuit.polyline import middle_of
from circuit.rules import limit_of
from circuit.settings import Settings

# What a pencil's line adds to a cell's diameter, in the middle of what it leaves: common practice. [mm]
PENCIL_MM = 1.0


def measure_light_to_light(scene: Scene) -> Iterator[Finding]:
    """Every pair of lights, centre to centre."""
    for one, other in combinations(scene.layout.lights, 2):
        yield Finding(
            "lights-too-close",
            "close",
            (one.label, other.label),
            middle_of((one.centre, other.centre)),
            math.dist(one.centre, other.centre),
            in_quadrature(one.uncertainty_mm, other.uncertainty_mm),
        )


def measure_light_to_edge(scene: Scene) -> Iterator[Finding]:
    """Every light's body to each of the card's four edges."""
    for light in scene.layout.lights:
        for side, (distance, place) in edge_distances(light.centre, scene.layout.card).items():
            gap = distance - scene.light_half_mm
            yield Finding(
                "light-near-edge",
                "close" if gap >= 0 else "over",
                (light.label,),
                place,
                gap,
                in_quadrature(light.uncertainty_mm, scene.edge_uncertainty_mm(side)),
                lengths={"depth": -gap},
                words={"side": side, "inwards": INWARDS[side]},
            )


def measure_light_to_window(scene: Scene) -> Iterator[Finding]:
    """Every light's centre to the window's outline, inside above 0."""
    if scene.layout.window is None:
        return
    for light in scene.layout.lights:
        outside, _ = outside_distance(light.centre, scene.layout.window)
        yield Finding(
            "light-outside-window",
            "outside" if outside > 0 else "edge",
            (light.label, "window"),
            light.centre,  # a far light's nearest point of the window says nothing of the light
            -outside,
            in_quadrature(light.uncertainty_mm, scene.layout.window_uncertainty_mm),
            lengths={"depth": outside},
            words={"who": light.label},
        )


def measure_cell_to_window(scene: Scene) -> Iterator[Finding]:
    """The battery zone to the window's outline, outside above 0."""
    battery = scene.battery
    if scene.layout.window is None or battery is None:
        return
    outside, place = outside_distance(battery.centre, scene.layout.window)
    gap = outside - scene.settings.battery_zone_radius_mm
    yield Finding(
        "cell-under-window",
        "under" if gap < 0 else "edge",
        ("battery", "window"),
        place,
        gap,
        in_quadrature(battery.uncertainty_mm, scene.layout.window_uncertainty_mm),
        lengths={"depth": -gap},
    )


def measure_circle_to_cell(scene: Scene) -> Iterator[Finding]:
    """The circle's diameter against the band that a pencil round the chosen cell leaves."""
    battery, cell = scene.battery, scene.settings.cell
    if battery is None:
        return
    narrower = limit_of(scene.settings, "cell-mismatch.narrower")
    wider = limit_of(scene.settings, "cell-mismatch.wider")
    fits = cells_that_fit(battery, scene.settings)
    too_small = battery.diameter_mm < cell.diameter_mm + (wider - narrower) / 2
    yield Finding(
        "cell-mismatch.narrower" if too_small else "cell-mismatch.wider",
        "narrow" if too_small else "wide",
        ("battery",),
        battery.centre,
        battery.diameter_mm,
        battery.diameter_uncertainty_mm,
        limit=cell.diameter_mm - narrower if too_small else cell.diameter_mm + wider,
        at_least=too_small,
        words={"cell": cell.name, "fits": _fits_text(battery, fits, scene)},
    )


def cells_that_fit(battery: BatteryMark, settings: Settings) -> tuple[CellPart, ...]:
    """Those that a pencil may have gone round to leave this circle: all of the one diameter that suits it best."""
    narrower = limit_of(settings, "cell-mismatch.narrower")
    wider = limit_of(settings, "cell-mismatch.wider")
    fits = [
        part
        for part in default_parts().cells.values()
        if part.diameter_mm - narrower <= battery.diameter_mm <= part.diameter_mm + wider
    ]
    if not fits:
        return ()
    nearest = min(fits, key=lambda part: abs(battery.diameter_mm - part.diameter_mm - PENCIL_MM))
    return tuple(part for part in fits if part.diameter_mm == nearest.diameter_mm)


def edge_distances(point: Point, card: Card) -> dict[str, tuple[float, Point]]:
    """Side of the card -> distance to it, below 0 outside [mm], and the nearest place on it."""
    x, y = point
    return {
        "left": (x, (0.0, y)),
        "right": (card.width_mm - x, (card.width_mm, y)),
        "top": (y, (x, 0.0)),
        "bottom": (card.height_mm - y, (x, card.height_mm)),
    }


INWARDS = {"left": "right", "right": "left", "top": "down", "bottom": "up"}


def _fits_text(battery: BatteryMark, fits: tuple[CellPart, ...], scene: Scene) -> str:
    across = format_length(battery.diameter_mm, scene.settings.units)
    if not fits:
        return (
            f"no cell in the parts list fits a circle of {across}, so draw it again round the cell you have"
        )
    alike = [part.name for part in fits]
    return (
        f"a {' or '.join(alike)} fits this circle, so choose that cell, or draw the circle again round yours"
    )
