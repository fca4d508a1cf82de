"""How a branch is joined to the lane: where its tapes lie on the lane's, and the clear tape between.

In:    traces with their branches.
Out:   `Joint`: outlines in card millimetres, which tape crosses which; the lanes that lights sit on.
Fails: never for lines of two points or more that don't all coincide.

Why it is made this way. Three lanes of two tapes each that meet at one place come into it as six tapes. Going once
round that place, the lane's positive and negative come side by side, and so do each branch's: one positive and one
negative three times. Two trees that don't cross, one joining the three positives and one the three negatives, would
need the positives next to one another on that round, and of three pairs no three neighbours are one from each. So
whatever way the ends fan out, also at the lane's own end, one tape has to cross one of the other polarity, and a
crossing without something between is a short circuit. What is left to choose is where: here it lies right at
the joint, at a right angle and alone on a straight stretch, where a hand can lay it, see it and press it:

              lane, going up
             -        +
             |        |
             |        |=========================  +  starts on the + trace, nearest to the branch
             |      ..|..
             |======:=|=:=======================  -  starts on the - trace, crosses the + trace over clear tape ..:
             |      ''|''
             |        |

Each tape starts at the far edge of the trace that it lies over, so that a whole tape width of it lies on copper.
Tape's glue does not conduct for sure: its end is folded under, copper outside, and what was folded under counts as
tape that the joint takes. The clear tape reaches 2 mm beyond the copper on all sides that it keeps apart, and stays
half a millimetre off the copper that has to stay bare. T-joints in copper tape are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from circuit.layout import POLARITIES, Branch, Point, Polarity, Polyline, Traces
from circuit.polyline import middle_of, nearest_on_run
from circuit.switch import COVER_BESIDE_TAPE_MM

# The clear tape stays so far off the copper that has to stay bare, a hand's error: chosen. [mm]
COVER_OFF_BARE_MM = 0.5


@dataclass(frozen=True, slots=True)
class Joint:
    """One branch's joint. Outlines are rectangles in card millimetres, not closed, as seen from above.

    heading : unit vector along which the branch leaves. crossing : whose branch tape crosses the other trace.
    positive_mm, negative_mm : where the branch's tape lies on the lane's. cover_mm : the clear tape under the crossing
    tape. positive_run, negative_run : the run of the lane's trace that each lies on, from 0.
    """

    heading: Point
    crossing: Polarity
    positive_mm: Polyline
    negative_mm: Polyline
    cover_mm: Polyline
    positive_run: int
    negative_run: int

    @property
    def crossed(self) -> Polarity:
        """The polarity of the trace that is crossed."""
        return "negative" if self.crossing == "positive" else "positive"

    @property
    def at_mm(self) -> Point:
        """Midway between its two contacts."""
        return middle_of([middle_of(self.contact_mm(polarity)) for polarity in POLARITIES])

    @property
    def crossing_mm(self) -> Point:
        """Where one tape passes over the other."""
        return middle_of(self.cover_mm)

    def contact_mm(self, polarity: Polarity) -> Polyline:
        return self.positive_mm if polarity == "positive" else self.negative_mm

    def run_of(self, polarity: Polarity) -> int:
        return self.positive_run if polarity == "positive" else self.negative_run

    @property
    def cover_size_mm(self) -> tuple[float, float]:
        """The clear tape's sides, across the branch and along it."""
        a, b, c, _ = self.cover_mm
        return math.dist(b, c), math.dist(a, b)


def joints_of(traces: Traces) -> tuple[Joint, ...]:
    """The joint of each branch, in their order."""
    return tuple(joint_of(traces, branch) for branch in traces.branches)


def joint_of(traces: Traces, branch: Branch) -> Joint:
    """Where and how one branch is joined to the traces."""
    wide = traces.tape_width_mm
    one, other = (_direction(line_of(branch, polarity)) for polarity in POLARITIES)
    ahead = _unit(one[0] + other[0], one[1] + other[1]) if one != (-other[0], -other[1]) else one
    across = (-ahead[1], ahead[0])
    starts = {polarity: line_of(branch, polarity)[0] for polarity in POLARITIES}
    along = {polarity: _dot(start, ahead) for polarity, start in starts.items()}
    beside = {polarity: _dot(start, across) for polarity, start in starts.items()}
    # The tape that starts farther back comes from the far trace.
    crossing, crossed = POLARITIES if along["positive"] <= along["negative"] else POLARITIES[::-1]
    near = min(COVER_BESIDE_TAPE_MM, max(traces.gap_mm - COVER_OFF_BARE_MM, 0.0))
    to_other = 1.0 if beside[crossed] >= beside[crossing] else -1.0
    sides = (
        beside[crossing] - to_other * (wide / 2 + COVER_BESIDE_TAPE_MM),
        beside[crossing] + to_other * (wide / 2 + near),
    )

    def box(along_a: float, along_b: float, across_a: float, across_b: float) -> Polyline:
        corners = ((along_a, across_a), (along_b, across_a), (along_b, across_b), (along_a, across_b))
        return tuple((u * ahead[0] + v * across[0], u * ahead[1] + v * across[1]) for u, v in corners)

    contacts = {
        polarity: box(
            along[polarity], along[polarity] + wide, beside[polarity] - wide / 2, beside[polarity] + wide / 2
        )
        for polarity in POLARITIES
    }
    away = {
        polarity: _to_runs(middle_of(contacts[polarity]), line_of(traces, polarity))
        for polarity in POLARITIES
    }
    return Joint(
        heading=ahead,
        crossing=crossing,
        positive_mm=contacts["positive"],
        negative_mm=contacts["negative"],
        cover_mm=box(along[crossed] - near, along[crossed] + wide + COVER_BESIDE_TAPE_MM, *sides),
        positive_run=away["positive"].index(min(away["positive"])),
        negative_run=away["negative"].index(min(away["negative"])),
    )


def line_of(lane: Traces | Branch, polarity: Polarity) -> Polyline:
    """One tape's centre line."""
    return lane.positive if polarity == "positive" else lane.negative


def lanes_of(traces: Traces) -> tuple[Traces | Branch, ...]:
    """The lane itself, then its branches: a light's lane is told by its place among them."""
    return (traces, *traces.branches)


def lines_of(traces: Traces) -> tuple[Polyline, ...]:
    """Every tape's centre line, lane by lane, the positive one first."""
    return tuple(line_of(lane, polarity) for lane in lanes_of(traces) for polarity in POLARITIES)


def lanes_of_lights(traces: Traces, centres: Sequence[Point]) -> tuple[int, ...]:
    """For each light the lane that it sits on, 0 for the lane itself: whose farther tape is nearest to it."""
    if not traces.branches:
        return (0,) * len(centres)
    lanes = lanes_of(traces)
    return tuple(
        min(
            range(len(lanes)),
            key=lambda lane: max(
                min(_to_runs(centre, line_of(lanes[lane], polarity))) for polarity in POLARITIES
            ),
        )
        for centre in centres
    )


def _to_runs(point: Point, line: Polyline) -> list[float]:
    """How far a point lies from each of a line's runs. [mm]"""
    return [nearest_on_run(point, a, b)[0] for a, b in pairwise(line)]


def _direction(line: Polyline) -> Point:
    """Of the line's first run that has a length."""
    for a, b in pairwise(line):
        if a != b:
            return _unit(b[0] - a[0], b[1] - a[1])
    return (1.0, 0.0)


def _unit(x: float, y: float) -> Point:
    size = math.hypot(x, y)
    return (x / size, y / size)


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1]
