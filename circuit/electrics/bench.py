"""One card laid out, to be solved as it is, with other lights, fewer of them, another cell or other contacts.

In:    a layout, its traces (or none), settings; parts of single lights where they differ.
Out:   a `Bench`, and its lights in groups.
Fails: ValueError for a label in `lights` that is not on the card.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from circuit.electrics.card import CardElectrics, Circuit, LightElectrics, circuit_of, parts_on, solve_circuit
from circuit.electrics.cell import FRESH, CellState, cell_state
from circuit.electrics.wiring import Rails, Wiring, rails_of, wiring_of
from circuit.layout import Layout, Traces
from circuit.part_kinds import Diode, LightPart
from circuit.settings import Settings


@dataclass(frozen=True, slots=True)
class Bench:
    """The card laid out once, to be solved with other lights or another cell as often as needed."""

    layout: Layout
    traces: Traces | None
    settings: Settings
    wiring: Wiring
    rails: Rails
    parts: dict[str, LightPart]

    @property
    def circuit(self) -> Circuit:
        """The card's circuit without its cell."""
        return circuit_of(tuple(self.parts.values()), self.rails, self.wiring)

    def solve(
        self, other: Mapping[str, LightPart] | None = None, state: CellState | float = FRESH
    ) -> CardElectrics:
        """Solve the card; with no lights nothing flows, and the terminals show the cell's open voltage.

        other : parts in place of those of the lights it names. state : a cell's state, or the fraction used of
        `settings.cell` (0.0 fresh, 0.5 half-used).
        """
        parts = {**self.parts, **(other or {})}
        circuit = circuit_of(tuple(parts.values()), self.rails, self.wiring)
        if not isinstance(state, CellState):
            state = cell_state(self.settings.cell, state)
        return solve_circuit(circuit, tuple(parts), state)

    def with_wiring(self, wiring: Wiring) -> Bench:
        """The same card with other copper and joints."""
        rails = rails_of(self.layout, self.traces, self.settings, wiring)
        return replace(self, wiring=wiring, rails=rails)

    def first(self, count: int) -> Bench:
        """Only so many of the lights, in the layout's order."""
        return replace(self, rails=self.rails.first(count), parts=dict(list(self.parts.items())[:count]))

    @property
    def least_ma(self) -> float:
        """Of the least lit light on the fresh cell."""
        return least_ma(self.solve())


def bench_of(
    layout: Layout,
    traces: Traces | None,
    settings: Settings,
    lights: Mapping[str, LightPart] | None = None,
    wiring: Wiring | None = None,
) -> Bench:
    """The card laid out. `lights` : label -> part, for lights that are not `settings.light`; `wiring` : other copper
    and joints than the settings' come to."""
    wiring = wiring or wiring_of(settings)
    parts = dict(zip((mark.label for mark in layout.lights), parts_on(layout, settings, lights)))
    return Bench(layout, traces, settings, wiring, rails_of(layout, traces, settings, wiring), parts)


def least_ma(solved: CardElectrics) -> float:
    """Current of the least lit light. [mA]"""
    return min(light.current_ma for light in solved.lights)


_Key = TypeVar("_Key")


def grouped(solved: CardElectrics, key: Callable[[LightPart], _Key]) -> dict[_Key, list[LightElectrics]]:
    """The lights by what `key` says of their part, in the layout's order."""
    groups: dict[_Key, list[LightElectrics]] = {}
    for light in solved.lights:
        groups.setdefault(key(light.part), []).append(light)
    return groups


def kind_of(part: LightPart) -> tuple[str, str]:
    """Lights of one kind are the same body in the same colour."""
    return (part.name, part.colour)


def die_of(part: LightPart) -> tuple[str, Diode]:
    """Lights of one die share the current fairly, die by die, whatever their bodies."""
    return (part.colour, part.die)
