"""Where the files of a plan go, a folder beside the photo or the one that was named, and what they are called.

Two photos of one name but different endings would share a folder; the second is refused (`plan_folder`).
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

PLAN_NAME = "plan.json"
OVERLAY_NAME = "overlay.png"
CORRECTED_NAME = "corrected.png"
REFUSAL_NAME = "refusal.png"
GLOW_NAME = "glow.png"
SPACING_NAME = "spacing.png"
DARK_NAME = "dark.png"
SHEET_NAME = "sheet.pdf"
MIRRORED_NAME = "sheet-mirrored.pdf"
BUILD_NAME = "build.pdf"
MARKS_NAME = "marks.pdf"
CLASS_NAME = "class.pdf"
# What of a plan's folder belongs to the plan, in the order of a listing.
OUR_NAMES = (
    PLAN_NAME,
    OVERLAY_NAME,
    CORRECTED_NAME,
    GLOW_NAME,
    SPACING_NAME,
    DARK_NAME,
    SHEET_NAME,
    MIRRORED_NAME,
    BUILD_NAME,
    MARKS_NAME,
    CLASS_NAME,
)


def with_ending(path: Path, ending: str) -> Path:
    """The file as named, its kind's ending (`.pdf`) put behind where it has another or none: a file is opened by it.

    A folder or device stays what it is, to be refused by whoever writes.
    """
    is_none = os.path.exists(path) and not os.path.isfile(path)  # noqa: PTH110, PTH113  (never raise)
    return path if is_none or path.suffix.lower() == ending else path.with_name(path.name + ending)


def output_folder(source: Path, out: Path | None, one_of_many: bool = False) -> Path:
    """The folder for the plan of `source`, a photo or a layout file.

    `harbour.jpg` goes to `harbour-plan/` beside it; a plan.json that is planned afresh stays in its folder, where
    the plan before is kept.
    """
    if source.name == PLAN_NAME:
        if out is None:
            return source.parent
        beside, name = source.parent, source.absolute().parent.name
    else:
        beside, name = source.parent, f"{source.stem}-plan"
    if out is None:
        return beside / name
    return out / name if one_of_many else out


def output_folders(sources: Sequence[Path], out: Path | None) -> list[Path]:
    """A folder for each; photos of one name from different places don't share one."""
    if len(sources) == 1:
        return [output_folder(sources[0], out)]
    folders: list[Path] = []
    for source in sources:
        folder = output_folder(source, out, one_of_many=True)
        wanted, number = folder, 2
        # The same photo named twice may share its folder; it comes out the same.
        while any(folder == taken and source != other for taken, other in zip(folders, sources)):
            folder = wanted.with_name(f"{wanted.name}-{number}")
            number += 1
        folders.append(folder)
    return folders
