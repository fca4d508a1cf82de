"""A small crew of worker processes: readers for photos, a planner for what must be answered at once, a clerk for pages
and the archive.

In:    jobs, plain JSON values.
Out:   their answers; where a photo stands in the queue.
Fails: `CrewError` with one sentence: the worker died or took too long. The next job gets a new worker; nothing
       else is touched.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import sys
from collections import OrderedDict
from pathlib import Path
from typing import Any, Literal

from circuit.errors import PencilampError
from cli.phone.worker import LENGTH, OVERRUN, PROCESSOR_S

Kind = Literal["read", "plan", "file"]
# Processor time, so that a computer that is busy with other things fails no photo. Chosen: ten times what the slowest
# photo of the reading benchmark takes; plans of twenty lights and all pages of a class need less than half of theirs.
MOST_PROCESSOR_S: dict[Kind, float] = {"read": 75.0, "plan": 60.0, "file": 60.0}
# By the clock, for what hangs without working, and where the system keeps no processor time. Chosen: four times that.
MOST_SECONDS: dict[Kind, float] = {kind: 4 * most_s for kind, most_s in MOST_PROCESSOR_S.items()}
MOST_READERS = 4  # chosen: more make a class no faster on the computers that classes have, and take memory
# Chosen: then it is replaced, so that nothing that a library forgets to give back adds up.
JOBS_A_WORKER = 150
_DYING_S = 5.0
_TOO_LONG = (
    "This took so long that I stopped it. Try again, with a photo from straight above that shows little besides the "
    "card and the square."
)
_ROOT = Path(__file__).parents[2]


class CrewError(PencilampError):
    """A job that came to nothing, in one sentence for the person who waits for it."""


def reader_count() -> int:
    """How many photos are read at once: one for each processor, up to a limit."""
    return max(1, min(MOST_READERS, os.cpu_count() or 1))


class Crew:
    """`async with Crew() as crew: answer = await crew.ask("plan", job)`."""

    def __init__(self, readers: int | None = None) -> None:
        self._hands: dict[Kind, list[_Hand]] = {
            "read": [_Hand() for _ in range(readers or reader_count())],
            "plan": [_Hand()],
            "file": [_Hand()],
        }
        self._free: dict[Kind, asyncio.Queue[_Hand]] = {kind: asyncio.Queue() for kind in self._hands}
        self._line: OrderedDict[str, bool] = OrderedDict()  # ticket -> whether a worker has it already

    async def __aenter__(self) -> Crew:
        for kind, hands in self._hands.items():
            for hand in hands:
                self._free[kind].put_nowait(hand)
                if kind != "file":  # who never prints or keeps anything needs no memory for it
                    await hand.start()  # so that the first photo does not wait for the libraries
        return self

    async def __aexit__(self, *_: object) -> None:
        await asyncio.gather(*(hand.stop() for hands in self._hands.values() for hand in hands))

    async def ask(self, kind: Kind, job: dict[str, Any], ticket: str | None = None) -> dict[str, Any]:
        """Have a job done when its turn comes; `ticket` names it in the queue. Raises CrewError."""
        if ticket is not None:
            self._line[ticket] = False
        try:
            hand = await self._free[kind].get()
            try:
                if ticket is not None:
                    self._line[ticket] = True
                limited = {**job, PROCESSOR_S: MOST_PROCESSOR_S[kind]}
                return await hand.ask(limited, MOST_SECONDS[kind])
            finally:
                self._free[kind].put_nowait(hand)
        finally:
            if ticket is not None:
                self._line.pop(ticket, None)

    def before(self, ticket: str) -> int | None:
        """How many cards are before that one; 0 once a worker has it, None when it is not in the queue."""
        begun = self._line.get(ticket)
        if begun is None:
            return None
        return 0 if begun else list(self._line).index(ticket)

    def processes(self) -> list[int]:
        """The workers' process ids."""
        return [hand.pid for hands in self._hands.values() for hand in hands if hand.pid is not None]


class _Hand:
    """One worker's place; the process in it is replaced when it dies, overruns or has done its share."""

    def __init__(self) -> None:
        self._process: asyncio.subprocess.Process | None = None
        self._done = 0

    @property
    def pid(self) -> int | None:
        return None if self._process is None else self._process.pid

    async def start(self) -> asyncio.subprocess.Process:
        if self._process is not None and self._process.returncode is None and self._done < JOBS_A_WORKER:
            return self._process
        await self.stop()
        path = os.pathsep.join([str(_ROOT), *filter(None, [os.environ.get("PYTHONPATH")])])
        self._done = 0
        self._process = await asyncio.create_subprocess_exec(
            *(sys.executable, "-P", "-m", "cli.phone.worker"),
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=None if os.environ.get("PENCILAMP_DEBUG") else asyncio.subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": path, "OPENBLAS_NUM_THREADS": "1"},
        )
        return self._process

    async def ask(self, job: dict[str, Any], most_s: float) -> dict[str, Any]:
        process = await self.start()
        self._done += 1
        try:
            return await asyncio.wait_for(_exchange(process, job), most_s)
        except TimeoutError:
            await self.stop()
            raise CrewError(_TOO_LONG) from None
        except (OSError, EOFError, asyncio.IncompleteReadError, ValueError):
            with contextlib.suppress(
                TimeoutError
            ):  # one that has ended says why; one that talks nonsense goes on
                await asyncio.wait_for(process.wait(), _DYING_S)
            await self.stop()
            if process.returncode == OVERRUN:
                raise CrewError(_TOO_LONG) from None
            raise CrewError(
                "Something about this card made the program stop. Take the photo again, a little different; if it "
                "happens again, please report it with the photo."
            ) from None
        except BaseException:  # cancelled: the answer would come to the next one who asks
            await self.stop()
            raise

    async def stop(self) -> None:
        process, self._process = self._process, None
        if process is None or process.returncode is not None:
            return
        with contextlib.suppress(ProcessLookupError):
            process.kill()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(process.wait(), _DYING_S)


async def _exchange(process: asyncio.subprocess.Process, job: dict[str, Any]) -> dict[str, Any]:
    assert process.stdin is not None and process.stdout is not None
    data = json.dumps(job).encode()
    process.stdin.write(LENGTH.pack(len(data)) + data)
    await process.stdin.drain()
    head = await process.stdout.readexactly(LENGTH.size)
    answer: dict[str, Any] = json.loads(await process.stdout.readexactly(LENGTH.unpack(head)[0]))
    return answer
