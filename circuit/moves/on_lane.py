"""Put lights that were left out back onto a lane that goes through the others.

In:    the whole layout, the layout without those lights, the traces laid through it.
Out:   the whole layout with those lights moved onto the lane, and the traces (the last run made longer
       where a light goes past its end), or None where the lane has no room for one of them.
Fails: never.

A light fits where both tapes run straight beside it, a fold's clearance away from folds, far enough
from lights and edges. The places tried lie every half a millimetre along the lane's straight runs.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from circuit.check.scene import Scene
from circuit.check.tape import Tape
from circuit.layout import Layout, LightMark, Point, Traces
from circuit.moves.needs import SPARE_MM, Vectors
from circuit.rules import limit_of
from circuit.settings import Settings

_STEP_MM = 0.5  # how finely the lane is tried: chosen
_PARALLEL = 0.999  # cosine of the lean up to which two runs count as one lane: chosen (2.6 degrees)
_LONGEST_TAIL_MM = 25.0  # how far a lane is made longer for one light: chosen


def put_back(whole: Layout, rest: Layout, traces: Traces, settings: Settings) -> tuple[Layout, Traces] | None:
    """Each missing light at the nearest free place on the lane, one after the other."""
    missing = [light for light in whole.lights if light not in rest.lights]
    placed: dict[str, Point] = {}
    here = rest
    for light in missing:
        found = _nearest_place(light, here, traces, settings)
        if found is None:
            return None
        place, traces = found
        placed[light.label] = place
        moved = replace(light, x_mm=place[0], y_mm=place[1])
        here = replace(here, lights=(*here.lights, moved))
    lights = tuple(
        replace(light, x_mm=placed[light.label][0], y_mm=placed[light.label][1])
        if light.label in placed
        else light
        for light in whole.lights
    )
    return replace(whole, lights=lights), traces


def _nearest_place(
    light: LightMark, layout: Layout, traces: Traces, settings: Settings
) -> tuple[Point, Traces] | None:
    from circuit.check import check

    candidates = sorted(
        (
            (math.dist(place, light.centre), place, longer)
            for place, longer in _places(layout, traces, settings)
        ),
        key=lambda item: (item[0], item[1]),
    )
    for _, place, longer in candidates:
        trial = replace(layout, lights=(*layout.lights, replace(light, x_mm=place[0], y_mm=place[1])))
        if all(
            problem.level != "must-fix" or problem.name == "cell-mismatch"
            for problem in check(trial, longer, settings)
        ):
            return place, longer
    return None


def _places(layout: Layout, traces: Traces, settings: Settings) -> list[tuple[Point, Traces]]:
    """Places on the midline that look free, each with the traces it takes."""
    scene = Scene(layout, traces, settings)
    positive, negative = scene.tapes["positive"], scene.tapes["negative"]
    clear = settings.light.width_mm / 2 + limit_of(settings, "fold-near-light") + SPARE_MM
    apart = limit_of(settings, "lights-too-close") + SPARE_MM
    lights = np.array([other.centre for other in layout.lights]).reshape(-1, 2)
    found: list[tuple[Point, Traces]] = []
    for i, j in _paired_runs(positive, negative, traces):
        last = i == len(positive.lengths) - 1 and j == len(negative.lengths) - 1
        start, end, along, first = _common_stretch(positive, negative, i, j)
        starts_free = i == 0 and j == 0
        begin = start if starts_free else start + clear
        stop = end + _LONGEST_TAIL_MM if last else end - clear
        for at in np.arange(begin, stop, _STEP_MM):
            middle = first + along * at
            if len(lights) and np.hypot(*(lights - middle).T).min() < apart:
                continue
            longer = traces
            need = at + settings.light.width_mm / 2 + SPARE_MM
            if last and need > end:
                longer = _longer(traces, need - end)
            found.append(((float(middle[0]), float(middle[1])), longer))
    return found


def _paired_runs(positive: Tape, negative: Tape, traces: Traces) -> list[tuple[int, int]]:
    """Runs of the two tapes that lie side by side as one lane."""
    spacing = traces.gap_mm + traces.tape_width_mm
    pairs = []
    for i, one in enumerate(positive.directions):
        for j, other in enumerate(negative.directions):
            if one @ other < _PARALLEL:
                continue
            offset = negative.points[j] - positive.points[i]
            across = abs(one[0] * offset[1] - one[1] * offset[0])
            if abs(across - spacing) < 0.1 * spacing:
                pairs.append((i, j))
    return pairs


def _common_stretch(positive: Tape, negative: Tape, i: int, j: int) -> tuple[float, float, Vectors, Vectors]:
    """Where along the midline both runs are there: start, end, direction, the point counted from. [mm]"""
    along = positive.directions[i] + negative.directions[j]
    along = along / math.hypot(*along)
    first = (positive.points[i] + negative.points[j]) / 2
    ends = [
        sorted(float((tape.points[k] - first) @ along) for k in (run, run + 1))
        for tape, run in ((positive, i), (negative, j))
    ]
    # The midline of two unequal runs: level with the middle between them, not between their ends.
    across = np.array([-along[1], along[0]])
    level = float((positive.points[i] - first) @ across + (negative.points[j] - first) @ across) / 2
    return max(ends[0][0], ends[1][0]), min(ends[0][1], ends[1][1]), along, first + across * level


def _longer(traces: Traces, by_mm: float) -> Traces:
    """Both traces made longer at their far ends."""

    def stretched(line: tuple[Point, ...]) -> tuple[Point, ...]:
        (ax, ay), (bx, by) = line[-2:]
        share = by_mm / math.dist(line[-2], line[-1])
        return (*line[:-1], (bx + share * (bx - ax), by + share * (by - ay)))

    return replace(traces, positive=stretched(traces.positive), negative=stretched(traces.negative))
