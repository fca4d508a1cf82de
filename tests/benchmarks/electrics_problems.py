"""How often each problem of the circuit comes on cards as makers draw them: no warning may come on most cards.

python -m tests.benchmarks.electrics_problems
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from circuit.electrics import bench_of, electrics_problems
from circuit.parts import default_parts
from circuit.settings import Settings
from tests.benchmarks.layouts import laid_layout

KINDS = (
    ("5050", "white", "CR2032"),
    ("3528", "white", "CR2032"),
    ("1206", "white", "CR2032"),
    ("5050", "blue", "CR2032"),
    ("2835", "green", "CR2032"),
    ("5050", "white", "CR2025"),
    ("5050", "white", "CR1220"),
    ("3528", "red", "CR2032"),
    ("5050", "red", "CR2032"),
)


def main(cards=60, kinds=KINDS):
    parts, found = default_parts(), {}
    for light, colour, cell in kinds:
        settings = Settings(light=parts.light(light, colour), cell=parts.cell(cell))
        counts = Counter()
        for seed in range(cards):
            rng = np.random.default_rng(seed)
            layout, traces = laid_layout(int(rng.integers(2, 13)), rng, settings)
            counts.update(
                {problem.name for problem in electrics_problems(bench_of(layout, traces, settings))}
            )
        found[light, colour, cell] = counts
        told = ", ".join(f"{name} {count}" for name, count in counts.items()) or "none"
        print(f"{light} {colour} on {cell}, {cards} cards: {told}")
    return found


if __name__ == "__main__":
    main()
