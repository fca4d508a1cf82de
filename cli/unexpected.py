"""What a person is told when the program itself goes wrong: one sentence, and how to see more."""

from __future__ import annotations

import os
import traceback

from circuit.visible import visible

DEBUG_VARIABLE = "PENCILAMP_DEBUG"  # set to anything: the whole traceback is shown
UNEXPECTED_EXIT_CODE = 4


def unexpected_error_sentence(error: BaseException, doing: str) -> str:
    """One sentence for an error that nobody foresaw; the traceback where it was asked for."""
    if os.environ.get(DEBUG_VARIABLE):
        return visible("".join(traceback.format_exception(error)), lines=True)
    if isinstance(error, MemoryError):
        return visible(
            f"There is not enough memory for {doing}; close other programs, or give a smaller file."
        )
    if isinstance(error, OSError) and error.filename and error.strerror:
        return visible(f"{error.filename}: {error.strerror}; check the name, its rights and the disk.")
    return visible(
        f"Something went wrong inside Pencilamp while {doing} ({type(error).__name__}: {error}); files that "
        f"were saved are whole. Please report it with the file, and set {DEBUG_VARIABLE}=1 to see where."
    )
