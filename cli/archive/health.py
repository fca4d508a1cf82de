"""Look an archive over (`check`): every kept file against what was kept, every slip, the list against the slips.

In:    an open archive; only its list is made anew where it has to be.
Out:   a `Health`.
Fails: `FileTroubleError`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from cli.archive import questions
from cli.archive.kept_design import Design, KeptFile
from cli.archive.shelf import State
from cli.archive.slips import half_written, stray_slips
from cli.archive.store import Archive
from cli.archive.trouble import told


@dataclass(frozen=True, slots=True)
class BadFile:
    """A kept file that is missing or damaged, and the designs that need it."""

    file: KeptFile
    state: State
    designs: tuple[Design, ...]


@dataclass(slots=True)
class Health:
    """bad : files. bad_slips : numbers of slips that can't be read, and why. loose : files on the shelf that no
    design names. parts : half-written ones. stray_slips : what lies among the slips and is none."""

    designs: int = 0
    files: int = 0
    size: int = 0
    bad: list[BadFile] = field(default_factory=list)
    bad_slips: list[tuple[int, str]] = field(default_factory=list)
    loose: list[str] = field(default_factory=list)
    parts: list[Path] = field(default_factory=list)
    stray_slips: list[Path] = field(default_factory=list)

    @property
    def leftovers(self) -> int:
        """How many things an interrupted job left to tidy; no design is the worse for them."""
        return len(self.loose) + len(self.parts) + len(self.stray_slips)


def look_over(archive: Archive, step: Callable[[], None] = lambda: None) -> Health:
    """The whole archive; `step` is called once a file. In memory: names and sizes, no content."""
    health = Health()
    with told(archive.folder):
        archive.read_slips_again()
        contents = archive.ask(questions.contents)
        for sha256, size in contents:
            state = archive.shelf.state(sha256, size)
            step()
            health.files += 1
            health.size += size
            if state != "sound":
                users = archive.users(sha256)
                if users:  # else the bin was emptied just now
                    file = next(file for file in users[0].files if file.sha256 == sha256)
                    health.bad.append(BadFile(file, state, tuple(users)))
        named = {sha256 for sha256, _ in contents}
        health.designs = sum(1 for _ in archive.every_design())
        health.bad_slips = archive.ask(questions.damaged)
        health.loose = [sha256 for sha256 in archive.shelf.contents() if sha256 not in named]
        health.parts = [*archive.shelf.parts(), *half_written(archive.folder)]
        health.stray_slips = stray_slips(archive.folder)
    return health
