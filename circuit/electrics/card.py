"""Solve one card: the current and the brightness of each light, what the cell gives, who suffers.

In:    the parts on the card, their wiring, the cell's state; `circuit.electrics.bench` has them together.
Out:   a `CardElectrics`.
Fails: ValueError for a label that is not on the card.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace

import numpy as np

from circuit.arrays import Floats
from circuit.electrics.cell import CellState
from circuit.electrics.network import light_currents
from circuit.electrics.wiring import Rails, Wiring
from circuit.layout import Layout
from circuit.part_kinds import MA_PER_A, LightPart
from circuit.plan import Currents, LitCard, LitLight, LostByContact
from circuit.settings import Settings
from circuit.telling import few_of

# Below this a difference between lights of one kind can't be seen beside another light. Chosen.
_SEEN = 0.95
_NEARLY_ALL = 0.97  # a share that is told so. Chosen
# No light is without resistance; a part that was typed in with none would draw kiloamperes. Chosen.
LEAST_SERIES_OHM = 0.01
NOTHING_CD = 1e-30  # in place of 0 where no light lights at all


@dataclass(frozen=True, slots=True)
class LightElectrics:
    """One light: its current [mA], the volts across its pads, candela straight ahead, and its
    brightness as a share of the brightest light's on the card (0..1)."""

    label: str
    part: LightPart
    current_ma: float
    volts: float
    candela: float
    brightness: float


@dataclass(frozen=True, slots=True)
class CardElectrics:
    """The whole card at one state of its cell. `lights` is in the layout's order.

    `spread` is the dimmest light's brightness over the brightest's, 1.0 for a card of equals or of no
    lights. `total_range_ma`: the total if this make of light needs a little more or less voltage than
    the list says. `basis` says what the tapes' lengths rest on, `wiring` what was
    taken for copper and joints. `why` is one sentence on the dimmest light,
    empty where all look the same.
    """

    lights: tuple[LightElectrics, ...]
    state: CellState
    terminal_v: float
    total_range_ma: tuple[float, float]
    basis: str
    wiring: Wiring
    why: str

    @property
    def total_ma(self) -> float:
        """What all lights take together."""
        return float(sum(light.current_ma for light in self.lights))

    @property
    def currents_ma(self) -> dict[str, float]:
        """Each light's current by its label."""
        return {light.label: light.current_ma for light in self.lights}

    @property
    def spread(self) -> float:
        """The dimmest light's brightness over the brightest's; 1.0 without lights."""
        return min((light.brightness for light in self.lights), default=1.0)

    @property
    def brightest(self) -> LightElectrics | None:
        return max(self.lights, key=lambda light: light.candela, default=None)


@dataclass(frozen=True, slots=True)
class Circuit:
    """A card's wiring made ready to be solved for any source: what `light_currents` takes."""

    parts: tuple[LightPart, ...]
    rail_ohm: Floats
    saturation_a: Floats
    slope_v: Floats
    candela_per_a: Floats
    wiring: Wiring
    rails: Rails

    def currents_with(self, more_ohm: Floats, state: CellState) -> Floats:
        """(B, N) currents with (B, N, N) more ohms shared by pairs of lights on their ways. [A]"""
        return light_currents(
            state.emf_v,
            state.ohm + self.wiring.flap_ohm,
            self.rail_ohm + more_ohm,
            self.saturation_a,
            self.slope_v,
        )

    def currents(self, states: Sequence[CellState]) -> Floats:
        """(B, N) currents for B states of the cell. [A]"""
        return light_currents(
            np.array([state.emf_v for state in states]),
            np.array([state.ohm + self.wiring.flap_ohm for state in states]),
            self.rail_ohm,
            self.saturation_a,
            self.slope_v,
        )


def parts_on(
    layout: Layout, settings: Settings, lights: Mapping[str, LightPart] | None
) -> tuple[LightPart, ...]:
    """Each light's part in the layout's order: the settings' one but where `lights` names another.

    Raises ValueError for a label in `lights` that is not on the card.
    """
    given = dict(lights or {})
    parts = tuple(given.pop(mark.label, settings.light) for mark in layout.lights)
    if given:
        raise ValueError(f"there is no light labelled {', '.join(given)} on this card")
    return parts


def circuit_of(parts: Sequence[LightPart], rails: Rails, wiring: Wiring) -> Circuit:
    """The card's circuit without its cell."""
    diodes = [part.diode for part in parts]
    series = np.array([max(diode.series_ohm + 2 * wiring.joint_ohm, LEAST_SERIES_OHM) for diode in diodes])
    rail_ohm = rails.positive.shared_ohm + rails.negative.shared_ohm
    return Circuit(
        parts=tuple(parts),
        rail_ohm=rail_ohm + np.diag(series),
        saturation_a=np.array([diode.saturation_a for diode in diodes]),
        slope_v=np.array([diode.slope_v for diode in diodes]),
        candela_per_a=np.array([part.candela_per_a for part in parts]),
        wiring=wiring,
        rails=rails,
    )


def forward_spread_v(parts: Sequence[LightPart]) -> float:
    """By how much the lights of a card may all need more or less voltage than the list says: one bag is
    one make, so they stray together. The mean of their spreads; 0.0 for no lights. [V]"""
    return float(np.mean([part.spread_v for part in parts])) if parts else 0.0


def solve_circuit(circuit: Circuit, labels: Sequence[str], state: CellState) -> CardElectrics:
    """The circuit with its cell in that state; one label for each of its lights."""
    # All diodes moved up or down together act like the cell's own voltage moved the other way.
    spread = forward_spread_v(circuit.parts)
    states = [replace(state, emf_v=state.emf_v + shift) for shift in (0.0, -spread, spread)]
    amperes, *bounds = circuit.currents(states)
    total = float(amperes.sum())
    candela = amperes * circuit.candela_per_a
    brightest = float(candela.max(initial=0.0))
    solved = tuple(
        LightElectrics(
            label=label,
            part=part,
            current_ma=float(current) * MA_PER_A,
            volts=part.diode.volts(float(current)),
            candela=float(bright),
            brightness=float(bright) / max(brightest, NOTHING_CD),
        )
        for label, part, current, bright in zip(labels, circuit.parts, amperes, candela)
    )
    return CardElectrics(
        lights=solved,
        state=state,
        terminal_v=state.emf_v - total * state.ohm,
        total_range_ma=(MA_PER_A * float(bounds[0].sum()), MA_PER_A * float(bounds[1].sum())),
        basis=circuit.rails.basis,
        wiring=circuit.wiring,
        why=_why(solved, circuit),
    )


def _why(lights: tuple[LightElectrics, ...], circuit: Circuit) -> str:
    """Why the dimmest is dim: another colour takes the current, its own colour gives less light,
    its body is smaller, or its way along the tapes is long."""
    if len(lights) < 2 or min(light.brightness for light in lights) > _SEEN:
        return ""
    dim = min(lights, key=lambda light: light.candela)
    best = max(lights, key=lambda light: light.candela)
    hog = max(lights, key=lambda light: light.current_ma / light.part.dice)
    start = f"{dim.label} ({dim.part.colour}) is the dimmest: "
    if (
        dim.part.die != hog.part.die
        and dim.current_ma / dim.part.dice < _SEEN * hog.current_ma / hog.part.dice
    ):
        hogs = [light for light in lights if light.part.die == hog.part.die]
        taken = share_words(
            sum(light.current_ma for light in hogs), sum(light.current_ma for light in lights)
        )
        return (
            f"{start}{named(hogs)} {'lights' if len(hogs) == 1 else 'light'} at a lower voltage and "
            f"{'takes' if len(hogs) == 1 else 'take'} {taken} of the current."
        )
    if dim.part.candela_per_a < _SEEN * best.part.candela_per_a:
        return f"{start}its colour gives less light than {best.part.colour} does for the same current."
    if dim.part.dice < best.part.dice:
        return f"{start}a {dim.part.name} has fewer dies inside than a {best.part.name}."
    index = next(i for i, light in enumerate(lights) if light.label == dim.label)
    ohm = float(circuit.rails.positive_ohm[index] + circuit.rails.negative_ohm[index])
    return f"{start}it sits far along the tapes, with about {ohm:.2g} ohm of tape and joints on its way."


def named(lights: Sequence[LightElectrics]) -> str:
    """`L3 (red)`, `L1, L2 and L4 (white)`, `L1, L2, L3 and 14 more (white)`."""
    labels = [light.label for light in lights]
    colours = list(dict.fromkeys(light.part.colour for light in lights))
    return f"{few_of(labels)} ({', '.join(colours)})"


def share_words(part: float, whole: float) -> str:
    """`nearly all`, or a share in per cent."""
    share = part / max(whole, NOTHING_CD)
    return "nearly all" if share > _NEARLY_ALL else f"{100 * share:.0f} %"


def currents_of(
    fresh: CardElectrics, half_used: CardElectrics | None = None, contact: LostByContact | None = None
) -> Currents:
    """The circuit as the plan keeps it."""
    return Currents(
        basis=fresh.basis,
        stated=asdict(fresh.wiring),
        fresh=_lit(fresh),
        half_used=None if half_used is None else _lit(half_used),
        why=fresh.why,
        contact=contact,
    )


def _lit(solved: CardElectrics) -> LitCard:
    return LitCard(
        cell_open_v=solved.state.emf_v,
        cell_ohm=solved.state.ohm,
        cell_used=solved.state.used,
        terminal_v=solved.terminal_v,
        total_ma=solved.total_ma,
        total_ma_range=solved.total_range_ma,
        dimmest_over_brightest=solved.spread,
        lights=tuple(
            LitLight(
                label=light.label,
                light=light.part.name,
                colour=light.part.colour,
                current_ma=light.current_ma,
                brightness=light.brightness,
                millicandela=MA_PER_A * light.candela,
            )
            for light in solved.lights
        ),
    )
