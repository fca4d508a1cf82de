"""The archive itself: keep, look up, relabel, remove to the bin, empty the bin; each whole or not at all.

Slips and files are the truth; the list only finds them. One program at a time changes something: files go on
the shelf, then the slips change, then the list hears of it. A job that is killed leaves at most files that no
design names, which `mend` clears away.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, BinaryIO, Concatenate, ParamSpec, TypeVar

from cli.alone import alone
from cli.archive import design_list, questions
from cli.archive import open_list as lists
from cli.archive.archive_folder import LOCK_NAME, SLIPS_NAME
from cli.archive.kept_design import LARGEST_NUMBER, Design, KeptFile, NewDesign, now
from cli.archive.questions import UselessListError, Wanted
from cli.archive.shelf import Put, Shelf
from cli.archive.slips import slip_name, write_slips
from cli.archive.trouble import BusyArchiveError, NoSuchDesignError, told
from cli.file_sets import content_of
from cli.file_trouble import FileTroubleError

if TYPE_CHECKING:
    from circuit.plan import Plan

_NUMBER_DIGITS = 18  # chosen: any such number fits the list's 64 bits
_NAMED = 6  # chosen: how many designs a sentence names before it says "and more"
_Answer = TypeVar("_Answer")
_Said = ParamSpec("_Said")


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
        self._sure = (
            not writing
        )  # whether the list agrees with the slips; who only keeps something need not know yet

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
                    write_slips(self.folder, kept)
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
            names = [slip_name(design.number) for design in gone]
            write_slips(self.folder, [], {name: content_of(self.folder / name) or "" for name in names})
            self._enter((), _numbers(gone))
            freed = self._drop_unused({file.sha256 for design in gone for file in design.files})
        return len(gone), freed

    @contextmanager
    def changing(self) -> Iterator[None]:
        """Nobody else changes anything, and the list agrees with the slips; it counts as behind until `_enter`."""
        with told(self.folder), self._lock(lists.WAIT_S) as lock:
            if not lists.still_right(self._list, self.folder):
                self._list.close()
                self._list = lists.up_to_date(self.folder)
            lists.mark_behind(lock)
            self._alone = self._sure = True
            try:
                yield
            finally:
                self._alone = False
            if isinstance(self._list, lists.ListFile):  # else the next program brings it up to date
                lists.mark_right(lock)

    def _lock(self, wait_s: float) -> AbstractContextManager[int]:
        return alone(self.folder / LOCK_NAME, wait_s, partial(BusyArchiveError, self.folder))

    def next_number(self) -> int:
        """A number that no design ever had. Raises FileTroubleError where there is none left."""
        number = max(self.ask(questions.highest_number), lists.last_number(self.folder)) + 1
        if number > LARGEST_NUMBER:
            raise FileTroubleError(
                f"{self.folder}: {slip_name(number - 1)} has the highest number that there can be; rename it to "
                "new.json and run `pencilamp archive mend`."
            )
        return number

    def adopt(self, design: Design) -> None:
        """Write the slip of a design that has none in its place. Within `changing`."""
        write_slips(self.folder, [design])
        self._enter([design])

    def _shelved(self, new: NewDesign, number: int, put: list[Put]) -> Design:
        files = []
        for file in new.files:
            with file.open() as source:
                done = self.shelf.put(source)
            put.append(done)
            if file.sha256 not in (None, done.sha256):
                raise FileTroubleError(
                    f"{file.name} changed while it was read; try again; nothing was changed."
                )
            files.append(KeptFile(file.name, file.role, done.sha256, done.size))
        return Design(
            identity=new.identity,
            title=new.title,
            tags=new.tags,
            note=new.note,
            kept=new.kept,
            files=tuple(files),
            number=number,
            facts=new.facts,
        )

    def _rewrite(self, numbers: Sequence[int], change: Callable[[Design], Design]) -> list[Design]:
        with self.changing():
            there = self._designs(numbers)
            if len(there) < len(numbers):
                lost = min(set(numbers) - set(_numbers(there)))
                raise NoSuchDesignError(f"Number {lost} is not in the archive any more; nothing was changed.")
            changed = [change(design) for design in there]
            write_slips(self.folder, changed)
            self._enter(changed)
        return changed

    def _enter(self, changed: Iterable[Design], gone: Iterable[int] = ()) -> None:
        self.ask(design_list.take_in, self.folder, changed, gone)

    def _drop_unused(self, contents: Iterable[str]) -> int:
        return sum(self.shelf.remove(sha256) for sha256 in contents if not self.ask(questions.users, sha256))

    def ask(
        self,
        question: Callable[Concatenate[sqlite3.Connection, _Said], _Answer],
        *said: _Said.args,
        **named: _Said.kwargs,
    ) -> _Answer:
        """What the list answers to one of `design_list`'s questions; a list that turns out to be damaged, or can't be
        written to, is replaced by a new one."""
        if not self._sure:
            self._make_sure()
        try:
            return question(self._list, *said, **named)
        except (
            sqlite3.Error,
            UselessListError,
            TypeError,
            ValueError,
        ):  # the latter for what no row may hold
            self._renew_list()
            return question(self._list, *said, **named)

    def _make_sure(self) -> None:
        with told(self.folder):
            if not lists.still_right(self._list, self.folder):
                self._list.close()
                self._list = lists.open_list(self.folder, writing=False)
        self._sure = True

    def _renew_list(self) -> None:
        self._list.close()
        try:
            if self._untouched:
                self._list = lists.list_in_memory(self.folder)
                return
            with nullcontext() if self._alone else self._lock(0.0):
                self._list = lists.made_anew(self.folder)
        except (OSError, FileTroubleError):
            self._list = lists.list_in_memory(self.folder)

    def _designs(self, numbers: Sequence[int]) -> list[Design]:
        return list(self._one_by_one(numbers))

    def count(self, wanted: Wanted) -> int:
        return self.ask(questions.count, wanted)

    def find(self, wanted: Wanted) -> Iterator[Design]:
        """What is wanted, the newest first; a few hundred in memory at a time."""
        return self._one_by_one(self.ask(questions.numbers, wanted))

    def newest(self, wanted: Wanted, limit: int | None) -> tuple[Iterator[Design], int]:
        """The newest of what is wanted, and how many are wanted in all."""
        found, total = self.ask(questions.newest, wanted, limit)
        return self._one_by_one(found), total

    def _one_by_one(self, found: Sequence[int]) -> Iterator[Design]:
        for some in questions.in_portions(found):
            yield from self.ask(questions.designs, some)

    def every_design(self) -> Iterator[Design]:
        """In the bin and outside it."""
        for binned in (False, True):
            yield from self.find(Wanted(binned=binned))

    def titled(self, title: str) -> list[Design]:
        """The designs of just this title, capitals aside, in the bin too."""
        return self._designs(self.ask(questions.numbers_titled, title))

    def with_identity(self, identity: str) -> Design | None:
        """The design of that identity, wherever it was kept first."""
        return next(iter(self._designs(self.ask(questions.numbers_of_identity, identity))), None)

    def users(self, sha256: str) -> list[Design]:
        """The designs that name a file."""
        return self._designs(self.ask(questions.users, sha256))

    def by_number(self, number: int) -> Design | None:
        """Also what an earlier slip said of a design whose slip is damaged now."""
        return next(iter(self._designs([number])), None)

    def read_slips_again(self) -> None:
        """See to it that the list says what every slip says; a damaged one gives way to a new one."""
        if not (self.folder / SLIPS_NAME).is_dir() or self._untouched:
            return
        try:
            with nullcontext() if self._alone else self.changing():
                self.ask(design_list.read_again, self.folder)
        except FileTroubleError:  # busy, or the disk can only be read
            self._list.close()
            self._list = lists.list_in_memory(self.folder)

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
        if bare.isdecimal() and len(bare) < _NUMBER_DIGITS and self._designs([int(bare)]):
            return [int(bare)]  # else it may be a title, like that of a card for the year 2027
        titled = self.ask(questions.numbers_titled, text.strip())
        if titled:
            return titled
        places = (False, True) if binned is None else (binned,)
        return [
            number
            for place in places
            for number in self.ask(questions.numbers, Wanted(words=(text,), binned=place), _NAMED + 1)
        ]

    def open_file(self, design: Design, file: KeptFile) -> BinaryIO:
        """A kept file for reading, once it has proved to be what was kept. Raises FileTroubleError."""
        state = self.shelf.state(file.sha256, file.size)
        if state != "sound":
            raise FileTroubleError(
                f"{design.title} (number {design.number}): its {file.name} is {state} on the disk; "
                "`pencilamp archive check` tells what else is."
            )
        with told(self.folder):
            return self.shelf.path(file.sha256).open("rb")

    def read_file(self, design: Design, file: KeptFile) -> bytes:
        """A kept file's content."""
        with self.open_file(design, file) as source:
            return source.read()


def kept_plan(archive: Archive, design: Design) -> Plan:
    """The plan of a design. Raises FileTroubleError, LayoutFileError."""
    from circuit.plan_json import plan_from_dict

    file = design.file("plan")
    assert file is not None  # nothing is kept without a plan
    return plan_from_dict(json.loads(archive.read_file(design, file).decode("utf-8-sig")))


def _numbers(designs: Iterable[Design]) -> list[int]:
    return [design.number for design in designs]
