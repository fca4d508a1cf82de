"""The desk between pages, drawer and crew: takes photos in, has them read in their turn, has cards planned anew.

In:    what a page asks for.
Out:   cards as they stand.
Fails: `PencilampError` with one sentence; a card whose reading failed holds the sentence itself.
"""

from __future__ import annotations

import asyncio
import base64
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, replace
from typing import Any, BinaryIO

from circuit.errors import UsageError
from cli.file_trouble import FileTroubleError
from cli.phone.card import MOST_UNDONE, PhoneCard
from cli.phone.crew import Crew, CrewError
from cli.phone.drawer import Drawer
from cli.phone.wishes import Wishes, wishes_from

MOST_WAITING = 6  # chosen: photos of one phone in the queue, so that one can't keep the others waiting
_TRY_AGAIN_S = 5.0  # chosen: how soon the disk may have room again
_DISK_FULL = "The computer's disk is full. Make room on it; I try again by myself."
MOST_TRIES = 2  # a photo during which the whole program went away is tried once more, not for ever
_TIDY_EVERY_S = 3600.0
# What somebody waits for with a finger on the mark; pages and the archive take longer and must not stand before it.
_AT_ONCE = frozenset(("change", "dark"))


class ChangedMeanwhileError(UsageError):
    """A change that was meant for a card as it is no more."""


class Desk:
    """One for the whole server; everything happens on its event loop."""

    def __init__(self, drawer: Drawer, crew: Crew) -> None:
        self.drawer = drawer
        self.crew = crew
        self._tasks: set[asyncio.Task[None]] = set()
        # Looking for moves can take long; one card at a time, so that photos still find a free reader.
        self._one_search = asyncio.Semaphore(1)
        self._locks: defaultdict[str, asyncio.Lock] = defaultdict(asyncio.Lock)
        self._troubles: dict[str, str] = {}  # card id -> why what was read of it can't be put down just now

    def start(self) -> None:
        """Go on where the last start stopped."""
        self._spawn(self._tidy_for_ever())
        for line in reversed(self.drawer.lines()):
            if line.state == "waiting":
                self._spawn(self._read(line.id))
            elif line.draft and (card := self.drawer.get(line.id)) is not None:
                self._spawn(self._find_moves(card))

    async def stop(self) -> None:
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    async def take_in(
        self, photo: BinaryIO, photo_name: str, owner: str, name: str, wishes: Wishes, again: str = ""
    ) -> PhoneCard:
        """Put a photo into the drawer and have it read. `again`: the kept design that it is a new photo of. Raises
        UsageError where too many wait."""
        waiting = sum(line.owner == owner and line.state == "waiting" for line in self.drawer.lines())
        if waiting >= MOST_WAITING:
            raise UsageError(
                f"{waiting} photos of yours are waiting already; send the next when one has been read."
            )
        card = await asyncio.to_thread(
            self.drawer.take_in, photo, photo_name, owner, name, _plain(asdict(wishes))
        )
        if again:
            card = self.drawer.put(replace(card, extra={"again": again}))
        self._spawn(self._read(card.id))
        return card

    def trouble(self, card_id: str) -> str:
        """Why a card waits for longer than its turn; "" for nothing."""
        return self._troubles.get(card_id, "")

    def before(self, card_id: str) -> int | None:
        """How many cards come before that one; None when it is in no queue."""
        return self.crew.before(card_id)

    async def change(
        self,
        card_id: str,
        change: Mapping[str, Any] | None = None,
        wishes: Wishes | None = None,
        seen: str = "",
    ) -> PhoneCard:
        """Change a card's marks or what it is built with, and plan it anew. `seen`: as which state of the card the
        person saw it, where the change means another thing once it has changed."""
        async with self._locks[card_id]:
            card = self._ready(card_id, seen)
            said = card.wishes if wishes is None else _plain(asdict(wishes))
            job = {**_change_job(card, card.plan), "wishes": said, "change": change}
            answer = await self.ask(job)
            before = (*card.before, card.plan or {})[-MOST_UNDONE:] if change else card.before
            return self._put_draft(replace(card, wishes=said, before=before), answer)

    async def take_back(self, card_id: str, seen: str = "") -> PhoneCard:
        """The card as it was before its last change. Raises UsageError where nothing was changed."""
        async with self._locks[card_id]:
            card = self._ready(card_id, seen)
            if not card.before:
                raise UsageError("There is nothing to take back: these are the marks as they were read.")
            answer = await self.ask(_change_job(card, card.before[-1]))
            answer["said"] = "The last change is taken back."
            return self._put_draft(replace(card, before=card.before[:-1]), answer)

    def _put_draft(self, card: PhoneCard, answer: Mapping[str, Any]) -> PhoneCard:
        """The card with its new plan; where moves may mend it, they are looked for while the person looks on."""
        card = self._put_answer(card, answer)
        if card.extra.get("draft"):
            self._spawn(self._find_moves(card))
        return card

    async def _find_moves(self, draft: PhoneCard) -> None:
        """Plan a draft to its end, by a reader, so that the planner stays free for the next change."""
        job = {**_change_job(draft, draft.plan), "moves": True}
        async with self._one_search:
            now = self.drawer.get(draft.id)
            if now is None or now.plan != draft.plan:
                return
            try:
                answer = await self.crew.ask("read", job)
            except CrewError:
                answer = {}
        async with self._locks[draft.id]:
            card = self.drawer.get(draft.id)
            if card is None or card.plan != draft.plan:  # changed meanwhile: its own moves are on their way
                return
            if "ok" in answer:
                done = answer["ok"]
                self._put_answer(card, {**done, "said": card.extra.get("said", "")})
            else:
                self.drawer.put(replace(card, extra={**card.extra, "draft": False}))

    async def read_again(self, card_id: str, wishes: Wishes) -> None:
        """Read a card's photo once more, with what the phone's settings say now."""
        card = self.drawer.get(card_id)
        if card is None or card.state == "waiting":
            return
        said = _plain(asdict(wishes))
        self.drawer.put(replace(card, state="waiting", wishes=said, refusal="", before=(), extra={}))
        self._spawn(self._read(card_id))

    async def page(self, card: PhoneCard, page: str, wishes: Wishes) -> bytes:
        """One of a card's pages to print, as PDF. Raises UsageError for a card without a plan."""
        if card.plan is None:
            raise UsageError("This card has no plan to print yet.")
        said = {**card.wishes, "paper": wishes.paper}
        job = {"do": "pages", "page": page, "plan": card.plan, "name": _name_of(card), "wishes": said}
        answer = await self.ask(job)
        return base64.b64decode(answer["pdf"])

    async def class_sheets(self, cards: Iterable[PhoneCard], wishes: Wishes) -> bytes:
        """The sheets of all these cards as one PDF. Raises UsageError where none has been read."""
        sheets = [
            {"plan": card.plan, "name": _name_of(card), "wishes": {**card.wishes, "paper": wishes.paper}}
            for card in cards
            if card.state == "ready"
        ]
        if not sheets:
            raise UsageError("No card has been read yet, so there is nothing to print.")
        answer = await self.ask({"do": "class-sheets", "cards": sheets})
        return base64.b64decode(answer["pdf"])

    async def keep(self, card_id: str, title: str) -> PhoneCard:
        """Keep a card in the archive under that title."""
        async with self._locks[card_id]:
            card = self._ready(card_id)
            job = {
                "do": "kept-keep",
                "folder": str(self.drawer.place(card_id)),
                "photo": card.photo,
                "plan": card.plan,
                "wishes": card.wishes,
                "frame": card.extra["frame"],
                "title": title or _name_of(card),
            }
            done = await self.ask(job)
            said = f"Kept as number {done['number']}: {done['title']}."
            return self.drawer.put(replace(card, kept=done["number"], extra={**card.extra, "said": said}))

    def _ready(self, card_id: str, seen: str = "") -> PhoneCard:
        card = self.drawer.get(card_id)
        if card is None:
            raise UsageError("This card is not in the drawer any more.")
        if card.state != "ready" or card.plan is None or card.read is None:
            raise UsageError("This card has not been read yet.")
        if seen and seen != card.state_now:
            raise ChangedMeanwhileError(
                "This card was changed meanwhile, by a second tap or on another phone, so I left it as it is now. "
                "Look at it again."
            )
        return card

    async def ask(self, job: dict[str, Any]) -> dict[str, Any]:
        """A job for the planner, or for the clerk where it may take its time. Raises UsageError with the sentence that
        it was refused with."""
        answer = await self.crew.ask("plan" if job["do"] in _AT_ONCE else "file", job)
        if "refused" in answer:
            raise UsageError(answer["refused"])
        value: dict[str, Any] = answer["ok"]
        return value

    def _put_answer(self, card: PhoneCard, answer: Mapping[str, Any]) -> PhoneCard:
        # What was found out once, when the photo was read, stays: the picture's frame, notes on the reading.
        extra = {**card.extra, **answer["view"], "said": answer.get("said", "")}
        return self.drawer.put(replace(card, state="ready", plan=answer["plan"], extra=extra))

    async def _read(self, card_id: str) -> None:
        card = self.drawer.get(card_id)
        if card is None:
            return
        tries = int(card.extra.get("tries", 0)) + 1
        if tries > MOST_TRIES:
            sentence = "This photo stopped the program twice, so it is left alone. Take a new one."
            await self._put_down(lambda: self._refuse(card, sentence), card_id)
            return
        await self._put_down(
            lambda: self.drawer.put(replace(card, extra={**card.extra, "tries": tries})), card_id
        )
        job = {
            "do": "read",
            "folder": str(self.drawer.place(card_id)),
            "photo": card.photo,
            "wishes": card.wishes,
        }
        try:
            while (answer := await self.crew.ask("read", job, ticket=card_id)).get("disk"):
                self._troubles[card_id] = _DISK_FULL
                await asyncio.sleep(_TRY_AGAIN_S)
        except CrewError as error:
            answer = {"refused": str(error)}
        await self._put_down(lambda: self._put_reading(card, answer), card_id)

    def _put_reading(self, card: PhoneCard, answer: Mapping[str, Any]) -> None:
        if "refused" in answer:
            self._refuse(card, answer["refused"])
        else:
            done = answer["ok"]
            self._put_draft(replace(card, read=done["read"], refusal=""), done)

    async def _put_down(self, put: Callable[[], object], card_id: str) -> None:
        """Put something into the drawer, again and again until the disk takes it: nothing that was read is lost, and
        who waits is told why."""
        while True:
            try:
                put()
                break
            except FileTroubleError:
                self._troubles[card_id] = _DISK_FULL
            await asyncio.sleep(_TRY_AGAIN_S)
        self._troubles.pop(card_id, None)

    def _refuse(self, card: PhoneCard, sentence: str) -> None:
        self.drawer.put(replace(card, state="refused", refusal=sentence))

    def _spawn(self, work: Any) -> None:
        task: asyncio.Task[None] = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _tidy_for_ever(self) -> None:
        while True:
            await asyncio.to_thread(self.drawer.tidy)
            for card_id in [card_id for card_id, lock in self._locks.items() if not lock.locked()]:
                del self._locks[card_id]
            await asyncio.sleep(_TIDY_EVERY_S)


def _change_job(card: PhoneCard, plan: Mapping[str, Any] | None) -> dict[str, Any]:
    """Plan those marks of a card anew."""
    frame = card.extra.get("frame")
    return {"do": "change", "plan": plan, "read": card.read, "wishes": card.wishes, "frame": frame}


def _name_of(card: PhoneCard) -> str:
    """What people call the card: what they wrote beside it, else the photo's name."""
    return card.name or card.photo_name.rpartition(".")[0] or "Untitled"


def _plain(said: Mapping[str, str]) -> dict[str, str]:
    return {name: value for name, value in said.items() if value}


def wishes_of(card: PhoneCard) -> Wishes:
    """What was said of one card. Raises UsageError for what can't be meant."""
    return wishes_from(card.wishes)
