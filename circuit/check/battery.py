"""The battery zone: the disc of the cell and its foam ring.

In:    a `Scene`.
Out:   findings for lights (with or without traces), and for each tape.
Fails: never; nothing is measured without a battery circle.

Interpretations of "no light body in it, no tape but the two end runs, which come in from one
side, have no fold inside, and end inside the circle within 6 mm of its centre"
- The disc is drawn round the circle's centre with the chosen cell's radius and the foam ring.
  Distances are told from the cell's edge, so that they compare with the foam ring's width.
- The end run is a trace's first straight run. The copper of every other run, and the corner of
  every fold, stays outside the disc, but for what lies over the end run's own strip: a bend just
  outside the disc overlaps that strip.
- A fold is at its point on the centre line.
- A trace's end is the first point of its centre line. For a cell of less than 6 mm radius it must
  lie inside the cell's circle.
- Entry points are where the centre lines cross the disc's rim, their angle is seen from the centre.
- A routed trace is exact against the battery circle; a drawn one carries both bounds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from circuit.check.finding import Finding, in_quadrature, level_of
from circuit.check.scene import POLARITIES, Polarity, Scene
from circuit.check.tape import Tape
from circuit.layout import BatteryMark, Point
from circuit.orientation import leaves_circle
from circuit.rules import limit_of

_RING = "battery-zone.foam-ring"
_END = "battery-zone.end-from-centre"


def measure_battery_zone(scene: Scene) -> Iterator[Finding]:
    """Lights, then each tape, then the side that both come from."""
    battery = scene.battery
    if battery is None:
        return
    yield from _lights(scene, battery)
    for polarity, tape in scene.tapes.items():
        yield _end(scene, battery, polarity, tape)
        yield from _inside(scene, battery, polarity, tape)
    if scene.tapes:
        yield from _entries(scene, battery)


def _lights(scene: Scene, battery: BatteryMark) -> Iterator[Finding]:
    for light in scene.layout.lights:
        distance = math.dist(light.centre, battery.centre)
        gap = distance - scene.light_half_mm - scene.cell_radius_mm
        yield Finding(
            _RING,
            "light" if gap >= 0 else "light-over",
            (light.label, "battery"),
            light.centre,
            gap,
            in_quadrature(light.uncertainty_mm, battery.uncertainty_mm),
            lengths={"depth": -gap},
            words={"who": light.label},
        )


def _end(scene: Scene, battery: BatteryMark, polarity: Polarity, tape: Tape) -> Finding:
    end = _point(tape.points[0])
    return Finding(
        _END,
        "end",
        (polarity, "battery"),
        end,
        math.dist(end, battery.centre),
        _uncertainty(scene, battery, polarity),
        limit=min(limit_of(scene.settings, _END), scene.cell_radius_mm),
    )


def _inside(scene: Scene, battery: BatteryMark, polarity: Polarity, tape: Tape) -> Iterator[Finding]:
    """The nearest fold, then the nearest tape that is not the end run; a fold inside says it for both."""
    uncertainty = _uncertainty(scene, battery, polarity)
    if len(tape.folds) == 0:
        return
    about = (polarity, "battery")
    distances = np.hypot(*(tape.folds - np.asarray(battery.centre)).T)
    nearest = int(np.argmin(distances))
    fold_gap = float(distances[nearest]) - scene.cell_radius_mm
    fold = Finding(
        _RING,
        "fold" if fold_gap >= 0 else "inside",
        about,
        _point(tape.folds[nearest]),
        fold_gap,
        uncertainty,
    )
    yield fold
    if level_of(fold, scene.settings) == "must-fix":
        return
    others = shapely.difference(tape.pieces[1:], tape.strips[0])
    others = others[~shapely.is_empty(others)]
    if len(others) == 0:
        return
    here = shapely.Point(battery.centre)
    gaps = shapely.distance(others, here)
    closest = others[int(np.argmin(gaps))]
    gap = float(gaps.min()) - scene.cell_radius_mm
    place = shapely.shortest_line(closest, here).coords[0]
    yield Finding(
        _RING, "tape" if gap >= 0 else "inside", about, (float(place[0]), float(place[1])), gap, uncertainty
    )


def _entries(scene: Scene, battery: BatteryMark) -> Iterator[Finding]:
    radius = scene.settings.battery_zone_radius_mm
    first, second = (
        leaves_circle([_point(point) for point in scene.tapes[polarity].points], battery.centre, radius)
        for polarity in POLARITIES
    )
    if first is None or second is None:
        return  # a tape that never comes in is told of by its end
    angles = [math.atan2(y - battery.y_mm, x - battery.x_mm) for x, y in (first, second)]
    apart = abs(math.degrees(angles[0] - angles[1]))
    # A bound on an entry point along the rim, as an angle seen from the centre.
    bounds = (math.degrees(_uncertainty(scene, battery, polarity) / radius) for polarity in POLARITIES)
    yield Finding(
        "battery-zone.entries-apart-deg",
        "entries",
        ("positive", "negative", "battery"),
        battery.centre,
        min(apart, 360 - apart),
        in_quadrature(*bounds),
    )


def _uncertainty(scene: Scene, battery: BatteryMark, polarity: Polarity) -> float:
    if not scene.drawn:
        return 0.0
    return in_quadrature(scene.line_uncertainty_mm(polarity), battery.uncertainty_mm)


def _point(vector: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Point:
    return (float(vector[0]), float(vector[1]))
