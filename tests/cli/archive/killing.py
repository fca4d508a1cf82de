"""Kill the archive's jobs half-way and look whether every earlier design is intact.

    python -m tests.cli.archive.killing --moments 200          random moments, each job
    python -m tests.cli.archive.killing --steps                before every single step, each job

A child does the job and dies by SIGKILL, from outside after a random time or by its own hand before
its n-th step: a file opened, named, renamed or removed, a folder made, an SQL statement begun.
Needs fork, so no Windows.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from cli.archive import database
from cli.archive.bring_in import bring_in
from cli.archive.database import form_number, migrate
from cli.archive.design import Design
from cli.archive.health import every_design, look_over
from cli.archive.mend import mend
from cli.archive.migrations import MIGRATIONS
from cli.archive.store import Archive
from cli.archive.take_out import take_out
from tests.cli.archive.made_up import made_up

EARLIER = 5
_STEPS = (
    "open",
    "os.rename",
    "os.mkdir",
    "os.remove",
    "os.rmdir",
    "os.link",
    "os.truncate",
    "sqlite3.connect",
)


class Broken(Exception):
    """The archive was not sound after a killing."""


@dataclass
class Tally:
    job: str
    killed: int = 0
    ended: int = 0
    undone: int = 0
    done: int = 0
    leftovers: int = 0

    def line(self) -> str:
        return (
            f"{self.job:10} {self.killed:4} killed, {self.ended:3} had ended: {self.done:4} done whole, "
            f"{self.undone:4} not at all, {self.leftovers:4} left something to tidy; all sound"
        )


@dataclass(frozen=True)
class Job:
    """`do` works on an archive's folder; `outcomes` are the designs afterwards, not at all and wholly done."""

    name: str
    start: Path
    do: Callable[[Path], None]
    before: list[Design]
    after: list[Design]


def contents(folder: Path) -> list[Design]:
    with Archive(folder, writing=True) as archive:
        return sorted(every_design(archive), key=lambda design: design.number)


def jobs(place: Path) -> list[Job]:
    """The jobs, each with an archive to start from."""
    start, other, old, binned, lost = (place / name for name in ("start", "other", "old", "binned", "lost"))
    with Archive(start, writing=True) as archive:
        kept = archive.keep_all([made_up(f"Card {i}", shade=40 + i, tags=("class",)) for i in range(EARLIER)])
    with Archive(other, writing=True) as archive:
        taken = archive.keep_all([made_up(f"Guest {i}", shade=140 + i) for i in range(3)])
        take_out(archive, taken, place / "guests.zip", whole_photos=False, replace_it=False)
    shutil.copytree(start, binned)
    with Archive(binned, writing=True) as archive:
        archive.remove(kept[1:3])
    _first_form(start, old)
    shutil.copytree(binned, lost)
    (lost / "archive.db").write_bytes(b"ruined" * 2000)
    works: list[tuple[str, Path, Callable[[Path], None]]] = [
        ("keep", start, _keep),
        ("bring-in", start, lambda folder: _bring_in(folder, place / "guests.zip")),
        ("remove", start, lambda folder: _remove(folder, kept[1:3])),
        ("empty-bin", binned, _empty),
        ("migrate", old, _open),
        ("mend", lost, _mend),
    ]
    made = []
    for name, at, do in works:
        work = place / f"{name}-whole"
        shutil.copytree(at, work)
        do(work)
        # An old archive's designs are what they are, with what the later steps add; one whose list is lost
        # can't be looked at before it is mended.
        before = contents(work) if name in ("migrate", "mend") else contents(at)
        made.append(Job(name, at, do, before, contents(work)))
    return made


def _keep(folder: Path) -> None:
    with Archive(folder, writing=True) as archive:
        archive.keep(made_up("Late", shade=240, tags=("gift",)))


def _bring_in(folder: Path, path: Path) -> None:
    with Archive(folder, writing=True) as archive:
        bring_in(archive, path)


def _remove(folder: Path, designs: Sequence[Design]) -> None:
    with Archive(folder, writing=True) as archive:
        archive.remove(designs)


def _empty(folder: Path) -> None:
    with Archive(folder, writing=True) as archive:
        archive.empty_bin()


def _open(folder: Path) -> None:
    with Archive(folder, writing=True):
        pass


def _mend(folder: Path) -> None:
    mend(folder)


def _first_form(start: Path, old: Path) -> None:
    """The same designs in an archive of the first form."""
    shutil.copytree(start, old)
    for ending in ("", "-wal", "-shm"):
        (old / f"archive.db{ending}").unlink(missing_ok=True)
    with ExitStack() as stack:
        new = sqlite3.connect(old / "archive.db", isolation_level=None)
        stack.callback(new.close)
        new.execute("PRAGMA journal_mode = WAL")
        migrate(new, old, MIGRATIONS[:1])
        new.execute("ATTACH ? AS now", (str(start / "archive.db"),))
        for table in ("files", "designs", "design_tags", "design_files"):
            columns = ", ".join(row[1] for row in new.execute(f"PRAGMA main.table_info({table})"))
            new.execute(f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM now.{table}")
        assert form_number(new) == 1


def _look(job: Job, folder: Path, tally: Tally) -> None:
    """Every earlier design intact, the job whole or not at all, tidied by mend, and still able to keep."""
    if job.name == "mend":
        mend(folder)
    with Archive(folder, writing=True) as archive:
        health = look_over(archive)
        if health.bad:
            raise Broken(f"{job.name}: {health.bad}")
        tally.leftovers += health.leftovers
    now = _timeless(contents(folder))
    if now == _timeless(job.after):
        tally.done += 1
    elif now == _timeless(job.before):
        tally.undone += 1
    else:
        raise Broken(f"{job.name}: neither done nor undone: {now}")
    mend(folder)
    _keep(folder)
    with Archive(folder, writing=True) as archive:
        health = look_over(archive)
        if health.bad or health.leftovers:
            raise Broken(f"{job.name}, after mend and keep: {health}")
    if found := [*folder.rglob(".pencilamp-*"), *folder.rglob("part-*"), *folder.rglob(".mend-*")]:
        raise Broken(f"{job.name}: left lying about after mend: {found}")
    if _timeless(contents(folder))[: len(now)] != now and job.name != "empty-bin":
        raise Broken(f"{job.name}: mend or keep changed a design")


def _timeless(designs: Sequence[Design]) -> list[object]:
    """Designs without the moment they went to the bin, and without the identity a made-up one gets anew."""
    return [
        (
            design.number,
            design.title,
            design.tags,
            design.kept,
            design.removed is None,
            design.facts,
            design.files,
        )
        for design in designs
    ]


def _forked(job: Job, folder: Path, die_at: int | None) -> int:
    """Do the job in a child; its process id. The child dies before step `die_at`, or ends by itself."""
    pid = os.fork()
    if pid:
        return pid
    try:
        if die_at is not None:
            _die_before(die_at)
        job.do(folder)
        os._exit(0)
    except BaseException as error:
        print(f"{job.name}: {error!r}", file=sys.stderr)
        os._exit(3)
    raise AssertionError


def _die_before(step: int) -> None:
    left = step

    def count() -> None:
        nonlocal left
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(lambda event, _: count() if event in _STEPS else None)
    connect = sqlite3.connect

    def traced(*arguments: object, **named: object) -> sqlite3.Connection:
        connection = connect(*arguments, **named)  # type: ignore[call-overload]
        connection.set_trace_callback(lambda _: count())
        return connection

    database.sqlite3.connect = traced  # type: ignore[attr-defined]


def _ended(pid: int) -> bool:
    """Whether the child came to its end before it was killed."""
    _, status = os.waitpid(pid, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return False
    if os.WEXITSTATUS(status) != 0:
        raise Broken("the job failed by itself")
    return True


def at_random_moments(job: Job, moments: int, place: Path, chance: random.Random) -> Tally:
    tally, times = Tally(job.name), []
    for number in range(3):
        work = place / f"timed-{number}"
        shutil.copytree(job.start, work)
        begun = time.perf_counter()
        _ended(_forked(job, work, None))
        times.append(time.perf_counter() - begun)
        shutil.rmtree(work)
    longest = sorted(times)[1]
    while tally.killed < moments:
        work = place / "work"
        shutil.copytree(job.start, work)
        pid = _forked(job, work, None)
        time.sleep(chance.uniform(0, longest))
        os.kill(pid, signal.SIGKILL)
        if _ended(pid):
            tally.ended += 1
        else:
            tally.killed += 1
            _look(job, work, tally)
        shutil.rmtree(work)
    return tally


def before_every_step(job: Job, place: Path, every: int = 1) -> Tally:
    tally, step = Tally(job.name), 1
    while True:
        work = place / "work"
        shutil.copytree(job.start, work)
        ended = _ended(_forked(job, work, step))
        if ended:
            tally.ended += 1
        else:
            tally.killed += 1
        _look(job, work, tally)
        shutil.rmtree(work)
        if ended:
            return tally
        step += every


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--moments", type=int, default=24)
    parser.add_argument("--steps", action="store_true")
    parser.add_argument("--every", type=int, default=1, help="with --steps: only every n-th step")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--place", type=Path, help="where to make the archives: on the disk, or in memory")
    said = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(dir=said.place) as temporary:
        place = Path(temporary)
        for job in jobs(place):
            if said.steps:
                tally = before_every_step(job, place, said.every)
            else:
                tally = at_random_moments(job, said.moments, place, random.Random(said.seed))
            print(tally.line(), flush=True)


if __name__ == "__main__":
    main()
