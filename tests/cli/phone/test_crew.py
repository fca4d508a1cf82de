"""Workers that die or overrun fail one job with a sentence, and nothing else."""

import asyncio
import os
import signal

import pytest

from cli.phone import crew as crews
from cli.phone.crew import Crew, CrewError
from cli.phone.worker import OVERRUN

LAYOUT = {
    "schema": "pencilamp/layout/1",
    "card": {"width_mm": 105.0, "height_mm": 148.0},
    "battery": {"x_mm": 70.0, "y_mm": 115.0, "diameter_mm": 21.0},
    "lights": [{"label": "L1", "x_mm": 30.0, "y_mm": 40.0}, {"label": "L2", "x_mm": 70.0, "y_mm": 40.0}],
}
FRAME = {"margin_mm": 6.0, "width_mm": 117.0, "height_mm": 160.0}
CHANGE = {"do": "change", "plan": LAYOUT, "read": LAYOUT, "wishes": {}, "frame": FRAME}


def run(work):
    return asyncio.run(asyncio.wait_for(work, 120))


def test_a_job_is_done_and_a_change_that_makes_no_sense_is_refused_in_a_sentence():
    async def work():
        async with Crew(readers=1) as crew:
            moved = {"kind": "move", "about": "L2", "to": [80.0, 40.0]}
            good = await crew.ask("plan", {**CHANGE, "change": moved})
            bad = await crew.ask("plan", {**CHANGE, "change": {"kind": "drop", "about": "L9"}})
            unknown = await crew.ask("plan", {"do": "nonsense"})
            return good, bad, unknown

    good, bad, unknown = run(work())
    assert good["ok"]["plan"]["lights"][1]["x_mm"] == 80.0
    assert good["ok"]["plan"]["traces"] is not None
    assert bad["refused"] == "There is no light L9 on this card; there are: L1, L2."
    assert "Traceback" not in unknown["refused"]


def test_a_worker_that_dies_fails_its_job_and_the_next_one_is_done():
    async def work():
        async with Crew(readers=1) as crew:
            os.kill(crew._hands["plan"][0].pid, signal.SIGKILL)
            with pytest.raises(CrewError, match="Take the photo again"):
                await crew.ask("plan", CHANGE)
            return await crew.ask("plan", CHANGE)

    assert "ok" in run(work())


def test_a_worker_that_takes_too_long_is_stopped(monkeypatch):
    async def work():
        async with Crew(readers=1) as crew:
            monkeypatch.setitem(crews.MOST_SECONDS, "plan", 0.0)
            with pytest.raises(CrewError, match="took so long"):
                await crew.ask("plan", CHANGE)
            monkeypatch.setitem(crews.MOST_SECONDS, "plan", 60.0)
            return await crew.ask("plan", CHANGE)

    assert "ok" in run(work())


@pytest.mark.skipif(not OVERRUN, reason="needs a system that limits processor time")
def test_a_job_may_work_for_so_long_and_wait_for_longer(monkeypatch, tmp_path, lighthouse):
    """A worker that is kept waiting by other programs fails nothing; one that works too long is ended."""

    async def work():
        async with Crew(readers=1) as crew:
            pid = crew._hands["plan"][0].pid
            waiting = asyncio.create_task(crew.ask("plan", CHANGE))
            monkeypatch.setitem(crews.MOST_PROCESSOR_S, "read", 0.0)
            await asyncio.sleep(0.2)
            os.kill(pid, signal.SIGSTOP)
            read = {"do": "read", "folder": str(tmp_path), "photo": "card.jpg", "wishes": {}}
            with pytest.raises(CrewError, match="took so long"):
                # Time is kept to the whole second, and a photo takes less: one of the first few passes it.
                for _ in range(20):
                    await crew.ask("read", read)
            os.kill(pid, signal.SIGCONT)
            return await waiting

    (tmp_path / "card.jpg").write_bytes(lighthouse)
    assert "ok" in run(work())


def test_the_queue_tells_its_place():
    async def work():
        async with Crew(readers=1) as crew:
            jobs = [asyncio.create_task(crew.ask("read", {"do": "nonsense"}, ticket=name)) for name in "abc"]
            await asyncio.sleep(0)
            places = [crew.before(name) for name in "abcd"]
            await asyncio.gather(*jobs)
            return places, [crew.before(name) for name in "abc"]

    before, after = run(work())
    assert before == [0, 1, 2, None] and after == [None, None, None]


def test_no_worker_is_left_behind():
    async def work():
        async with Crew(readers=2) as crew:
            before = len(crew.processes())
            await crew.ask("plan", {"do": "nonsense"})
            await crew.ask("file", {"do": "nonsense"})
            return before, crew.processes()

    before, pids = run(work())
    assert (before, len(pids)) == (3, 4)  # the clerk comes when there is something to print or keep
    for pid in pids:
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)
