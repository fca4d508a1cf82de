"""Every single thing that can go wrong with one built card, with its place and how common it is.

In:    a layout and its traces, settings.
Out:   `Fault`s; the tapes' corners are gathered between the lights, since what lies between the same two lights
       of one tape can't be told apart by which lights are lit.
Fails: never: a card without lights has the faults of its cell and switch alone.

How common each is: common practice, no source. Poor pressure at the cell is the commonest fault of hand-made
switches by one maker's account; the rest are chosen beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from circuit.electrics.wiring import OnTape, is_corner, tapes_of
from circuit.joint import Joint, joints_of, lanes_of_lights
from circuit.layout import POLARITIES, Layout, Point, Polarity, Polyline, Traces
from circuit.polyline import between, middle_of, nearest_on_run
from circuit.settings import Settings

Kind = Literal["flap", "pads", "turned", "dead", "tape", "joint", "touching", "cell-turned", "cell-spent"]

# How common, one beside the other; per light, per corner, per card. Common practice, no source.
_FLAP, _CELL_TURNED, _CELL_SPENT, _TOUCHING = 12.0, 2.0, 2.0, 2.0
_PADS, _TURNED, _DEAD = 4.0, 1.0, 0.3
_FOLD, _LAP = 0.7, 3.0
_JOINT = 5.0  # a lap at a right angle, its end folded under: harder to make than one at a corner
_CROSSING = 3.0  # tapes that touch through a slipped or pierced clear tape
_STRAIGHT = 0.05  # a crack where nothing bends the tape


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that may be wrong.

    kind : "flap" (the flap's tape doesn't touch the cell), "pads" (of one light), "turned" and "dead" (one
        light), "tape" (broken, or a lap without contact), "joint" (of a branch, without contact), "touching" (the two
        tapes), "cell-turned", "cell-spent".
    light : the label of the light concerned, or None. trace : "positive" or "negative" for a tape, or None; of two
        that touch where a branch crosses the lane, the branch's.
    beyond : labels of the lights that get their current past the fault; all for the cell and the switch.
    between : the lights or joints on both sides of a broken tape, "" for the battery; of a joint itself its name, "".
    places_mm : where to look, the likeliest first.
    common : how common it is beside the others, above 0.
    """

    kind: Kind
    light: str | None
    trace: Polarity | None
    beyond: tuple[str, ...]
    between: tuple[str, str]
    places_mm: tuple[Point, ...]
    common: float


def possible_faults(layout: Layout, traces: Traces, settings: Settings) -> tuple[Fault, ...]:
    """All single faults of the card, in no order of likelihood."""
    labels = tuple(mark.label for mark in layout.lights)
    cell = layout.battery.centre if layout.battery is not None else traces.positive[0]

    def of_all(kind: Kind, common: float, place: Point = cell) -> Fault:
        return Fault(kind, None, None, labels, ("", ""), (place,), common)

    found = [
        of_all("flap", _FLAP),
        of_all("cell-turned", _CELL_TURNED),
        of_all("cell-spent", _CELL_SPENT),
        of_all("touching", _TOUCHING, nearest_places(traces)),
    ]
    of_lights: tuple[tuple[Kind, float], ...] = (("pads", _PADS), ("turned", _TURNED), ("dead", _DEAD))
    found += [
        Fault(kind, mark.label, None, (mark.label,), ("", ""), (mark.centre,), common)
        for mark in layout.lights
        for kind, common in of_lights
    ]
    for polarity in POLARITIES:
        for tape in tapes_of(traces, polarity, layout):
            found += _broken_tapes(polarity, tape, layout, traces, settings)
    for number, joint in enumerate(joints_of(traces), 1):
        found += _bad_joints(traces, number, joint, layout)
    return tuple(found)


def _joint_name(traces: Traces, number: int) -> str:
    return "the joint" if len(traces.branches) == 1 else f"joint {number}"


def _broken_tapes(
    trace: Polarity, tape: OnTape, layout: Layout, traces: Traces, settings: Settings
) -> list[Fault]:
    """One for each stretch of the tape from where it begins, a light or a joint, to the next light or joint."""
    each = _LAP if settings.corners == "lapped" else _FOLD
    line = tape.line
    corners = [line[i + 1] for i, corner in enumerate(is_corner(line)) if corner]
    passed, along = tape.corners_passed, tape.along_mm
    # The lights of one branch tap the lane's tape at one place.
    _, firsts = np.unique(np.where(tape.here, np.round(along, 6), np.inf), return_index=True)
    order = [int(i) for i in firsts if tape.here[i]]
    places_of = [mark.centre for mark in layout.lights]
    on = lanes_of_lights(traces, places_of)
    names = [layout.lights[i].label if tape.own[i] else _joint_name(traces, on[i]) for i in order]
    found = []
    for number, first in enumerate(order):
        beyond = (along >= along[first] - 1e-6) & tape.here
        before = order[number - 1] if number else None
        in_stretch = [
            corner
            for corner, row in zip(corners, passed)
            if row[first] and (before is None or not row[before])
        ]
        start = line[0] if before is None else _tap(tape, before, places_of)
        places = in_stretch or [middle_of((start, _tap(tape, first, places_of)))]
        begins = _joint_name(traces, tape.lane) if tape.lane else ""
        found.append(
            Fault(
                kind="tape",
                light=None,
                trace=trace,
                beyond=tuple(mark.label for mark, is_beyond in zip(layout.lights, beyond) if is_beyond),
                between=(begins if before is None else names[number - 1], names[number]),
                places_mm=tuple(places),
                common=each * len(in_stretch) + _STRAIGHT,
            )
        )
    return found


def _tap(tape: OnTape, light: int, places: Sequence[Point]) -> Point:
    """The light on the tape, or the place on the tape where its branch is joined."""
    return places[light] if tape.own[light] else _point_along(tape.line, float(tape.along_mm[light]))


def _point_along(line: Polyline, along_mm: float) -> Point:
    for a, b in pairwise(line):
        run = math.dist(a, b)
        if along_mm <= run:
            return between(a, b, along_mm / (run or 1.0))
        along_mm -= run
    return line[-1]


def _bad_joints(traces: Traces, number: int, joint: Joint, layout: Layout) -> list[Fault]:
    """Either contact of a branch's joint, and the two tapes touching where one crosses the other."""
    on = lanes_of_lights(traces, [mark.centre for mark in layout.lights])
    labels = tuple(mark.label for mark, lane in zip(layout.lights, on) if lane == number)
    name = (_joint_name(traces, number), "")
    contacts = [
        Fault("joint", None, polarity, labels, name, (middle_of(joint.contact_mm(polarity)),), _JOINT)
        for polarity in POLARITIES
        if labels
    ]
    everyone = tuple(mark.label for mark in layout.lights)
    return [
        *contacts,
        Fault("touching", None, joint.crossing, everyone, ("", ""), (joint.crossing_mm,), _CROSSING),
    ]


def nearest_places(traces: Traces) -> Point:
    """Where the two tapes come nearest to each other, past their ends under the cell: the corner of one that
    lies nearest to the other; halfway along where there is no corner."""
    best: tuple[float, Point] | None = None
    for line, other in ((traces.positive, traces.negative), (traces.negative, traces.positive)):
        for point in line[1:-1]:
            apart, where = min(nearest_on_run(point, a, b) for a, b in pairwise(other))
            if best is None or apart < best[0]:
                best = (apart, middle_of((point, where)))
    if best is None:
        return middle_of((*traces.positive[:2], *traces.negative[:2]))
    return best[1]
