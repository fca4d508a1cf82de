"""One program at a time: hold a lock on a file or folder while working on what it stands for.

The system lets go of the lock when the program ends, however it ends, so none is ever left behind.
Where a disk knows no locks, the work goes on without.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from circuit.errors import PencilampError

_MODE = 0o666  # less the umask, as any program's new file
_TRY_AGAIN_S = 0.02  # chosen: far below what a person notices


@contextmanager
def alone(path: Path, wait_s: float, busy: Callable[[], PencilampError]) -> Iterator[int]:
    """Run the body, which gets the open file, while nobody else holds `path`'s lock. Raises `busy()` when others
    hold it for `wait_s`, OSError when `path` can't be opened."""
    give_up = time.monotonic() + wait_s
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR | os.O_CREAT, _MODE)
    try:
        while not _taken(handle):
            if time.monotonic() > give_up:
                raise busy()
            time.sleep(_TRY_AGAIN_S)
        yield handle
    finally:
        os.close(handle)


if sys.platform == "win32":
    import msvcrt

    def _taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        except OSError:
            return True
        return True

else:
    import fcntl

    def _taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:  # a network disk without locks
            return True
        return True
