"""What ten thousand designs cost against a handful: keep, list, find, and the memory they take.

    python -m tests.benchmarks.archive                    20 and 10,000 designs
    python -m tests.benchmarks.archive --place /dev/shm   in memory: without the disk's own time

All designs are made up: real plans, tiny pictures. Times are the best of several, both archives and the floor in
turn; memory is the most that the whole command takes, in a process of its own. The floor is the least that the same
job can cost with 10,000 designs: bare SQLite that opens the same list, asks the same and reads the same rows, and for
`keep` bare files, written and flushed, and one row.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from functools import partial
from pathlib import Path

from circuit.layout import Card
from cli.archive.archive_folder import LIST_NAME
from cli.archive.health import look_over
from cli.archive.kept_design import NewDesign
from cli.archive.printed import table
from cli.archive.questions import Wanted
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
            list(table(archive.newest(wanted, 40)[0], 80))

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


# What bare SQLite is asked for each job, of the list's own tables.
ASKED = {
    "list": "removed IS NULL",
    "find two words": 'number IN (SELECT rowid FROM words WHERE words MATCH \'"harb"* "star"*\')',
    "find 9 lights, CR2016": "lights = 9 AND lower(cell) LIKE '%cr2016'",
    "find by card and tag": (
        "number IN (SELECT design FROM tags WHERE folded = 'class 7') AND abs(card_width_mm - 105) <= 1.5"
        " AND abs(card_height_mm - 148) <= 1.5"
    ),
    "find nothing": "number IN (SELECT rowid FROM words WHERE words MATCH '\"nowhere\"*')",
    "show by title": "title_folded = 'harbour harbour harbour 0'",
}


def floors(fresh: Callable[[], NewDesign], place: Path) -> dict[str, Callable[[Path], None]]:
    """The least that each job can cost: the same questions to the same file, the same bytes on the same disk."""

    def asked(where: str) -> Callable[[Path], None]:
        def work(folder: Path) -> None:
            with closing(sqlite3.connect(folder / LIST_NAME)) as bare:
                bare.execute(f"SELECT count(*) FROM designs WHERE {where}").fetchone()
                rows = bare.execute(
                    f"SELECT slip FROM designs JOIN texts USING (number) WHERE {where} ORDER BY kept DESC LIMIT 40"
                )
                for row in rows:
                    json.loads(row[0])

        return work

    def kept(_: Path) -> None:
        for number, file in enumerate(fresh().files):
            with file.open() as source, (place / f"bare-{number}").open("wb") as target:
                target.write(source.read())
                target.flush()
                os.fsync(target.fileno())
        with closing(sqlite3.connect(place / "bare.db")) as bare, bare:
            bare.execute("CREATE TABLE IF NOT EXISTS kept (name TEXT)")
            bare.execute("INSERT INTO kept VALUES ('bare')")

    return {"keep": kept, **{name: asked(where) for name, where in ASKED.items()}}


def best_ms(works: Sequence[Callable[[], None]], repeats: int) -> list[float]:
    """In turn, so that what slows the machine down slows all of them."""
    best = [float("inf")] * len(works)
    for _ in range(repeats):
        for index, work in enumerate(works):
            begun = time.perf_counter()
            work()
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
        print(f"{'':24}{heads[0]:>14}{heads[1]:>16}{'ratio':>8}{'floor':>12}{'over it':>9}")
        bare = floors(lambda: design(next(numbers)), temporary)
        for name, work in jobs(lambda: design(next(numbers))).items():
            in_turn = [*(partial(work, folder) for folder in folders), partial(bare[name], folders[1])]
            few, many, floor = best_ms(in_turn, repeats)
            print(
                f"{name:24}{few:11.2f} ms{many:13.2f} ms{many / few:8.2f}{floor:9.2f} ms{many / floor:9.2f}"
            )
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
