"""The switch's outline against the card's edges and against what lies about it.

In:    a `Scene`.
Out:   findings for each edge, light, tape and the window.
Fails: never; nothing is measured without a battery circle.

Interpretations
- The outline is that of the flap seen from above: its lid, and the tongue on the hinge side. The hinge is where
  the two end runs come from. Without traces that is not known, and only what every hinge would cover counts: the
  circle that touches the lid's four sides.
- The cell goes where its circle is and a light where the plan says, so a light's body is held against the outline
  with both marks' bounds.
- "Any tape but the end runs" is each trace without its first straight run and what lies over that run's own strip,
  and each branch.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from circuit.check.bridge import light_body
from circuit.check.finding import EXACT, Finding, in_quadrature
from circuit.check.marks import INWARDS, edge_distances
from circuit.check.overlap import reach_into, shared_width
from circuit.check.scene import Scene
from circuit.check.tape import beyond_end_run
from circuit.enclosed import enclosed
from circuit.layout import BatteryMark, Layout, Problem, Traces
from circuit.lengths import limit_length
from circuit.rules import straight_limit_mm
from circuit.settings import Settings
from circuit.switch import Switch, shape_of


def measure_switch_to_edge(scene: Scene) -> Iterator[Finding]:
    """The outline to each of the card's four edges."""
    battery = scene.battery
    if battery is None:
        return
    if scene.switch is None:
        around = {
            side: (distance - shape_of(scene.settings).half_mm, place)
            for side, (distance, place) in edge_distances(battery.centre, scene.layout.card).items()
        }
    else:
        corners = [edge_distances(point, scene.layout.card) for point in scene.switch.outline_mm]
        around = {side: min(corner[side] for corner in corners) for side in corners[0]}
    for side, (gap, place) in around.items():
        yield Finding(
            "switch-off-card",
            "close" if gap >= 0 else "over",
            ("battery", "card"),
            place,
            gap,
            in_quadrature(battery.uncertainty_mm, scene.edge_uncertainty_mm(side)),
            lengths={"depth": -gap},
            words={"side": side, "inwards": INWARDS[side]},
        )


def measure_switch_covers(scene: Scene) -> Iterator[Finding]:
    """The outline to every light, the window, and each tape beyond its end run."""
    battery, switch = scene.battery, scene.switch
    if battery is None:
        return
    if switch is None:
        yield from _lights_anyhow(scene, battery)
        return
    yield from _lights(scene, battery, switch)
    yield from _window(scene, battery, switch)
    yield from _tapes(scene, battery, switch)


def _lights_anyhow(scene: Scene, battery: BatteryMark) -> Iterator[Finding]:
    half = shape_of(scene.settings).half_mm
    for light in scene.layout.lights:
        gap = math.dist(light.centre, battery.centre) - scene.light_half_mm - half
        yield _of_light(
            light.label, light.centre, gap, in_quadrature(light.uncertainty_mm, battery.uncertainty_mm)
        )


def _lights(scene: Scene, battery: BatteryMark, switch: Switch) -> Iterator[Finding]:
    # The lid and the whole tongue, each without a corner that points inwards.
    parts = np.array(
        [shapely.Polygon(switch.lid_mm), shapely.Polygon((*switch.ramp_mm, *switch.tab_mm)).convex_hull]
    )
    for light, bridge in scene.bridges:
        along = np.asarray(switch.towards) if bridge is None else bridge.along
        reach, place = reach_into(light_body(light, scene.settings.light, along), parts)
        sure = in_quadrature(light.uncertainty_mm, battery.uncertainty_mm)
        yield _of_light(light.label, light.centre if reach > 0 else place, -reach, sure)


def _of_light(label: str, where: tuple[float, float], gap: float, uncertainty: float) -> Finding:
    return Finding(
        "switch-covers",
        "light" if gap < 0 else "light-near",
        (label, "battery"),
        where,
        gap,
        uncertainty,
        lengths={"depth": -gap},
        words={"who": label},
    )


def _window(scene: Scene, battery: BatteryMark, switch: Switch) -> Iterator[Finding]:
    if scene.layout.window is None:
        return
    window = enclosed(scene.layout.window).area
    shared, place = shared_width(shapely.Polygon(switch.outline_mm), window)
    yield Finding(
        "switch-covers",
        "window" if shared > 0 else "window-near",
        ("battery", "window"),
        place,
        -shared,
        # The window's outline is trusted as far as the mark it is held against.
        in_quadrature(battery.uncertainty_mm, battery.uncertainty_mm),
        lengths={"depth": shared},
    )


def _tapes(scene: Scene, battery: BatteryMark, switch: Switch) -> Iterator[Finding]:
    outline = shapely.Polygon(switch.outline_mm)
    straight = straight_limit_mm(scene.settings, switch.tongue)
    for polarity, tape in scene.tapes.items():
        end_run = tape.points[1] - np.asarray(battery.centre)
        if float(end_run @ tape.directions[0]) < straight - EXACT:
            continue  # it folds under the flap, which battery-zone tells
        rest = shapely.union_all(beyond_end_run([lane[polarity] for lane in scene.lanes]))
        if rest.is_empty:
            continue
        shared, place = shared_width(rest, outline)
        line = scene.line_uncertainty_mm(polarity)
        nearest = min(scene.layout.lights, key=lambda light: math.dist(light.centre, place), default=None)
        yield Finding(
            "switch-covers",
            "tape" if shared > 0 else "tape-near",
            (polarity, "battery"),
            place,
            -shared,
            in_quadrature(line, battery.uncertainty_mm) if scene.drawn else 0.0,
            lengths={"depth": shared},
            words={"light": "a light" if nearest is None else nearest.label},
        )


def weaker_tongue(layout: Layout, traces: Traces | None, settings: Settings) -> tuple[Problem, ...]:
    """That the tapes leave room for the weaker form of the flap alone, to be looked at again; empty where the usual
    one fits. A choice and no measure, so it stands in no rule's row."""
    if layout.battery is None or traces is None or traces.tongue == "bent":
        return ()
    here, usual = (shape_of(settings, tongue) for tongue in (traces.tongue, "bent"))
    has_mm, needs_mm = here.reach_mm - here.half_mm, usual.reach_mm - usual.half_mm
    units = settings.units
    advice = (
        f"There is no room for the flap's usual tongue of {limit_length(needs_mm, units)}, so it gets an upright one "
        f"of {limit_length(has_mm, units)}, creased twice. That is the weaker way, since copper cracks sooner over a "
        "crease: open the lid seldom, or move the battery away from lights and edges and plan again."
    )
    place = layout.battery.centre
    # The figures are in its words; there is no limit to come nearer to.
    return (Problem("switch-upright", "look-again", ("battery",), place, None, 0.0, None, advice),)
