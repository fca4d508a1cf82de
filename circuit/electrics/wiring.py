"""From traces in millimetres to resistances: how far along each tape each light sits.

In:    a layout, its traces (or none), the tape, and stated figures for folds, joints and the flap.
Out:   `Rails`: for each light, the ohms of its two taps from the battery and of its own joints.
Fails: ValueError for sizes that are not above 0.

    battery ==+====fold====+=======+====   positive tape
              L1           L2      L3      each light joins both tapes where it lies
    battery ==+============+=======+====   negative tape

A branch's tape goes on from the lane's where it is joined, through one contact more; lights on it share with the
lane's lights what lies before that joint.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuit.along_line import nearest_along
from circuit.arrays import Floats, Indices
from circuit.electrics.network import shared_path_matrix
from circuit.joint import joints_of, lanes_of_lights, line_of
from circuit.layout import BatteryMark, Layout, Point, Polarity, Polyline, Tongue, Traces
from circuit.polyline import EASED_TURN_DEG, middle_of
from circuit.settings import Settings
from circuit.switch import switch_of

# Annealed copper at 20 °C, IEC 60028: 1/58 ohm mm2/m (100 % IACS; commercial copper is 97-101 %).
COPPER_OHM_MM = 1.0 / 58.0 / 1000.0
COPPER_PER_DEGREE = 0.00393  # handbook table, for 100 % IACS at 20 °C
ROOM_CELSIUS = 20.0  # at which both copper figures are stated: IEC 60028


@dataclass(frozen=True, slots=True)
class Wiring:
    """Stated settings of the copper and its joints; bad joints outweigh the copper by far.

    `fold_ohm` is 0 for tape folded at its corners, where the copper goes on unbroken; tape that
    is cut and lapped has a joint there. `joint_ohm` is for each of a light's two pad rows, `branch_ohm` for each
    tape of a branch where it is joined to the lane's.
    """

    foil_mm: float = 0.035  # from memory; printed-circuit foil of 1 oz is 0.034-0.036 mm
    copper_c: float = 20.0
    fold_ohm: float = 0.0
    joint_ohm: float = 0.05  # as `PAD` and `FLAP` below, well made
    flap_ohm: float = 0.5
    branch_ohm: float = 0.3  # as `LAP` below, well made

    def __post_init__(self) -> None:
        if not 0 < self.foil_mm < math.inf:
            raise ValueError(f"foil_mm must be above 0 and finite, got {self.foil_mm}")
        for name in ("fold_ohm", "joint_ohm", "flap_ohm", "branch_ohm"):
            if not 0 <= getattr(self, name) < math.inf:
                raise ValueError(f"{name} must be 0 or above and finite, got {getattr(self, name)}")


@dataclass(frozen=True, slots=True)
class Contact:
    """One kind of contact, made well, so-so and badly. [ohm] Where glue that does not conduct lies between
    the two metals, it is open; no figure here stands for that."""

    good_ohm: float
    so_so_ohm: float
    bad_ohm: float


# A pad row on the tape. Good: pressed copper measures 0.02-0.08 ohm on 0.5-2 mm2 (Micromachines 2019, 10(6), 396).
# So-so: conductive glue between is 'some ohms' (two bench pages). Bad: from memory, a light that is plainly dim.
PAD = Contact(0.05, 2.0, 30.0)
# A lap of tape on tape. Good: scored through the glue to bare copper (an EMC engineer's note says 'low'; chosen).
# So-so and bad as above.
LAP = Contact(0.3, 3.0, 30.0)
# A fold keeps its copper whole; a bad one is torn nearly through. Chosen.
FOLD = Contact(0.0, 0.0, 30.0)
# The flap's tape on the cell, pressed by a finger: 0.1 ohm to several, and it varies (from memory). Poor pressure at
# the cell is the commonest fault of hand-made switches (one maker's account).
FLAP = Contact(0.5, 2.0, 15.0)


def wiring_of(settings: Settings) -> Wiring:
    """What the maker's tape and their way round corners come to, every contact a good one."""
    corner = LAP if settings.corners == "lapped" else FOLD
    return Wiring(
        foil_mm=settings.tape.foil_mm,
        fold_ohm=corner.good_ohm,
        joint_ohm=PAD.good_ohm,
        flap_ohm=FLAP.good_ohm,
        branch_ohm=LAP.good_ohm,
    )


def so_so(wiring: Wiring) -> Wiring:
    """The same with every contact no better than so-so."""
    return replace(
        wiring,
        fold_ohm=max(wiring.fold_ohm, LAP.so_so_ohm) if wiring.fold_ohm > 0 else 0.0,
        joint_ohm=max(wiring.joint_ohm, PAD.so_so_ohm),
        flap_ohm=max(wiring.flap_ohm, FLAP.so_so_ohm),
        branch_ohm=max(wiring.branch_ohm, LAP.so_so_ohm),
    )


@dataclass(frozen=True, slots=True)
class Rail:
    """One tape with its branches, as lights tap it, (N,) each: the ohms from the battery to each tap, and to where its
    way leaves the lane's own tape, which is its tap for a light on the lane; the number of its lane, 0 for that one."""

    tap_ohm: Floats
    leaves_ohm: Floats
    lanes: Indices

    def some(self, rows: Sequence[int] | slice) -> Rail:
        return Rail(self.tap_ohm[rows], self.leaves_ohm[rows], self.lanes[rows])

    @property
    def shared_ohm(self) -> Floats:
        """(N, N) resistance that the currents of two lights share on their way."""
        together = shared_path_matrix(self.tap_ohm)
        if not self.lanes.any():
            return together
        same = self.lanes[:, None] == self.lanes[None, :]
        return np.where(same, together, shared_path_matrix(self.leaves_ohm))


@dataclass(frozen=True, slots=True)
class Rails:
    """Both tapes as the card's lights tap them, in the layout's order; what that rests on."""

    positive: Rail
    negative: Rail
    basis: str

    @property
    def positive_ohm(self) -> Floats:
        """(N,) from the battery to each light's tap. [ohm]"""
        return self.positive.tap_ohm

    @property
    def negative_ohm(self) -> Floats:
        """The same on the negative tape, (N,). [ohm]"""
        return self.negative.tap_ohm

    def first(self, count: int) -> Rails:
        """Of so many of the lights alone."""
        rows = slice(count)
        return Rails(self.positive.some(rows), self.negative.some(rows), self.basis)


def plain_rail(tap_ohm: Floats) -> Rail:
    """A tape without branches, tapped at (N,) ohms."""
    return Rail(tap_ohm, tap_ohm, np.zeros(len(tap_ohm), dtype=np.intp))


def rails_of(layout: Layout, traces: Traces | None, settings: Settings, wiring: Wiring) -> Rails:
    """Where each light taps the two tapes.

    With traces: at the nearest point of each tape's centre line. Without: as if two straight tapes
    ran from the battery past all lights, each as far along as it is from the battery; with no
    battery either, every light at the battery.
    """
    if traces is not None:
        centres = [light.centre for light in layout.lights]
        lanes = lanes_of_lights(traces, centres)
        return Rails(
            tapped(traces, "positive", centres, lanes, settings, wiring),
            tapped(traces, "negative", centres, lanes, settings, wiring),
            "along the traces as they are laid",
        )
    if layout.battery is None:
        nothing = plain_rail(np.zeros(len(layout.lights)))
        return Rails(
            nothing, nothing, "as if every light sat at the battery, since neither it nor traces are known"
        )
    per_mm = ohm_per_mm(settings.tape_width_mm, wiring.foil_mm, wiring.copper_c)
    away = np.array([math.dist(light.centre, layout.battery.centre) for light in layout.lights])
    return Rails(
        plain_rail(per_mm * (away + _flap_mm(settings))),
        plain_rail(per_mm * away),
        "as if straight tapes ran from the battery past all lights, since no traces are laid",
    )


def tapped(
    traces: Traces,
    polarity: Polarity,
    points: Sequence[Point],
    lanes: Sequence[int],
    settings: Settings,
    wiring: Wiring,
) -> Rail:
    """One tape with its branches, tapped where the lane of that number comes nearest to each point."""
    per_mm = ohm_per_mm(traces.tape_width_mm, wiring.foil_mm, wiring.copper_c)
    line = line_of(traces, polarity)
    on = np.array(lanes, dtype=np.intp)
    before = per_mm * _flap_mm(settings, traces.tongue) if polarity == "positive" else 0.0
    tap = before + tap_ohms(line, points, per_mm, wiring.fold_ohm)
    leaves = tap.copy()
    for number, (branch, joint) in enumerate(zip(traces.branches, joints_of(traces), strict=True), 1):
        rows = np.flatnonzero(on == number)
        contact = middle_of(joint.contact_mm(polarity))
        leaves[rows] = before + tap_ohms(line, [contact], per_mm, wiring.fold_ohm)[0]
        side_line = (contact, *line_of(branch, polarity)[1:])
        beyond = tap_ohms(side_line, [points[int(row)] for row in rows], per_mm, wiring.fold_ohm)
        tap[rows] = leaves[rows] + wiring.branch_ohm + beyond
    return Rail(tap, leaves, on)


def tap_ohms(line: Polyline, points: Sequence[Point], per_mm: float, fold_ohm: float) -> Floats:
    """(N,) resistance from the start of a tape to where it comes nearest to each point. [ohm]"""
    along, run = nearest_along(line, points)
    folds = np.concatenate([[0], np.cumsum(is_corner(line))])  # before each run
    ohms: Floats = along * per_mm + fold_ohm * folds[run]
    return ohms


@dataclass(frozen=True, slots=True)
class OnTape:
    """One lane's tape of one polarity with all that taps it: `lane` its number; `along_mm`, `runs` (N,) where each
    light's way taps it, `here` (N,) whether it does at all, `own` (N,) whether the light itself sits on it."""

    lane: int
    line: Polyline
    along_mm: Floats
    runs: Indices
    here: NDArray[np.bool_]
    own: NDArray[np.bool_]

    @property
    def corners_passed(self) -> NDArray[np.bool_]:
        """(C, N): for each corner that is folded or lapped, from the battery on, the lights beyond it."""
        corners = 1 + np.flatnonzero(is_corner(self.line))  # a corner's number is that of the run behind it
        passed: NDArray[np.bool_] = (self.runs[None, :] >= corners[:, None]) & self.here
        return passed


def tapes_of(traces: Traces, polarity: Polarity, layout: Layout) -> tuple[OnTape, ...]:
    """The lane's tape, then those of its branches. What taps the lane is its own lights and the joints, through which
    the lights of a branch get theirs."""
    centres = [light.centre for light in layout.lights]
    on = np.array(lanes_of_lights(traces, centres), dtype=np.intp)
    line = line_of(traces, polarity)
    along, runs = nearest_along(line, centres)
    found = []
    for number, (branch, joint) in enumerate(zip(traces.branches, joints_of(traces), strict=True), 1):
        own = on == number
        contact = nearest_along(line, [middle_of(joint.contact_mm(polarity))])
        along[own], runs[own] = contact
        side_line = line_of(branch, polarity)
        found.append(OnTape(number, side_line, *nearest_along(side_line, centres), own, own))
    return (OnTape(0, line, along, runs, np.ones(len(centres), dtype=bool), on == 0), *found)


def is_corner(line: Polyline) -> list[bool]:
    """For each inner corner of the line."""
    folds = []
    for a, b, c in zip(line, line[1:], line[2:]):
        before = math.atan2(b[1] - a[1], b[0] - a[0])
        after = math.atan2(c[1] - b[1], c[0] - b[0])
        folds.append(abs(math.degrees(math.remainder(after - before, math.tau))) >= EASED_TURN_DEG)
    return folds


def _flap_mm(settings: Settings, tongue: Tongue = "bent") -> float:
    """Extra tape of the positive side: along the flap's outer face, round its free end and back under it, as the
    build sheet counts it."""
    cell = BatteryMark(0.0, 0.0, settings.cell.diameter_mm)
    return switch_of(cell, (1.0, 0.0), settings, tongue=tongue).beyond_trace_mm


def ohm_per_mm(width_mm: float, thickness_mm: float, celsius: float) -> float:
    """Resistance of a millimetre of bare copper tape of those sizes, without glue or backing. [ohm]

    ValueError for a size that is not above 0. Annealed copper: IEC 60028:1925.
    """
    if not (0 < width_mm < math.inf and 0 < thickness_mm < math.inf):
        raise ValueError(f"copper needs a width and a thickness above 0, got {width_mm} and {thickness_mm}")
    warm = 1 + COPPER_PER_DEGREE * (celsius - ROOM_CELSIUS)
    return COPPER_OHM_MM * warm / (width_mm * thickness_mm)
