"""From traces in millimetres to resistances: how far along each tape each light sits.

In:    a layout, its traces (or none), the tape, and stated figures for folds, joints and the flap.
Out:   `Rails`: for each light, the ohms of its two taps from the battery and of its own joints.
Fails: ValueError for sizes that are not above 0.

    battery ==+====fold====+=======+====   positive tape
              L1           L2      L3      each light joins both tapes where it lies
    battery ==+============+=======+====   negative tape
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats, Indices
from circuit.layout import BatteryMark, Layout, Point, Polyline, Tongue, Traces
from circuit.polyline import EASED_TURN_DEG
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
    is cut and lapped has a joint there. `joint_ohm` is for each of a light's two pad rows.
    """

    foil_mm: float = 0.035  # from memory; printed-circuit foil of 1 oz is 0.034-0.036 mm
    copper_c: float = 20.0
    fold_ohm: float = 0.0
    joint_ohm: float = 0.05  # as `PAD` and `FLAP` below, well made
    flap_ohm: float = 0.5

    def __post_init__(self) -> None:
        if not 0 < self.foil_mm < math.inf:
            raise ValueError(f"foil_mm must be above 0 and finite, got {self.foil_mm}")
        for name in ("fold_ohm", "joint_ohm", "flap_ohm"):
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
    )


def so_so(wiring: Wiring) -> Wiring:
    """The same with every contact no better than so-so."""
    return replace(
        wiring,
        fold_ohm=max(wiring.fold_ohm, LAP.so_so_ohm) if wiring.fold_ohm > 0 else 0.0,
        joint_ohm=max(wiring.joint_ohm, PAD.so_so_ohm),
        flap_ohm=max(wiring.flap_ohm, FLAP.so_so_ohm),
    )


@dataclass(frozen=True, slots=True)
class Rails:
    """Ohms from the battery to each light's taps, in the layout's order; what they rest on."""

    positive_ohm: Floats
    negative_ohm: Floats
    basis: str


def tape_resistance(
    path_mm: Polyline, width_mm: float, thickness_mm: float, celsius: float = ROOM_CELSIUS
) -> float:
    """Resistance of one trace along its centre line: bare copper, no joints. [ohm]

    Parameters
    ----------
    path_mm : N >= 2 points
        Centre line in the card frame. [mm]
    width_mm, thickness_mm : float
        Of the copper alone, without glue or backing. [mm]

    Raises
    ------
    ValueError
        If there are fewer than 2 points, or a size is not above 0.

    References
    ----------
    .. [1] IEC 60028:1925, annealed copper at 20 °C: 1/58 ohm mm2/m.
    """
    if len(path_mm) < 2:
        raise ValueError(f"a path needs 2 points or more, got {len(path_mm)}")
    return ohm_per_mm(width_mm, thickness_mm, celsius) * math.fsum(
        math.dist(a, b) for a, b in pairwise(path_mm)
    )


def rails_of(layout: Layout, traces: Traces | None, settings: Settings, wiring: Wiring) -> Rails:
    """Where each light taps the two tapes.

    With traces: at the nearest point of each tape's centre line. Without: as if two straight tapes
    ran from the battery past all lights, each as far along as it is from the battery; with no
    battery either, every light at the battery.
    """
    if traces is not None:
        per_mm = ohm_per_mm(traces.tape_width_mm, wiring.foil_mm, wiring.copper_c)
        sides = [
            tap_ohms(line, [light.centre for light in layout.lights], per_mm, wiring.fold_ohm)
            for line in (traces.positive, traces.negative)
        ]
        on_flap = per_mm * _flap_mm(settings, traces.tongue)
        return Rails(sides[0] + on_flap, sides[1], "along the traces as they are laid")
    if layout.battery is None:
        nothing = np.zeros(len(layout.lights))
        return Rails(
            nothing, nothing, "as if every light sat at the battery, since neither it nor traces are known"
        )
    per_mm = ohm_per_mm(settings.tape_width_mm, wiring.foil_mm, wiring.copper_c)
    away = np.array([math.dist(light.centre, layout.battery.centre) for light in layout.lights])
    return Rails(
        per_mm * (away + _flap_mm(settings)),
        per_mm * away,
        "as if straight tapes ran from the battery past all lights, since no traces are laid",
    )


def nearest_along(line: Polyline, point: Point) -> tuple[float, int]:
    """How far along the line [mm] its point nearest to `point` lies, and on which run (from 0)."""
    along, run = _nearest(line, [point])
    return float(along[0]), int(run[0])


def _nearest(line: Polyline, points: Sequence[Point]) -> tuple[Floats, Indices]:
    """The same for many points: (N,) millimetres along, (N,) runs."""
    corners = np.array(line, dtype=float)
    starts, steps = corners[:-1], np.diff(corners, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    walked = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    away = np.array(points, dtype=float).reshape(-1, 1, 2) - starts
    # A run of no length has its foot at its start.
    share = (away * steps).sum(axis=2) / np.where(lengths > 0, lengths**2, 1.0)
    share = np.clip(share, 0.0, 1.0)
    gap = np.hypot(*np.moveaxis(away - share[..., None] * steps, 2, 0))
    run = gap.argmin(axis=1)
    each = np.arange(len(run))
    return walked[run] + share[each, run] * lengths[run], run


def tap_ohms(line: Polyline, points: Sequence[Point], per_mm: float, fold_ohm: float) -> Floats:
    """(N,) resistance from the start of a tape to where it comes nearest to each point. [ohm]"""
    along, run = _nearest(line, points)
    folds = np.concatenate([[0], np.cumsum(is_corner(line))])  # before each run
    ohms: Floats = along * per_mm + fold_ohm * folds[run]
    return ohms


def corners_passed(line: Polyline, layout: Layout) -> NDArray[np.bool_]:
    """(C, N): for each corner of the tape that is folded or lapped, from the battery on, the lights beyond it."""
    _, run = _nearest(line, [light.centre for light in layout.lights])
    corners = 1 + np.flatnonzero(is_corner(line))  # a corner's number is that of the run behind it
    passed: NDArray[np.bool_] = run[None, :] >= corners[:, None]
    return passed


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
    """Resistance of a millimetre of bare copper tape; ValueError for a size that is not above 0. [ohm]"""
    if not (0 < width_mm < math.inf and 0 < thickness_mm < math.inf):
        raise ValueError(f"copper needs a width and a thickness above 0, got {width_mm} and {thickness_mm}")
    warm = 1 + COPPER_PER_DEGREE * (celsius - ROOM_CELSIUS)
    return COPPER_OHM_MM * warm / (width_mm * thickness_mm)
