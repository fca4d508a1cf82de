"""Nearest distances at a glance: what lies how near to what, whether it is a problem or not.

In:    a layout, its traces or None, the maker's settings.
Out:   `Spacing` values (two ends to draw a line between, what was measured, what the rule asks for)
       and plain lines of text in the maker's units.
Fails: `UsageError` for a limit that no rule has; an empty card gives nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from circuit.check.clearance import nearest_of_trace_to_edge, nearest_of_traces
from circuit.check.marks import edge_distances
from circuit.check.scene import Scene
from circuit.enclosed import outside_distance
from circuit.layout import Layout, LightMark, Point, Traces
from circuit.lengths import format_length, limit_length
from circuit.polyline import between
from circuit.rules import limit_of
from circuit.settings import Settings, Units

# Two lengths that differ by less are one, as in the checker. [mm]
_EXACT = 1e-6


@dataclass(frozen=True, slots=True)
class Spacing:
    """One nearest distance. `about` as in a `Problem`; `to` is what it is measured to, in words.

    `measured_mm` may be below 0 (over an edge, outside the window). `from_mm` and `to_mm` are the
    ends of the measure on the card. `limit_mm` is what the rule asks for.
    """

    about: tuple[str, ...]
    to: str
    measured_mm: float
    limit_mm: float
    from_mm: Point
    to_mm: Point

    @property
    def kept(self) -> bool:
        return self.measured_mm >= self.limit_mm - _EXACT


def nearest_distances(layout: Layout, traces: Traces | None, settings: Settings) -> tuple[Spacing, ...]:
    """Each light's nearest light, edge, cell and window outline; then the cell; then the tapes."""
    scene = Scene(layout, traces, settings)
    found: list[Spacing] = []
    for light in layout.lights:
        found += _of_light(scene, light)
    found += _of_battery(scene)
    found += _of_traces(scene)
    return tuple(found)


def spacing_lines(spacings: Sequence[Spacing], units: Units) -> tuple[str, ...]:
    """One line for each mark or tape, nearest of its kind, with what is too near told in words.

    Lights are measured centre to centre among each other, from the body to everything else.
    """
    by_name: dict[str, list[str]] = {}
    for spacing in spacings:
        by_name.setdefault(_name(spacing.about[0]), []).append(_part(spacing, units))
    return tuple(f"{name}: {', '.join(parts)}" for name, parts in by_name.items())


def _of_light(scene: Scene, light: LightMark) -> Iterator[Spacing]:
    settings, layout, half = scene.settings, scene.layout, scene.light_half_mm
    others = [other for other in layout.lights if other.label != light.label]
    if others:
        nearest = min(others, key=lambda other: math.dist(light.centre, other.centre))
        yield Spacing(
            (light.label, nearest.label),
            nearest.label,
            math.dist(light.centre, nearest.centre),
            limit_of(settings, "lights-too-close"),
            light.centre,
            nearest.centre,
        )
    side, (distance, place) = min(
        edge_distances(light.centre, layout.card).items(), key=lambda item: item[1][0]
    )
    yield Spacing(
        (light.label, "card"),
        f"the {side} edge",
        distance - half,
        limit_of(settings, "light-near-edge"),
        _towards(light.centre, place, half),
        place,
    )
    if layout.battery is not None:
        centre = layout.battery.centre
        yield Spacing(
            (light.label, "battery"),
            "the cell",
            math.dist(light.centre, centre) - half - scene.cell_radius_mm,
            limit_of(settings, "battery-zone.round-cell"),
            _towards(light.centre, centre, half),
            _towards(centre, light.centre, scene.cell_radius_mm),
        )
    if layout.window is not None:
        outside, place = outside_distance(light.centre, layout.window)
        yield Spacing(
            (light.label, "window"),
            "the window's outline",
            -outside,
            limit_of(settings, "light-outside-window"),
            light.centre,
            place,
        )


def _of_battery(scene: Scene) -> Iterator[Spacing]:
    layout, settings = scene.layout, scene.settings
    if layout.battery is None or layout.window is None:
        return
    outside, place = outside_distance(layout.battery.centre, layout.window)
    ring = settings.battery_zone_radius_mm
    yield Spacing(
        ("battery", "window"),
        "the window",
        outside - ring,
        limit_of(settings, "cell-under-window"),
        _towards(layout.battery.centre, place, ring),
        place,
    )


def _of_traces(scene: Scene) -> Iterator[Spacing]:
    nearest = nearest_of_traces(scene)
    if nearest is not None:
        gap, one, other = nearest
        yield Spacing(
            ("positive", "negative"),
            "the negative tape",
            gap,
            limit_of(scene.settings, "traces-too-close"),
            one,
            other,
        )
    for polarity in scene.tapes:
        gap, here, edge, side = nearest_of_trace_to_edge(scene, polarity)
        limit = limit_of(scene.settings, "trace-near-edge")
        yield Spacing((polarity, "card"), f"the {side} edge", gap, limit, here, edge)


def _towards(start: Point, goal: Point, by_mm: float) -> Point:
    """The point `by_mm` from `start` on the way to `goal`; `start` itself when the two coincide."""
    distance = math.dist(start, goal)
    return between(start, goal, by_mm / distance if distance else 0.0)


def _name(about: str) -> str:
    return {"battery": "Cell's foam frame", "positive": "Positive tape", "negative": "Negative tape"}.get(
        about, about
    )


def _part(spacing: Spacing, units: Units) -> str:
    length = format_length(abs(spacing.measured_mm), units)
    if spacing.about[-1] == "window" and spacing.about[0] != "battery":
        text = f"{length} {'inside' if spacing.measured_mm >= 0 else 'outside'} {spacing.to}"
    elif spacing.measured_mm < 0:
        text = f"{length} over {spacing.to}"
    else:
        text = f"{length} to {spacing.to}"
    if spacing.kept:
        return text
    if spacing.limit_mm <= 0:
        return f"{text} (not where it should be)"
    return f"{text} (too near: needs {limit_length(spacing.limit_mm, units)})"
