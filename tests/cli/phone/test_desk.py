"""The desk keeps what was read through a disk that is full, and changes only what the person saw."""

import asyncio
import io
from dataclasses import replace

import pytest

from cli.file_trouble import FileTroubleError
from cli.phone import desk as desks
from cli.phone.desk import ChangedMeanwhileError, Desk
from cli.phone.drawer import Drawer
from cli.phone.wishes import Wishes
from tests.cli.phone.test_crew import LAYOUT

READ = {"plan": LAYOUT, "read": LAYOUT, "view": {"draft": False, "marks": []}}


class OneAnswer:
    """A crew that knows one answer to everything."""

    def __init__(self, answer, full_at_first=0):
        self.answer = answer
        self.full_at_first = full_at_first
        self.kinds = []

    async def ask(self, kind, job, ticket=None):
        self.kinds.append(kind)
        if self.full_at_first > 0:
            self.full_at_first -= 1
            return {"refused": "the drawer is full", "disk": True}
        return {"ok": self.answer}

    def before(self, ticket):
        return None


def ready_card(drawer):
    card = drawer.take_in(io.BytesIO(b"photo"), "a.jpg", "a" * 32, "", {})
    return drawer.put(replace(card, state="ready", plan=LAYOUT, read=LAYOUT))


def test_what_was_read_while_the_disk_was_full_is_there_once_it_has_room(tmp_path, monkeypatch):
    drawer = Drawer(tmp_path)
    monkeypatch.setattr(desks, "_TRY_AGAIN_S", 0.01)
    real, full = drawer.put, [True]

    def put(card, files=None):
        if full[0]:
            raise FileTroubleError("No space left on device")
        return real(card, files)

    async def work():
        desk = Desk(drawer, OneAnswer(READ, full_at_first=2))
        card = await desk.take_in(io.BytesIO(b"photo"), "a.jpg", "a" * 32, "", Wishes())
        monkeypatch.setattr(drawer, "put", put)
        await asyncio.sleep(0.1)
        told = desk.trouble(card.id)
        waiting = drawer.get(card.id).state
        full[0] = False
        for _ in range(100):
            await asyncio.sleep(0.02)
            if drawer.get(card.id).state == "ready":
                break
        return told, waiting, drawer.get(card.id).state, desk.trouble(card.id)

    told, waiting, after, trouble = asyncio.run(work())
    assert "disk is full" in told and waiting == "waiting"
    assert (after, trouble) == ("ready", "")


def test_a_second_tap_on_a_card_that_has_changed_does_nothing(tmp_path):
    drawer = Drawer(tmp_path)
    card = ready_card(drawer)
    moved = {**LAYOUT, "lights": [{**LAYOUT["lights"][0], "x_mm": 33.0}, LAYOUT["lights"][1]]}

    async def work():
        desk = Desk(drawer, OneAnswer({**READ, "plan": moved}))
        first = await desk.change(card.id, {"kind": "take-moves"}, seen=card.state_now)
        for act in (
            lambda: desk.change(card.id, {"kind": "take-moves"}, seen=card.state_now),
            lambda: desk.take_back(card.id, seen=card.state_now),
        ):
            with pytest.raises(ChangedMeanwhileError, match="changed meanwhile"):
                await act()
        return first, drawer.get(card.id)

    first, now = asyncio.run(work())
    assert now == first and len(now.before) == 1


def test_a_dropped_mark_waits_for_no_page_and_no_archive(tmp_path):
    """Pages, a class's sheets and the archive are another worker's; a change and dark lights are the planner's."""
    drawer = Drawer(tmp_path)
    card = ready_card(drawer)
    card = drawer.put(replace(card, extra={"frame": {}}))
    pdf = {"pdf": "", "number": 1, "title": "A"}

    async def work():
        desk = Desk(drawer, OneAnswer({**READ, **pdf}))
        await desk.change(card.id, {"kind": "take-moves"})
        await desk.ask({"do": "dark"})
        quick = list(desk.crew.kinds)
        await desk.page(card, "sheet", Wishes())
        await desk.class_sheets([card], Wishes())
        await desk.keep(card.id, "A")
        await desk.ask({"do": "kept-find"})
        return quick, desk.crew.kinds[len(quick) :]

    quick, slow = asyncio.run(work())
    assert set(quick) == {"plan"} and set(slow) == {"file"} and len(slow) == 4
