"""An open archive to look into: designs found by words, by what they are or by name; their files.

In:    an archive's folder.
Out:   designs, files that have proved to be what was kept.
Fails: `NoSuchDesignError`, `FileTroubleError`; a list that is damaged is made anew and never stops a look.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Concatenate, ParamSpec, Self, TypeVar

from cli.alone import alone
from cli.archive import open_list as lists
from cli.archive import questions
from cli.archive.archive_folder import LOCK_NAME
from cli.archive.kept_design import Design, KeptFile
from cli.archive.questions import UselessListError, Wanted
from cli.archive.shelf import Shelf
from cli.archive.trouble import BusyArchiveError, NoSuchDesignError, told
from cli.file_trouble import FileTroubleError

_NUMBER_DIGITS = 18  # chosen: any such number fits the list's 64 bits
_NAMED = 6  # chosen: how many designs a sentence names before it says "and more"
_USELESS = (sqlite3.Error, UselessListError, TypeError, ValueError)  # the last two for what no row may hold
_Answer = TypeVar("_Answer")
_Said = ParamSpec("_Said")


class OpenArchive:
    """What can be asked of an archive."""

    def __init__(self, folder: Path, *, writing: bool, untouched: bool = False) -> None:
        self.folder = folder
        self.shelf = Shelf(folder)
        self._alone = False
        self._untouched = untouched
        with told(folder):
            self._list = lists.open_list(folder, writing=writing, untouched=untouched)
        self._sure = not writing  # whether the list agrees with the slips: who only keeps need not know

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._list.close()

    def ask(
        self,
        question: Callable[Concatenate[sqlite3.Connection, _Said], _Answer],
        *said: _Said.args,
        **named: _Said.kwargs,
    ) -> _Answer:
        """What the list answers to one of the `questions`; a list that turns out to be damaged, or can't be
        written to, is replaced by a new one."""
        if not self._sure:
            self._make_sure()
        try:
            return question(self._list, *said, **named)
        except _USELESS:
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

    def _lock(self, wait_s: float) -> AbstractContextManager[int]:
        return alone(self.folder / LOCK_NAME, wait_s, partial(BusyArchiveError, self.folder))

    def _designs(self, numbers: Sequence[int]) -> list[Design]:
        return list(self._one_by_one(numbers))

    def count(self, wanted: Wanted) -> int:
        return self.ask(questions.count, wanted)

    def find(self, wanted: Wanted, *, oldest_first: bool = False) -> Iterator[Design]:
        """What is wanted, the newest first if not asked otherwise; a few hundred in memory at a time."""
        found = self.ask(questions.numbers, wanted)
        return self._one_by_one(found[::-1] if oldest_first else found)

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
        return next(self._one_by_one(self.ask(questions.numbers_of_identity, identity)), None)

    def users(self, sha256: str) -> list[Design]:
        """The designs that name a file."""
        return self._designs(self.ask(questions.users, sha256))

    def by_number(self, number: int) -> Design | None:
        """Also what an earlier slip said of a design whose slip is damaged now."""
        return next(self._one_by_one([number]), None)

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
