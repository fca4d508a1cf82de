"""python -m tests.benchmarks.train_placing make OUT.jsonl --seed S --count N [--first K] [--jobs J] [--seconds T]

Record what simulated photos say of each placing, and whether that is right.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.benchmarks.placing_samples import make


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
    options = parser.parse_args()
    numbers = range(options.first, options.first + options.count)
    print(make(options.out, options.seed, numbers, options.jobs, options.seconds))


if __name__ == "__main__":
    main()
