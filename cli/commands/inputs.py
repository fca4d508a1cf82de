"""What `pencilamp plan` was given, folders opened up: a folder stands for the photos that lie in it.

In:    the paths as typed.
Out:   the files to plan, in the order typed; a folder's by name.
Fails: `FileTroubleError` for a folder without a photo.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from cli.file_trouble import FileTroubleError
from cli.output_names import PLAN_NAME

# The endings of the kinds of picture that can be read; tests try each.
PHOTO_ENDINGS = frozenset(
    (".jpg", ".jpeg", ".jpe", ".png", ".heic", ".heif", ".avif", ".webp", ".tif", ".tiff", ".bmp")
)


def files_to_plan(paths: Iterable[Path]) -> tuple[Path, ...]:
    """The files themselves, and for each folder its plan, or else the photos in it (not in folders below)."""
    return tuple(file for path in paths for file in (_in_folder(path) if os.path.isdir(path) else [path]))  # noqa: PTH112  (never raises)


def _in_folder(folder: Path) -> list[Path]:
    if (folder / PLAN_NAME).is_file():
        return [folder / PLAN_NAME]
    try:
        photos = sorted(
            file for file in folder.iterdir() if file.suffix.lower() in PHOTO_ENDINGS and file.is_file()
        )
    except OSError as error:
        reason = (error.strerror or "it can't be opened").lower()
        raise FileTroubleError(f"{folder}: the folder can't be read ({reason}); name another.") from None
    if not photos:
        raise FileTroubleError(
            f"{folder}: there is no photo in this folder; name the photo, or another folder."
        )
    return photos
