"""How often 'a light stays dark' names the fault that was put into a card: before and after one trial.

    python -m tests.benchmarks.faults --cards 100 --each 10

Each card is made along a lane of its own (3 to 14 lights); its faults are drawn as they are common, contact from
so-so to open, the cell anywhere from fresh to half used. A person who is not the program's model of one looks at it:
sharp limits of their own, each light misjudged now and then; one person in five names the dark lights alone, the
others miss one dim light in seven. Faults that nobody would notice are drawn again. *First* counts faults that nothing
seen tells from the first, *strictly first* those alone that are named first. Costs are processor time, as a multiple
of one solve of the card.
"""

from __future__ import annotations

import argparse
import platform
import time
from dataclasses import replace

import numpy as np

from circuit.electrics import bench_of, cell_state
from circuit.faults import after_trial, rank_faults
from circuit.faults.effect import good_card
from circuit.faults.possible import possible_faults
from circuit.faults.trials import answer_chances
from circuit.settings import Settings
from tests.benchmarks.layouts import laid_layout

SO_SO_OHM, NEARLY_OPEN_OHM = 3.0, 1000.0
TIED = 1e-3  # of the fit: what is seen does not tell such faults apart


def currents_with(card, fault, rng):
    """(N,) amperes with that fault, its contact and the cell drawn; and with no fault at all."""
    circuit, settings = card.circuit, card.settings
    state = cell_state(settings.cell, float(rng.uniform(0, 0.5)))
    good = circuit.currents([state])[0]
    if fault.kind == "cell-turned":
        return np.zeros_like(good), good
    if fault.kind == "touching":
        # The whole card hangs on what the touch leaves of the cell's volts: solved by halving, no branch of its own.
        ohm = float(rng.uniform(0.02, 2.0))
        source = state.ohm + circuit.wiring.flap_ohm
        thevenin = replace(state, emf_v=state.emf_v * ohm / (ohm + source), ohm=0.0)
        joined = replace(thevenin, ohm=source * ohm / (source + ohm))
        bare = replace(circuit, wiring=replace(circuit.wiring, flap_ohm=0.0))
        return bare.currents([joined])[0], good
    if fault.kind == "cell-spent":
        return circuit.currents([cell_state(settings.cell, float(rng.uniform(0.88, 1.0)))])[0], good
    ohm = 1e7
    if fault.kind not in ("turned", "dead") and rng.random() < 0.5:
        ohm = float(np.exp(rng.uniform(np.log(SO_SO_OHM), np.log(NEARLY_OPEN_OHM))))
    through = np.array([label in fault.beyond for label in card.labels], dtype=float)
    broken = replace(circuit, rail_ohm=circuit.rail_ohm + ohm * np.outer(through, through))
    return broken.currents([state])[0], good


def seen(amperes, good, labels, rng):
    """The labels that a person calls dark and dim; none where nothing is wrong that they could see."""
    share = amperes / np.maximum(good, 1e-30)
    dark, dim = [], []
    truly_seen = False
    misses_dim = 1.0 if rng.random() < 0.2 else 0.15
    own = np.exp(rng.normal(0, 0.3, 3))  # this person's limits
    for label, current, one in zip(labels, amperes, share):
        limit = own * np.exp(rng.normal(0, 0.1, 3))
        look = "lit"
        if current < 20e-6 * limit[0] or one < 0.025 * limit[0]:
            look = "dark"
        elif one < 0.45 * share.max() * limit[1] or one < 0.2 * limit[2]:
            look = "dim" if rng.random() > misses_dim else "lit"
        truly_seen |= look != "lit"
        if rng.random() < 0.01:
            look = {"dark": "dim", "dim": "lit", "lit": "dim"}[look]
        (dark if look == "dark" else dim if look == "dim" else []).append(label)
    return (dark, dim) if truly_seen else ([], [])


def place_of(ranking, fault):
    """How many explanations are ranked before it and are told from it by what is seen; None: it is not there."""
    true = next((one for one in ranking.ranked if one.faults == (fault,)), None)
    if true is None:
        return None
    return sum(
        1
        for one in ranking.ranked
        if one.share > true.share and abs(one.fit - true.fit) > TIED * max(one.fit, true.fit)
    )


def main(cards=100, each=10, seed=5, corners="folded"):
    rng = np.random.default_rng(seed)
    settings = Settings(corners=corners)
    counts = {"first": 0, "strictly first": 0, "first three": 0, "strictly first three": 0, "after: first": 0,
              "after: strictly first": 0}  # fmt: skip
    missed, total, slowest, yard = {}, 0, 0.0, []
    for _ in range(cards):
        layout, traces = laid_layout(int(rng.integers(3, 15)), rng, settings)
        card = good_card(layout, traces, settings, None)
        faults = possible_faults(layout, traces, settings)
        common = np.array([fault.common for fault in faults])
        start = time.process_time()
        bench_of(layout, traces, settings).solve()
        yard.append(time.process_time() - start)
        for _ in range(each):
            while True:
                fault = faults[int(rng.choice(len(faults), p=common / common.sum()))]
                dark, dim = seen(*currents_with(card, fault, rng), card.labels, rng)
                if dark or dim:
                    break
            start = time.process_time()
            ranking = rank_faults(layout, traces, dark, dim, settings)
            slowest = max(slowest, time.process_time() - start)
            total += 1
            tied, strict = place_of(ranking, fault), [one.faults for one in ranking.ranked].index((fault,))
            counts["first"] += tied == 0
            counts["strictly first"] += strict == 0
            counts["first three"] += tied < 3
            counts["strictly first three"] += strict < 3
            if ranking.trial is not None:
                chances = answer_chances(ranking.trial, fault, ranking.lapped)
                ranking = after_trial(ranking, str(rng.choice(list(chances), p=list(chances.values()))))
            after = place_of(ranking, fault)
            counts["after: first"] += after == 0
            counts["after: strictly first"] += ranking.ranked[0].faults == (fault,)
            if tied != 0 or after != 0:
                kinds = (fault.kind, ranking.ranked[0].faults[0].kind, len(dark) == len(card.labels))
                missed[kinds] = missed.get(kinds, 0) + 1
    print(
        f"{platform.machine()}, Python {platform.python_version()}: {total} faults on {cards} cards, {corners}"
    )
    for name, count in counts.items():
        print(f"  {name:24s} {100 * count / total:5.1f} %")
    print(f"  slowest {1e3 * slowest:.0f} ms, {slowest / np.median(yard):.0f} solves of the card")
    for kinds, count in sorted(missed.items(), key=lambda item: -item[1])[:8]:
        print(f"  missed {count:3d}: was {kinds[0]}, first was {kinds[1]}{', all dark' if kinds[2] else ''}")
    return {name: count / total for name, count in counts.items()}


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cards", type=int, default=100)
    parser.add_argument("--each", type=int, default=10)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--corners", default="folded")
    asked = parser.parse_args()
    main(asked.cards, asked.each, asked.seed, asked.corners)
