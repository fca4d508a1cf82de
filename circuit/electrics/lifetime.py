"""How long the light lasts, in presses and, where it is left on, in hours.

In:    a card on its bench, the seconds of one press.
Out:   a `LightThatLasts`: ranges, and a sentence.
Fails: ValueError for a press that takes no time; None for a card without lights.

Each range is what four of five cells and bags of lights of one name keep within: makes of cell differ in
charge and resistance, bags of lights in the volts that they need. Uses are never mixed into it: a card that is
pressed and one that is left on get a range each.
"""

from __future__ import annotations

import math
from itertools import product
from statistics import NormalDist

import numpy as np

from circuit.asked import PRESS_S
from circuit.electrics.bench import Bench
from circuit.electrics.card import forward_spread_v
from circuit.electrics.discharge import Emptying, discharges, load_of
from circuit.part_kinds import MA_PER_A, CellPart
from circuit.plan import LightThatLasts

# A light of any kind shows clearly behind thin paper at half a milliampere and hardly at a
# twentieth of that. Chosen; common practice, no source.
CLEAR_MA = 0.5
HARDLY_MA = 0.025


# Charge that makes of one name give, against the middle of what is stated: Texas Instruments SWRA349 had six brands
# from 50 % to over 100 %, their pulses' effect included, which is counted apart here. Taken as equally likely between.
_CHARGE_TIMES = (0.65, 1.05)
# Resistance of makes of one name against the list: 10-40 ohm are quoted as typical for a CR2032, most of that its
# age. One standard deviation, of the logarithm. Chosen.
_OHM_SIGMA = 0.2
_CHARGES, _NEEDS, _OHMS = 15, 7, 3  # equally likely values of each that are tried together
_LOW, _HIGH = 0.1, 0.9
SECONDS_PER_HOUR, MINUTES_PER_HOUR = 3600, 60
# How an estimate is told: no finer than it is. All chosen.
_A_FEW = 10  # presses; fewer are not counted
_SAYS_NOTHING = 0.1  # of the high end: a low end under it says nothing
_FEW_MINUTES = 5
_MINUTE_STEPS = ((30, 5), (90, 10))  # below so many minutes, rounded to so many
_HALVES_BELOW_H = 4  # rounded to half hours


def lifetime(bench: Bench, press_s: float = PRESS_S) -> LightThatLasts | None:
    """How long the card's cell lights it: clear while no light is under 0.5 mA, dim until the last is under
    0.025 mA. None for a card without lights; ValueError for a press that takes no time."""
    if not 0 < press_s < math.inf:
        raise ValueError(f"a press needs a time above 0, got {press_s}")
    if not bench.parts:
        return None
    cell, circuit = bench.settings.cell, bench.circuit
    load = load_of(circuit)
    needs, ohms = _makes(forward_spread_v(circuit.parts))

    def emptied(lit_s: float) -> list[Emptying]:
        return discharges(
            cell, load, lit_s=lit_s, capacity_mah=cell.capacity_mah, cell_ohm_times=ohms, lights_need_v=needs
        )

    pressed, left_on = emptied(press_s), emptied(math.inf)
    clear_a, hardly_a = CLEAR_MA / MA_PER_A, HARDLY_MA / MA_PER_A
    pressed_h = _range([one.hours_until(one.least_a, clear_a) for one in pressed])
    clear_h = _range([one.hours_until(one.least_a, clear_a) for one in left_on])
    dim_h = _range([one.hours_until(one.best_a, hardly_a) for one in left_on])
    presses = (pressed_h[0] * SECONDS_PER_HOUR / press_s, pressed_h[1] * SECONDS_PER_HOUR / press_s)
    sentence = _sentence(cell, press_s, presses, clear_h, dim_h)
    return LightThatLasts(press_s, *presses, clear_h, dim_h, sentence=sentence)


def _makes(spread_v: float) -> tuple[np.ndarray, np.ndarray]:
    """(B,) volts that bags of lights need more than the list says, and factors of cells' resistance: every pair
    of equally likely values."""
    normal = NormalDist()
    needs = [spread_v * z / normal.inv_cdf(_HIGH) for z in map(normal.inv_cdf, _middles(_NEEDS))]
    ohms = [math.exp(_OHM_SIGMA * z) for z in map(normal.inv_cdf, _middles(_OHMS))]
    pairs = np.array(list(product(needs, ohms)))
    return pairs[:, 0], pairs[:, 1]


def _middles(count: int) -> list[float]:
    return [(k + 0.5) / count for k in range(count)]


def _range(hours: list[float]) -> tuple[float, float]:
    """What four of five of them keep within, each cell's charge taken from what makes give."""
    least, most = _CHARGE_TIMES
    times = least + (most - least) * np.array(_middles(_CHARGES))
    low, high = np.quantile(np.outer(hours, times), [_LOW, _HIGH])
    return float(low), float(high)


def _sentence(
    cell: CellPart,
    press_s: float,
    presses: tuple[float, float],
    clear_h: tuple[float, float],
    dim_h: tuple[float, float],
) -> str:
    start = f"An estimate for one {cell.name}: "
    makes = "Four of five cells and bags of lights keep within that."
    if clear_h[1] <= 0:
        out = span_words(*dim_h)
        return f"{start}some light is dim from the first press; left on, all are out after {out}. {makes}"
    more = (max(dim_h[0] - clear_h[0], 0.0), max(dim_h[1] - clear_h[1], 0.0))
    seconds = f"{press_s:g} second{'' if press_s == 1 else 's'}"
    return (
        f"{start}{count_words(*presses)} of {seconds} with every light still clear (over {CLEAR_MA:g} mA); left "
        f"on, clear for "
        f"{span_words(*clear_h)}, then dim for {span_words(*sorted(more))} more. {makes}"
    )


def count_words(low: float, high: float) -> str:
    """`about 6,500 to 10,000 presses`, two digits at most; `up to about 900 presses`, `a few presses`."""
    if high < _A_FEW:
        return "a few presses"
    low, high = (float(f"{number:.2g}") for number in (low, high))
    if low < _SAYS_NOTHING * high:
        return f"up to about {high:,.0f} presses"
    return f"about {high:,.0f} presses" if low == high else f"about {low:,.0f} to {high:,.0f} presses"


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
    minutes = hours * MINUTES_PER_HOUR
    if minutes < _FEW_MINUTES:
        return "a few minutes"
    for below, step in _MINUTE_STEPS:
        if minutes < below:
            return f"{step * round(minutes / step)} minutes"
    if hours < _HALVES_BELOW_H:
        return f"{round(hours * 2) / 2:g} hours"
    return f"{float(f'{hours:.2g}'):.0f} hours"
