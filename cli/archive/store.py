"""The archive itself: keep, relabel, remove to the bin, empty the bin; each whole or not at all.

Slips and files are the truth; the list only finds them. One program at a time changes something: files go on
the shelf, then the slips change, then the list hears of it. A job that is killed leaves at most files that no
design names, which `mend` clears away.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from cli.archive import design_list, questions
from cli.archive import open_list as lists
from cli.archive.archive_folder import SLIPS_NAME
from cli.archive.kept_design import LARGEST_NUMBER, Design, KeptFile, NewDesign, now
from cli.archive.open_archive import OpenArchive
from cli.archive.shelf import Put
from cli.archive.slips import slip_name, write_slips
from cli.archive.trouble import NoSuchDesignError, told
from cli.file_sets import content_of
from cli.file_trouble import FileTroubleError

if TYPE_CHECKING:
    from circuit.plan import Plan


class Archive(OpenArchive):
    """An open archive, to look into and to change; use it in a `with` statement.

    writing : make it where there is none. untouched : change nothing in its folder, not even the list.
    """

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
        """Nobody else changes anything, and the list agrees with the slips; it counts as behind until all is done."""
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


def kept_plan(archive: Archive, design: Design) -> Plan:
    """The plan of a design. Raises FileTroubleError, LayoutFileError."""
    from circuit.plan_json import plan_from_dict

    file = design.file("plan")
    assert file is not None  # nothing is kept without a plan
    return plan_from_dict(json.loads(archive.read_file(design, file).decode("utf-8-sig")))


def _numbers(designs: Iterable[Design]) -> list[int]:
    return [design.number for design in designs]
