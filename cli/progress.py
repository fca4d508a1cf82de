"""Say what is going on when a step takes longer than a second, and nothing when it doesn't.

All of it goes to standard error, so that a summary sent to a file stays clean.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext

from cli.screen import print_lines

Say = Callable[[str], AbstractContextManager[None]]

WAIT_S = 1.0  # chosen: shorter than that a line would only flicker


@contextmanager
def step(doing: str, wait_s: float = WAIT_S) -> Iterator[None]:
    """Announce `doing` ("Reading harbour.jpg") once the body has run for `wait_s` seconds."""
    timer = threading.Timer(wait_s, lambda: print_lines(f"{doing} ...", err=True))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def silent(doing: str) -> AbstractContextManager[None]:
    """In place of `step` where a progress bar already says what is going on."""
    del doing
    return nullcontext()
