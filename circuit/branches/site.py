"""A laid lane as a branch sees it: where it can be joined, and what it has to keep clear of.

In:    a layout, its traces, the labels of the lights that are to go on branches, the maker's settings.
Out:   a `LaneSite`; places to join at.
Fails: never; traces that are no pair of parallel lines have no place to join at.

Everything here is complex numbers as in the router: x + y·j in card millimetres. Lengths are taken so that what holds
here mostly holds for the checker, whose word counts.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.joint import COVER_OFF_BARE_MM, lanes_of_lights, line_of
from circuit.layout import POLARITIES, Layout, Polarity, Polyline, Traces
from circuit.rules import limit_of
from circuit.settings import Settings
from circuit.switch import COVER_BESIDE_TAPE_MM, COVER_PAST_TAB_MM, shape_of, switch_on

Complexes = NDArray[np.complex128]
EXACTNESS_MM = 0.02  # chosen: plan files are rounded to 0.001 mm, sums to far less
_STEP_MM = 1.0  # chosen: places to join at, this far apart along the lane
_MITRE = 2.7  # of the sharpest fold's outer corner, over half the lane's width: 1 / cos(135 deg / 2) is 2.61
_LEAST_TURN_DEG = 0.1  # rounding in a file


@dataclass(frozen=True, slots=True)
class BranchSizes:
    """Lengths of a branch. [mm] `offset` : from its midline to a tape's centre line, `outer` : to its outer edge."""

    tape: float
    offset: float
    outer: float
    half_along: float
    to_fold: float
    apart: float
    edge: float

    @property
    def past_joint(self) -> float:
        """Midline from the lane's midline to where a branch's inner tape may fold first."""
        return self.outer + COVER_BESIDE_TAPE_MM + self.to_fold


@dataclass(frozen=True, slots=True)
class Places:
    """Where a branch may leave, (K,) each: `at` on the lane's midline, `ahead` the heading; whether the positive tape
    is the left one of the two, as seen walking along the branch."""

    at: Complexes
    ahead: Complexes
    positive_left: NDArray[np.bool_]


@dataclass(frozen=True)
class LaneSite:
    """`blocked` : what the branch beyond its joint must not meet, prepared; `inside` : where it has to stay."""

    layout: Layout
    traces: Traces
    settings: Settings
    sizes: BranchSizes
    blocked: Any
    inside: Any
    places: Places


def site_of(layout: Layout, traces: Traces, settings: Settings, waiting: Collection[str]) -> LaneSite:
    """The lane with its branches so far; lights called `waiting` are on neither yet."""
    sizes = sizes_of(traces, settings)
    card = layout.card
    inside = shapely.box(sizes.edge, sizes.edge, card.width_mm - sizes.edge, card.height_mm - sizes.edge)
    blocked = [
        shapely.buffer(_outline(line, sizes), sizes.apart)
        for line in (_midline(traces), *(_midline(branch) for branch in traces.branches))
        if len(line) > 1
    ]
    switch = switch_on(layout, traces, settings)
    if switch is not None:
        blocked.append(shapely.buffer(shapely.Polygon(switch.outline_mm), EXACTNESS_MM))
    if layout.battery is not None:
        zone = settings.battery_zone_radius_mm + EXACTNESS_MM
        blocked.append(shapely.Point(layout.battery.centre).buffer(zone))
    return LaneSite(
        layout,
        traces,
        settings,
        sizes,
        shapely.union_all(blocked),
        inside,
        _places(layout, traces, settings, sizes, waiting),
    )


def sizes_of(traces: Traces, settings: Settings) -> BranchSizes:
    """The lengths that branches are laid by, for these traces and settings."""
    tape, gap = traces.tape_width_mm, traces.gap_mm
    return BranchSizes(
        tape=tape,
        offset=(tape + gap) / 2,
        outer=gap / 2 + tape,
        half_along=settings.light.width_mm / 2,
        to_fold=limit_of(settings, "fold-near-light") + EXACTNESS_MM,
        apart=limit_of(settings, "traces-too-close") + EXACTNESS_MM,
        edge=limit_of(settings, "trace-near-edge") + EXACTNESS_MM,
    )


def outlines(lines: Complexes, sizes: BranchSizes) -> NDArray[Any]:
    """The outlines of pairs of tapes along midlines (N, P), folds' outer corners included."""
    points = np.stack([lines.real, lines.imag], axis=-1)
    return np.asarray(
        shapely.buffer(
            shapely.linestrings(points),
            sizes.outer,
            cap_style="flat",
            join_style="mitre",
            mitre_limit=_MITRE,
        )
    )


def _outline(line: Complexes, sizes: BranchSizes) -> Any:
    return outlines(line[None, :], sizes)[0]


def _midline(lane: Any) -> Complexes:
    """Midway between the two tapes; empty where they don't have as many points each."""
    lines = [as_complex(line_of(lane, polarity)) for polarity in POLARITIES]
    return (lines[0] + lines[1]) / 2 if len(lines[0]) == len(lines[1]) else np.zeros(0, dtype=np.complex128)


def as_complex(line: Polyline) -> Complexes:
    """A line of (x, y) as (N,) complex numbers x + iy. [mm]"""
    return np.array([complex(x, y) for x, y in line], dtype=np.complex128)


def _places(
    layout: Layout, traces: Traces, settings: Settings, sizes: BranchSizes, waiting: Collection[str]
) -> Places:
    """Every step along the lane, and opposite each light that waits, where the joint has room."""
    mid = _midline(traces)
    found: list[tuple[complex, complex, bool]] = []
    if len(mid) < 2:
        return _as_places(found)
    steps = np.diff(mid)
    ways = steps / np.abs(steps)
    taken = _taken(layout, traces, settings, sizes, mid, ways, waiting)
    goals = np.array([complex(*light.centre) for light in layout.lights if light.label in waiting])
    for run, (start, way, long) in enumerate(zip(mid[:-1], ways, np.abs(steps), strict=True)):
        feet = ((goals - start) * np.conj(way)).real
        along = np.concatenate([np.arange(0.0, long, _STEP_MM), feet[(feet > 0) & (feet < long)]])
        for side in (1j, -1j):
            near: Polarity = _nearer(traces, run, complex(way * side))
            for positive_left in (True, False):
                # The crossing tape comes from the far trace; its clear tape takes room on its own side.
                crossing_left = positive_left == (near == "negative")
                crosses_ahead = ((-1j if crossing_left else 1j) * side).real > 0
                before = sizes.outer + (0.0 if crosses_ahead else COVER_BESIDE_TAPE_MM)
                after = sizes.outer + (COVER_BESIDE_TAPE_MM if crosses_ahead else 0.0)
                free = np.ones(len(along), dtype=bool)
                for low, high in taken[run]:
                    free &= (along + after <= low) | (along - before >= high)
                found += [(complex(start + s * way), complex(way * side), positive_left) for s in along[free]]
    return _as_places(found)


def _as_places(found: list[tuple[complex, complex, bool]]) -> Places:
    return Places(
        np.array([one[0] for one in found], dtype=np.complex128),
        np.array([one[1] for one in found], dtype=np.complex128),
        np.array([one[2] for one in found], dtype=bool),
    )


def _nearer(traces: Traces, run: int, towards: complex) -> Polarity:
    """Which trace lies on that side of a run."""
    positive, negative = complex(*traces.positive[run]), complex(*traces.negative[run])
    return "positive" if ((positive - negative) * towards.conjugate()).real > 0 else "negative"


def _taken(
    layout: Layout,
    traces: Traces,
    settings: Settings,
    sizes: BranchSizes,
    mid: Complexes,
    ways: Complexes,
    waiting: Collection[str],
) -> list[list[tuple[float, float]]]:
    """For each run the stretches where no joint may lie: at its folds, ends, lights, other joints, under the flap."""
    long = np.abs(np.diff(mid))
    turns = np.abs(np.angle(ways[1:] * np.conj(ways[:-1])))
    at_fold = limit_of(settings, "joint.from-fold") + EXACTNESS_MM
    clear = [
        sizes.outer * math.tan(min(turn, math.radians(160.0)) / 2) + at_fold
        if turn > math.radians(_LEAST_TURN_DEG)
        else 0.0
        for turn in turns
    ]
    taken: list[list[tuple[float, float]]] = []
    for run, length in enumerate(long):
        before = clear[run - 1] if run > 0 else 0.0
        after = clear[run] if run < len(clear) else 0.0
        taken.append([(-math.inf, before), (length - after, math.inf)])
    if layout.battery is not None:
        middle = float((np.conj(ways[0]) * (complex(*layout.battery.centre) - mid[0])).real)
        off = COVER_PAST_TAB_MM + limit_of(settings, "joint.from-switch") + EXACTNESS_MM
        taken[0].append((-math.inf, middle + shape_of(settings, traces.tongue).reach_mm + off))
    beside_light = sizes.half_along + limit_of(settings, "joint.from-light") + EXACTNESS_MM
    sitting = layout.without(waiting).lights
    on = lanes_of_lights(traces, [light.centre for light in sitting])
    for light, lane in zip(sitting, on, strict=True):
        if lane == 0:
            run, along = _foot(complex(*light.centre), mid, ways, long)
            taken[run].append((along - beside_light, along + beside_light))
    for branch in traces.branches:
        start = _midline(branch)
        if len(start):
            run, along = _foot(complex(start[0]), mid, ways, long)
            wide = sizes.outer + COVER_BESIDE_TAPE_MM + COVER_OFF_BARE_MM
            taken[run].append((along - wide, along + wide))
    return taken


def _foot(point: complex, mid: Complexes, ways: Complexes, long: Floats) -> tuple[int, float]:
    """The run nearest to a point, and how far along it."""
    away = (point - mid[:-1]) * np.conj(ways)
    along = np.clip(away.real, 0.0, long)
    run = int(np.argmin(np.abs(away - along)))
    return run, float(along[run])
