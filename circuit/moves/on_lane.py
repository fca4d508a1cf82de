"""Put lights onto a lane that was laid without them, or beside them.

In:    a layout, traces that go through some of its lights or near them.
Out:   the layout with lights moved onto the lane, and the traces (the last run made longer where a light
       goes past its end), or None where the lane has no room for one of them.
Fails: never.

A light fits where both tapes run straight beside it, a fold's clearance away from folds, far enough
from lights and edges. The places tried lie every half a millimetre along the lane's straight runs, as
far off the midline towards the light's own place as a light may be.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely

from circuit.arrays import Floats
from circuit.check import check, must_fix_on_card
from circuit.check.scene import Scene
from circuit.check.tape import Tape
from circuit.layout import Layout, LightMark, Point, Traces
from circuit.moves.needs import SPARE_MM
from circuit.rules import limit_of
from circuit.settings import Settings

_STEP_MM = 0.5  # how finely the lane is tried: chosen
_PARALLEL = 0.999  # cosine of the lean up to which two runs count as one lane: chosen (2.6 degrees)
_SPACING_SLACK = 0.1  # of the two tapes' spacing, by which a pair of runs may differ from it: chosen
_MOST_PLACES = 40  # places looked at closely for one light, nearest first: chosen
_LONGEST_TAIL_MM = 25.0  # how far a lane is made longer for one light: chosen


def put_back(whole: Layout, rest: Layout, traces: Traces, settings: Settings) -> tuple[Layout, Traces] | None:
    """Each light of `whole` that `rest` lacks at the nearest free place on the lane, one after the other."""
    there = {light.label for light in rest.lights}
    return _placed(whole, rest, list(whole.without(there).lights), traces, settings)


def _placed(
    whole: Layout, rest: Layout, missing: list[LightMark], traces: Traces, settings: Settings
) -> tuple[Layout, Traces] | None:
    """The missing lights put on the lane, those nearest to it first, so that they keep their places."""
    placed: dict[str, LightMark] = {light.label: light for light in rest.lights}
    here, lane = rest, traces
    by_distance = sorted(missing, key=lambda light: (_to_lane(light, traces), light.label))
    for light in by_distance:
        found = _nearest_place(light, here, lane, settings)
        if found is None:
            return None
        place, lane = found
        moved = replace(light, x_mm=place[0], y_mm=place[1])
        placed[light.label] = moved
        here = replace(here, lights=(*here.lights, moved))
    return replace(whole, lights=tuple(placed[light.label] for light in whole.lights)), lane


def _to_lane(light: LightMark, traces: Traces) -> float:
    """Distance from a light to the further of the two tapes' centre lines. [mm]"""
    here = shapely.Point(light.centre)
    return max(float(shapely.LineString(line).distance(here)) for line in (traces.positive, traces.negative))


def _nearest_place(
    light: LightMark, layout: Layout, traces: Traces, settings: Settings
) -> tuple[Point, Traces] | None:
    candidates = sorted(
        (
            (math.dist(place, light.centre), place, longer)
            for place, longer in _places(light, layout, traces, settings)
        ),
        key=lambda item: (item[0], item[1]),
    )
    for _, place, longer in candidates[:_MOST_PLACES]:
        trial = replace(layout, lights=(*layout.lights, replace(light, x_mm=place[0], y_mm=place[1])))
        if not must_fix_on_card(check(trial, longer, settings)):
            return place, longer
    return None


def _places(
    light: LightMark, layout: Layout, traces: Traces, settings: Settings
) -> list[tuple[Point, Traces]]:
    """Places on the lane that look free, each with the traces it takes."""
    scene = Scene(layout, traces, settings)
    positive, negative = scene.tapes["positive"], scene.tapes["negative"]
    clear = settings.light.width_mm / 2 + limit_of(settings, "fold-near-light") + SPARE_MM
    apart = limit_of(settings, "lights-too-close") + SPARE_MM
    aside = max(0.0, limit_of(settings, "light-not-bridged.off-midline") - 2 * SPARE_MM)
    lights = np.array([other.centre for other in layout.lights]).reshape(-1, 2)
    home = np.asarray(light.centre)
    found: list[tuple[Point, Traces]] = []
    for i, j in _paired_runs(positive, negative, traces):
        last = i == len(positive.lengths) - 1 and j == len(negative.lengths) - 1
        start, end, along, first = _common_stretch(positive, negative, i, j)
        across = np.array([-along[1], along[0]])
        off = float(np.clip((home - first) @ across, -aside, aside))
        begin = start if i == 0 and j == 0 else start + clear
        stop = end + _LONGEST_TAIL_MM if last else end - clear
        if stop < begin:
            continue
        level = float(np.clip((home - first) @ along, begin, stop))  # the nearest point of all comes along
        for at in (level, *np.arange(begin, stop, _STEP_MM)):
            place = first + along * at + across * off
            if len(lights) and np.hypot(*(lights - place).T).min() < apart:
                continue
            need = at + settings.light.width_mm / 2 + SPARE_MM - end
            longer = _longer(traces, float(need)) if last and need > 0 else traces
            found.append(((float(place[0]), float(place[1])), longer))
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
            if abs(across - spacing) < _SPACING_SLACK * spacing:
                pairs.append((i, j))
    return pairs


def _common_stretch(positive: Tape, negative: Tape, i: int, j: int) -> tuple[float, float, Floats, Floats]:
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
