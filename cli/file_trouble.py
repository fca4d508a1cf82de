"""What can be the matter with a file, each as one sentence: which file, what was seen, what to do."""

from __future__ import annotations

import errno
from collections.abc import Mapping
from pathlib import Path
from typing import NoReturn

from circuit.errors import PencilampError

_ADVICE: Mapping[int, str] = {
    errno.ENOSPC: "the disk is full. Make room and try again; nothing was changed.",
    errno.EDQUOT: "the disk is full. Make room and try again; nothing was changed.",
    errno.EACCES: "this program may not use it. Close it elsewhere, change its rights, or choose another place.",
    errno.EPERM: "this program may not use it. Close it elsewhere, change its rights, or choose another place.",
    errno.EROFS: "the disk is read-only. Choose another place.",
    errno.EFBIG: "the disk takes no file of this size. Choose another place.",
    errno.ENAMETOOLONG: "the name is too long. Choose a shorter one.",
    errno.ENOTDIR: "a file is in the way of the folder. Choose another place.",
    errno.ENOENT: "it is not there. Check the name and the folder.",
}


class FileTroubleError(PencilampError):
    """An input or output file is the trouble; the message names it and says what to do."""

    exit_code = 4


def refuse(path: Path, error: OSError | ValueError, what: str) -> NoReturn:
    """Raise FileTroubleError for what the disk, or a name that can be none, raised."""
    number = error.errno if isinstance(error, OSError) else None
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    advice = _ADVICE.get(number or 0, f"{reason}. Check the disk, or choose another place.")
    raise FileTroubleError(f"{path} {what}: {advice}") from error
