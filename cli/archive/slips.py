"""Slips: a small file beside the list for each design, with all that the list says of it.

A slip is written before the list takes the design in and taken away after the list has let it go, so
that there is never a design without a slip. The list is the truth; a slip that says otherwise is what
an interrupted job left, and `mend` writes it anew. Only where the list is lost do slips make a new one.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from circuit.errors import LayoutFileError
from cli.archive.design import (
    Design,
    design_to_dict,
    facts_from_dict,
    facts_to_dict,
    label_from_dict,
    moment,
    moment_text,
)
from cli.archive.place import SLIPS_NAME
from cli.files import json_bytes, write_whole

_IN_A_FOLDER = 1000  # chosen: a folder of 10,000 files is slow on some systems


def slip_path(folder: Path, number: int) -> Path:
    return folder / SLIPS_NAME / f"{number // _IN_A_FOLDER:03d}" / f"{number}.json"


def slip_bytes(design: Design) -> bytes:
    """What the slip of a design holds."""
    return json_bytes(
        {
            **design_to_dict(design),
            "number": design.number,
            "removed": None if design.removed is None else moment_text(design.removed),
            "facts": facts_to_dict(design.facts),
        }
    )


def write_slip(folder: Path, design: Design) -> None:
    write_whole(slip_path(folder, design.number), slip_bytes(design))


def half_written(folder: Path) -> list[Path]:
    """What an interrupted job left beside the slips; only to be touched while no other job writes."""
    return sorted((folder / SLIPS_NAME).glob("*/.pencilamp-*"))


def read_slip(path: Path) -> Design:
    """Raises LayoutFileError for what is no slip, OSError for what can't be read."""
    try:
        value = json.loads(path.read_bytes())
        label = label_from_dict(value)
        number, removed = value.get("number"), value.get("removed")
        if isinstance(number, bool) or not isinstance(number, int) or number < 1:
            raise LayoutFileError(f"number should be a whole number above 0, not {number!r}")
        return Design(
            number=number,
            identity=label.identity,
            title=label.title,
            tags=label.tags,
            note=label.note,
            kept=label.kept,
            removed=None if removed is None else moment(str(removed), "removed"),
            facts=facts_from_dict(value.get("facts")),
            files=label.files,
        )
    except (ValueError, RecursionError, OverflowError) as error:
        raise LayoutFileError("it is no slip, or damaged") from error


def slips(folder: Path) -> Iterator[Path]:
    """Every slip's path, in the order of their numbers."""
    found = (folder / SLIPS_NAME).glob("*/*.json")
    yield from sorted((path for path in found if path.stem.isdigit()), key=lambda path: int(path.stem))
