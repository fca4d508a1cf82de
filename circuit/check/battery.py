"""The battery zone: where the two tapes end, and what else may come near the cell.

In:    a `Scene`.
Out:   findings for each tape and for the two together.
Fails: never; nothing is measured without a battery circle.

Interpretations
- The zone is the disc round the circle's centre with the chosen cell's radius and `battery-zone.round-cell`.
  Distances to it are told from the cell's edge.
- The end run is a trace's first straight run. The copper of every other run, and the corner of
  every fold, stays outside the disc, but for what lies over the end run's own strip.
- Along an end run is measured from the foot of the cell's middle on it. A fold is at its point on the centre line.
- Bare copper keeps clear of the cell's rim with its corners, so how far a tape may begin beyond the middle hangs on
  how far beside the middle it passes.
- A routed trace is exact against the battery circle; a drawn one carries both bounds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from circuit.check.finding import Finding, in_quadrature, place_of
from circuit.check.scene import Scene
from circuit.check.tape import Tape, beyond_end_run
from circuit.layout import POLARITIES, BatteryMark, Polarity
from circuit.rules import limit_of, straight_limit_mm
from circuit.switch import beside_limit_mm, first_point_range

_LEAST = "battery-zone.least-past-middle"
_MOST = "battery-zone.most-past-middle"
_ROUND = "battery-zone.round-cell"
_STRAIGHT = "battery-zone.straight"
# End runs that differ by more than this come from different sides rather than lean: chosen. [deg]
_SIDES_DEG = 30.0


def measure_battery_zone(scene: Scene) -> Iterator[Finding]:
    """Each tape, then how the two come in."""
    battery = scene.battery
    if battery is None or any(len(tape.lengths) == 0 for tape in scene.tapes.values()):
        return
    for polarity, tape in scene.tapes.items():
        yield from _end_run(scene, battery, polarity, tape)
        yield from _others(scene, battery, polarity)
    yield _sides(scene, battery)


def _end_run(scene: Scene, battery: BatteryMark, polarity: Polarity, tape: Tape) -> Iterator[Finding]:
    about, sure = (polarity, "battery"), _uncertainty(scene, battery, polarity)
    ahead = tape.directions[0]
    from_middle = tape.points[:2] - np.asarray(battery.centre)
    past, fold = -float(from_middle[0] @ ahead), float(from_middle[1] @ ahead)
    beside = abs(float(ahead[0] * from_middle[0][1] - ahead[1] * from_middle[0][0]))
    least = limit_of(scene.settings, _LEAST)
    begins, foot = place_of(tape.points[0]), place_of(tape.points[0] + past * ahead)
    yield Finding(
        _LEAST,
        "begins" if past >= 0 else "stops-short",
        about,
        begins,
        past,
        sure,
        limit=least,
        lengths={"depth": -past},
    )
    most = limit_of(scene.settings, _MOST)
    # Where not both tapes can pass near enough to the middle, the negative one does, which lies under the cell.
    if polarity == "negative" or beside_limit_mm(scene.settings) >= scene.settings.trace_offset_mm:
        # Too far beside the middle there is no place to begin at all, which is told by itself.
        most = max(least, min(most, first_point_range(scene.settings, beside)[1]))
        yield Finding("battery-zone.beside-middle", "beside", about, foot, beside, sure)
    yield Finding(_MOST, "too-far", about, begins, past, sure, limit=most)
    if len(tape.folds) > 0:
        straight = straight_limit_mm(scene.settings, "bent" if scene.traces is None else scene.traces.tongue)
        yield Finding(_STRAIGHT, "fold", about, place_of(tape.points[1]), fold, sure, limit=straight)


def _others(scene: Scene, battery: BatteryMark, polarity: Polarity) -> Iterator[Finding]:
    """The nearest tape that is not the end run, that of branches as well."""
    others = beyond_end_run([lane[polarity] for lane in scene.lanes])
    if len(others) == 0:
        return
    here = shapely.Point(battery.centre)
    gaps = shapely.distance(others, here)
    closest = others[int(np.argmin(gaps))]
    gap = float(gaps.min()) - scene.cell_radius_mm
    x, y = shapely.shortest_line(closest, here).coords[0]
    yield Finding(
        _ROUND,
        "tape" if gap >= 0 else "inside",
        (polarity, "battery"),
        (float(x), float(y)),
        gap,
        _uncertainty(scene, battery, polarity),
    )


def _sides(scene: Scene, battery: BatteryMark) -> Finding:
    one, other = (scene.tapes[polarity].directions[0] for polarity in POLARITIES)
    apart = math.degrees(math.acos(max(-1.0, min(1.0, float(one @ other)))))
    # A bound on where a run passes, over its length, as an angle.
    bounds = (
        math.degrees(
            math.atan2(_uncertainty(scene, battery, polarity), float(scene.tapes[polarity].lengths[0]))
        )
        for polarity in POLARITIES
    )
    return Finding(
        "battery-zone.lean-deg",
        "lean" if apart < _SIDES_DEG else "entries",
        ("positive", "negative", "battery"),
        battery.centre,
        apart,
        in_quadrature(*bounds),
    )


def _uncertainty(scene: Scene, battery: BatteryMark, polarity: Polarity) -> float:
    if not scene.drawn:
        return 0.0
    return in_quadrature(scene.line_uncertainty_mm(polarity), battery.uncertainty_mm)
