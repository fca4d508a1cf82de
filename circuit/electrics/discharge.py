"""How the light goes as the cell empties: an estimate from the cell's model and the card's hunger.

In:    a cell and a load (amperes against terminal volts); how long it is lit at a go.
Out:   a `Emptying`: hours lit, terminal volts, amperes, state by state.
Fails: ValueError for a load that does not rise with its voltage.

Lit for a moment at a time, the cell's resistance at once is all that counts, and it gives nearly all its
charge. Lit for long, its slow resistance comes on top and a strong drain gets less out. Between the two
`settled` of the seconds says how far it is from one to the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.electrics.card import Circuit
from circuit.electrics.cell import CellState, cell_state, settled
from circuit.part_kinds import MA_PER_A, CellPart

# A strong steady drain gets less out: capacity falls as 1 / (1 + (ma / RATE_MA)^RATE_POWER). The two figures
# are fitted, for a face 20 mm across, to one cell's 12 h at 9 mA down to 1.5 V (an engineering article) and,
# within some 6 %, to 200 h at 3 kohm down to 2.0 V (a generic CR2032 specification sheet).
RATE_MA = 7.0
RATE_POWER = 0.6
_RATE_FACE_MM = 20.0
_STATED_AT_MA = 0.19  # the drain that capacities are stated at: 15 kohm
# Pulses cost less: the same share to this power. Fitted to a maker's sheet as an engineer quotes it: a fraction of a
# second through 300 ohm every five costs a quarter of the capacity.
PULSE_POWER = 0.3

_STATES = 121  # along the cell's life
_CARD_VOLTS = np.linspace(0.8, 3.3, 36)  # where the card is solved; between them log current is interpolated
# Interpolated, 2.5 mV apart: far below what makes of cell differ by.
_FINE_VOLTS = np.linspace(0.8, 3.3, 1001)


@dataclass(frozen=True, slots=True)
class Load:
    """What hangs on the cell: amperes in all, and of the least and the best lit light, at each of a rising row
    of terminal volts."""

    volts: Floats
    amperes: Floats
    least_a: Floats
    best_a: Floats

    def __post_init__(self) -> None:
        if not (np.diff(self.volts) > 0).all() or not (np.diff(self.amperes) >= 0).all():
            raise ValueError("a load's volts and amperes must rise from entry to entry")


@dataclass(frozen=True, slots=True)
class Emptying:
    """A discharge, state by state: hours lit so far, terminal volts, amperes in all, of the least and of the best
    lit light. All (K,)."""

    hours: Floats
    terminal_v: Floats
    amperes: Floats
    least_a: Floats
    best_a: Floats

    def hours_until(self, values: Floats, limit: float) -> float:
        """Hours until `values` (one of its rows) first falls below `limit`; the whole
        time where it never does; 0.0 where it starts below."""
        below = np.flatnonzero(values < limit)
        if len(below) == 0:
            return float(self.hours[-1])
        after = int(below[0])
        if after == 0:
            return 0.0
        high, low = values[after - 1], values[after]
        share = (high - limit) / (high - low)
        return float(self.hours[after - 1] + share * (self.hours[after] - self.hours[after - 1]))


def discharges(
    cell: CellPart,
    load: Load,
    *,
    lit_s: float,
    capacity_mah: float,
    cell_ohm_times: Floats | None = None,
    lights_need_v: Floats | None = None,
) -> list[Emptying]:
    """Empty B cells through the load, lit for `lit_s` at a go with long pauses; infinite where it is left on.

    `capacity_mah` is what a small drain would get out. Cells and bags of lights differ: (B,) factors of the cell's
    resistance, and volts that the lights need more than the load says; without either, one as they are listed.
    """
    ohm_times = np.ones(1) if cell_ohm_times is None else cell_ohm_times
    need_v = np.zeros(1) if lights_need_v is None else lights_need_v
    used = np.linspace(0.0, 1.0, _STATES)
    states = [cell_state(cell, float(fraction), lit_s) for fraction in used]
    # Lights that need more volts are the same lights on a cell that gives so many less.
    emf = np.array([state.emf_v for state in states])[None, :] - need_v[:, None]
    ohm = np.array([state.ohm for state in states])[None, :] * ohm_times[:, None]
    volts = _meeting_volts(load, emf, ohm)
    amperes, least, best = (
        np.interp(volts, load.volts, row) for row in (load.amperes, load.least_a, load.best_a)
    )
    got_mah = capacity_mah * _share_got(cell, MA_PER_A * amperes, lit_s)
    hours_per_use = got_mah / np.maximum(MA_PER_A * amperes, 1e-9)
    steps = (hours_per_use[:, 1:] + hours_per_use[:, :-1]) / 2 * np.diff(used)
    hours = np.concatenate([np.zeros((len(emf), 1)), np.cumsum(steps, axis=1)], axis=1)
    terminal = volts + need_v[:, None]
    return [Emptying(*rows) for rows in zip(hours, terminal, amperes, least, best)]


def _meeting_volts(load: Load, emf: Floats, ohm: Floats) -> Floats:
    """The terminal volts V where the load's hunger meets the cell's, V + ohm I(V) = emf: halved down to the
    load's own steps, then between them."""
    low = np.zeros(emf.shape, dtype=int)
    high = np.full(emf.shape, len(load.volts) - 1)
    while (high - low > 1).any():
        middle = (low + high) // 2
        under = load.volts[middle] + ohm * load.amperes[middle] <= emf
        low, high = np.where(under, middle, low), np.where(under, high, np.maximum(middle, low + 1))
    at_low, at_high = (load.volts[index] + ohm * load.amperes[index] for index in (low, high))
    share = np.clip((emf - at_low) / (at_high - at_low), 0.0, 1.0)
    volts: Floats = load.volts[low] + share * (load.volts[high] - load.volts[low])
    return volts


def _share_got(cell: CellPart, milliamperes: Floats, lit_s: float) -> Floats:
    rate_ma = RATE_MA * (cell.diameter_mm / _RATE_FACE_MM) ** 2
    stated = 1 + (_STATED_AT_MA / rate_ma) ** RATE_POWER
    share = np.minimum(stated / (1 + (milliamperes / rate_ma) ** RATE_POWER), 1.0)
    got: Floats = share ** (PULSE_POWER + (1 - PULSE_POWER) * settled(lit_s))
    return got


def load_of(circuit: Circuit) -> Load:
    """The card as its cell sees it."""
    solved = circuit.currents([CellState(0.0, float(volts), 0.0) for volts in _CARD_VOLTS])
    return Load(
        _FINE_VOLTS,
        _between(solved.sum(axis=1)),
        _between(solved.min(axis=1)),
        _between(solved.max(axis=1)),
    )


def _between(values: Floats) -> Floats:
    tiny = 1e-30
    return np.exp(np.interp(_FINE_VOLTS, _CARD_VOLTS, np.log(np.maximum(values, tiny))))
