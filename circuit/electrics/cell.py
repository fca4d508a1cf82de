"""A lithium coin cell at some point of its life: open-circuit voltage and internal resistance.

In:    a `CellPart`, the fraction of its capacity that has been used, whether it has been left on.
Out:   a `CellState`: volts and ohms.
Fails: ValueError for a fraction outside 0..1.

The shapes below are one model for all CR cells, of published points as far as there are any;
the parts list scales them. Real cells of one name differ by tens of per cent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from circuit.parts import CellPart

FRESH = 0.0  # fraction used
HALF_USED = 0.5

# Open-circuit voltage [V] against the fraction used. Start: a generic CR2032 specification sheet,
# off-load 3.20 V or more. End: 2.0 V, the system's end-point in IEC 60086-3. Between: the flat curve
# of the chemistry, from memory, held against that sheet's 200 h at 3 kohm (tests/published).
_USED = (0.0, 0.03, 0.10, 0.50, 0.75, 0.90, 1.00)
_OPEN_V = (3.20, 3.05, 3.00, 2.95, 2.85, 2.65, 2.00)

# Internal resistance: `half_ohm` is flat to 150 of 235 mAh and half as much again at 170 mAh (one
# maker's graph, as an engineer read it); how soon a fresh cell gets there is chosen.
_USED_OHM = (0.0, 0.10, 0.64, 0.72, 1.00)
_HALF_TIMES_AT_72 = 1.5


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
    knots = (cell.fresh_ohm, flat, flat, flat * _HALF_TIMES_AT_72, cell.spent_ohm)
    return float(np.interp(_checked(used), _USED_OHM, knots))


def cell_state(cell: CellPart, used: float = FRESH, left_on: bool = False) -> CellState:
    """The cell with that fraction of its capacity used. `left_on`: lit for minutes on end, not
    for the seconds of a press, so that its slow resistance counts as well."""
    ohm = internal_ohm(cell, used) + (cell.slow_ohm if left_on else 0.0)
    return CellState(used, open_circuit_v(used), ohm)


def _checked(used: float) -> float:
    if not 0 <= used <= 1:
        raise ValueError(f"the fraction used must lie in 0..1, got {used}")
    return used
