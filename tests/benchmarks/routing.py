"""How often, how short and how fast traces are laid on random layouts, by kind and number of lights.

    python -m tests.benchmarks.routing                     the everyday table
    python -m tests.benchmarks.routing --layouts 2 --effort 4 --seed 7 --counts 1,4,8,12,16,20
    python -m tests.benchmarks.routing --hand-like --layouts 1 --seed 51,9102 --counts 2,4,6,8,10,12,16,20

Two sources (see layouts.py): layouts made along a lane, where `laid` is an honest share of what can
be routed, and layouts drawn in a family's shape, some of which have no lane at all. Every pair of
traces is measured again by the checker: `wrong` counts pairs with anything left to fix (where the switch fits
nowhere, a lane is laid all the same). `ratio` is the midline over the shortest path's bound plus 15.5 mm; `proven` is
the share of lanes that are the cheapest of the first catalogue, looked at closer; seconds are processor time, and
`x bound` is that over the time the bound itself takes, for comparing machines.

`--hand-like` leaves out those made along a lane, looks for branches where no lane is laid, and tells at the end how
many are laid of all, and of those that are not proven to have no lane; a lane that the checker finds wrong is none
there. Cards that are not laid are listed, as they were made: seed, kind, lights, and what is known of them.
"""

from __future__ import annotations

import argparse
import platform
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from circuit.bounds import shortest_path_bound
from circuit.check import check
from circuit.layout import Layout, Traces
from circuit.route import lay_traces
from circuit.settings import Settings
from tests.benchmarks.branches import branches_for
from tests.benchmarks.layouts import FAMILIES, drawn_layout, laid_layout

COUNTS = (1, 2, 4, 6, 8, 10, 12, 16, 20)
MADE = "along a lane"
OVERHEAD_MM = (
    15.5  # what any plan needs beyond the shortest path: 13 to past the cell's middle, 2.5 at the end
)


@dataclass(frozen=True)
class Row:
    """One layout's outcome; the figures of a lane are NaN where none was laid."""

    family: str
    count: int
    seed: int
    laid: bool
    wrong: bool
    none_proven: bool
    ratio: float
    folds_per_light: float
    proven: bool
    seconds: float
    bound_seconds: float
    branched: bool = False

    @property
    def clean(self) -> bool:
        return self.laid and not self.wrong


def layouts(counts: Iterable[int], per_cell: int, seed: int) -> Iterable[tuple[str, int, Layout]]:
    """`per_cell` layouts of each family and count; made ones only where their own lane is clean."""
    settings = Settings()
    for count in counts:
        rng = np.random.default_rng((seed, count))
        made = 0
        while made < 3 * per_cell:  # the honest denominator deserves the larger share
            layout, traces = laid_layout(count, rng)
            if not must_fix(layout, traces, settings):
                made += 1
                yield MADE, count, layout
        for family in FAMILIES:
            for _ in range(per_cell):
                try:
                    yield family, count, drawn_layout(family, count, rng)
                except RuntimeError:  # so many lights of that shape don't fit a card
                    continue


def must_fix(layout: Layout, traces: Traces, settings: Settings) -> bool:
    return any(problem.level == "must-fix" for problem in check(layout, traces, settings))


def measure(
    family: str, count: int, layout: Layout, effort: int, seed: int, *, branches: bool = False
) -> Row:
    settings = Settings()
    started = time.process_time()
    routed = lay_traces(layout, settings, effort=effort)
    seconds = time.process_time() - started
    assert layout.battery is not None
    started = time.process_time()
    shortest_path_bound(
        layout.battery.centre, layout.battery.diameter_mm / 2, [light.centre for light in layout.lights]
    )
    bound_seconds = time.process_time() - started
    none = any(block.proven for block in routed.blocked)
    if routed.traces is None:
        branched = branches and branches_for(layout, settings, routed) is not None
        return Row(
            family, count, seed, False, False, none, np.nan, np.nan, False, seconds, bound_seconds, branched
        )
    return Row(
        family,
        count,
        seed,
        True,
        must_fix(layout, routed.traces, settings),
        none,
        routed.midline_mm / (routed.lower_bound_mm + OVERHEAD_MM),
        routed.folds / count,
        routed.proven_best,
        seconds,
        bound_seconds,
    )


def shares(rows: Sequence[Row]) -> str:
    """What is laid of all, and of those that may be laid, and each card that is not."""
    unlaid = [row for row in rows if not row.clean]
    clean, branched = len(rows) - len(unlaid), sum(row.branched for row in unlaid)
    proven = sum(row.none_proven for row in unlaid)
    open_ = len(rows) - proven
    told = [
        f"laid as one lane: {clean} of {len(rows)} ({100 * clean / len(rows):.1f} %), with branches {clean + branched}",
        f"of those not proven to have none: {clean} of {open_} ({100 * clean / max(open_, 1):.1f} %)",
    ]
    for row in unlaid:
        known = "none there" if row.none_proven else "none found"
        more = ", with branches" if row.branched else ", laid over the switch" if row.wrong else ""
        told.append(f"  {row.seed} {row.family} {row.count}: {known}{more}")
    return "\n".join(told)


def table(rows: Sequence[Row], title: str) -> str:
    """One line of figures for a group of rows."""
    laid = [row for row in rows if row.laid]
    seconds = [row.seconds for row in rows]
    times = [row.seconds / max(row.bound_seconds, 1e-6) for row in rows]
    figures = (
        f"{title:14s} {len(rows):4d} {100 * len(laid) / len(rows):5.0f} % {sum(row.wrong for row in rows):5d}"
    )
    if laid:
        ratios, folds = [row.ratio for row in laid], [row.folds_per_light for row in laid]
        figures += f"  {np.median(ratios):6.3f} {np.percentile(ratios, 90):6.3f}"
        figures += f"  {np.median(folds):5.2f} {np.percentile(folds, 90):5.2f}"
        figures += f"  {100 * sum(row.proven for row in laid) / len(laid):4.0f} %"
    else:
        figures += " " * 36
    figures += f"  {np.median(seconds):6.2f} {np.percentile(seconds, 90):6.2f} {max(seconds):6.2f}"
    return figures + f"  {np.median(times):7.0f}"


HEADER = (
    "kind              N   laid  wrong   ratio    90 %  folds  90 %  proven  seconds  90 %   most  x bound\n"
    "                                   median         /light                  median"
)


def main(
    counts: Sequence[int] = COUNTS,
    per_cell: int = 4,
    seeds: Sequence[int] = (1,),
    effort: int = 1,
    *,
    hand_like: bool = False,
) -> list[Row]:
    """Measure and print; the rows for a caller that wants more."""
    print(f"python {platform.python_version()}, numpy {np.__version__}, {platform.machine()}")
    lay_traces(laid_layout(3, np.random.default_rng(0))[0], Settings())  # warm up
    rows = [
        measure(family, count, layout, effort, seed, branches=hand_like)
        for seed in seeds
        for family, count, layout in layouts(counts, per_cell, seed)
        if not (hand_like and family == MADE)
    ]
    print(HEADER)
    for family in (MADE, *FAMILIES):
        group = [row for row in rows if row.family == family]
        if group:
            print(table(group, family))
    for count in counts:
        print(table([row for row in rows if row.count == count], f"{count} lights"))
    print(table(rows, "all"))
    if hand_like:
        print(shares(rows))
    return rows


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--layouts", type=int, default=4, help="layouts of each kind and count")
    parser.add_argument("--seed", default="1", help="one or more, parted by commas")
    parser.add_argument("--hand-like", action="store_true", help="leave out those made along a lane")
    parser.add_argument("--effort", type=int, default=1)
    parser.add_argument("--counts", default=",".join(map(str, COUNTS)), help="numbers of lights")
    given = parser.parse_args()
    main(
        [int(count) for count in given.counts.split(",")],
        given.layouts,
        [int(seed) for seed in given.seed.split(",")],
        given.effort,
        hand_like=given.hand_like,
    )
