"""Contact sheets of kept designs: their overlays, small, a dozen on each picture file.

In:    an open archive, what is wanted, a file name.
Out:   one or more PNG files, each whole or not at all, and a line that names them.
Fails: `FileTroubleError`; a damaged overlay is an empty frame.
"""

from __future__ import annotations

from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from cli.archive.archive_folder import require_outside
from cli.archive.kept_design import Design
from cli.archive.printed import count
from cli.archive.questions import Wanted
from cli.archive.store import Archive
from cli.file_trouble import FileTroubleError
from cli.files import write_whole
from cli.output_names import with_ending

if TYPE_CHECKING:
    from vision.drawing.contact_sheet import Tile


def contact_sheets(
    archive: Archive, wanted: Wanted, limit: int | None, target: Path, force: bool, what: str
) -> list[str]:
    """Draw the sheets, one in memory at a time."""
    from cli.opencv import require_opencv

    require_opencv()
    from cli.png import png_bytes
    from vision.drawing.contact_sheet import PER_SHEET, draw_contact_sheet

    require_outside(archive.folder, target)
    designs, there = archive.newest(wanted, limit)
    total = there if limit is None else min(limit, there)
    sheets = -(-total // PER_SHEET)
    paths = [_sheet_path(target, number) for number in range(1, sheets + 1)]
    taken = next((path for path in paths if path.exists() and not force), None)
    if taken is not None:
        raise FileTroubleError(
            f"{taken}: this file is already there; move it, or say --force to write over it."
        )
    for number, path in enumerate(paths, 1):
        some = list(islice(designs, PER_SHEET))
        heading = f"{count(total, 'design')} {what}" + (f", sheet {number} of {sheets}" if sheets > 1 else "")
        drawn = draw_contact_sheet([_tile(archive, design) for design in some], heading)
        write_whole(path, png_bytes(drawn))
    if sheets == 1:
        return [f"Look at {paths[0]}"]
    return [f"Look at {paths[0]}, and on to {paths[-1].name}"]


def _tile(archive: Archive, design: Design) -> Tile:
    from vision.drawing.contact_sheet import State, Tile

    facts, file = design.facts, design.file("overlay")
    png = None
    if file is not None:
        try:
            png = archive.read_file(design, file)
        except FileTroubleError:
            png = None
    state: State = "ready"
    if facts.must_fix:
        state = "must-fix"
    elif facts.look_again:
        state = "look-again"
    elif facts.doubts:
        state = "doubt"
    under = f"No. {design.number} · {count(facts.lights, 'light')} · {facts.cell or 'no cell'}"
    return Tile(png, design.title, under, state, facts.must_fix or facts.look_again)


def _sheet_path(target: Path, number: int) -> Path:
    path = with_ending(target, ".png")
    return path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")
