"""What a person is told when the program itself goes wrong: one sentence, and how to see more."""

from __future__ import annotations

import os
import traceback

DEBUG_VARIABLE = "PENCILAMP_DEBUG"  # set to anything: the whole traceback is shown
MISHAP_EXIT_CODE = 4


def mishap_sentence(error: BaseException, doing: str) -> str:
    """One sentence for an error that nobody foresaw; the traceback where it was asked for."""
    if os.environ.get(DEBUG_VARIABLE):
        return "".join(traceback.format_exception(error))
    return (
        f"Something went wrong inside Pencilamp while {doing} ({type(error).__name__}: {error}); nothing was "
        f"written. Please report it with the file, and set {DEBUG_VARIABLE}=1 to see where."
    )
