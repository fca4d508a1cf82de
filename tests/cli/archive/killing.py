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
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path

from circuit.parts import default_parts
from cli.archive import open_list
from cli.archive.archive_folder import LIST_NAME
from cli.archive.bring_in import bring_in
from cli.archive.health import look_over
from cli.archive.kept_design import Design
from cli.archive.mend import mend
from cli.archive.questions import Wanted
from cli.archive.redo import design_of, redo
from cli.archive.slips import slip_path
from cli.archive.store import Archive
from cli.archive.take_out import take_out
from cli.plan_options import PlanOptions
from cli.progress import silent
from tests.cli.archive.made_up import designs_in, made_up, old_archive

EARLIER = 5
_STEPS = "open os.rename os.mkdir os.remove os.rmdir os.link os.truncate sqlite3.connect".split()


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
    do: Callable[[Path], object]
    before: list[Design]
    after: list[Design]


def jobs(place: Path) -> list[Job]:
    """The jobs, each with an archive to start from."""
    start, other, old, binned, lost = (place / name for name in ("start", "other", "old", "binned", "lost"))
    with Archive(start, writing=True) as archive:
        kept = archive.keep_all([made_up(f"Card {i}", shade=40 + i, tags=("class",)) for i in range(EARLIER)])
        plain = made_up("Plan alone", shade=90)
        archive.keep(replace(plain, files=tuple(file for file in plain.files if file.role != "photo")))
    with Archive(other, writing=True) as archive:
        taken = archive.keep_all([made_up(f"Guest {i}", shade=140 + i) for i in range(3)])
        take_out(archive, taken, place / "guests.zip", whole_photos=True, replace_it=False)
    shutil.copytree(start, binned)
    with Archive(binned, writing=True) as archive:
        archive.remove(kept[1:3])
    old_archive(old, 1)
    shutil.copytree(binned, lost)
    (lost / LIST_NAME).write_bytes(b"ruined" * 2000)
    slip_path(lost, 4).rename(slip_path(lost, 4).with_name("four.json"))
    binned_ones = Wanted(binned=True)
    works: list[tuple[str, Path, Callable[[Path], object]]] = [
        ("keep", start, _opened(_keep)),
        ("bring-in", start, _opened(lambda archive: bring_in(archive, place / "guests.zip"))),
        ("relabel", start, _opened(lambda archive: archive.relabel(2, _otherwise))),
        ("remove", start, _opened(lambda archive: archive.remove(kept[1:3]))),
        ("put-back", binned, _opened(lambda archive: archive.put_back(list(archive.find(binned_ones))))),
        ("empty-bin", binned, _opened(lambda archive: archive.empty_bin(list(archive.find(binned_ones))))),
        ("redo", start, _opened(_redo)),
        ("earlier", old, _opened(lambda archive: None)),
        ("mend", lost, mend),
    ]
    made = []
    for name, at, do in works:
        work = place / f"{name}-whole"
        shutil.copytree(at, work)
        do(work)
        # An old archive's designs are what they are, with what this version adds; one with a slip in a wrong place
        # can't be looked at before it is mended.
        before = designs_in(work) if name in ("earlier", "mend") else designs_in(at)
        made.append(Job(name, at, do, before, designs_in(work)))
    return made


def _keep(archive: Archive) -> None:
    archive.keep(made_up("Late", shade=240, tags=("gift",)))


def _otherwise(design: Design) -> Design:
    return replace(design, title="Otherwise", note="changed")


def _redo(archive: Archive) -> None:
    design, options = archive.pick("Plan alone"), PlanOptions(pages=False, parts=default_parts())
    archive.keep(design_of(archive, design, redo(archive, design, options, silent)))


def _opened(work: Callable[[Archive], object]) -> Callable[[Path], None]:
    def do(folder: Path) -> None:
        with Archive(folder, writing=True) as archive:
            work(archive)

    return do


def _look(job: Job, folder: Path, tally: Tally) -> None:
    """Every earlier design intact, the job whole or not at all, tidied by mend, and still able to keep; nothing of
    anybody's outside the archive."""
    if strewn := list(_temporary(folder).iterdir()):
        raise Broken(f"{job.name}: left outside the archive: {strewn}")
    if job.name == "mend":
        mend(folder)
    with Archive(folder, writing=True) as archive:
        health = look_over(archive)
        if health.bad or health.bad_slips:
            raise Broken(f"{job.name}: {health.bad}, {health.bad_slips}")
        tally.leftovers += bool(health.leftovers)
    now = _timeless(designs_in(folder))
    if now == _timeless(job.after):
        tally.done += 1
    elif now == _timeless(job.before):
        tally.undone += 1
    else:
        raise Broken(f"{job.name}: neither done nor undone: {now}")
    mend(folder)
    with Archive(folder, writing=True) as archive:
        _keep(archive)
        health = look_over(archive)
        if health.bad or health.bad_slips or health.leftovers:
            raise Broken(f"{job.name}, after mend and keep: {health}")
    if found := [*folder.rglob(".pencilamp-*"), *folder.rglob("part-*"), *folder.glob("unfinished*")]:
        raise Broken(f"{job.name}: left lying about after mend: {found}")
    if _timeless(designs_in(folder))[: len(now)] != now and job.name != "empty-bin":
        raise Broken(f"{job.name}: mend or keep changed a design")


def _temporary(work: Path) -> Path:
    """What the job has for the system's temporary folder."""
    return work.with_name("temporary")


def _timeless(designs: Sequence[Design]) -> list[object]:
    """Designs without the moments they were kept or went to the bin, and the identity a made-up one gets anew."""
    return [
        (one.number, one.title, one.tags, one.note, one.removed is None, one.facts, one.files)
        for one in designs
    ]


def _forked(job: Job, folder: Path, die_at: int | None) -> int:
    """Do the job in a child; its process id. The child dies before step `die_at`, or ends by itself."""
    pid = os.fork()
    if pid:
        return pid
    try:
        tempfile.tempdir = str(_temporary(folder))
        if die_at is not None:
            _die_before(die_at)
        job.do(folder)
        os._exit(0)
    except BaseException as error:
        print(f"{job.name}: {error!r}", file=sys.stderr)
        os._exit(3)
    raise AssertionError


def _die_before(step: int) -> None:
    taken = count(1)

    def counted() -> None:
        if next(taken) == step:
            os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(lambda event, _: counted() if event in _STEPS else None)
    connect = sqlite3.connect

    def traced(*arguments: object, **named: object) -> sqlite3.Connection:
        connection = connect(*arguments, **named)  # type: ignore[call-overload]
        connection.set_trace_callback(lambda _: counted())
        return connection

    open_list.sqlite3.connect = traced  # type: ignore[attr-defined]


def _ended(pid: int, tally: Tally) -> bool:
    """Whether the child came to its end before it was killed."""
    _, status = os.waitpid(pid, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        tally.killed += 1
        return False
    if os.WEXITSTATUS(status) != 0:
        raise Broken("the job failed by itself")
    tally.ended += 1
    return True


@contextmanager
def _copied(job: Job, place: Path) -> Iterator[Path]:
    work = place / "work"
    shutil.copytree(job.start, work)
    _temporary(work).mkdir()
    yield work
    shutil.rmtree(work)
    shutil.rmtree(_temporary(work))


def at_random_moments(job: Job, moments: int, place: Path, chance: random.Random) -> Tally:
    tally, times = Tally(job.name), []
    for _ in range(3):
        with _copied(job, place) as work:
            begun = time.perf_counter()
            _ended(_forked(job, work, None), tally)
            times.append(time.perf_counter() - begun)
    while tally.killed < moments:
        with _copied(job, place) as work:
            pid = _forked(job, work, None)
            time.sleep(chance.uniform(0, sorted(times)[1]))
            os.kill(pid, signal.SIGKILL)
            if not _ended(pid, tally):
                _look(job, work, tally)
    return tally


def before_every_step(job: Job, place: Path, every: int = 1) -> Tally:
    tally = Tally(job.name)
    for step in count(1, every):
        with _copied(job, place) as work:
            ended = _ended(_forked(job, work, step), tally)
            _look(job, work, tally)
        if ended:
            break
    return tally


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--moments", type=int, default=24)
    parser.add_argument("--steps", action="store_true")
    parser.add_argument("--every", type=int, default=1, help="with --steps: only every n-th step")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--job", help="only this one")
    parser.add_argument("--place", type=Path, help="where to make the archives: on the disk, or in memory")
    said = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(dir=said.place) as temporary:
        place = Path(temporary)
        for job in jobs(place):
            if said.job not in (None, job.name):
                continue
            if said.steps:
                tally = before_every_step(job, place, said.every)
            else:
                tally = at_random_moments(job, said.moments, place, random.Random(said.seed))
            print(tally.line(), flush=True)


if __name__ == "__main__":
    main()
