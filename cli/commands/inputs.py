"""What `pencilamp plan` was given, folders opened up: a folder stands for the photos that lie in it.

In:    the paths as typed.
Out:   the files to plan, in the order typed; a folder's by name.
Fails: `FileTroubleError` for a folder without a photo.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from pathlib import Path

from cli.file_trouble import FileTroubleError
from cli.output_names import OUR_NAMES, PLAN_NAME, REFUSAL_NAME

# The endings of the kinds of picture that can be read; tests try each.
PHOTO_ENDINGS = frozenset(
    (".jpg", ".jpeg", ".jpe", ".png", ".heic", ".heif", ".avif", ".webp", ".tif", ".tiff", ".bmp")
)


def files_to_plan(paths: Iterable[Path]) -> tuple[Path, ...]:
    """The files themselves, and for each folder its plan, or else the photos in it (not in folders below)."""
    return tuple(file for path in paths for file in (_in_folder(path) if os.path.isdir(path) else [path]))  # noqa: PTH112  (never raises)


def passed_over(paths: Iterable[Path], files: Iterable[Path]) -> tuple[Path, ...]:
    """The folders below those that were named that hold photos, too, and none of the `files` to plan: a class has one
    for each table now and then."""
    below: list[Path] = []
    named = {file.absolute().parent for file in files}
    for path in paths:
        if os.path.isdir(path) and not (path / PLAN_NAME).is_file():  # noqa: PTH112  (never raises)
            with contextlib.suppress(OSError):
                folders = sorted(folder for folder in path.iterdir() if folder.is_dir())
                below += [
                    folder for folder in folders if folder.absolute() not in named and _has_photos(folder)
                ]
    return tuple(below)


def _has_photos(folder: Path) -> bool:
    """Photos of a maker's, none that stand there with a plan."""
    ours = (REFUSAL_NAME, *OUR_NAMES)
    return not (folder / PLAN_NAME).exists() and any(file.name not in ours for file in _photos_in(folder))


def _photos_in(folder: Path) -> list[Path]:
    """By name. Raises OSError for a folder that can't be read."""
    return sorted(
        file for file in folder.iterdir() if file.suffix.lower() in PHOTO_ENDINGS and file.is_file()
    )


def _in_folder(folder: Path) -> list[Path]:
    if (folder / PLAN_NAME).is_file():
        return [folder / PLAN_NAME]
    try:
        photos = _photos_in(folder)
    except OSError as error:
        reason = (error.strerror or "it can't be opened").lower()
        raise FileTroubleError(f"{folder}: the folder can't be read ({reason}); name another.") from None
    if not photos:
        raise FileTroubleError(
            f"{folder}: there is no photo in this folder; name the photo, or another folder."
        )
    return photos
