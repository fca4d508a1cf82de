"""Keep what C libraries say about a damaged picture off the screen: the program says it in its own words."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

_lock = threading.Lock()
_inside = 0  # how many threads are within `hushed`
_screen = -1  # standard error as it was before the first of them


@contextmanager
def hushed() -> Iterator[None]:
    """Standard error leads nowhere while the body runs; several threads may be inside at once."""
    _enter()
    try:
        yield
    finally:
        _leave()


def _enter() -> None:
    global _inside, _screen
    with _lock:
        _inside += 1
        if _inside > 1:
            return
        with suppress(OSError, ValueError, AttributeError):
            sys.stderr.flush()
        with suppress(OSError):  # a program without a standard error has nothing to hush
            _screen = os.dup(2)
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 2)
            os.close(nowhere)


def _leave() -> None:
    global _inside, _screen
    with _lock:
        _inside -= 1
        if _inside == 0 and _screen >= 0:
            os.dup2(_screen, 2)
            os.close(_screen)
            _screen = -1
