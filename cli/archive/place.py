"""Where the archive is: the folder that was named, else PENCILAMP_ARCHIVE, else the usual place for data.

archive/
  read-me.txt         what this folder is
  archive.db          the list of designs (SQLite), with -wal and -shm beside it while in use
  files/ab/ab12...    every kept file once, under the SHA-256 of its content
  slips/000/12.json   one slip a design with all that the list says of it: the list can be made anew from them
  set-aside/          a damaged list that `mend` replaced
"""

from __future__ import annotations

import os
from pathlib import Path

VARIABLE = "PENCILAMP_ARCHIVE"
LIST_NAME = "archive.db"
FILES_NAME = "files"
SLIPS_NAME = "slips"
SET_ASIDE_NAME = "set-aside"
READ_ME_NAME = "read-me.txt"
READ_ME = (
    "This folder is a Pencilamp archive of light-up card designs.\n\n"
    "Please don't rename, move or change single files in it. To copy designs to another computer, use\n"
    "`pencilamp archive take-out` there and `pencilamp archive bring-in` here; to keep a spare copy, copy\n"
    "this whole folder while no Pencilamp is running. If something seems wrong with it, run\n"
    "`pencilamp archive check`, then `pencilamp archive mend`.\n"
)


def archive_folder(named: Path | None) -> Path:
    """The archive's folder, which need not be there yet."""
    if named is not None:
        return named.expanduser().absolute()
    told = os.environ.get(VARIABLE, "").strip()
    if told:
        return Path(told).expanduser().absolute()
    from platformdirs import user_data_path

    return user_data_path("pencilamp", appauthor=False) / "archive"
