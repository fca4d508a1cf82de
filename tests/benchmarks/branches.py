"""How many cards without a lane get branches, and what looking for them takes:
`python -m tests.benchmarks.branches [CARDS] [SEED]`.

Lights are scattered with nearly half of them near edges and in corners, where single lanes fail, every mark rule kept;
cards with a lane are passed over. Told:

    tried      cards drawn until so many had no lane
    branched   of those without a lane, the share that gets branches, one or two; all without a must-fix
    time       looking for branches over routing the same card without success, processor time, median and 90 %
    longer     tape of lane and branches over the shortest path through all lights, median and 90 %
"""

from __future__ import annotations

import math
import sys
import time
from functools import partial

import numpy as np

from circuit.branches import Branched, lay_branches
from circuit.check import check, must_fix_on_card
from circuit.joint import lines_of
from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.polyline import length
from circuit.route import Routed, lay_traces
from circuit.settings import Settings

_SETTINGS = Settings()
_CARDS = (Card(107.95, 139.7), Card(127.0, 177.8))
_EDGE_MM, _NEAR_EDGE_MM = 7.6, 11.0  # a light's middle to an edge: as near as may be, and hard to pass by
_NEAR_EDGES = 0.45  # share of the lights that lie there; half of them in corners
_APART_MM, _TO_CELL_MM = 8.0, 21.0
_TRIES = 2000


def hard_layout(rng: np.random.Generator, counts: tuple[int, int] = (3, 10)) -> Layout:
    """Lights as above, the battery in the card's lower part with room for its switch."""
    card = _CARDS[int(rng.integers(len(_CARDS)))]
    battery = (
        float(rng.uniform(30.0, card.width_mm - 30.0)),
        float(rng.uniform(card.height_mm - 45.0, card.height_mm - 28.0)),
    )
    wanted = int(rng.integers(counts[0], counts[1] + 1))
    places: list[tuple[float, float]] = []
    for _ in range(_TRIES):
        place = _place(card, rng)
        far = math.dist(place, battery) >= _TO_CELL_MM
        if far and all(math.dist(place, other) >= _APART_MM for other in places):
            places.append(place)
        if len(places) == wanted:
            break
    lights = tuple(LightMark(f"L{i + 1}", x, y) for i, (x, y) in enumerate(places))
    return Layout(card, lights, BatteryMark(*battery, 20.5))


def _place(card: Card, rng: np.random.Generator) -> tuple[float, float]:
    sizes = (card.width_mm, card.height_mm)
    place = [float(rng.uniform(_EDGE_MM, size - _EDGE_MM)) for size in sizes]
    if rng.random() < _NEAR_EDGES:
        axes = (0, 1) if rng.random() < 0.5 else (int(rng.integers(2)),)
        for axis in axes:
            off = float(rng.uniform(_EDGE_MM, _NEAR_EDGE_MM))
            place[axis] = off if rng.random() < 0.5 else sizes[axis] - off
    return place[0], place[1]


def branches_for(layout: Layout, settings: Settings, routed: Routed) -> tuple[Branched, Routed] | None:
    """A lane with branches where the router laid no single one, as a plan asks for it."""
    return lay_branches(
        layout,
        settings,
        route=lay_traces,
        quick_route=partial(lay_traces, quick=True),
        dead_ends=routed.dead_ends,
        hopeful=False,
    )


def main(cards: int = 12, seed: int = 1, counts: tuple[int, int] = (3, 10)) -> dict[str, float]:
    """Print the line; the same figures come back."""
    rng = np.random.default_rng(seed)
    tried = unlaid = one = two = unclean = 0
    times, longer = [], []
    while unlaid < cards:
        layout = hard_layout(rng, counts)
        if must_fix_on_card(check(layout, None, _SETTINGS)):
            continue
        tried += 1
        start = time.process_time()
        routed = lay_traces(layout, _SETTINGS)
        routing = time.process_time() - start
        if routed.traces is not None:
            continue
        unlaid += 1
        start = time.process_time()
        found = branches_for(layout, _SETTINGS, routed)
        times.append((time.process_time() - start) / max(routing, 1e-3))
        if found is None:
            continue
        traces = found[0].traces
        one, two = one + (len(traces.branches) == 1), two + (len(traces.branches) == 2)
        unclean += bool(must_fix_on_card(check(layout, traces, _SETTINGS)))
        longer.append(sum(map(length, lines_of(traces))) / 2 / routed.lower_bound_mm)
    figures = {
        "tried": float(tried),
        "branched": (one + two) / cards,
        "one": one / cards,
        "two": two / cards,
        "unclean": float(unclean),
        "time": float(np.median(times)),
        "time_90": float(np.quantile(times, 0.9)),
        "longer": float(np.median(longer)) if longer else math.nan,
    }
    print(
        f"{tried} tried, {cards} without a lane: branched {figures['branched']:.0%} (one {figures['one']:.0%}, two "
        f"{figures['two']:.0%}), {unclean} unclean; time {figures['time']:.1f} {figures['time_90']:.1f}; "
        f"longer {figures['longer']:.2f}"
    )
    return figures


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:]))
