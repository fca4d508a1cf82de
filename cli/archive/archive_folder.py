"""Where the archive is: the folder that was named, else PENCILAMP_ARCHIVE, else the usual place for data.

archive/
  read-me.txt         what this folder is
  files/ab/ab12...    every kept file once, under the SHA-256 of its content
  slips/000/12.json   one slip a design with all that is known of it: slips and files are the archive
  archive.db          the list of designs to find them by (SQLite), made from the slips whenever it has to be
  archive.lock        held by the one program that is changing something; not empty while the list may be behind
  last-number.txt     the highest number that an emptied bin took with it
  .pencilamp-set.json only while several slips change at once: what is still to be done
  set-aside/          what belonged nowhere or was damaged, moved there by `mend`
"""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from cli.file_trouble import FileTroubleError
from cli.files import flush_folder, write_whole

VARIABLE = "PENCILAMP_ARCHIVE"
LIST_NAME = "archive.db"
# What SQLite keeps beside it while it is changed, and kept beside the lists of earlier forms.
LIST_FILES = tuple(f"{LIST_NAME}{ending}" for ending in ("", "-wal", "-shm", "-journal"))
FILES_NAME = "files"
SLIPS_NAME = "slips"
LOCK_NAME = "archive.lock"
LAST_NUMBER_NAME = "last-number.txt"
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


def make_archive(folder: Path) -> None:
    """Make an archive's folder with what belongs in it, where it is not there yet. Raises OSError, FileTroubleError."""
    if (folder / SLIPS_NAME).is_dir() and (folder / FILES_NAME).is_dir():
        return
    if not (folder / READ_ME_NAME).exists():
        write_whole(folder / READ_ME_NAME, READ_ME.encode())
    for name in (FILES_NAME, SLIPS_NAME):
        try:
            (folder / name).mkdir(exist_ok=True)
        except FileExistsError:
            raise in_the_way(folder / name) from None
    flush_folder(folder)


def in_the_way(path: Path) -> FileTroubleError:
    """What to say of something else that has the name of one of the archive's folders."""
    return FileTroubleError(
        f"{path}: this should be one of the archive's own folders; move what is there away."
    )


def holds_designs(folder: Path) -> bool:
    """Whether something was kept here once."""
    return any((folder / SLIPS_NAME).glob("*/*.json")) or any((folder / FILES_NAME).glob("??/*"))


def require_outside(folder: Path, target: Path) -> None:
    """Refuse to write what is asked for into the archive's own folder, whatever is forced there. Raises
    FileTroubleError."""
    if Path(os.path.realpath(target)).is_relative_to(os.path.realpath(folder)):
        raise FileTroubleError(f"{target}: this lies within the archive's own folder; choose another place.")


def set_aside(folder: Path, path: Path, name: str | None = None) -> Path:
    """Move a file out of the way, to where nothing is ever deleted; where it is now."""
    day = folder / SET_ASIDE_NAME / datetime.now().strftime("%Y-%m-%d")
    day.mkdir(parents=True, exist_ok=True)
    target, number = day / (name or path.name), 2
    while os.path.lexists(target):
        target = day / f"{number}-{name or path.name}"
        number += 1
    path.replace(target)
    flush_folder(day)
    return target
