"""Why a photo could not be read: each error is one sentence that names the cause and the remedy.

The `where_px` of an error, when there is one, is what `refusal.png` circles: points in the
photo as a viewer shows it, x right, y down.
"""

from __future__ import annotations

from collections.abc import Sequence

from circuit.errors import PencilampError


class PhotoError(PencilampError):
    """The photo could not be read (exit code 3); nothing is written over."""

    exit_code = 3
    cause = "unreadable"  # a short stable word for benchmarks and tests

    def __init__(self, message: str, where_px: Sequence[tuple[float, float]] = ()) -> None:
        super().__init__(message)
        self.where_px = tuple(where_px)
