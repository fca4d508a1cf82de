"""The archive itself: keep, look up, relabel, remove to the bin, empty the bin; each whole or not at all.

Slips and files are the truth; the list only finds them. One program at a time changes something: files go on
the shelf, then the slips change, then the list hears of it. A job that is killed leaves at most files that no
design names, which `mend` clears away.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, TypeVar

from cli.alone import alone
from cli.archive import design_list
from cli.archive import open_list as lists
from cli.archive.archive_folder import LOCK_NAME
from cli.archive.design_json import LARGEST_NUMBER
from cli.archive.design_list import UselessListError, Wanted
from cli.archive.kept_design import Design, KeptFile, NewDesign, now
from cli.archive.shelf import Put, Shelf
from cli.archive.slip_changes import change_slips
from cli.archive.slips import slip_bytes, slip_path
from cli.archive.trouble import ArchiveTroubleError, BusyArchiveError, NoSuchDesignError, told

_NAMED = 6  # chosen: how many designs a sentence names before it says "and more"
_Answer = TypeVar("_Answer")


class Archive:
    """An open archive; use it in a `with` statement.

    writing : make it where there is none. untouched : change nothing in its folder, not even the list.
    """

    def __init__(self, folder: Path, *, writing: bool, untouched: bool = False) -> None:
        self.folder = folder
        self.shelf = Shelf(folder)
        self._alone = False
        self._untouched = untouched
        with told(folder):
            self._list = lists.open_list(folder, writing=writing, untouched=untouched)

    def __enter__(self) -> Archive:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._list.close()

    def keep(self, design: NewDesign) -> Design:
        """Keep one design."""
        return self.keep_all([design])[0]

    def keep_all(self, new: Iterable[NewDesign]) -> list[Design]:
        """Keep all of these or none. They are asked for while nobody else changes anything."""
        kept: list[Design] = []
        put: list[Put] = []
        with self.changing():
            try:
                number = self.next_number()
                for design in new:
                    kept.append(self._shelved(design, number + len(kept), put))
                if kept:
                    change_slips(self.folder, {self._slip(one.number): slip_bytes(one) for one in kept})
            except BaseException:
                with suppress(OSError):  # trouble here only leaves leftovers
                    self._drop_unused({done.sha256 for done in put if done.new})
                raise
            self._enter(kept)
        return kept

    def relabel(self, number: int, change: Callable[[Design], Design]) -> Design:
        """Change what a person wrote on a design; `change` gets it as it is just then."""
        return self._rewrite([number], change)[0]

    def remove(self, designs: Sequence[Design]) -> None:
        """Put designs into the bin."""
        moment = now()
        self._rewrite(_numbers(designs), lambda design: replace(design, removed=design.removed or moment))

    def put_back(self, designs: Sequence[Design]) -> None:
        """Take designs out of the bin again."""
        self._rewrite(_numbers(designs), lambda design: replace(design, removed=None))

    def empty_bin(self, shown: Sequence[Design]) -> tuple[int, int]:
        """Do away with these for good, but for what was put back meanwhile: how many designs, and bytes on the disk."""
        with self.changing():
            there = self._designs(_numbers(shown))
            gone = [design for design in there if design.removed is not None]
            if not gone:
                return 0, 0
            lists.note_last_number(self.folder, max(design.number for design in gone))
            change_slips(self.folder, {}, [self._slip(design.number) for design in gone])
            self._enter((), [design.number for design in gone])
            freed = self._drop_unused({file.sha256 for design in gone for file in design.files})
        return len(gone), freed

    @contextmanager
    def changing(self) -> Iterator[None]:
        """Nobody else changes anything, and the list agrees with the slips; it counts as behind until `_enter`."""
        with (
            told(self.folder),
            alone(self.folder / LOCK_NAME, lists.WAIT_S, partial(BusyArchiveError, self.folder)),
        ):
            self._alone = True
            self._list = lists.up_to_date(self.folder, self._list)
            try:
                self._ask(design_list.mark_behind)
                yield
            finally:
                self._alone = False
                with suppress(
                    OSError, sqlite3.Error
                ):  # what was done is done; the next program will see to the list
                    design_list.catch_up(self._list, self.folder)

    def next_number(self) -> int:
        """A number that no design ever had."""
        number = max(self._ask(design_list.highest_number), lists.last_number(self.folder)) + 1
        if number > LARGEST_NUMBER:
            raise ArchiveTroubleError(
                f"{self.folder}: a slip has the number {number - 1:,}; run `pencilamp archive mend`."
            )
        return number

    def catch_up(self) -> None:
        """Have the list agree with the slips. Within `changing`."""
        self._ask(partial(design_list.bring_up_to_date, folder=self.folder))

    def adopt(self, design: Design) -> None:
        """Write the slip of a design that has none in its place. Within `changing`."""
        change_slips(self.folder, {self._slip(design.number): slip_bytes(design)})
        self._enter([design])

    def _shelved(self, new: NewDesign, number: int, put: list[Put]) -> Design:
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
        return Design(
            number, new.identity, new.title, new.tags, new.note, new.kept, None, new.facts, tuple(files)
        )

    def _rewrite(self, numbers: Sequence[int], change: Callable[[Design], Design]) -> list[Design]:
        with self.changing():
            there = self._designs(numbers)
            if len(there) < len(numbers):
                lost = min(set(numbers) - set(_numbers(there)))
                raise NoSuchDesignError(f"Number {lost} is not in the archive any more; nothing was changed.")
            changed = [change(design) for design in there]
            change_slips(self.folder, {self._slip(one.number): slip_bytes(one) for one in changed})
            self._enter(changed)
        return changed

    def _enter(self, changed: Iterable[Design], gone: Iterable[int] = ()) -> None:
        slips = [(design, self._slip(design.number)) for design in changed]
        self._ask(partial(design_list.take_in, folder=self.folder, changed=slips, gone=list(gone)))

    def _slip(self, number: int) -> Path:
        return slip_path(self.folder, number)

    def _drop_unused(self, contents: Iterable[str]) -> int:
        freed = 0
        for sha256 in contents:
            if not self._ask(partial(design_list.users, sha256=sha256)):
                freed += self.shelf.remove(sha256)
        return freed

    def _ask(self, question: Callable[[sqlite3.Connection], _Answer]) -> _Answer:
        """The list's answer; a list that turns out to be damaged, or can't be written to, is replaced by a new one."""
        try:
            return question(self._list)
        except (
            sqlite3.Error,
            UselessListError,
            TypeError,
            ValueError,
        ):  # the latter for what no row may hold
            self._renew_list()
            return question(self._list)

    def _renew_list(self) -> None:
        self._list.close()
        with ExitStack() as stack:
            try:
                if not self._alone and not self._untouched:
                    stack.enter_context(
                        alone(self.folder / LOCK_NAME, 0.0, partial(BusyArchiveError, self.folder))
                    )
                self._list = (lists.list_in_memory if self._untouched else lists.made_anew)(self.folder)
            except (OSError, ArchiveTroubleError):
                self._list = lists.list_in_memory(self.folder)

    def _designs(self, numbers: Sequence[int]) -> list[Design]:
        return [
            design
            for some in design_list.in_portions(numbers)
            for design in self._ask(partial(design_list.designs, these=some))
        ]

    def count(self, wanted: Wanted) -> int:
        return self._ask(partial(design_list.count, wanted=wanted))

    def find(self, wanted: Wanted, limit: int | None = None) -> Iterator[Design]:
        """What is wanted, the newest first; a few hundred in memory at a time."""
        for some in design_list.in_portions(
            self._ask(partial(design_list.numbers, wanted=wanted, limit=limit))
        ):
            yield from self._ask(partial(design_list.designs, these=some))

    def every_design(self) -> Iterator[Design]:
        """In the bin and outside it."""
        for binned in (False, True):
            yield from self.find(Wanted(binned=binned))

    def titled(self, title: str) -> list[Design]:
        """The designs of just this title, capitals aside, in the bin too."""
        return self._designs(self._ask(partial(design_list.numbers_titled, title=title)))

    def with_identity(self, identity: str) -> Design | None:
        """The design of that identity, wherever it was kept first."""
        return next(
            iter(self._designs(self._ask(partial(design_list.numbers_of_identity, identity=identity)))), None
        )

    def tags(self) -> list[tuple[str, int]]:
        return self._ask(design_list.tag_counts)

    def contents(self) -> list[tuple[str, int]]:
        """Every file that a design names: its SHA-256 and size."""
        return self._ask(design_list.contents)

    def users(self, sha256: str) -> list[Design]:
        """The designs that name a file."""
        return self._designs(self._ask(partial(design_list.users, sha256=sha256)))

    def damaged_slips(self) -> list[tuple[int, str]]:
        """Numbers of slips that can't be read, and why."""
        return self._ask(design_list.damaged)

    def by_number(self, number: int) -> Design | None:
        """Also what an earlier slip said of a design whose slip is damaged now."""
        return next(iter(self._designs([number])), None)

    def check_list(self) -> None:
        """Compare the list with every slip; where they differ, a new one takes its place."""
        try:
            whole = design_list.is_whole(self._list, self.folder)
        except sqlite3.Error:
            whole = False
        if not whole:
            self._renew_list()

    def pick(self, text: str, *, binned: bool | None = False) -> Design:
        """The one design that a number, a title or the beginnings of its words name.

        binned : look outside the bin, in the bin, or (None) in both. Raises NoSuchDesignError.
        """
        found = self._designs(self._numbers_for(text, binned))
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
            f"There is no design {text!r} {where} ({self.folder}); see `pencilamp archive {look}`."
        )

    def _numbers_for(self, text: str, binned: bool | None) -> list[int]:
        bare = text.strip().removeprefix("#")
        if bare.isdecimal() and len(bare) < 18 and self._designs([int(bare)]):
            return [int(bare)]  # else it may be a title, like that of a card for the year 2027
        titled = self._ask(partial(design_list.numbers_titled, title=text.strip()))
        if titled:
            return titled
        places = (False, True) if binned is None else (binned,)
        return [
            number
            for place in places
            for number in self._ask(
                partial(design_list.numbers, wanted=Wanted(words=(text,), binned=place), limit=_NAMED + 1)
            )
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


def _numbers(designs: Iterable[Design]) -> list[int]:
    return [design.number for design in designs]
