"""Where the files of a plan go: a folder beside the photo, or the one that was named.

A plan of another photo is never written over: two photos of one name but different endings would
share a folder, and the second is refused.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from circuit.plan_json import PLAN_SCHEMA
from cli.files import FileTroubleError

PLAN_NAME = "plan.json"
OVERLAY_NAME = "overlay.png"
CORRECTED_NAME = "corrected.png"
REFUSAL_NAME = "refusal.png"
GLOW_NAME = "glow.png"
SPACING_NAME = "spacing.png"


def output_folder(source: Path, out: Path | None, one_of_many: bool = False) -> Path:
    """The folder for the plan of `source`, a photo or a layout file.

    `harbour.jpg` goes to `harbour-plan/` beside it; a plan.json that is planned afresh goes beside the
    folder it lies in, as `harbour-plan-again/`, so that the old one stays.
    """
    if source.name == PLAN_NAME:
        kept = source.absolute().parent
        beside, name = kept.parent, f"{kept.name}-again"
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


def require_ours(folder: Path, source: str) -> None:
    """Refuse a folder that holds something else than an earlier plan of the same photo or file.

    Raises FileTroubleError; a folder that is not there, or empty of our names, is fine.
    """
    if folder.exists() and not folder.is_dir():
        raise FileTroubleError(
            f"{folder}: a file of this name is in the way; move it, or choose another folder with --out."
        )
    there = folder / PLAN_NAME
    if not there.exists():
        if (folder / OVERLAY_NAME).exists():
            raise FileTroubleError(
                f"{folder}: there is an {OVERLAY_NAME} that is not from Pencilamp; choose another folder with --out."
            )
        return
    try:
        kept = json.loads(there.read_bytes())
        ours = kept.get("schema") == PLAN_SCHEMA
        made_from = kept.get("made_from")
    except (OSError, ValueError, AttributeError, RecursionError):
        ours, made_from = False, None
    if not ours:
        raise FileTroubleError(
            f"{there}: this is not a plan of Pencilamp's and is not written over; choose another folder with --out."
        )
    if made_from is not None and made_from != source:
        raise FileTroubleError(
            f"{folder}: this folder holds the plan of {made_from}; choose another one with --out."
        )
