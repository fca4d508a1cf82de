"""The archive itself: keep, look up, relabel, remove to the bin, empty the bin; each whole or not at all.

The order that makes it so, inside one transaction that others wait for: files on the shelf, then the
slip, then the list. A job that is killed leaves at most files that no design names, which `mend` clears
away. Taking away goes the other way round: the list first, then slip and files.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, suppress
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import BinaryIO

from cli.archive import records
from cli.archive.database import open_list, writing
from cli.archive.design import Design, KeptFile, NewDesign, now
from cli.archive.records import Wanted
from cli.archive.shelf import Put, Shelf
from cli.archive.slips import slip_path, write_slip
from cli.archive.trouble import ArchiveTroubleError, NoSuchDesignError, shown, told

_NAMED = 6  # chosen: how many designs a sentence names before it says "and more"


class Archive:
    """An open archive; use it in a `with` statement."""

    def __init__(self, folder: Path, *, writing: bool) -> None:
        self.folder = folder
        self.shelf = Shelf(folder)
        self._stack = ExitStack()
        try:
            self.connection: sqlite3.Connection = open_list(folder, self._stack, writing=writing)
        except BaseException:
            self._stack.close()
            raise

    def __enter__(self) -> Archive:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stack.close()

    def keep(self, design: NewDesign) -> Design:
        """Keep one design."""
        return self.keep_all([design])[0]

    def keep_all(self, new: Iterable[NewDesign]) -> list[Design]:
        """Keep all of these or none."""
        kept: list[Design] = []
        put: list[Put] = []
        with told(self.folder):
            try:
                with writing(self.connection):
                    kept.extend(
                        self._keep(design, put) for design in new
                    )  # one by one, so that _clear sees them
            except BaseException:
                self._clear(kept, put)
                raise
        return kept

    def _keep(self, new: NewDesign, put: list[Put]) -> Design:
        files = []
        for file in new.files:
            with file.open() as source:
                done = self.shelf.put(source)
            put.append(done)
            if file.sha256 not in (None, done.sha256):
                raise ArchiveTroubleError(
                    f"{file.name} changed while it was read; try again; nothing was changed."
                )
            files.append(KeptFile(file.name, file.role, done.sha256, done.size))
        design = Design(
            0, new.identity, new.title, new.tags, new.note, new.kept, None, new.facts, tuple(files)
        )
        design = replace(design, number=records.insert(self.connection, design))
        write_slip(self.folder, design)
        return design

    def _clear(self, kept: Sequence[Design], put: Sequence[Put]) -> None:
        """Take back what a failed job laid down. Trouble here only leaves leftovers."""
        with suppress(OSError, sqlite3.Error), writing(self.connection):
            for design in kept:
                # The number was given back, and another Pencilamp may have taken it since.
                if not list(records.designs(self.connection, [design.number])):
                    slip_path(self.folder, design.number).unlink(missing_ok=True)
            self._drop_unused({done.sha256 for done in put if done.new})

    def relabel(
        self,
        design: Design,
        title: str | None = None,
        tags: tuple[str, ...] | None = None,
        note: str | None = None,
    ) -> Design:
        """Change what a person wrote on a design; None leaves it as it is."""
        changed = replace(
            design,
            title=design.title if title is None else title,
            tags=design.tags if tags is None else tags,
            note=design.note if note is None else note,
        )
        self._rewrite([changed])
        return changed

    def remove(self, designs: Sequence[Design]) -> None:
        """Put designs into the bin."""
        moment = now()
        self._rewrite([replace(design, removed=design.removed or moment) for design in designs])

    def put_back(self, designs: Sequence[Design]) -> None:
        """Take designs out of the bin again."""
        self._rewrite([replace(design, removed=None) for design in designs])

    def _rewrite(self, designs: Sequence[Design]) -> None:
        with told(self.folder), writing(self.connection):
            for design in designs:
                write_slip(self.folder, design)
                records.relabel(self.connection, design)

    def empty_bin(self) -> tuple[int, int]:
        """Do away with what lies in the bin, for good: how many designs, and bytes on the disk."""
        with told(self.folder):
            with writing(self.connection):
                gone = list(
                    records.designs(self.connection, records.numbers(self.connection, Wanted(binned=True)))
                )
                for design in gone:
                    records.delete(self.connection, design.number)
                self.connection.execute(
                    "DELETE FROM files WHERE sha256 NOT IN (SELECT sha256 FROM design_files)"
                )
            # Only now that the list has let go. Alone again: nobody may be keeping the same file just then.
            with writing(self.connection):
                for design in gone:
                    slip_path(self.folder, design.number).unlink(missing_ok=True)
                freed = self._drop_unused({file.sha256 for design in gone for file in design.files})
        return len(gone), freed

    def _drop_unused(self, contents: Iterable[str]) -> int:
        freed = 0
        for sha256 in contents:
            used = self.connection.execute(
                "SELECT 1 FROM design_files WHERE sha256 = ?", (sha256,)
            ).fetchone()
            if used is None:
                freed += self.shelf.remove(sha256)
        return freed

    def count(self, wanted: Wanted) -> int:
        with told(self.folder):
            return records.count(self.connection, wanted)

    def find(self, wanted: Wanted, limit: int | None = None) -> Iterator[Design]:
        """What is wanted, the newest first."""
        with told(self.folder):
            yield from records.designs(self.connection, records.numbers(self.connection, wanted, limit))

    def titled(self, title: str) -> list[Design]:
        """The designs of just this title, capitals aside, in the bin too."""
        with told(self.folder):
            return list(records.designs(self.connection, records.numbers_titled(self.connection, title)))

    def tags(self) -> list[tuple[str, int]]:
        with told(self.folder):
            return records.tag_counts(self.connection)

    def pick(self, text: str, *, binned: bool | None = False) -> Design:
        """The one design that a number, a title or the beginnings of its words name.

        binned : look outside the bin, in the bin, or (None) in both. Raises NoSuchDesignError.
        """
        with told(self.folder):
            found = list(records.designs(self.connection, self._numbers_for(text, binned)))
        right = [design for design in found if binned is None or (design.removed is not None) == binned]
        if len(right) == 1:
            return right[0]
        if right:
            named = ", ".join(f"{design.number} ({design.title})" for design in right[:_NAMED])
            more = " and more" if len(right) > _NAMED else ""
            raise NoSuchDesignError(f"Several designs answer to {text!r}: {named}{more}; say the number.")
        if found and binned is False:
            number = found[0].number
            raise NoSuchDesignError(
                f"{found[0].title} (number {number}) lies in the bin; take it out with "
                f"`pencilamp archive put-back {number}`."
            )
        where = "in the bin" if binned else "in the archive"
        look = "list --bin" if binned else "list"
        raise NoSuchDesignError(
            f"There is no design {text!r} {where} ({shown(self.folder)}); see `pencilamp archive {look}`."
        )

    def _numbers_for(self, text: str, binned: bool | None) -> list[int]:
        bare = text.strip().removeprefix("#")
        if bare.isdecimal() and len(bare) < 18 and list(records.designs(self.connection, [int(bare)])):
            return [int(bare)]  # else it may be a title, like that of a card for the year 2027
        titled = records.numbers_titled(self.connection, text.strip())
        if titled:
            return titled
        places = (False, True) if binned is None else (binned,)
        return [
            number
            for place in places
            for number in records.numbers(self.connection, Wanted(words=(text,), binned=place), _NAMED + 1)
        ]

    def open_file(self, design: Design, file: KeptFile) -> BinaryIO:
        """A kept file for reading, once it has proved to be what was kept. Raises ArchiveTroubleError."""
        state = self.shelf.state(file.sha256, file.size)
        if state != "sound":
            raise ArchiveTroubleError(
                f"{design.title} (number {design.number}): its {file.name} is {state} on the disk; "
                "`pencilamp archive check` tells what else is."
            )
        with told(self.folder):
            return self.shelf.path(file.sha256).open("rb")

    def read_file(self, design: Design, file: KeptFile) -> bytes:
        """A kept file's content."""
        with self.open_file(design, file) as source:
            return source.read()
