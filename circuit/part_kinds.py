"""What can stand in a parts list: lights, cells, tapes, foams, cards, and the list itself.

In:    figures, each checked by who reads them (`circuit.parts_file`).
Out:   frozen parts in millimetres, ohms, volts, milliamperes.
Fails: `UsageError` for a name that is not in the list; the message says which names are.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from circuit.errors import UsageError
from circuit.near_names import did_you_mean, plain_name

_PartT = TypeVar("_PartT")

DEFAULT_TAPE = "copper-5"
USUAL_STOCK_MM = 0.3  # printers' chart: 110 lb cover
MA_PER_A = 1000.0
_SAME_WIDTH_MM = 0.4  # 1/4 in is sold as 6 mm

# k T / q at 27 °C, the temperature that diode models are stated at. Exact SI values of k and q.
THERMAL_VOLTAGE_V = 1.380649e-23 * 300.15 / 1.602176634e-19


@dataclass(frozen=True, slots=True)
class Diode:
    """A light's terminals: Shockley diode with a series resistance, at 27 °C.

    volts = ideality * kT/q * ln(1 + amperes / saturation_a) + amperes * series_ohm
    """

    saturation_a: float = 8.8e-21
    ideality: float = 2.55
    series_ohm: float = 19.0

    @property
    def slope_v(self) -> float:
        """Volts by which the current grows e times."""
        return self.ideality * THERMAL_VOLTAGE_V

    def volts(self, amperes: float) -> float:
        """Forward voltage at a current of 0 or above. [V]"""
        return self.slope_v * math.log1p(amperes / self.saturation_a) + amperes * self.series_ohm

    def side_by_side(self, count: int) -> Diode:
        """`count` of these joined in parallel, as one."""
        return Diode(self.saturation_a * count, self.ideality, self.series_ohm / count)


@dataclass(frozen=True, slots=True)
class Colour:
    """What one die of a colour does: its diode, candela straight ahead per ampere, CIE 1931 x, y.

    `spread_v`: four of five makes need this many volts more or less, or fewer, than the diode says."""

    name: str
    diode: Diode = Diode()
    candela_per_a: float = 105.0
    x: float = 0.322
    y: float = 0.332
    spread_v: float = 0.13


@dataclass(frozen=True, slots=True)
class LightPart:
    """A surface-mount light: body length (across the two pad rows), width, height. [mm]

    `dice` dies stand side by side inside, each with the diode `die`; `rated_ma` is for the whole
    body; `emitting_mm` the side of a square as large as the face that shines; `spread_v` is the colour's.
    """

    name: str
    length_mm: float
    width_mm: float
    height_mm: float
    colour: str = "white"
    dice: int = 1
    rated_ma: float = 20.0
    emitting_mm: float = 2.0
    die: Diode = Diode()
    candela_per_a: float = 105.0
    chromaticity: tuple[float, float] = (0.322, 0.332)
    spread_v: float = 0.13

    @property
    def diode(self) -> Diode:
        """The whole body between its joined pads."""
        return self.die.side_by_side(self.dice)

    def in_colour(self, colour: Colour) -> LightPart:
        """The same body with dies of that colour."""
        return replace(
            self,
            colour=colour.name,
            die=colour.diode,
            candela_per_a=colour.candela_per_a,
            chromaticity=(colour.x, colour.y),
            spread_v=colour.spread_v,
        )


@dataclass(frozen=True, slots=True)
class CellPart:
    """A coin cell: diameter and height over all [mm], and what is known of its electricity.

    `capacity_low_mah` .. `capacity_high_mah`: what makers state for a small drain down to 2.0 V.
    `steady_ma`, `pulse_ma`: the currents that makers state as the most. `fresh_ohm`, `half_ohm`,
    `spent_ohm`: internal resistance felt at once, the last with nine tenths used; `slow_ohm` comes
    on top over minutes of drain.
    """

    name: str
    diameter_mm: float
    height_mm: float
    negative_face_mm: float = 17.7
    capacity_low_mah: float = 225.0
    capacity_high_mah: float = 240.0
    steady_ma: float = 3.0
    pulse_ma: float = 15.0
    fresh_ohm: float = 12.0
    half_ohm: float = 20.0
    spent_ohm: float = 110.0
    slow_ohm: float = 45.0

    @property
    def capacity_mah(self) -> float:
        """The middle of the stated capacities."""
        return (self.capacity_low_mah + self.capacity_high_mah) / 2


@dataclass(frozen=True, slots=True)
class TapePart:
    """Copper tape: width, copper alone, whole thickness with glue. [mm]"""

    name: str
    width_mm: float
    foil_mm: float
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class FoamPart:
    """Foam sticky on both faces: thickness before it is pressed. [mm]"""

    name: str
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class CardPart:
    """A card's front by its everyday name: size and stock thickness [mm], the envelope it fits."""

    name: str
    width_mm: float
    height_mm: float
    stock_mm: float
    envelope: str


@dataclass(frozen=True, slots=True)
class Parts:
    """A whole parts list. `sources` says where each figure is from: (kind, part, field) -> text."""

    lights: Mapping[str, LightPart] = field(default_factory=dict)
    colours: Mapping[str, Colour] = field(default_factory=dict)
    cells: Mapping[str, CellPart] = field(default_factory=dict)
    tapes: Mapping[str, TapePart] = field(default_factory=dict)
    foams: Mapping[str, FoamPart] = field(default_factory=dict)
    cards: Mapping[str, CardPart] = field(default_factory=dict)
    sources: Mapping[tuple[str, str, str], str] = field(default_factory=dict)

    def light(self, name: str, colour: str = "white") -> LightPart:
        """That light in that colour; UsageError when either is not in the list."""
        part = _pick(self.lights, name, "light")
        return part.in_colour(_pick(self.colours, colour, "colour of light"))

    def cell(self, name: str) -> CellPart:
        """UsageError when it is not in the list, here and below."""
        return _pick(self.cells, name, "cell")

    def tape(self, name: str) -> TapePart:
        return _pick(self.tapes, name, "tape")

    def has_tape(self, name: str) -> bool:
        """Whether the list has a tape of that name."""
        return _named(self.tapes, name) is not None

    def tape_for(self, trace_mm: float) -> TapePart:
        """The tape that traces of that width are most likely cut from: one of that width, or of twice it, split
        lengthwise; else the list's first. UsageError for a list without tapes."""
        for wanted in (2 * trace_mm, trace_mm):
            tape = self.tape_of_width(wanted)
            if tape is not None:
                return tape
        return _pick(self.tapes, next(iter(self.tapes), DEFAULT_TAPE), "tape")

    def tape_of_width(self, width_mm: float) -> TapePart | None:
        """The first tape of the list that is so wide, before it is split."""
        wide = (tape for tape in self.tapes.values() if abs(tape.width_mm - width_mm) < _SAME_WIDTH_MM)
        return next(wide, None)

    def stock_mm(self, card_size: str | None) -> float:
        """How thick the card of that everyday name is; the usual thickness for another one. [mm]"""
        card = _named(self.cards, card_size or "")
        return card.stock_mm if card is not None else USUAL_STOCK_MM


def _named(table: Mapping[str, _PartT], name: str) -> _PartT | None:
    """The entry of that name, whatever its capitals, spaces and dashes; None where there is none."""
    wanted = plain_name(name)
    return next((part for key, part in table.items() if plain_name(key) == wanted), None)


def _pick(table: Mapping[str, _PartT], name: str, kind: str) -> _PartT:
    """The entry of that name. UsageError where there is none."""
    part = _named(table, name)
    if part is not None:
        return part
    raise UsageError(
        f"There is no {kind} called {name!r} in the parts list. {did_you_mean(name, table)}"
        f"Known are: {_listed(table)}."
    )


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names) or "none"
