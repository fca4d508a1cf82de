"""A light across one run of each tape: the pair of runs that suits it best, and its seat on them.

In:    a light, its part, the tapes.
Out:   a `Bridge`, or None where a tape has no run at all; what the figures mean: `circuit.check.bridging`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from circuit.arrays import Floats
from circuit.check.tape import Tape
from circuit.layout import POLARITIES, LightMark, Polarity
from circuit.part_kinds import LightPart

# Runs further from a light than this many body lengths past its tape can't be what bridges it: chosen.
_REACH_BODIES = 2.0

# What 10° of lean weighs against 1 mm off the middle when the best pair of runs is chosen: chosen.
_LEAN_MM_PER_DEG = 0.1


@dataclass(frozen=True)
class Bridge:
    """One light across one run of each tape. Across is measured from the midline's direction
    `along` turned a quarter; lengths in mm. `straight` is each tape's straight part beside the body. `lane`: 0 on the
    lane itself, else the branch's number."""

    light: LightMark
    runs: dict[Polarity, int]
    along: Floats
    off_midline: float
    lean_deg: float
    gap: float
    straight: dict[Polarity, float]
    overlap: dict[Polarity, float]
    needed: float  # straight tape that the body asks for
    positive_side: int  # +1: the positive tape lies on the side of `across`, -1: on the other
    lane: int = 0

    @property
    def across(self) -> Floats:
        """(2,) unit vector square to the lane, from the midline to the right of `along`."""
        return np.array([-self.along[1], self.along[0]])

    @property
    def missed(self) -> bool:
        """Is the light so far off that it is not on this lane at all, rather than a little aside?"""
        return self.off_midline > max(self.needed / 2, self.gap / 2)

    @property
    def unsuited(self) -> float:
        """How badly this pair of runs suits the light; 0 is a perfect seat. [mm]"""
        missing = sum(max(0.0, self.needed - straight) for straight in self.straight.values())
        # Two far runs can have a light midway between them that neither reaches.
        missing += sum(max(0.0, -overlap) for overlap in self.overlap.values())
        return self.off_midline + missing + _LEAN_MM_PER_DEG * self.lean_deg + max(0.0, -self.gap)


def bridge_of(light: LightMark, part: LightPart, positive: Tape, negative: Tape) -> Bridge | None:
    """The pair of runs that suits a light best; None when a tape has no run at all."""
    centre = np.asarray(light.centre)
    near_positive, near_negative = (_near_runs(centre, part, tape) for tape in (positive, negative))
    pairs = [_seat(light, part, positive, negative, i, j) for i in near_positive for j in near_negative]
    return min(pairs, key=lambda bridge: bridge.unsuited, default=None)


def best_bridge(light: LightMark, part: LightPart, lanes: Sequence[Mapping[Polarity, Tape]]) -> Bridge | None:
    """Where a light sits on whichever lane suits it best."""
    found = [
        replace(bridge, lane=number)
        for number, lane in enumerate(lanes)
        if (bridge := bridge_of(light, part, lane["positive"], lane["negative"]))
    ]
    return min(found, key=lambda bridge: bridge.unsuited, default=None)


def light_body(light: LightMark, part: LightPart, along: Floats) -> Any:
    """The body's outline as a polygon: `part.width_mm` along the lane, `part.length_mm` across it;
    `along`: (2,) the lane's unit direction."""
    across = np.array([-along[1], along[0]])
    forth, side = along * part.width_mm / 2, across * part.length_mm / 2
    centre = np.asarray(light.centre)
    return shapely.Polygon(
        [centre + forth + side, centre + forth - side, centre - forth - side, centre - forth + side]
    )


def _near_runs(centre: Floats, part: LightPart, tape: Tape) -> list[int]:
    """Runs within reach of a light; the nearest one where none is."""
    if len(tape.lengths) == 0:
        return []
    distances = shapely.distance(tape.strips, shapely.Point(centre))
    near = np.flatnonzero(distances <= _REACH_BODIES * max(part.length_mm, part.width_mm))
    return [int(run) for run in near] or [int(np.argmin(distances))]


def _seat(light: LightMark, part: LightPart, positive: Tape, negative: Tape, i: int, j: int) -> Bridge:
    """One light measured across run i of the positive and run j of the negative tape."""
    one, other = positive.directions[i], negative.directions[j]
    if one @ other < 0:
        other = -other
    along = one + other
    along = along / math.hypot(*along)
    across = np.array([-along[1], along[0]])
    centre = np.asarray(light.centre)
    half_width, half_length = part.width_mm / 2, part.length_mm / 2

    straight: dict[Polarity, float] = {}
    at_middle: dict[Polarity, float] = {}
    at_ends: dict[Polarity, tuple[float, float]] = {}
    half_tape: dict[Polarity, float] = {}
    sides: tuple[tuple[Polarity, Tape, int], ...] = (("positive", positive, i), ("negative", negative, j))
    for polarity, tape, run in sides:
        ends = tape.points[run : run + 2] - centre
        reach = np.sort(ends @ along)
        first, last = max(reach[0], -half_width), min(reach[1], half_width)
        straight[polarity] = max(0.0, float(last - first))
        direction = tape.directions[run]
        slope = float((direction @ across) / (direction @ along))
        level = float(ends[0] @ across - slope * (ends[0] @ along))
        at_middle[polarity] = level
        # Where the run stops short, its extension stands in: `straight` tells of the shortness.
        at_ends[polarity] = (level - slope * half_width, level + slope * half_width)
        half_tape[polarity] = tape.width_mm / 2 * math.hypot(1.0, slope)

    side = 1 if at_middle["positive"] >= at_middle["negative"] else -1
    sign: dict[Polarity, int] = {"positive": side, "negative": -side}
    overlap = {
        name: min(
            min(sign[name] * level + half_tape[name], half_length)
            - max(sign[name] * level - half_tape[name], 0.0)
            for level in at_ends[name]
        )
        for name in POLARITIES
    }
    gap = min(
        side * (plus - minus) - half_tape["positive"] - half_tape["negative"]
        for plus, minus in zip(at_ends["positive"], at_ends["negative"], strict=True)
    )
    return Bridge(
        light=light,
        runs={"positive": i, "negative": j},
        along=along,
        off_midline=abs(at_middle["positive"] + at_middle["negative"]) / 2,
        lean_deg=math.degrees(math.acos(min(1.0, float(one @ other)))),
        gap=gap,
        straight=straight,
        overlap=overlap,
        positive_side=side,
        needed=part.width_mm,
    )
