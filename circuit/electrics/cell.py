"""A lithium coin cell at some point of its life: open-circuit voltage and internal resistance.

In:    a `CellPart`, the fraction of its capacity that has been used, how long it is lit at a go.
Out:   a `CellState`: volts and ohms.
Fails: ValueError for a fraction outside 0..1.

The shapes below are one model for all CR cells, of published points as far as there are any;
the parts list scales them. Real cells of one name differ by tens of per cent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from circuit.part_kinds import CellPart

FRESH = 0.0  # fraction used
HALF_USED = 0.5

# Rested voltage [V] against the fraction used. Start: a generic CR2032 specification sheet, off-load 3.20 V
# or more. A spent cell rests at 2.75-3.0 V: a forum's bench (1.8 V loaded, back to 2.9 V rested) and users
# of a lamp forum (3.01 V rested, drops at once under 100 ohm); what falls is what it gives under load, since its
# resistance grows. Between: the flat curve of the chemistry, from memory.
_USED = (0.0, 0.03, 0.10, 0.50, 0.75, 0.90, 1.00)
_OPEN_V = (3.20, 3.05, 3.00, 2.95, 2.92, 2.88, 2.75)

# Internal resistance: `half_ohm` is flat to 150 of 235 mAh and half as much again at 170 mAh (one
# maker's graph, as an engineer read it); how soon a fresh cell gets there is chosen. Beyond `spent_ohm`, at nine
# tenths used, it climbs so steeply that the drain which capacity is stated at, 2.0 V over 15 kohm, ends there.
_USED_OHM = (0.0, 0.10, 0.64, 0.72, 0.90, 1.00)
_HALF_TIMES_AT_72 = 1.5
_END_TIMES_SPENT = (2.75 - 2.0) / (2.0 / 15_000) / 110.0  # for a CR2032; others by their face

# Minutes of drain bring out `slow_ohm`: this is how long it takes to come out by 63 %. Chosen, inside what one
# cell's fall over the first half hour at 9 mA allows (an engineering article).
SETTLE_S = 600.0


@dataclass(frozen=True, slots=True)
class CellState:
    """What the circuit sees of the cell."""

    used: float
    emf_v: float
    ohm: float


def open_circuit_v(used: float) -> float:
    """Off-load voltage of a CR cell, that fraction of it used. [V]"""
    return float(np.interp(_checked(used), _USED, _OPEN_V))


def internal_ohm(cell: CellPart, used: float) -> float:
    """Resistance felt at once. [ohm]"""
    flat = cell.half_ohm
    spent = max(cell.spent_ohm, flat * _HALF_TIMES_AT_72)
    knots = (cell.fresh_ohm, flat, flat, flat * _HALF_TIMES_AT_72, spent, spent * _END_TIMES_SPENT)
    # Between the knots it grows by equal factors, not by equal steps.
    return float(np.exp(np.interp(_checked(used), _USED_OHM, np.log(knots))))


def settled(lit_s: float) -> float:
    """How much of the slow resistance has come out after so many seconds of drain, 0..1."""
    return 1.0 - math.exp(-lit_s / SETTLE_S)


def cell_state(cell: CellPart, used: float = FRESH, lit_s: float = 0.0) -> CellState:
    """The cell with that fraction of its capacity used, lit for so long at a go: 0 for the first moment of
    a press, infinite where it is left on."""
    return CellState(used, open_circuit_v(used), internal_ohm(cell, used) + settled(lit_s) * cell.slow_ohm)


def _checked(used: float) -> float:
    if not 0 <= used <= 1:
        raise ValueError(f"the fraction used must lie in 0..1, got {used}")
    return used
