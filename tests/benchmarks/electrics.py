"""How long the numbers behind a card take, for 1 to 20 lights on one core.

Each row: one part's processor time in milliseconds (not wall time: other work on the machine must not
count), and as a multiple of one dense solve by NumPy of as many
equations as there are lights, taken in the same run, which is what travels from machine to machine.

    python -m tests.benchmarks.electrics
"""

from __future__ import annotations

import platform
import time
from functools import partial

import numpy as np

from circuit.electrics import HALF_USED, bench_of, contact_loss, currents_of, electrics_problems, lifetime
from circuit.glow import glow_field, glow_of
from circuit.layout import BatteryMark, Card, Layout, LightMark, Traces
from circuit.parts import default_parts
from circuit.settings import Settings
from circuit.stack import stack_of
from circuit.stack_problems import stack_problems


def card_of(count, seed=7):
    """A card with that many lights along a lane that winds down from its top, and a window over them."""
    rng = np.random.default_rng(seed)
    along = np.arange(count)
    row, column = along // 7, along % 7
    x = np.where(row % 2, 90.0 - 12 * column, 18.0 + 12 * column) + rng.uniform(-1, 1, count)
    y = 18.0 + 14 * row + rng.uniform(-1, 1, count)
    marks = tuple(LightMark(f"L{i + 1}", float(a), float(b)) for i, (a, b) in enumerate(zip(x, y)))
    battery = BatteryMark(80.0, 112.0, 20.0)
    layout = Layout(Card(107.95, 139.7), marks, battery, ((8, 8), (100, 8), (100, 70), (8, 70)))
    middle = [mark.centre for mark in marks][::-1]
    lanes = ([(80.0, 112.0), *((a + side, b + 2.5) for a, b in middle)] for side in (0.1, -0.1))
    positive, negative = (tuple(lane) for lane in lanes)
    return layout, Traces(positive, negative)


def everything(layout, traces, settings, lights):
    """What a plan with its glow asks for, once each."""
    bench = bench_of(layout, traces, settings, lights)
    fresh, half = bench.solve(), bench.solve(state=HALF_USED)
    stack = stack_of(settings)
    return (
        currents_of(fresh, half),
        lifetime(bench),
        contact_loss(bench),
        electrics_problems(bench),
        stack_problems(stack, layout, settings),
        glow_of(layout, fresh, settings, stack.heights.foam_mm, tuple(default_parts().foams.values())),
    )


def best_of(repeats, work):
    best, result = float("inf"), None
    for _ in range(repeats):
        start = time.process_time()
        result = work()
        best = min(best, time.process_time() - start)
    return best, result


def main(counts=(1, 5, 20), repeats=20):
    print(f"{platform.machine()}, Python {platform.python_version()}, NumPy {np.__version__}")
    parts = default_parts()
    settings = Settings()
    stack = stack_of(settings)
    for count in counts:
        layout, traces = card_of(count)
        bench = bench_of(layout, traces, settings)
        solved = bench.solve()
        mixed = {layout.lights[0].label: parts.light("5050", "red")}
        matrix = np.random.default_rng(1).random((count, count)) + count * np.eye(count)
        yard, _ = best_of(200, partial(np.linalg.solve, matrix, matrix[0]))
        work = {
            "lay out": partial(bench_of, layout, traces, settings),
            "solve": bench.solve,
            "problems": partial(electrics_problems, bench),
            "problems, one red": partial(electrics_problems, bench_of(layout, traces, settings, mixed)),
            "contact": partial(contact_loss, bench),
            "lifetime": partial(lifetime, bench),
            "glow_field": partial(glow_field, layout, solved, stack.heights.foam_mm),
            "glow, with what would even it": partial(
                glow_of, layout, solved, settings, stack.heights.foam_mm, tuple(parts.foams.values())
            ),
            "stack": partial(stack_problems, stack, layout, settings),
            "all of it": partial(everything, layout, traces, settings, None),
            "all of it, one red": partial(everything, layout, traces, settings, mixed),
        }
        for name, function in work.items():
            seconds, _ = best_of(repeats, function)
            print(f"{count:3d} lights  {name:20s} {seconds * 1e3:8.2f} ms  {seconds / yard:9.0f} solves")
    return True


if __name__ == "__main__":
    main()
