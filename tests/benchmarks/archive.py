"""What ten thousand designs cost against a handful: keep, list, find, and the memory they take.

    python -m tests.benchmarks.archive                    20 and 10,000 designs
    python -m tests.benchmarks.archive --place /dev/shm   in memory: without the disk's own time

All designs are made up: real plans, tiny pictures. Times are the best of several, both archives in
turn; memory is the most that the whole command takes, in a process of its own.
"""

from __future__ import annotations

import argparse
import os
import platform
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from circuit.layout import Card
from cli.archive.design_list import Wanted
from cli.archive.health import look_over
from cli.archive.kept_design import NewDesign
from cli.archive.printed import table
from cli.archive.store import Archive
from tests.cli.archive.made_up import made_up, made_up_plan

WORDS = "harbour campfire lighthouse moor quay lantern window star tree boat snow bridge meadow kite".split()
CELLS = ("CR2032", "CR2016", "CR2025")
CARDS = (Card(107.95, 139.7, "quarter-letter"), Card(105.0, 148.0, "A6"), Card(127.0, 177.8, "5x7in"))
AT_ONCE = 250


def design(number: int) -> NewDesign:
    """The number-th made-up design: always the same, no two alike."""
    words = [WORDS[number % 14], WORDS[number // 14 % 14], WORDS[number // 196 % 14]]
    plan = made_up_plan(
        lights=1 + number % 12,
        cell=CELLS[number % 3],
        card=CARDS[number // 3 % 3],
        must_fix=number % 7 // 5,
        photo=f"{words[0]}-{number}.jpg",
    )
    return made_up(
        f"{' '.join(words)} {number}",
        shade=number % 250,
        tags=(f"class {number % 40}",),
        note=f"For the {words[2]} evening, number {number}.",
        days_ago=number / 10,
        plan=plan,
    )


def filled(folder: Path, count: int) -> Path:
    for start in range(0, count, AT_ONCE):
        with Archive(folder, writing=True) as archive:
            archive.keep_all(design(number) for number in range(start, min(start + AT_ONCE, count)))
    return folder


def opened(folder: Path, work: Callable[[Archive], object], writing: bool = False) -> None:
    with Archive(folder, writing=writing) as archive:
        work(archive)


def jobs(fresh: Callable[[], NewDesign]) -> dict[str, Callable[[Path], None]]:
    """What a person does, from opening the archive to closing it."""

    def shown(wanted: Wanted) -> Callable[[Path], None]:
        def work(archive: Archive) -> None:
            archive.count(wanted)
            list(table(archive.find(wanted, 40), 80))

        return lambda folder: opened(folder, work)

    return {
        "keep": lambda folder: opened(folder, lambda archive: archive.keep(fresh()), writing=True),
        "list": shown(Wanted()),
        "find two words": shown(Wanted(words=("harb", "star"))),
        "find 9 lights, CR2016": shown(Wanted(lights=(9, 9), cell="CR2016")),
        "find by card and tag": shown(Wanted(card_mm=(105.0, 148.0), tags=("class 7",))),
        "find nothing": shown(Wanted(words=("nowhere",), cell="CR9")),
        "show by title": lambda folder: opened(
            folder, lambda archive: archive.pick("harbour harbour harbour 0")
        ),
    }


def best_ms(work: Callable[[Path], None], folders: Sequence[Path], repeats: int) -> list[float]:
    """In turn, so that what slows the machine down slows both."""
    best = [float("inf")] * len(folders)
    for _ in range(repeats):
        for index, folder in enumerate(folders):
            begun = time.perf_counter()
            work(folder)
            best[index] = min(best[index], (time.perf_counter() - begun) * 1e3)
    return best


MEASURED = """
import resource, sys
from pathlib import Path
from cli.main import main
main(sys.argv[1:], standalone_mode=False)
status = Path("/proc/self/status")
if status.exists():  # Linux: getrusage would tell the parent's memory where that was more
    most = next(line.split()[1] for line in status.read_text().splitlines() if line.startswith("VmHWM"))
else:
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1000 if sys.platform == "darwin" else 1)
print(most, file=sys.stderr)
"""


def most_mb(folder: Path, *command: str) -> float:
    """The most memory that a command takes. [MB]"""
    finished = subprocess.run(
        [sys.executable, "-c", MEASURED, "archive", *command, "--at", str(folder)],
        capture_output=True,
        text=True,
        check=True,
    )
    return float(finished.stderr.split()[-1]) / 1e3


def main(small: int = 20, large: int = 10_000, repeats: int = 7, place: Path | None = None) -> None:
    temporary = Path(tempfile.mkdtemp(dir=place))
    numbers = iter(range(10 * large, 11 * large + 1000))
    try:
        print(f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {os.cpu_count()} cores")
        begun = time.perf_counter()
        folders = [filled(temporary / "small", small), filled(temporary / "large", large)]
        print(f"{small} and {large:,} designs made in {time.perf_counter() - begun:.0f} s")
        heads = (f"{small} designs", f"{large:,} designs")
        print(f"{'':24}{heads[0]:>14}{heads[1]:>16}{'more':>12}{'ratio':>8}")
        for name, work in jobs(lambda: design(next(numbers))).items():
            few, many = best_ms(work, folders, repeats)
            print(f"{name:24}{few:11.1f} ms{many:13.1f} ms{many - few:9.1f} ms{many / few:8.2f}")
        for command in (("list",), ("find", "harb"), ("list", "--all"), ("check",)):
            few, many = (most_mb(folder, *command) for folder in folders)
            print(
                f"memory, {' '.join(command):16}{few:11.1f} MB{many:13.1f} MB{many - few:9.1f} MB{many / few:8.2f}"
            )
        with Archive(folders[1], writing=False) as archive:
            health = look_over(archive)
        assert not health.bad, "a fast archive that loses designs is no result"
        print(f"the large one looked over: {health.designs:,} designs, {health.files:,} files, all sound")
    finally:
        shutil.rmtree(temporary, ignore_errors=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--small", type=int, default=20)
    parser.add_argument("--large", type=int, default=10_000)
    parser.add_argument("--repeats", type=int, default=7)
    parser.add_argument("--place", type=Path, help="where to make the archives")
    said = parser.parse_args()
    main(said.small, said.large, said.repeats, said.place)
