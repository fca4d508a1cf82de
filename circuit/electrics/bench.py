"""One card laid out, to be solved with other lights, fewer of them, another cell or other contacts.

In:    a card as in `solve_card`.
Out:   a `Bench`, and its lights in groups.
Fails: as `solve_card`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from circuit.electrics.card import CardElectrics, LightElectrics, circuit_of, parts_on, solve_circuit
from circuit.electrics.cell import FRESH, cell_state
from circuit.electrics.wiring import Rails, Wiring, rails_of, wiring_of
from circuit.layout import Layout, Traces
from circuit.parts import Diode, LightPart
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

    def solve(self, other: Mapping[str, LightPart] | None = None, used: float = FRESH) -> CardElectrics:
        """`other` replaces the parts of the lights it names."""
        parts = {**self.parts, **(other or {})}
        circuit = circuit_of(tuple(parts.values()), self.rails, self.wiring)
        return solve_circuit(circuit, tuple(parts), cell_state(self.settings.cell, used))

    def with_wiring(self, wiring: Wiring) -> Bench:
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
    """The card as `solve_card` takes it."""
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
