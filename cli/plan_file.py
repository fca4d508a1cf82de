"""Plans and other small files read, with one clear sentence when they can't be.

In:    a path.
Out:   a `Plan`; bytes.
Fails: `FileTroubleError` (exit code 4) naming the file and what to do; `LayoutFileError` for a file that opens but
       isn't a plan.
"""

from __future__ import annotations

import json
import stat
from pathlib import Path
from typing import TYPE_CHECKING

from circuit.errors import LayoutFileError
from cli.file_trouble import FileTroubleError, refuse

if TYPE_CHECKING:
    from circuit.plan import Plan

LARGEST_PLAN_BYTES = 20_000_000  # chosen: a plan of 20 lights takes some 10 kB, an archive row never more


_PLAN_NAME = "plan.json"


_NO_PLAN = (
    "this is not a plan or layout file, or it was damaged. "
    "Name the plan.json that `pencilamp plan` wrote, or make it again from the photo."
)


def read_plan(path: Path) -> Plan:
    """The plan or layout in a file, or in `plan.json` of a folder."""
    return read_plan_whole(path)[0]


def read_plan_whole(path: Path) -> tuple[Plan, tuple[str, ...]]:
    """The plan or layout in a file, or in `plan.json` of a folder; and what a layout says that nothing reads."""
    from circuit.plan_json import (  # whoever reads other small files has no need
        plan_from_dict,
        unread_in_layout,
    )

    where = path
    try:
        if path.is_dir():
            where = path / _PLAN_NAME
            if not where.exists():
                raise FileTroubleError(
                    f"{path}: there is no {_PLAN_NAME} in this folder. Name a folder that `pencilamp plan` made."
                )
    except (OSError, ValueError) as error:
        refuse(where, error, "can't be read")
    raw = read_small(where, LARGEST_PLAN_BYTES, "a plan. Name the plan.json that `pencilamp plan` wrote.")
    try:
        value = json.loads(raw.decode("utf-8-sig"))
        return plan_from_dict(value), unread_in_layout(value)
    except LayoutFileError as error:
        raise LayoutFileError(f"{where}: {error}") from error
    except json.JSONDecodeError as error:
        if not raw.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
            raise LayoutFileError(f"{where}: {_NO_PLAN}") from error
        raise LayoutFileError(
            f"{where}: line {error.lineno}, column {error.colno} can't be understood ({_hint(error)}); mend it "
            "there, or make the plan again from the photo."
        ) from error
    # UnicodeDecodeError is a ValueError; json gives up on thousands of nested
    # brackets with RecursionError, and a whole number of 400 digits is an OverflowError further on.
    except (ValueError, RecursionError, OverflowError) as error:
        raise LayoutFileError(f"{where}: {_NO_PLAN}") from error


def _hint(error: json.JSONDecodeError) -> str:
    """What is usually wrong there, in plain words, when a file was changed by hand."""
    before = error.doc[: error.pos].rstrip()
    if before.endswith(","):
        return "a comma too many before it, or nothing behind the comma"
    if "delimiter" in error.msg:
        return "a comma, colon or bracket is missing before it"
    if error.pos >= len(error.doc.rstrip()):
        return "the file ends too early: a bracket is not closed"
    return "a name or text there needs double quotes round it, or a number is mistyped"


def read_small(path: Path, most_bytes: int, what: str) -> bytes:
    """A plain file's content, its size judged before it is read; `what` ends the sentence on one too big."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise FileTroubleError(
                f"{path}: this is no ordinary file. Copy what it gives to a file and name that."
            )
        if found.st_size <= most_bytes:
            with path.open("rb") as file:
                raw = file.read(most_bytes + 1)
            if len(raw) <= most_bytes:
                return raw
    except FileNotFoundError as error:
        raise FileTroubleError(f"{path}: there is no such file. Check the name and the folder.") from error
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        refuse(path, error, "can't be read")
    raise FileTroubleError(f"{path}: this file is over {most_bytes // 1_000_000} MB, far too big for {what}")
