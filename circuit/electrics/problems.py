"""What the solved circuit says to the maker: problems in the same form as the routing rules'.

In:    the card as in `solve_card`.
Out:   problems, most of them `look-again`; `must-fix` only where a light would not be seen to light.
Fails: as `solve_card`.

| name | measured | limit |
|---|---|---|
| colour-too-high | a light alone on the half-used cell [mA] | 1 mA |
| mixed-colours | the worst light's current over its due, were all lights of its colour [%] | 70 % |
| too-many-lights | current of each light on the fresh cell [mA] | 0.5 mA |
| dim-light | a light's brightness over the brightest of its own kind [%] | 70 % |
| light-over-current | a light on the fresh cell [mA] | what its maker states |
| over-cell-current | all lights together on the half-used cell [mA] | what the cell's maker states for pulses |
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from circuit.electrics.card import (
    NOTHING_CD,
    CardElectrics,
    LightElectrics,
    circuit_of,
    named,
    parts_on,
    share_words,
    solve_circuit,
)
from circuit.electrics.cell import FRESH, HALF_USED, cell_state, open_circuit_v
from circuit.electrics.wiring import Rails, Wiring, rails_of
from circuit.layout import Layout, Level, Point, Problem, Traces
from circuit.parts import Diode, LightPart
from circuit.settings import Settings

# The evenness that is asked for between lights of one kind; chosen (the eye sees a third less).
EVEN_SHARE = 0.70
# A kind that gets less than this of its due among its own kind hardly glows beside the others. Chosen.
STARVED_SHARE = 0.05
# A light of any kind shows clearly behind thin paper at half a milliampere and hardly at a
# twentieth of that. Chosen; common practice, no source.
CLEAR_MA = 0.5
HARDLY_MA = 0.025
ALONE_MA = 1.0
_NOTED = 1.2  # of the stated steady current. Chosen
# Values of resistors as sold (E12 of IEC 60063), one decade.
_E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)


@dataclass(frozen=True, slots=True)
class _Bench:
    """The card laid out once, to be solved with other lights or another cell as often as needed."""

    layout: Layout
    settings: Settings
    wiring: Wiring
    rails: Rails
    parts: dict[str, LightPart]

    def solve(self, other: Mapping[str, LightPart] | None = None, used: float = FRESH) -> CardElectrics:
        """`other` replaces the parts of the lights it names."""
        parts = {**self.parts, **(other or {})}
        circuit = circuit_of(tuple(parts.values()), self.rails, self.wiring)
        return solve_circuit(circuit, tuple(parts), cell_state(self.settings.cell, used))

    def first(self, count: int) -> _Bench:
        """Only so many of the lights, in the layout's order."""
        rails = replace(
            self.rails,
            positive_ohm=self.rails.positive_ohm[:count],
            negative_ohm=self.rails.negative_ohm[:count],
        )
        return replace(self, rails=rails, parts=dict(list(self.parts.items())[:count]))


def electrics_problems(
    layout: Layout,
    traces: Traces | None,
    settings: Settings,
    lights: Mapping[str, LightPart] | None = None,
    wiring: Wiring | None = None,
) -> tuple[Problem, ...]:
    """All electrical problems of the card, the worst first. Empty for a card without lights."""
    if not layout.lights:
        return ()
    wiring = wiring or Wiring()
    parts = dict(zip((mark.label for mark in layout.lights), parts_on(layout, settings, lights)))
    bench = _Bench(layout, settings, wiring, rails_of(layout, traces, settings, wiring), parts)
    fresh, half = bench.solve(), bench.solve(used=HALF_USED)
    too_high = _colour_too_high(bench, fresh)
    mixed = _mixed_colours(bench, fresh)
    found = [
        *too_high,
        *mixed,
        # A light that is too dim for one of the reasons above needs no second telling.
        *([] if too_high or mixed else _too_many(bench, fresh)),
        *_dim_lights(layout, fresh),
        *([] if mixed else _light_over_current(layout, fresh)),
        *_over_cell_current(layout, fresh, half, settings),
    ]
    return tuple(sorted(found, key=lambda problem: problem.level != "must-fix"))


_Key = TypeVar("_Key")


def _grouped(solved: CardElectrics, key: Callable[[LightPart], _Key]) -> dict[_Key, list[LightElectrics]]:
    """The lights by what `key` says of their part, in the layout's order."""
    groups: dict[_Key, list[LightElectrics]] = {}
    for light in solved.lights:
        groups.setdefault(key(light.part), []).append(light)
    return groups


def _kind(part: LightPart) -> tuple[str, str]:
    """Lights of one kind are the same body in the same colour."""
    return (part.name, part.colour)


def _die(part: LightPart) -> tuple[str, Diode]:
    """Lights of one die share the current fairly, die by die, whatever their bodies."""
    return (part.colour, part.die)


def _colour_too_high(bench: _Bench, fresh: CardElectrics) -> list[Problem]:
    found = []
    cell = bench.settings.cell.name
    for lights in _grouped(fresh, _kind).values():
        part = lights[0].part
        alone = _alone(bench, part)
        if alone.total_ma >= ALONE_MA:
            continue
        dark = alone.total_range_ma[1] < HARDLY_MA  # even a make that needs less voltage
        outcome = "will hardly light" if dark else "go dim early"
        need = "needs" if len(lights) == 1 else "need"
        found.append(
            _problem(
                bench.layout,
                "colour-too-high",
                "must-fix" if dark else "look-again",
                [light.label for light in lights],
                alone.total_ma,
                ALONE_MA,
                "mA",
                f"{named(lights)} {need} about {part.diode.volts(ALONE_MA / 1000):.1f} V to light, and a {cell} "
                f"gives {open_circuit_v(FRESH):.1f} V fresh and under 3 V for most of its life: such lights "
                f"{outcome}. Take a kind that needs fewer volts, such as red, amber or another make.",
            )
        )
    return found


def _alone(bench: _Bench, part: LightPart) -> CardElectrics:
    """That light at the battery, the half-used cell all to itself."""
    nothing = np.zeros(1)
    circuit = circuit_of((part,), Rails(nothing, nothing, "at the battery"), bench.wiring)
    return solve_circuit(circuit, ("alone",), cell_state(bench.settings.cell, HALF_USED))


def _mixed_colours(bench: _Bench, fresh: CardElectrics) -> list[Problem]:
    """One problem for all lights that get much less than if the whole card were of their colour."""
    groups = _grouped(fresh, _die)
    if len(groups) < 2:
        return []
    due_ma = {}
    for lights in groups.values():
        like = lights[0].part
        own = {
            light.label: replace(light.part, die=like.die, candela_per_a=like.candela_per_a)
            for light in fresh.lights
        }
        among_own = bench.solve(own).currents_ma
        due_ma.update({light.label: among_own[light.label] for light in lights})
    shares = {light.label: light.current_ma / max(due_ma[light.label], 1e-30) for light in fresh.lights}
    starved = [light for light in fresh.lights if shares[light.label] < EVEN_SHARE]
    if not starved:
        return []
    hogs = max(groups.values(), key=lambda lights: max(shares[light.label] for light in lights))
    worst = min(shares.values())
    dark = worst < STARVED_SHARE
    outcome = "stay dark or nearly so" if dark else "come out dimmer than among their own colour"
    if len(starved) == 1:
        outcome = "stays dark or nearly so" if dark else "comes out dimmer than among its own colour"
    taken = share_words(sum(light.current_ma for light in hogs), fresh.total_ma)
    return [
        _problem(
            bench.layout,
            "mixed-colours",
            "must-fix" if dark else "look-again",
            [light.label for light in (*starved, *hogs)],
            100 * worst,
            100 * EVEN_SHARE,
            "%",
            f"{named(hogs)} {'lights' if len(hogs) == 1 else 'light'} at a lower voltage and "
            f"{'takes' if len(hogs) == 1 else 'take'} {taken} of the current; {named(starved)} {outcome}. "
            "Use one colour on this card, or give the other colour a cell and tapes of its own"
            + _resistor_remedy(bench, starved, hogs, due_ma),
        )
    ]


def _resistor_remedy(
    bench: _Bench,
    starved: Sequence[LightElectrics],
    hogs: Sequence[LightElectrics],
    due_ma: Mapping[str, float],
) -> str:
    """The smallest resistor as sold, before each light that takes too much, that gives the others their
    due and leaves those clearly lit; found by halving, since more ohms only ever give the others more.
    Just a full stop where none does."""

    def solved_with(ohm: int) -> dict[str, float]:
        tamed = {}
        for hog in hogs:
            # Before the whole body: each die feels it as if it were as many times larger.
            die = replace(hog.part.die, series_ohm=hog.part.die.series_ohm + ohm * hog.part.dice)
            tamed[hog.label] = replace(hog.part, die=die)
        return bench.solve(tamed).currents_ma

    def gives_due(ohm: int) -> bool:
        currents = solved_with(ohm)
        return all(currents[light.label] >= EVEN_SHARE * due_ma[light.label] for light in starved)

    sold = [value * decade for decade in (1, 10, 100) for value in _E12]
    index = bisect_left(sold, True, key=gives_due)
    if index == len(sold) or min(solved_with(sold[index])[hog.label] for hog in hogs) < CLEAR_MA:
        return "."
    before = hogs[0].label if len(hogs) == 1 else f"each {hogs[0].part.colour} light"
    return f", or put a resistor of about {sold[index]} ohm in front of {before}."


def _too_many(bench: _Bench, fresh: CardElectrics) -> list[Problem]:
    least = min(fresh.lights, key=lambda light: light.current_ma)
    if least.current_ma >= CLEAR_MA or len(fresh.lights) < 2:
        return []
    count = len(fresh.lights)
    # More lights only ever leave less for each.
    enough = bisect_left(range(2, count), True, key=lambda some: _least_ma(bench.first(some)) < CLEAR_MA) + 1
    return [
        _problem(
            bench.layout,
            "too-many-lights",
            "must-fix" if least.current_ma < HARDLY_MA else "look-again",
            [light.label for light in fresh.lights],
            least.current_ma,
            CLEAR_MA,
            "mA",
            f"One {bench.settings.cell.name} shared by {count} lights leaves {least.current_ma:.2g} mA for each, "
            f"which is dim. About {enough} would be clearly lit; take fewer, or a larger cell.",
        )
    ]


def _least_ma(bench: _Bench) -> float:
    return min(light.current_ma for light in bench.solve().lights)


def _dim_lights(layout: Layout, fresh: CardElectrics) -> list[Problem]:
    found = []
    for lights in _grouped(fresh, _kind).values():
        best = max(lights, key=lambda light: light.candela)
        for light in lights:
            share = light.candela / max(best.candela, NOTHING_CD)
            if share >= EVEN_SHARE:
                continue
            found.append(
                _problem(
                    layout,
                    "dim-light",
                    "look-again",
                    [light.label],
                    100 * share,
                    100 * EVEN_SHARE,
                    "%",
                    f"{light.label} comes out at {100 * share:.0f} % of {best.label}: too much is lost in the tapes "
                    "and joints on the way to it. Press the tape and its joints down firmly, fold at corners "
                    f"in place of cutting, or bring {light.label} nearer to the battery along the tapes.",
                )
            )
    return found


def _light_over_current(layout: Layout, fresh: CardElectrics) -> list[Problem]:
    found = []
    for lights in _grouped(fresh, _kind).values():
        over = [light for light in lights if light.current_ma > light.part.rated_ma]
        if not over:
            continue
        worst = max(over, key=lambda light: light.current_ma)
        rated = worst.part.rated_ma
        ohm = _resistor_for(fresh, worst)
        each, which = ("", "it") if len(over) == 1 else (" each", "each")
        found.append(
            _problem(
                layout,
                "light-over-current",
                "look-again",
                [light.label for light in over],
                worst.current_ma,
                rated,
                "mA",
                f"{named(over)} would take about {worst.current_ma:.0f} mA{each} from a fresh cell; {rated:.0f} mA is "
                f"the most that is stated for a {worst.part.colour} {worst.part.name}. Such a light ages fast and "
                f"empties the cell. Put a resistor of about {ohm} ohm in front of {which}.",
            )
        )
    return found


def _resistor_for(fresh: CardElectrics, light: LightElectrics) -> int:
    """The smallest resistor as sold that keeps the light within its rating even if the terminals
    rose to the cell's open voltage."""
    amperes = light.part.rated_ma / 1000
    needed = (fresh.state.emf_v - light.part.diode.volts(amperes)) / amperes
    return next(value * decade for decade in (1, 10, 100, 1000) for value in _E12 if value * decade >= needed)


def _over_cell_current(
    layout: Layout, fresh: CardElectrics, half: CardElectrics, settings: Settings
) -> list[Problem]:
    # Held against the half-used cell: a fresh one gives more only for its first minutes. And against
    # the stated pulse current, since the card is lit by a press; the stated steady
    # current is so small that every card exceeds it (see `current_note`).
    cell = settings.cell
    if half.total_ma <= cell.pulse_ma:
        return []
    return [
        _problem(
            layout,
            "over-cell-current",
            "look-again",
            ["battery"],
            half.total_ma,
            cell.pulse_ma,
            "mA",
            f"The lights take about {half.total_ma:.0f} mA from a half-used {cell.name} ({fresh.total_ma:.0f} mA "
            f"from a fresh one); the most that is stated for it is {cell.pulse_ma:g} mA in short pulses and "
            f"{cell.steady_ma:g} mA for long. The card will light, but dimmer as the cell sags, and for fewer hours. "
            "Fewer lights, smaller ones, or a larger cell last longer.",
            uncertainty=(half.total_range_ma[1] - half.total_range_ma[0]) / 2,
        )
    ]


def current_note(half: CardElectrics, settings: Settings) -> str:
    """One plain sentence on the drain for the summary; empty where it is about the steady current or less."""
    cell = settings.cell
    if half.total_ma <= _NOTED * cell.steady_ma:
        return ""
    return (
        f"The lights take about {half.total_ma:.0f} mA together; a {cell.name} is made for {cell.steady_ma:g} mA "
        "over hours, so press for seconds at a time and don't leave the card switched on."
    )


def _problem(
    layout: Layout,
    name: str,
    level: Level,
    about: Sequence[str],
    measured: float,
    limit: float,
    unit: str,
    advice: str,
    uncertainty: float = 0.0,
) -> Problem:
    return Problem(
        name=name,
        level=level,
        about=tuple(about),
        where_mm=_where(layout, about[0]),
        measured_mm=float(f"{measured:.3g}"),
        uncertainty_mm=float(f"{uncertainty:.2g}"),
        limit_mm=limit,
        advice=advice,
        unit=unit,
    )


def _where(layout: Layout, about: str) -> Point:
    if about != "battery":
        return layout.light(about).centre
    if layout.battery is not None:
        return layout.battery.centre
    return (layout.card.width_mm / 2, layout.card.height_mm / 2)
