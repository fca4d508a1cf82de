"""Standard output and error on any terminal: what it has no letter for, or what would steer it, never stops a command.

Names of files and texts from strangers reach both. A letter that the terminal's encoding lacks is written as
its number; control characters become visible signs on standard output. On standard error a progress bar moves
the cursor, so there the sentences themselves are made visible where they are made (`circuit.visible`).
"""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import sys
from collections.abc import Iterator

from circuit.errors import PencilampError
from circuit.visible import visible

STOPPED = "Stopped."
INTERRUPTED = 130  # the shell's convention for a command stopped with Ctrl-C
_ERRORS = "backslashreplace"


class OutputFullError(PencilampError):
    """Standard output takes no more text: mostly a file on a full disk."""

    exit_code = 4


class _VisibleText(io.TextIOWrapper):
    """Where the reader goes away in the middle (`head`, a pager), the rest goes nowhere and the command ends with its
    own code: what it tells of a card must not hang on who reads along."""

    def write(self, text: str) -> int:
        with self._without_reader():
            super().write(visible(text, lines=True))
        return len(text)

    def flush(self) -> None:
        with self._without_reader():
            super().flush()

    @contextlib.contextmanager
    def _without_reader(self) -> Iterator[None]:
        try:
            yield
        except BrokenPipeError:
            self._write_nowhere()
        except OSError as error:
            self._write_nowhere()
            raise OutputFullError(
                f"The text that belongs here could not be written ({error.strerror}); make room, or let it go to the "
                "screen. Files that were saved before are whole."
            ) from error

    def _write_nowhere(self) -> None:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self.fileno())
        os.close(nowhere)
        super().flush()  # of what could not be written


def make_streams_safe() -> None:
    """Once, before anything is written."""
    # A stream that was closed, or replaced by one of another kind (whoever reads along keeps hold of it), is left
    # as it is.
    with contextlib.suppress(AttributeError, ValueError, io.UnsupportedOperation):
        out = sys.stdout
        if type(out) is io.TextIOWrapper:
            encoding, by_lines = out.encoding, out.line_buffering
            sys.stdout = _VisibleText(out.detach(), encoding, _ERRORS, line_buffering=by_lines)
        if isinstance(sys.stderr, io.TextIOWrapper):
            sys.stderr.reconfigure(errors=_ERRORS)


def terminal_width(unknown: int) -> int:
    """Columns of the terminal; so many where there is none."""
    return shutil.get_terminal_size((unknown, 1)).columns
