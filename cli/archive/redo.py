"""Read a kept photo again with today's program, with what was said then, and tell what comes out differently.

In:    an open archive and one of its designs.
Out:   a `Redone`: the kept plan, the one made now, the differences.
Fails: `PencilampError`: the photo is damaged or can't be read any more; the archive stays as it is.
"""

from __future__ import annotations

import json
import math
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from circuit.asked import TURNS, PlanAsked
from circuit.difference import differences
from circuit.plan import Plan
from circuit.plan_json import plan_from_dict
from circuit.settings import Units
from cli.archive.kept_design import Design, NewDesign, NewFile, facts_of
from cli.archive.new_design import our_file
from cli.archive.shelf import reader_of
from cli.archive.store import Archive
from cli.places import OUR_NAMES
from cli.plan_options import PlanOptions

if TYPE_CHECKING:
    from cli.commands.progress import Say
    from cli.make_plan import Made


@dataclass(frozen=True, slots=True)
class Redone:
    """`from_photo` is False where no photo was kept and the kept marks were planned afresh."""

    before: Plan
    made: Made
    from_photo: bool
    differences: tuple[str, ...]


def kept_plan(archive: Archive, design: Design) -> Plan:
    """The plan of a design. Raises ArchiveTroubleError, LayoutFileError."""
    file = design.file("plan")
    assert file is not None  # nothing is kept without a plan
    return plan_from_dict(json.loads(archive.read_file(design, file).decode("utf-8-sig")))


def redo(archive: Archive, design: Design, options: PlanOptions, say: Say) -> Redone:
    """`options` holds what is said now (a parts list, units); what was said then comes from the plan."""
    from cli.make_plan import make_plan

    before = kept_plan(archive, design)
    source = design.file("photo") or design.file("layout") or design.file("plan")
    assert source is not None
    with tempfile.TemporaryDirectory(prefix="pencilamp-") as folder:
        # Under the name that the photo had, since it stands in the plan and on the pages.
        name = before.source.name if before.source else source.name
        path = Path(folder) / (name if Path(name).name == name and source.role != "plan" else source.name)
        path.write_bytes(archive.read_file(design, source))
        made = make_plan(path, _options_of(before, options), say)
    units: Units = options.units or ("in" if before.settings.get("units") == "in" else "mm")
    found = differences(before, made.planned.plan, units)
    return Redone(before, made, source.role == "photo", found)


def design_of(archive: Archive, design: Design, redone: Redone) -> NewDesign:
    """The plan made now, as a design of its own beside the old one."""
    files = [our_file(name, redone.made.files[name]) for name in OUR_NAMES if name in redone.made.files]
    files += [
        NewFile(file.name, file.role, reader_of(archive.shelf.path(file.sha256)), file.sha256)
        for file in design.files
        if file.role in ("photo", "layout")
    ]
    return NewDesign(design.title, facts_of(redone.made.planned.plan), tuple(files), design.tags, design.note)


def _options_of(before: Plan, options: PlanOptions) -> PlanOptions:
    """What was said when the plan was made: of the photo as its source tells, of the parts as its settings do."""
    settings = before.settings
    asked = (before.source.asked if before.source else None) or _guessed(before)
    colour = settings.get("colour")
    single = tuple(text for text in asked.colours if "=" in text)
    limits = settings.get("limits")
    return replace(
        options,
        asked=replace(asked, colours=((str(colour),) if colour is not None else ()) + single),
        light=_text(settings.get("light")),
        cell=_text(settings.get("cell")),
        tape_width_mm=_size(settings.get("tape_width_mm")),
        gap_mm=_size(settings.get("gap_mm")),
        units=options.units or ("in" if settings.get("units") == "in" else "mm"),
        limits=tuple(f"{key}={value}" for key, value in limits.items())
        if isinstance(limits, Mapping)
        else (),
    )


def _guessed(before: Plan) -> PlanAsked:
    """For a plan that does not tell what was said: how its photo was turned, and the plain square's side."""
    reading = before.reading
    if reading is None:
        return PlanAsked()
    side_mm = reading.square_side_mm if reading.square_kind == "plain" else None
    return PlanAsked(square_mm=side_mm or None, turn_deg=TURNS.get(str(reading.turn_deg), 0))


def _size(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < math.inf:
        return None
    return float(value)


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
