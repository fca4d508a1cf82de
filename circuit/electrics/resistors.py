"""Which resistor, as sold, puts a card right: before lights that take too much, or once in the tape.

In:    a card on its bench, who takes too much from whom.
Out:   ohms, or the end of a sentence that names them.
Fails: never; where no resistor helps, nothing is said of one.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import replace

from circuit.electrics.bench import Bench, least_ma
from circuit.electrics.card import CardElectrics, LightElectrics
from circuit.electrics.cell import FRESH, HALF_USED
from circuit.electrics.lifetime import CLEAR_MA
from circuit.part_kinds import MA_PER_A, Diode

# The evenness that is asked for between lights of one kind; chosen (the eye sees a third less).
EVEN_SHARE = 0.70
CELL_END_V = 2.0  # end-point of lithium / manganese dioxide cells: IEC 60086-3
LOOKED_AT = (FRESH, HALF_USED)  # states of the cell
# Values of resistors as sold (E12 of IEC 60063), one decade; which decades a whole tape's may come from, and one
# light's (10 ohm to 82 kilohm: any light, from any cell).
_DECADES = (0.1, 1, 10)
_DECADES_BEFORE = (1, 10, 100, 1000)
_E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)


def dues_ma(
    bench: Bench, fresh: CardElectrics, groups: Mapping[tuple[str, Diode], list[LightElectrics]], used: float
) -> dict[str, float]:
    """What each light would get, were the whole card of its colour. [mA]"""
    due_ma = {}
    for lights in groups.values():
        like = lights[0].part
        own = {
            light.label: replace(light.part, die=like.die, candela_per_a=like.candela_per_a)
            for light in fresh.lights
        }
        among_own = bench.solve(own, used).currents_ma
        due_ma.update({light.label: among_own[light.label] for light in lights})
    return due_ma


def least_shares(
    got_ma: Mapping[float, Mapping[str, float]], due_ma: Mapping[float, Mapping[str, float]]
) -> dict[str, float]:
    """Each light's current over its due at the state of the cell where that is least."""
    labels = next(iter(got_ma.values()))
    return {
        label: min(got_ma[used][label] / max(due_ma[used][label], 1e-30) for used in got_ma)
        for label in labels
    }


def resistor_before(
    bench: Bench,
    starved: Sequence[LightElectrics],
    hogs: Sequence[LightElectrics],
    due_ma: Mapping[float, Mapping[str, float]],
) -> str:
    """The smallest resistor as sold, before each light that takes too much, that gives the others their
    due and leaves those clearly lit, with a fresh cell and with a half-used one; found by halving, since
    more ohms only ever give the others more. Just a full stop where none does."""

    def solved_with(ohm: int, used: float) -> dict[str, float]:
        tamed = {}
        for hog in hogs:
            # Before the whole body: each die feels it as if it were as many times larger.
            die = replace(hog.part.die, series_ohm=hog.part.die.series_ohm + ohm * hog.part.dice)
            tamed[hog.label] = replace(hog.part, die=die)
        return bench.solve(tamed, used).currents_ma

    def gives_due(ohm: int) -> bool:
        shares = least_shares({used: solved_with(ohm, used) for used in due_ma}, due_ma)
        return all(shares[light.label] >= EVEN_SHARE for light in starved)

    sold = [value * decade for decade in (1, 10, 100) for value in _E12]
    index = bisect_left(sold, True, key=gives_due)
    if index == len(sold):
        return "."
    if min(solved_with(sold[index], used)[hog.label] for hog in hogs for used in due_ma) < CLEAR_MA:
        return "."
    before = hogs[0].label if len(hogs) == 1 else f"each {hogs[0].part.colour} light"
    return f", or put a resistor of about {sold[index]} ohm in front of {before}."


def resistor_for(fresh: CardElectrics, light: LightElectrics) -> int:
    """The smallest resistor as sold that keeps the light within its rating even if the terminals
    rose to the cell's open voltage."""
    amperes = light.part.rated_ma / MA_PER_A
    needed = (fresh.state.emf_v - light.part.diode.volts(amperes)) / amperes
    return next(value * decade for decade in _DECADES_BEFORE for value in _E12 if value * decade >= needed)


def tape_resistor(bench: Bench) -> str:
    """The smallest resistor as sold, once in the positive tape, that keeps the half-used cell above its
    end-point and every light clear."""

    def solved_with(ohm: float) -> CardElectrics:
        wiring = replace(bench.wiring, flap_ohm=bench.wiring.flap_ohm + ohm)
        return replace(bench, wiring=wiring).solve(state=HALF_USED)

    sold = [value * decade for decade in _DECADES for value in _E12]
    index = bisect_left(sold, True, key=lambda ohm: solved_with(ohm).terminal_v >= CELL_END_V)
    if index == len(sold) or least_ma(solved_with(sold[index])) < CLEAR_MA:
        return "Take fewer lights, smaller ones, or a larger cell."
    return (
        f"Take fewer lights or a larger cell, or cut the positive tape once between the battery and the first light "
        f"and bridge the cut with a resistor of about {sold[index]:g} ohm."
    )
