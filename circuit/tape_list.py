"""What to cut and lay: the strip's length, each run and fold in the order of laying, supplies for copies.

In:    the traces, the flap, the parts, the card.
Out:   numbers only; the words and their units are the pages' business.
Fails: ValueError for a trace whose points all coincide, and for no copies at all.

Both tapes are laid from the battery outwards. The negative starts under the cell. The positive
starts under the lid, past the cell's middle, goes round the free end, along the flap's outer
face, down the ramp over the tab and on over the card. On the flap it is measured flat, as it is laid there.

Each branch has a strip of its own, split lengthwise as well. Its tapes start with a tab, one tape width long, that is
folded under, so that copper meets the lane's copper.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from circuit.along_line import nearest_along
from circuit.joint import Joint, joints_of, lanes_of, lanes_of_lights, line_of
from circuit.layout import POLARITIES, Branch, LightMark, Point, Polarity, Polyline, Traces
from circuit.lengths import MM_PER_INCH
from circuit.polyline import EASED_TURN_DEG, SHARPEST_FOLD_DEG, heading_deg, turn_deg
from circuit.settings import Corners, Settings
from circuit.switch import Switch, on_card

FoldKind = Literal["fold", "ease", "round the free end"]
Place = Literal["card", "flap", "under the lid"]

STRAIGHT_ON_DEG = 1.0  # chosen: no hand sees or folds less
SAME_POINT_MM = 1e-6  # arithmetic, not craft
ALLOWANCE_MM = 10.0  # chosen: to hold the strip by and to trim its end square
CUT_STEP_MM = {"mm": 5.0, "in": MM_PER_INCH / 4}  # chosen: strips are cut to round figures


@dataclass(frozen=True, slots=True)
class Fold:
    """What happens where a run ends. `turn_deg` is positive to the right, as one lays the tape."""

    turn_deg: float
    kind: FoldKind


@dataclass(frozen=True, slots=True)
class Run:
    """One straight run: its length, direction on the card (0 = +x, 90 = down), the tape used up to
    its end, where it lies, and what comes then (None at the tape's end)."""

    length_mm: float
    heading_deg: float
    total_mm: float
    place: Place
    then: Fold | None


@dataclass(frozen=True, slots=True)
class TapePath:
    """One tape from its start at the battery to its end.

    before_trace_mm : tape laid beyond what the trace's length counts: on the flap, else 0.
    take_up_mm : tape that the folds or laps themselves use beyond the centre line's length.
    tab_mm : a branch's end, folded under where it begins; else 0.
    """

    polarity: Polarity
    runs: tuple[Run, ...]
    before_trace_mm: float
    take_up_mm: float
    tab_mm: float = 0.0

    @property
    def laid_mm(self) -> float:
        """Along the centre line, the wrap included."""
        return self.runs[-1].total_mm

    @property
    def needed_mm(self) -> float:
        return self.laid_mm + self.take_up_mm + self.tab_mm

    def is_fold_on_card(self, run: Run) -> bool:
        """Does a run of this path end in a fold of the card's own tape, which the 1:1 sheet numbers?"""
        past_flap = self.before_trace_mm == 0.0 or run.total_mm > self.before_trace_mm + SAME_POINT_MM
        return run.then is not None and run.then.kind == "fold" and past_flap

    @property
    def folds_on_card(self) -> int:
        return sum(self.is_fold_on_card(run) for run in self.runs)

    @property
    def folds(self) -> int:
        """Corners to fold on the card or the flap, the eased ones and the free end not counted."""
        return sum(run.then is not None and run.then.kind == "fold" for run in self.runs)


@dataclass(frozen=True, slots=True)
class BranchTapes:
    """Both tapes of one branch, from the joint on. `strip_mm` is their strip's length, ready to cut; `clear_mm` the
    clear tape under the crossing one, its sides across the branch and along it."""

    positive: TapePath
    negative: TapePath
    strip_mm: float
    crossing: Polarity
    clear_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class TapeList:
    """One strip, split lengthwise, serves both tapes of the lane, and one each branch. `strip_mm` is the lane's strip's
    length, ready to cut."""

    positive: TapePath
    negative: TapePath
    strip_mm: float
    strip_width_mm: float
    branches: tuple[BranchTapes, ...] = ()

    @property
    def strips_mm(self) -> tuple[float, ...]:
        """All strips of one card, the lane's first."""
        return (self.strip_mm, *(branch.strip_mm for branch in self.branches))


@dataclass(frozen=True, slots=True)
class LightPlace:
    """Where a light meets the two tapes, measured like the runs' totals: along the lane, or along the branch of that
    number. [mm]"""

    label: str
    along_positive_mm: float
    along_negative_mm: float
    branch: int = 0


def tape_list(traces: Traces, switch: Switch | None, settings: Settings) -> TapeList:
    """Cut lengths and runs of both tapes; without a switch the positive starts at its trace's end."""
    wide = traces.tape_width_mm
    positive = _positive_path(traces, switch, settings.corners)
    negative = _path("negative", [_Piece(traces.negative, "card")], wide, settings.corners)
    branches = tuple(
        _branch_tapes(traces, branch, joint, settings)
        for branch, joint in zip(traces.branches, joints_of(traces), strict=True)
    )
    strip_mm = _strip_mm(positive, negative, settings)
    return TapeList(positive, negative, strip_mm, 2 * wide, branches)


def _strip_mm(positive: TapePath, negative: TapePath, settings: Settings) -> float:
    """A strip that serves both, to a round figure."""
    longest = max(positive.needed_mm, negative.needed_mm) + ALLOWANCE_MM
    step = CUT_STEP_MM[settings.units]
    return math.ceil(longest / step - 1e-9) * step


def _branch_tapes(traces: Traces, branch: Branch, joint: Joint, settings: Settings) -> BranchTapes:
    wide = traces.tape_width_mm
    positive, negative = (
        replace(
            _path(polarity, [_Piece(line_of(branch, polarity), "card")], wide, settings.corners), tab_mm=wide
        )
        for polarity in POLARITIES
    )
    strip_mm = _strip_mm(positive, negative, settings)
    return BranchTapes(positive, negative, strip_mm, joint.crossing, joint.cover_size_mm)


def fold_take_up_mm(turn: float, tape_width_mm: float) -> float:
    """Tape that one fold uses beyond its centre line.

    The tape is folded straight back on itself, then over along the slanting crease through the
    corner. To reach the corner's outer side it overshoots it by half a width times tan(turn/2),
    and comes back by as much. Geometry, worked out here; a right angle takes one tape width.
    """
    return tape_width_mm * math.tan(math.radians(min(abs(turn), SHARPEST_FOLD_DEG)) / 2)


def _corner_take_up_mm(turn: float, tape_width_mm: float, corners: Corners) -> float:
    """What a fold takes; for a lap, whose two pieces together need as much to lie over the corner, also the upper
    one's end, folded under so that copper meets copper: one tape width, as at a joint."""
    under = tape_width_mm if corners == "lapped" else 0.0
    return fold_take_up_mm(turn, tape_width_mm) + under


def light_places(lights: Iterable[LightMark], traces: Traces, tapes: TapeList) -> tuple[LightPlace, ...]:
    """The distance along each tape that it sits on, from its start, to the point nearest each light's centre."""
    lights = tuple(lights)
    on = lanes_of_lights(traces, [light.centre for light in lights])
    lanes = lanes_of(traces)
    return tuple(
        LightPlace(
            light.label,
            (0.0 if lane else tapes.positive.before_trace_mm) + _along(light.centre, lanes[lane].positive),
            (0.0 if lane else tapes.negative.before_trace_mm) + _along(light.centre, lanes[lane].negative),
            lane,
        )
        for light, lane in zip(lights, on, strict=True)
    )


def _positive_path(traces: Traces, switch: Switch | None, corners: Corners) -> TapePath:
    if switch is None:
        return _path("positive", [_Piece(traces.positive, "card")], traces.tape_width_mm, corners)
    # On the flap's outer face the tape comes back from the free end to the tab's outer edge, over the ramp's slope.
    over = (switch.over_mm[1], switch.over_mm[0])
    under = (switch.under_mm[1], switch.under_mm[0])
    slope = switch.tape_on_flap_mm - switch.wrap_mm - math.dist(*over)
    pieces = [
        _Piece(under, "under the lid"),
        _Piece(over, "flap", slope),
        _Piece(on_card(switch, traces.positive), "card"),
    ]
    path = _path("positive", pieces, traces.tape_width_mm, corners)
    return replace(path, before_trace_mm=switch.beyond_trace_mm)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A part of a tape's centre line in one place; `more_mm` is what it takes beyond its length from above."""

    line: Polyline
    place: Place
    more_mm: float = 0.0


def _path(polarity: Polarity, pieces: list[_Piece], tape_width_mm: float, corners: Corners) -> TapePath:
    """Runs of one tape; a piece that goes straight on from the one before lengthens its run."""
    legs: list[_Leg] = []
    for piece in pieces:
        place, more = piece.place, piece.more_mm
        for a, b in pairwise(piece.line):
            run = math.dist(a, b)
            if run <= SAME_POINT_MM:
                continue
            run, more = run + more, 0.0
            heading = heading_deg(a, b)
            last = legs[-1] if legs else None
            if (
                last
                and last.place != "under the lid"
                and abs(turn_deg(last.ends_deg, heading)) < STRAIGHT_ON_DEG
            ):
                legs[-1] = _Leg(last.length_mm + run, last.starts_deg, heading, last.place)
            else:
                legs.append(_Leg(run, heading, heading, place))
    if not legs:
        raise ValueError(f"the {polarity} trace has no length")
    runs = []
    total = 0.0
    take_up = 0.0
    for leg, following in zip(legs, [*legs[1:], None]):
        total += leg.length_mm
        then = None
        if following is not None and leg.place == "under the lid":
            then = Fold(180.0, "round the free end")
        elif following is not None:
            turn = turn_deg(leg.ends_deg, following.starts_deg)
            then = Fold(turn, "ease" if abs(turn) < EASED_TURN_DEG else "fold")
            take_up += _corner_take_up_mm(turn, tape_width_mm, corners) if then.kind == "fold" else 0.0
        runs.append(Run(leg.length_mm, leg.starts_deg, total, leg.place, then))
    return TapePath(polarity, tuple(runs), 0.0, take_up)


@dataclass(frozen=True, slots=True)
class _Leg:
    length_mm: float
    starts_deg: float
    ends_deg: float  # differs from the start only by turns that no hand sees
    place: Place


def _along(point: Point, line: Polyline) -> float:
    """How far along the line it comes nearest to the point. [mm]"""
    return float(nearest_along(line, [point])[0][0])
