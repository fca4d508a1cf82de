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
| over-cell-current | on the half-used cell: a light [mA], or its terminals [V] | 0.5 mA, 2.0 V |
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
from circuit.electrics.lifetime import CLEAR_MA, HARDLY_MA
from circuit.electrics.wiring import Rails, Wiring, rails_of, so_so, wiring_of
from circuit.layout import Layout, Level, Point, Problem, Traces
from circuit.parts import Diode, LightPart
from circuit.settings import Settings

# The evenness that is asked for between lights of one kind; chosen (the eye sees a third less).
EVEN_SHARE = 0.70
# A kind that gets less than this of its due among its own kind hardly glows beside the others. Chosen.
STARVED_SHARE = 0.05
ALONE_MA = 1.0
CELL_END_V = 2.0  # end-point of lithium / manganese dioxide cells: IEC 60086-3
_NOTED = 1.2  # of the stated steady current. Chosen
_LOOKED_AT = (FRESH, HALF_USED)  # states of the cell
# Values of resistors as sold (E12 of IEC 60063), one decade.
_E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)


@dataclass(frozen=True, slots=True)
class _Bench:
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

    def with_wiring(self, wiring: Wiring) -> _Bench:
        rails = rails_of(self.layout, self.traces, self.settings, wiring)
        return replace(self, wiring=wiring, rails=rails)

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
    wiring = wiring or wiring_of(settings)
    parts = dict(zip((mark.label for mark in layout.lights), parts_on(layout, settings, lights)))
    bench = _Bench(layout, traces, settings, wiring, rails_of(layout, traces, settings, wiring), parts)
    fresh, half = bench.solve(), bench.solve(used=HALF_USED)
    too_high = _colour_too_high(bench, fresh)
    mixed = _mixed_colours(bench, fresh)
    # A light that is too dim for one reason needs no second telling.
    found = [*too_high, *mixed] or _too_many(bench, fresh)
    found = [
        *found,
        *_dim_lights(bench),
        *([] if mixed else _light_over_current(layout, fresh)),
        # Nor does what a fresh cell shows already need telling of a half-used one.
        *([] if found else _over_cell_current(bench, half)),
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
    """One problem for all lights that get much less than if the whole card were of their colour, the cell
    fresh or half used, whichever is worse."""
    groups = _grouped(fresh, _die)
    if len(groups) < 2:
        return []
    due_ma = {used: _due_ma(bench, fresh, groups, used) for used in _LOOKED_AT}
    shares = _least_shares({used: bench.solve(used=used).currents_ma for used in _LOOKED_AT}, due_ma)
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


def _due_ma(
    bench: _Bench, fresh: CardElectrics, groups: Mapping[tuple[str, Diode], list[LightElectrics]], used: float
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


def _least_shares(
    got_ma: Mapping[float, Mapping[str, float]], due_ma: Mapping[float, Mapping[str, float]]
) -> dict[str, float]:
    """Each light's current over its due at the state of the cell where that is least."""
    labels = next(iter(got_ma.values()))
    return {
        label: min(got_ma[used][label] / max(due_ma[used][label], 1e-30) for used in got_ma)
        for label in labels
    }


def _resistor_remedy(
    bench: _Bench,
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
        shares = _least_shares({used: solved_with(ohm, used) for used in due_ma}, due_ma)
        return all(shares[light.label] >= EVEN_SHARE for light in starved)

    sold = [value * decade for decade in (1, 10, 100) for value in _E12]
    index = bisect_left(sold, True, key=gives_due)
    if index == len(sold):
        return "."
    if min(solved_with(sold[index], used)[hog.label] for hog in hogs for used in due_ma) < CLEAR_MA:
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
    return _least_of(bench.solve())


def _least_of(solved: CardElectrics) -> float:
    return min(light.current_ma for light in solved.lights)


def _dim_lights(bench: _Bench) -> list[Problem]:
    """Lights that would be dim among their own kind, were every contact only a so-so one."""
    found = []
    for lights in _grouped(bench.with_wiring(so_so(bench.wiring)).solve(), _kind).values():
        best = max(lights, key=lambda light: light.candela)
        shares = {light.label: light.candela / max(best.candela, NOTHING_CD) for light in lights}
        dim = [light for light in lights if shares[light.label] < EVEN_SHARE]
        if not dim:
            continue
        worst = min(dim, key=lambda light: light.candela)
        come = "comes" if len(dim) == 1 else "come"
        lapped = bench.settings.corners == "lapped"
        found.append(
            _problem(
                bench.layout,
                "dim-light",
                "look-again",
                [worst.label, *(light.label for light in dim if light is not worst)],
                100 * shares[worst.label],
                100 * EVEN_SHARE,
                "%",
                f"Unless every contact is a good one, {named(dim)} {come} out dimmer than {best.label}, {worst.label} "
                f"at {100 * shares[worst.label]:.0f} % of it: too much is lost on the long way along the tapes. "
                + (
                    "Fold the tape at its corners in place of cutting and lapping it."
                    if lapped
                    else "Take wider or thicker tape, or bring them nearer to the battery along the tapes."
                ),
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


def _over_cell_current(bench: _Bench, half: CardElectrics) -> list[Problem]:
    # Drawing more than a maker states makes a cell's life shorter, not its light fail (SWRA349), and every
    # card does: that is a note. A problem is only what can be seen, or a cell driven under its end-point.
    cell = bench.settings.cell
    least = min(half.lights, key=lambda light: light.current_ma)
    if least.current_ma < CLEAR_MA:
        measured, limit, unit = least.current_ma, CLEAR_MA, "mA"
        seen = f"{least.label} gets only {least.current_ma:.2g} mA of it, which is dim"
        remedy = "Take fewer lights, smaller ones, or a larger cell."
    elif half.terminal_v < CELL_END_V:
        measured, limit, unit = half.terminal_v, CELL_END_V, "V"
        seen = f"that pulls it down to {half.terminal_v:.1f} V, where such a cell counts as empty"
        remedy = _tape_resistor_remedy(bench)
    else:
        return []
    return [
        _problem(
            bench.layout,
            "over-cell-current",
            "look-again",
            ["battery"],
            measured,
            limit,
            unit,
            f"The lights take about {half.total_ma:.0f} mA from a half-used {cell.name}, and {seen}: the card goes "
            f"dim early. {remedy}",
        )
    ]


def _tape_resistor_remedy(bench: _Bench) -> str:
    """The smallest resistor as sold, once in the positive tape, that keeps the half-used cell above its
    end-point and every light clear."""

    def solved_with(ohm: float) -> CardElectrics:
        wiring = replace(bench.wiring, flap_ohm=bench.wiring.flap_ohm + ohm)
        return replace(bench, wiring=wiring).solve(used=HALF_USED)

    sold = [value * decade for decade in (0.1, 1, 10) for value in _E12]
    index = bisect_left(sold, True, key=lambda ohm: solved_with(ohm).terminal_v >= CELL_END_V)
    if index == len(sold) or _least_of(solved_with(sold[index])) < CLEAR_MA:
        return "Take fewer lights, smaller ones, or a larger cell."
    return (
        f"Take fewer lights or a larger cell, or cut the positive tape once between the battery and the first light "
        f"and bridge the cut with a resistor of about {sold[index]:g} ohm."
    )


def current_note(fresh: CardElectrics, half: CardElectrics, settings: Settings) -> str:
    """One plain sentence on the drain for the summary; empty where it is about the steady current or less."""
    cell = settings.cell
    if fresh.total_ma <= _NOTED * cell.steady_ma:
        return ""
    return (
        f"The lights take about {fresh.total_ma:.0f} mA at first and {half.total_ma:.0f} mA from a half-used "
        f"{cell.name}: fine for presses of seconds, not for leaving on (it is made for {cell.steady_ma:g} mA over "
        "hours)."
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
        measured=float(f"{measured:.3g}"),
        uncertainty=float(f"{uncertainty:.2g}"),
        limit=limit,
        advice=advice,
        unit=unit,
    )


def _where(layout: Layout, about: str) -> Point:
    if about != "battery":
        return layout.light(about).centre
    if layout.battery is not None:
        return layout.battery.centre
    return (layout.card.width_mm / 2, layout.card.height_mm / 2)
