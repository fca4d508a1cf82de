"""What the solved circuit says to the maker: problems in the same form as the routing rules'.

In:    a card on its bench.
Out:   problems, most of them `look-again`; `must-fix` only where a light would not be seen to light.
Fails: never.

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
from collections.abc import Sequence

import numpy as np

from circuit.electrics.bench import Bench, die_of, grouped, kind_of
from circuit.electrics.card import (
    NOTHING_CD,
    CardElectrics,
    circuit_of,
    named,
    share_words,
    solve_circuit,
)
from circuit.electrics.cell import FRESH, HALF_USED, cell_state, open_circuit_v
from circuit.electrics.lifetime import CLEAR_MA, HARDLY_MA
from circuit.electrics.resistors import (
    CELL_END_V,
    EVEN_SHARE,
    LOOKED_AT,
    dues_ma,
    least_shares,
    resistor_before,
    resistor_for,
    tape_resistor,
)
from circuit.electrics.wiring import Rails, plain_rail, so_so
from circuit.layout import Layout, Level, Point, Problem
from circuit.part_kinds import MA_PER_A, LightPart
from circuit.settings import Settings

# A kind that gets less than this of its due among its own kind hardly glows beside the others. Chosen.
STARVED_SHARE = 0.05
ALONE_MA = 1.0
_NOTED = 1.2  # of the stated steady current. Chosen


def electrics_problems(bench: Bench) -> tuple[Problem, ...]:
    """All electrical problems of the card, the worst first. Empty for a card without lights."""
    if not bench.parts:
        return ()
    fresh, half = bench.solve(), bench.solve(state=HALF_USED)
    too_high = _colour_too_high(bench, fresh)
    mixed = _mixed_colours(bench, fresh)
    # A light that is too dim for one reason needs no second telling.
    found = [*too_high, *mixed] or _too_many(bench, fresh)
    found = [
        *found,
        # Dim beside its own kind for another's sake is not the tapes' doing.
        *([] if mixed else _dim_lights(bench)),
        *([] if mixed else _light_over_current(bench.layout, fresh)),
        # Nor does what a fresh cell shows already need telling of a half-used one.
        *([] if found else _over_cell_current(bench, half)),
    ]
    return tuple(sorted(found, key=lambda problem: problem.level != "must-fix"))


def _colour_too_high(bench: Bench, fresh: CardElectrics) -> list[Problem]:
    found = []
    cell = bench.settings.cell.name
    for lights in grouped(fresh, kind_of).values():
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
                f"{named(lights)} {need} about {part.diode.volts(ALONE_MA / MA_PER_A):.1f} V to light, and a {cell} "
                f"gives {open_circuit_v(FRESH):.1f} V fresh and under 3 V for most of its life: such lights "
                f"{outcome}. Take a kind that needs fewer volts, such as red, amber or another make.",
            )
        )
    return found


def _alone(bench: Bench, part: LightPart) -> CardElectrics:
    """That light at the battery, the half-used cell all to itself."""
    nothing = plain_rail(np.zeros(1))
    circuit = circuit_of((part,), Rails(nothing, nothing, "at the battery"), bench.wiring)
    return solve_circuit(circuit, ("alone",), cell_state(bench.settings.cell, HALF_USED))


def _mixed_colours(bench: Bench, fresh: CardElectrics) -> list[Problem]:
    """One problem for all lights that get much less than if the whole card were of their colour, the cell
    fresh or half used, whichever is worse."""
    groups = grouped(fresh, die_of)
    if len(groups) < 2:
        return []
    due_ma = {used: dues_ma(bench, fresh, groups, used) for used in LOOKED_AT}
    shares = least_shares({used: bench.solve(state=used).currents_ma for used in LOOKED_AT}, due_ma)
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
            [light.label for light in (*hogs, *starved)],  # where the odd ones lie, something can be done
            100 * worst,
            100 * EVEN_SHARE,
            "%",
            f"{named(hogs)} {'lights' if len(hogs) == 1 else 'light'} at a lower voltage and "
            f"{'takes' if len(hogs) == 1 else 'take'} {taken} of the current; {named(starved)} {outcome}. "
            "Use one colour on this card, or give the other colour a cell and tapes of its own"
            + resistor_before(bench, starved, hogs, due_ma),
        )
    ]


def _too_many(bench: Bench, fresh: CardElectrics) -> list[Problem]:
    least = min(fresh.lights, key=lambda light: light.current_ma)
    if least.current_ma >= CLEAR_MA or len(fresh.lights) < 2:
        return []
    count = len(fresh.lights)
    # More lights only ever leave less for each.
    enough = bisect_left(range(2, count), True, key=lambda some: bench.first(some).least_ma < CLEAR_MA) + 1
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


def _dim_lights(bench: Bench) -> list[Problem]:
    """Lights that would be dim among their own kind, were every contact only a so-so one."""
    found = []
    for lights in grouped(bench.with_wiring(so_so(bench.wiring)).solve(), kind_of).values():
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
    for lights in grouped(fresh, kind_of).values():
        over = [light for light in lights if light.current_ma > light.part.rated_ma]
        if not over:
            continue
        worst = max(over, key=lambda light: light.current_ma)
        rated = worst.part.rated_ma
        ohm = resistor_for(fresh, worst)
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


def _over_cell_current(bench: Bench, half: CardElectrics) -> list[Problem]:
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
        remedy = tape_resistor(bench)
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
) -> Problem:
    return Problem(
        name=name,
        level=level,
        about=tuple(about),
        where_mm=_where(layout, about[0]),
        measured=float(f"{measured:.3g}"),
        uncertainty=0.0,
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
