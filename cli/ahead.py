"""Load what the later steps of a plan need while the photo is read.

Reading a photo is mostly OpenCV's work, which leaves Python to another thread: what the router, the overlay and the
pages need is loaded by then, at no wait.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Thread


@contextmanager
def loading_ahead(*, pages: bool) -> Iterator[None]:
    """While the block runs, load what comes after it. Its end waits for the rest, so that nothing runs on unseen."""
    thread = Thread(target=_load, args=(pages,))
    thread.start()
    try:
        yield
    finally:
        thread.join()


def _load(pages: bool) -> None:
    # A library that is missing is told of where it is used.
    try:
        import circuit.plan_card  # noqa: F401
        import vision.drawing.overlay  # noqa: F401

        if pages:
            import cli.pages  # noqa: F401
    except ImportError:
        return
