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
from typing import TYPE_CHECKING, Any

from circuit.difference import differences
from circuit.plan import Plan
from circuit.plan_json import plan_from_dict
from circuit.settings import Units
from cli.archive.design import Design, NewDesign, NewFile, facts_of
from cli.archive.incoming import our_file
from cli.archive.shelf import reader_of
from cli.archive.store import Archive
from cli.places import OUR_NAMES
from cli.plan_options import PlanOptions

if TYPE_CHECKING:
    from cli.commands.progress import Say
    from cli.plan_one import Made


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
    from cli.plan_one import make_plan

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
    """What was said when the plan was made: of the photo from `asked`, of the parts from its settings."""
    settings = before.settings
    asked = before.source.asked if before.source else None
    said = _guessed(before) if asked is None else _asked(asked)
    colour = settings.get("colour")
    colours = (str(colour),) if colour is not None else ()
    single = tuple(text for text in said.pop("colours", ()) if "=" in text)
    limits = settings.get("limits")
    return replace(
        options,
        light=_text(settings.get("light")),
        cell=_text(settings.get("cell")),
        colours=colours + single,
        tape_width_mm=_size(settings.get("tape_width_mm")),
        gap_mm=_size(settings.get("gap_mm")),
        units=options.units or ("in" if settings.get("units") == "in" else "mm"),
        limits=tuple(f"{key}={value}" for key, value in limits.items())
        if isinstance(limits, Mapping)
        else (),
        **said,
    )


def _guessed(before: Plan) -> dict[str, Any]:
    """For a plan that does not tell what was said: how its photo was turned, and the plain square's side."""
    reading = before.reading
    if reading is None:
        return {}
    said: dict[str, Any] = {"turn_deg": reading.turn_deg if reading.turn_deg in (0, 90, 180, 270) else 0}
    if reading.square_kind == "plain" and reading.square_side_mm:
        said["square_mm"] = reading.square_side_mm
    return said


def _asked(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Of what a plan says was said, whatever makes sense; anything may stand in a file."""
    said: dict[str, Any] = {}
    sides = asked.get("card_mm")
    if isinstance(sides, list) and len(sides) == 2 and all(_size(side) for side in sides):
        said["card_mm"] = (float(sides[0]), float(sides[1]))
    for key in ("card_name", "foam"):
        if isinstance(asked.get(key), str):
            said[key] = asked[key]
    for key in ("square_mm", "printed_mm"):
        if _size(asked.get(key)):
            said[key] = _size(asked.get(key))
    if asked.get("turn_deg") in (90, 180, 270):
        said["turn_deg"] = asked["turn_deg"]
    effort = asked.get("effort")
    if isinstance(effort, int) and 1 <= effort <= 10:
        said["effort"] = effort
    colours = asked.get("colours")
    if isinstance(colours, list):
        said["colours"] = tuple(text for text in colours if isinstance(text, str))
    return said


def _size(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < math.inf:
        return None
    return float(value)


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
