"""python -m tests.benchmarks.train_placing make OUT.jsonl --seed S --count N [--first K] [--jobs J] [--seconds T]
   python -m tests.benchmarks.train_placing report SAMPLES.jsonl...
   python -m tests.benchmarks.train_placing learn SAMPLES.jsonl... --judge OTHERS.jsonl...

`make` records what simulated photos say of each placing, whether that is right, and how each photo was read; `report`
prints the reading's verdicts by condition; `learn` fits one price of a placing to some and judges it on others.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.benchmarks.placing_price import judge, learn, reliability
from tests.benchmarks.placing_samples import kept, make
from tests.benchmarks.reading import bad_photos, table


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    steps = parser.add_subparsers(dest="step", required=True)
    making = steps.add_parser("make")
    making.add_argument("out", type=Path)
    making.add_argument("--seed", type=int, required=True)
    making.add_argument("--first", type=int, default=0)
    making.add_argument("--count", type=int, required=True)
    making.add_argument("--jobs", type=int, default=1)
    making.add_argument("--seconds", type=float, default=540.0, help="no photo is begun later than this")
    for name in ("report", "learn"):
        step = steps.add_parser(name)
        step.add_argument("samples", type=Path, nargs="+")
        if name == "learn":
            step.add_argument("--judge", type=Path, nargs="+", required=True)
    options = parser.parse_args()
    if options.step == "make":
        numbers = range(options.first, options.first + options.count)
        print(make(options.out, options.seed, numbers, options.jobs, options.seconds))
    elif options.step == "report":
        scores = [one.told for one in kept(options.samples)]
        print(table(scores) + "\n\n" + "\n".join(bad_photos(scores)))
    else:
        price, others = learn(kept(options.samples)), kept(options.judge)
        print(judge(price, others) + "\n" + reliability(price, others))


if __name__ == "__main__":
    main()
