"""How long the light lasts: an estimate, as a range, from the cell's model and the card's hunger.

In:    a cell and a load (amperes and light against terminal volts), or a card.
Out:   a `Course` (hours, volts, light as the cell empties), or a `Lifetime` in hours.
Fails: ValueError for a load that does not rise with its voltage.

Two ways of use bound the range:

- left on, in a weak make of cell: the slow resistance counts, a strong drain gets less out of the
  cell, and the make gives less than it states;
- pressed for seconds with long pauses, in a good make: neither counts.

Brightness goes with current. `bright` is a quarter of a fresh cell's light or more: to the eye that is about half.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from circuit.electrics.card import Circuit, circuit_of, parts_on
from circuit.electrics.cell import FRESH, CellState, cell_state
from circuit.electrics.network import Floats
from circuit.electrics.wiring import Wiring, rails_of, wiring_of
from circuit.layout import Layout, Traces
from circuit.parts import CellPart, LightPart
from circuit.plan import HoursOfLight
from circuit.settings import Settings

BRIGHT_SHARE = 0.25  # of a fresh cell's light. Chosen; the eye's answer goes about with the square root
DIM_SHARE = 0.02  # below this only a dark room shows it. Chosen

# A strong drain gets less out: capacity falls as 1 / (1 + (ma / RATE_MA)^RATE_POWER). The two figures are
# fitted, for a face 20 mm across, to one cell's 12 h at 9 mA down to 1.5 V (an engineering article) and, within
# some 6 %, to 200 h at 3 kohm down to 2.0 V (a generic CR2032 specification sheet).
RATE_MA = 7.0
RATE_POWER = 0.6
_RATE_FACE_MM = 20.0
_STATED_AT_MA = 0.19  # the drain that capacities are stated at: 15 kohm

# Texas Instruments SWRA349: by brand, what comes out ran from over 100 % of the rating down to 50 % of
# it, their pulses' effect included; that effect is counted apart here, so the brand alone gets 70 %. Chosen.
WEAK_MAKE = 0.7

_STATES = 121  # along the cell's life
_CARD_VOLTS = np.linspace(0.8, 3.3, 36)  # where the card is solved; between them log current is interpolated
_FINE_VOLTS = np.linspace(0.8, 3.3, 1001)


@dataclass(frozen=True, slots=True)
class Load:
    """What hangs on the cell: amperes and light (any unit) at each of a rising row of terminal volts."""

    volts: Floats
    amperes: Floats
    light: Floats

    def __post_init__(self) -> None:
        if not (np.diff(self.volts) > 0).all() or not (np.diff(self.amperes) >= 0).all():
            raise ValueError("a load's volts and amperes must rise from entry to entry")


@dataclass(frozen=True, slots=True)
class Course:
    """A discharge, state by state: hours so far, terminal volts, amperes, light. All (K,)."""

    hours: Floats
    terminal_v: Floats
    amperes: Floats
    light: Floats

    def hours_until(self, values: Floats, limit: float) -> float:
        """Hours until `values` (one of this course's rows) first falls below `limit`; the whole
        course where it never does; 0.0 where it starts below."""
        below = np.flatnonzero(values < limit)
        if len(below) == 0:
            return float(self.hours[-1])
        after = int(below[0])
        if after == 0:
            return 0.0
        high, low = values[after - 1], values[after]
        share = (high - limit) / (high - low)
        return float(self.hours[after - 1] + share * (self.hours[after] - self.hours[after - 1]))


@dataclass(frozen=True, slots=True)
class Lifetime:
    """Hours of light in all, each as (low, high); `sentence` says it to a maker as an estimate."""

    bright_h: tuple[float, float]
    dim_h: tuple[float, float]
    sentence: str


def discharge(cell: CellPart, load: Load, *, left_on: bool, capacity_mah: float) -> Course:
    """Empty the cell through the load. `capacity_mah` is what a small drain would get out."""
    used = np.linspace(0.0, 1.0, _STATES)
    volts = np.empty_like(used)
    for i, fraction in enumerate(used):
        state = cell_state(cell, float(fraction), left_on)
        # The terminal voltage is where the load's hunger meets the cell's: V + R I(V) = emf.
        volts[i] = np.interp(state.emf_v, load.volts + state.ohm * load.amperes, load.volts)
    amperes = np.interp(volts, load.volts, load.amperes)
    got_mah = capacity_mah * (_share_got(cell, 1e3 * amperes) if left_on else 1.0)
    hours_per_use = got_mah / np.maximum(1e3 * amperes, 1e-9)
    steps = (hours_per_use[1:] + hours_per_use[:-1]) / 2 * np.diff(used)
    hours = np.concatenate([[0.0], np.cumsum(steps)])
    return Course(hours, volts, amperes, np.interp(volts, load.volts, load.light))


def _share_got(cell: CellPart, milliamperes: Floats) -> Floats:
    rate_ma = RATE_MA * (cell.diameter_mm / _RATE_FACE_MM) ** 2
    stated = 1 + (_STATED_AT_MA / rate_ma) ** RATE_POWER
    share: Floats = np.minimum(stated / (1 + (milliamperes / rate_ma) ** RATE_POWER), 1.0)
    return share


def load_of(circuit: Circuit) -> Load:
    """The card as its cell sees it."""
    solved = circuit.currents([CellState(0.0, float(volts), 0.0) for volts in _CARD_VOLTS])
    return Load(
        _FINE_VOLTS,
        _between(solved.sum(axis=1)),
        _between((solved * circuit.candela_per_a).sum(axis=1)),
    )


def _between(values: Floats) -> Floats:
    tiny = 1e-30
    return np.exp(np.interp(_FINE_VOLTS, _CARD_VOLTS, np.log(np.maximum(values, tiny))))


def lifetime(
    layout: Layout,
    traces: Traces | None,
    settings: Settings,
    lights: Mapping[str, LightPart] | None = None,
    wiring: Wiring | None = None,
) -> Lifetime | None:
    """How long the card's cell lights it. None for a card without lights."""
    if not layout.lights:
        return None
    cell = settings.cell
    wiring = wiring or wiring_of(settings)
    rails = rails_of(layout, traces, settings, wiring)
    load = load_of(circuit_of(parts_on(layout, settings, lights), rails, wiring))
    fresh = cell_state(cell, FRESH)
    fresh_v = np.interp(fresh.emf_v, load.volts + fresh.ohm * load.amperes, load.volts)
    fresh_light = float(np.interp(fresh_v, load.volts, load.light))
    left_on = discharge(cell, load, left_on=True, capacity_mah=WEAK_MAKE * cell.capacity_low_mah)
    pressed = discharge(cell, load, left_on=False, capacity_mah=cell.capacity_high_mah)
    bright, dim = (
        (left_on.hours_until(left_on.light, limit), pressed.hours_until(pressed.light, limit))
        for limit in (BRIGHT_SHARE * fresh_light, DIM_SHARE * fresh_light)
    )
    return Lifetime(bright, dim, _sentence(cell, bright, dim))


def _sentence(cell: CellPart, bright: tuple[float, float], dim: tuple[float, float]) -> str:
    return (
        f"An estimate: one {cell.name} lights this card brightly for {span_words(*bright)} in all, then "
        f"dimly until {span_words(*dim)}; the shorter times if it is left on, the longer ones if "
        "it is pressed for seconds at a time. Makes of cell differ a lot."
    )


def span_words(low_h: float, high_h: float) -> str:
    """`about 3 to 12 hours`, `about 10 minutes to 2 hours`, `a few minutes`: two digits at most."""
    low, high = _duration(low_h), _duration(high_h)
    if low.startswith("a "):
        return low if low == high else f"{low} to about {high}"
    if low == high:
        return f"about {low}"
    if low.split(" ", 1)[-1] == high.split(" ", 1)[-1]:
        return f"about {low.split(' ')[0]} to {high}"
    return f"about {low} to {high}"


def _duration(hours: float) -> str:
    minutes = hours * 60
    if minutes < 5:
        return "a few minutes"
    if minutes < 90:
        step = 5 if minutes < 30 else 10
        return f"{step * round(minutes / step)} minutes"
    if hours < 4:
        return f"{round(hours * 2) / 2:g} hours"
    return f"{float(f'{hours:.2g}'):.0f} hours"


def hours_of_light(life: Lifetime) -> HoursOfLight:
    """The estimate as the plan keeps it."""
    return HoursOfLight(bright_hours=life.bright_h, dim_until_hours=life.dim_h, sentence=life.sentence)
