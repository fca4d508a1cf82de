"""Read a kept photo again with today's program, with what was said then, and tell what comes out differently.

In:    an open archive and one of its designs.
Out:   a `Redone`: the kept plan, the one made now, the differences.
Fails: `PencilampError`: the photo is damaged or can't be read any more; the archive stays as it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from circuit.asked import TURNS, PlanAsked
from circuit.difference import differences
from circuit.plan import Plan
from circuit.settings import Units
from cli.archive.kept_design import Design, NewDesign, NewFile, facts_of
from cli.archive.new_design import our_file
from cli.archive.shelf import reader_of
from cli.archive.store import Archive, kept_plan
from cli.files import working_folder
from cli.output_names import OUR_NAMES
from cli.plan_options import PlanOptions

if TYPE_CHECKING:
    from cli.make_plan import Made
    from cli.progress import Say


@dataclass(frozen=True, slots=True)
class Redone:
    """`from_photo` is False where no photo was kept and the kept marks were planned afresh."""

    before: Plan
    made: Made
    from_photo: bool
    differences: tuple[str, ...]


def redo(archive: Archive, design: Design, options: PlanOptions, say: Say) -> Redone:
    """`options` holds what is said now (a parts list, units); what was said then comes from the plan."""
    from cli.make_plan import make_plan

    before = kept_plan(archive, design)
    source = design.file("photo") or design.file("layout") or design.file("plan")
    assert source is not None
    with working_folder(archive.folder) as folder:
        # Under the name that the photo had, since it stands in the plan and on the pages.
        name = before.source.name if before.source else source.name
        path = folder / (name if Path(name).name == name and source.role != "plan" else source.name)
        path.write_bytes(archive.read_file(design, source))
        said = replace(options, asked=_asked_then(before))
        made = make_plan(path, said, say, kept=before.settings)
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


def _asked_then(before: Plan) -> PlanAsked:
    """What was said when the plan was made; for one that does not tell, how its photo was turned, and the plain
    square's side."""
    if before.source is not None and before.source.asked is not None:
        return before.source.asked
    if before.reading is None:
        return PlanAsked()
    side_mm = before.reading.square_side_mm if before.reading.square_kind == "plain" else None
    return PlanAsked(square_mm=side_mm or None, turn_deg=TURNS.get(str(before.reading.turn_deg), 0))
