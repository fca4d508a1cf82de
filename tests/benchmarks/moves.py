"""How well broken cards are reported and mended, and how long a whole plan takes with moves.

    python -m tests.benchmarks.moves [CARDS] [SEED] [MOST_LIGHTS]      broken cards, by kind
    python -m tests.benchmarks.moves plan [SEED] [COUNTS]              whole plans of cards as makers draw them

Each card starts from a layout that has a lane for sure; one to three of its lights are then shifted by
3 to 10 mm in all, until a mark rule breaks or, for the last kind, no lane is found. So a shift of 10 mm
mends every one of them. Told for each kind:

    reported   cards whose mark problems are those that plain arithmetic finds, no more, no fewer
    mended     cards with moves whose lane keeps every rule
    share      the moves' total over the shift that broke the card, median and 90 %
    time       the moves' processor time over that of routing the same card, median and 90 %

Of whole plans (marks read to 0.3 mm, every family of shapes, and cards made along a lane with some of the lights
shifted by a hand's slip): processor time of `plan_card`, moves, branches and all; how many need something mended, how
many get moves, and how many of those are clean when planned again with the moves made.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations

import numpy as np

from circuit.check import check, must_fix_on_card
from circuit.layout import Layout
from circuit.mark_changes import with_moves
from circuit.moves import suggest_moves
from circuit.plan import Plan
from circuit.plan_card import plan_card
from circuit.route import lay_traces
from circuit.settings import Settings
from tests.benchmarks.layouts import laid_layout
from tests.benchmarks.routing import layouts

KINDS = ("lights-too-close", "switch-covers", "light-near-edge", "no-lane")
_SETTINGS = Settings()
# The default limits, written out: this is what the checker is held against.
_APART_MM, _EDGE_MM = 7.0, 5.0 + 2.5


def main(
    cards: int = 20, seed: int = 1, most_lights: int = 14, kinds: tuple[str, ...] = KINDS
) -> dict[str, dict[str, float]]:
    """Print the table, `cards` of each kind; the same figures come back by kind."""
    table: dict[str, dict[str, float]] = {}
    print(f"{'kind':18s} {'cards':>5s} {'reported':>9s} {'mended':>7s} {'share':>12s} {'time':>14s}")
    for kind in kinds:
        rng = np.random.default_rng([seed, KINDS.index(kind)])
        figures = _measure(kind, cards, rng, most_lights)
        table[kind] = figures
        print(
            f"{kind:18s} {cards:5d} {figures['reported']:9.0%} {figures['mended']:7.0%} "
            f"{figures['share']:5.2f} {figures['share_90']:6.2f} {figures['time']:7.1f} {figures['time_90']:6.1f}",
            flush=True,
        )
    return table


def _measure(kind: str, cards: int, rng: np.random.Generator, most_lights: int) -> dict[str, float]:
    reported = mended = 0
    shares, times = [], []
    broken = broken_cards(kind, rng, most_lights)
    for _ in range(cards):
        layout, shift_mm = next(broken)
        reported += _as_told(layout) == _as_reckoned(layout)
        start = time.process_time()
        routed = lay_traces(layout, _SETTINGS)
        routing = time.process_time() - start
        start = time.process_time()
        advice = suggest_moves(
            layout, _SETTINGS, routed, route=lay_traces, quick_route=partial(lay_traces, quick=True)
        )
        times.append((time.process_time() - start) / routing)
        if advice.moved_layout is not None:
            # A fast wrong answer is no result.
            mended += not must_fix_on_card(check(advice.moved_layout, advice.moved_traces, _SETTINGS))
            shares.append(sum(move.by_mm for move in advice.moves) / shift_mm)
    return {
        "reported": reported / cards,
        "mended": mended / cards,
        "share": _quantile(shares, 0.5),
        "share_90": _quantile(shares, 0.9),
        "time": _quantile(times, 0.5),
        "time_90": _quantile(times, 0.9),
    }


def broken_cards(kind: str, rng: np.random.Generator, most_lights: int) -> Iterator[tuple[Layout, float]]:
    """Cards broken in one way, and how far their lights were shifted in all. [mm]"""
    while True:
        layout, traces = laid_layout(int(rng.integers(2, most_lights + 1)), rng)
        if must_fix_on_card(check(layout, traces, _SETTINGS)):
            continue
        for _ in range(60):
            shifted, shift_mm = _shaken(layout, rng)
            names = {problem.name for problem in check(shifted, None, _SETTINGS)}
            if kind == "no-lane":
                # Most cards still have a lane; the quick look tells them apart in a fraction of the time.
                if names or lay_traces(shifted, _SETTINGS, quick=True).traces is not None:
                    continue
                if lay_traces(shifted, _SETTINGS).traces is None:
                    yield shifted, shift_mm
                    break
            elif names == {kind}:
                yield shifted, shift_mm
                break


def _shaken(layout: Layout, rng: np.random.Generator) -> tuple[Layout, float]:
    lights = list(layout.lights)
    chosen = rng.choice(len(lights), int(rng.integers(1, min(3, len(lights)) + 1)), replace=False)
    shift_mm = float(rng.uniform(3, 10))
    for k, part in zip(chosen, rng.dirichlet(np.ones(len(chosen))) * shift_mm, strict=True):
        way = rng.uniform(0, 2 * math.pi)
        light = lights[int(k)]
        lights[int(k)] = replace(
            light,
            x_mm=float(light.x_mm + part * math.cos(way)),
            y_mm=float(light.y_mm + part * math.sin(way)),
        )
    return replace(layout, lights=tuple(lights)), shift_mm


def _as_told(layout: Layout) -> set[tuple[str, float]]:
    """Who is concerned, and by how much the limit is missed, as the checker has it. The switch's outline, which
    plain arithmetic can't follow, is left to the tests."""
    return {
        (" ".join(sorted(name for name in p.about if name != "card")), round(p.limit - p.measured, 6))
        for p in check(layout, None, _SETTINGS)
        if p.limit is not None and p.measured is not None and p.name != "switch-covers"
    }


def _as_reckoned(layout: Layout) -> set[tuple[str, float]]:
    """The same from plain arithmetic."""
    found = []
    for a, b in combinations(layout.lights, 2):
        found.append((f"{a.label} {b.label}", _APART_MM - math.dist(a.centre, b.centre)))
    for light in layout.lights:
        x, y = light.centre
        gaps = (x, y, layout.card.width_mm - x, layout.card.height_mm - y)
        found += [(light.label, _EDGE_MM - gap) for gap in gaps]
    return {(" ".join(sorted(who.split())), round(missed, 6)) for who, missed in found if missed > 1e-6}


def plans(seed: int = 31, counts: Sequence[int] = (2, 4, 6, 8, 10, 12, 16, 20)) -> dict[str, float]:
    """Plan one card of each family and count, print a line for the slow ones and the table's figures."""
    seconds, broken, mended, clean = [], 0, 0, 0
    for family, count, exact in layouts(counts, 1, seed):
        card = _as_read(exact, np.random.default_rng([seed, count, len(family)]))
        start = time.process_time()
        plan = plan_card(card, _SETTINGS).plan
        seconds.append(time.process_time() - start)
        broken += bool(plan.must_fix or plan.branches)
        if plan.moves:
            mended += 1
            clean += _clean_when_moved(card, plan)
        if seconds[-1] > _SLOW_S:
            print(f"{family} {count}: {seconds[-1]:.1f} s, {len(plan.moves)} moves", flush=True)
    figures = {
        "cards": float(len(seconds)),
        "broken": float(broken),
        "moves": float(mended),
        "clean": float(clean),
        "median_s": _quantile(seconds, 0.5),
        "seconds_90": _quantile(seconds, 0.9),
        "most_s": max(seconds),
    }
    print(", ".join(f"{name} {value:.2f}" for name, value in figures.items()))
    return figures


_SLOW_S = 3.0
_READ_MM = 0.3  # what a phone photo's reading is sure of
_SLIP_MM = 4.0  # by which every other card has one light beside its lane


def _as_read(layout: Layout, rng: np.random.Generator) -> Layout:
    """Every mark known to `_READ_MM`; every other card with a light put down beside its place."""
    lights = [replace(light, uncertainty_mm=_READ_MM) for light in layout.lights]
    if rng.random() < 0.5:
        way, k = rng.uniform(0, 2 * math.pi), int(rng.integers(len(lights)))
        x = float(np.clip(lights[k].x_mm + _SLIP_MM * math.cos(way), 1, layout.card.width_mm - 1))
        y = float(np.clip(lights[k].y_mm + _SLIP_MM * math.sin(way), 1, layout.card.height_mm - 1))
        lights[k] = replace(lights[k], x_mm=x, y_mm=y)
    assert layout.battery is not None
    battery = replace(layout.battery, uncertainty_mm=_READ_MM)
    return replace(layout, lights=tuple(lights), battery=battery)


def _clean_when_moved(card: Layout, plan: Plan) -> bool:
    """Is nothing left to fix, and nothing new to look at about a moved mark, when the card is planned again?"""
    again = plan_card(with_moves(card, plan.moves), _SETTINGS).plan
    before = {(problem.name, problem.about) for problem in plan.problems if problem.level == "look-again"}
    moved = {move.about for move in plan.moves}
    doubts = [problem for problem in again.problems if moved & set(problem.about)]
    return not must_fix_on_card(again.problems) and all(
        (problem.name, problem.about) in before for problem in doubts
    )


def _quantile(values: list[float], share: float) -> float:
    return float(np.quantile(values, share)) if values else math.nan


if __name__ == "__main__":
    if sys.argv[1:2] == ["plan"]:
        plans(
            *(int(argument) for argument in sys.argv[2:3]),
            *([int(count) for count in argument.split(",")] for argument in sys.argv[3:4]),
        )
    else:
        main(*(int(argument) for argument in sys.argv[1:]))
