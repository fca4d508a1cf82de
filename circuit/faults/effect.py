"""What each light does with one fault, or two, put into the card's own circuit and solved.

In:    a card and its faults.
Out:   for each fault, a few cases (a contact may be anything between bad and open), each with how often it is
       so and with every light's current, and the same as a share of its current with no fault at all.
Fails: as `circuit.electrics.bench_of`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.electrics.bench import bench_of
from circuit.electrics.card import Circuit
from circuit.electrics.cell import FRESH, cell_state
from circuit.electrics.network import light_currents
from circuit.electrics.wiring import tapped
from circuit.faults.possible import Fault
from circuit.joint import joints_of, lanes_of_lights
from circuit.layout import POLARITIES, Layout, Traces
from circuit.part_kinds import MA_PER_A, LightPart
from circuit.settings import Settings

OPEN_OHM = 1e6  # no light shows at a microampere
# What a contact that has failed may have, and how often: half of them are open, the others anything from
# the so-so ohms up, by equal factors. Common practice, no source.
BAD_OHMS = (4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 600.0, OPEN_OHM)
BAD_OFTEN = (*(0.5 / 8,) * 8, 0.5)
_PAIR_OHMS = (50.0, OPEN_OHM)  # two faults at once: fewer cases each
_SPENT = (0.85, 0.88, 0.91, 0.94, 0.97, 1.0)  # used, of a cell that is called spent
TOUCH_OHMS = (0.05, 1.0, 5.0)  # two tapes laid on each other, or only just touching
# Two touching tapes are a branch of the network like a light, but one that needs next to no volts.
_TOUCH_A, _TOUCH_SLOPE_V = 1e-9, 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Effect:
    """One fault's cases: `often` (V,) sums to 1; `current_ma` and `share` (V, N)."""

    often: Floats
    current_ma: Floats
    share: Floats


@dataclass(frozen=True, slots=True, eq=False)
class GoodCard:
    """The card ready to be solved with faults in it."""

    layout: Layout
    traces: Traces
    settings: Settings
    circuit: Circuit
    good_a: Floats

    @property
    def labels(self) -> list[str]:
        return [mark.label for mark in self.layout.lights]


def good_card(
    layout: Layout, traces: Traces, settings: Settings, lights: Mapping[str, LightPart] | None
) -> GoodCard:
    """The card with no fault in it. Raises ValueError for a label in `lights` that is not on it."""
    circuit = bench_of(layout, traces, settings, lights).circuit
    (good_a,) = circuit.currents([cell_state(settings.cell, FRESH)])
    return GoodCard(layout, traces, settings, circuit, good_a)


def effects(card: GoodCard, faults: Sequence[Fault]) -> list[Effect]:
    """Each fault's effect, in their order; those that are a resistance somewhere solved at one go."""
    solved: dict[int, Effect] = {}
    extra: list[Floats] = []
    owners: list[tuple[int, int, Sequence[float]]] = []
    for index, fault in enumerate(faults):
        if fault.kind in ("flap", "pads", "tape", "joint"):
            mask = _mask(card, fault)
            extra += [ohm * mask for ohm in BAD_OHMS]
            owners.append((index, len(BAD_OHMS), BAD_OFTEN))
        elif fault.kind in ("turned", "dead"):  # both let nothing through
            extra.append(OPEN_OHM * _mask(card, fault))
            owners.append((index, 1, (1.0,)))
    currents, at = _with_resistances(card, extra), 0
    for index, count, often in owners:
        solved[index] = _effect(card, often, currents[at : at + count])
        at += count
    for index, fault in enumerate(faults):
        if fault.kind == "cell-turned":
            solved[index] = _effect(card, (1.0,), np.zeros((1, len(card.labels))))
        elif fault.kind == "cell-spent":
            states = [cell_state(card.settings.cell, used) for used in _SPENT]
            solved[index] = _effect(card, (1 / len(states),) * len(states), card.circuit.currents(states))
        elif fault.kind == "touching":
            solved[index] = _effect(card, (1 / 3,) * 3, _with_touching(card, fault))
    return [solved[index] for index in range(len(faults))]


def pair_effects(card: GoodCard, pairs: Sequence[tuple[Fault, Fault]]) -> list[Effect]:
    """Two faults at once, each bad or open."""
    extra = [
        one * _mask(card, first) + other * _mask(card, second)
        for first, second in pairs
        for one in _PAIR_OHMS
        for other in _PAIR_OHMS
    ]
    count = len(_PAIR_OHMS) ** 2
    currents = _with_resistances(card, extra)
    return [
        _effect(card, (1 / count,) * count, currents[at : at + count]) for at in range(0, len(extra), count)
    ]


def _mask(card: GoodCard, fault: Fault) -> Floats:
    """(N, N) ones where the currents of two lights both pass the fault."""
    through = np.array([label in fault.beyond for label in card.labels], dtype=float)
    return np.outer(through, through)


def _with_resistances(card: GoodCard, extra: Sequence[Floats]) -> Floats:
    if not extra:
        return np.zeros((0, len(card.labels)))
    return card.circuit.currents_with(np.array(extra), cell_state(card.settings.cell, FRESH))


def _with_touching(card: GoodCard, fault: Fault) -> Floats:
    """The two tapes joined where they come nearest: one branch more, which shares its way with each light up
    to the nearer of the two."""
    circuit, traces = card.circuit, card.traces
    state = cell_state(card.settings.cell, FRESH)
    centres = [mark.centre for mark in card.layout.lights]
    points = [*centres, fault.places_mm[0]]
    on = lanes_of_lights(traces, centres)
    count = len(centres)
    shared = np.zeros((count + 1, count + 1))
    for polarity in POLARITIES:
        # Where a branch crosses the lane, it is the branch's tape that touches the lane's.
        lane = _branch_at(traces, fault) if fault.trace == polarity else 0
        shared += tapped(traces, polarity, points, (*on, lane), card.settings, circuit.wiring).shared_ohm
    currents = []
    for ohm in TOUCH_OHMS:
        rail = shared.copy()
        rail[:count, :count] = circuit.rail_ohm  # with the lights' own ohms
        rail[count, count] += ohm
        solved = light_currents(
            state.emf_v,
            state.ohm + circuit.wiring.flap_ohm,
            rail,
            np.append(circuit.saturation_a, _TOUCH_A),
            np.append(circuit.slope_v, _TOUCH_SLOPE_V),
        )
        currents.append(solved[0, :count])
    return np.array(currents)


def _branch_at(traces: Traces, fault: Fault) -> int:
    """The number of the branch that crosses the lane at the fault's place; 0 where none does."""
    for number, joint in enumerate(joints_of(traces), 1):
        if joint.crossing_mm == fault.places_mm[0]:
            return number
    return 0


def _effect(card: GoodCard, often: Sequence[float], currents_a: Floats) -> Effect:
    return Effect(np.array(often), MA_PER_A * currents_a, currents_a / np.maximum(card.good_a, 1e-30))
