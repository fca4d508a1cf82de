"""One photo or layout file to one folder of files: open, read, plan, draw, save, in that order.

In:    a path and the options.
Out:   an `Outcome`: the exit code, and the text to print.
Fails: never with a `PencilampError`; those become the outcome's code and text. Nothing is written
       unless everything could be made.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from circuit.errors import PencilampError
from circuit.layout import Layout, Reading
from circuit.plan import Plan, SeenMarks, Source
from circuit.plan_json import plan_to_dict
from circuit.settings import Settings
from cli.commands.progress import Say, step
from cli.commands.summary import plan_summary
from cli.files import file_sha256, read_plan
from cli.mishap import MISHAP_EXIT_CODE, mishap_sentence
from cli.places import (
    BUILD_NAME,
    CORRECTED_NAME,
    GLOW_NAME,
    OVERLAY_NAME,
    PLAN_NAME,
    SHEET_NAME,
    SPACING_NAME,
)
from cli.plan_folder import require_ours, save_plan, save_refusal, with_record
from cli.plan_options import PlanOptions, asked_to_dict, build_from, settings_from

if TYPE_CHECKING:
    from PIL import Image

    from circuit.plan_card import PlannedCard
    from vision.errors import PhotoError
    from vision.reading.photo import Photo
    from vision.straight_card import StraightCard

NOTHING_TO_FIX, SOMETHING_TO_FIX = 0, 1
_GLOW_STEP_MM = 0.5


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one input. `trouble` is True when `text` belongs on standard error."""

    code: int
    text: str
    trouble: bool = False


@dataclass(frozen=True, slots=True)
class Marks:
    """The marks of one card, from wherever."""

    layout: Layout
    reading: Reading | None
    straight: StraightCard | None
    settings: Mapping[str, Any]
    seen: SeenMarks = field(default_factory=SeenMarks)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Made:
    """A plan and its files by name, the plan.json last; `notes` are ready sentences about the reading."""

    planned: PlannedCard
    settings: Settings
    files: dict[str, bytes]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Kept:
    """What came of --keep: a note, or trouble with its exit code."""

    notes: tuple[str, ...] = ()
    trouble: str = ""
    code: int = 0


def plan_one(source: Path, folder: Path, options: PlanOptions, width: int, say: Say = step) -> Outcome:
    """Plan one photo or layout file and write it to `folder`; `say` announces slow steps."""
    try:
        return _plan_one(source, folder, options, width, say)
    except PencilampError as error:
        return Outcome(error.exit_code, _one_line(source, error), trouble=True)
    except Exception as error:  # one photo's mishap must not stop the others
        return Outcome(MISHAP_EXIT_CODE, mishap_sentence(error, f"planning {source}"), trouble=True)


def _plan_one(source: Path, folder: Path, options: PlanOptions, width: int, say: Say) -> Outcome:
    require_ours(folder, source)
    made = make_plan(source, options, say, folder)
    with say(f"Saving {folder}"):
        about_folder = save_plan(folder, made.files, source)
    planned, settings = made.planned, made.settings
    kept = _kept(source, made, options, say)
    text = plan_summary(
        planned.plan,
        settings,
        source.name,
        (
            *_asked_for(planned, settings, options),
            *about_folder,
            *kept.notes,
            *made.notes,
            *planned.notes,
        ),
        [folder / name for name in _in_reading_order(made.files)],
        width,
    )
    text += f"\n\n{kept.trouble}" if kept.trouble else ""
    return Outcome(max(kept.code, SOMETHING_TO_FIX if planned.plan.must_fix else NOTHING_TO_FIX), text)


def make_plan(source: Path, options: PlanOptions, say: Say, refusal_folder: Path | None = None) -> Made:
    """Plan one photo or layout file without saving it. Raises PencilampError; a picture of what was seen
    in a photo that can't be read goes to `refusal_folder`."""
    marks = read_marks(source, options, refusal_folder, say)
    settings = settings_from(options, marks.settings)
    planned = plan_marks(marks, settings, options, source, say)
    files = files_of(planned, marks, settings, options, source.name, say)
    return Made(planned, settings, files, marks.notes)


def read_marks(source: Path, options: PlanOptions, refusal_folder: Path | None, say: Say) -> Marks:
    """The marks in a photo, a layout file or an older plan. Raises PencilampError."""
    if source.suffix.lower() == ".json":
        plan = read_plan(source)
        return Marks(plan.layout, plan.reading, None, plan.settings)
    from cli.opencv import require_opencv

    require_opencv()
    from vision.errors import PhotoError
    from vision.reading.photo import open_photo
    from vision.reading.read import PLAIN_SIDE_MM, ReadRequest, read_photo

    request = ReadRequest(
        card_mm=options.card_mm,
        card_name=options.card_name,
        plain_side_mm=options.square_mm or PLAIN_SIDE_MM,
        coded_side_mm=options.printed_mm,
        turn_deg=options.turn_deg,
        units=options.units or "mm",
    )
    with say(f"Opening {source.name}"):
        photo = open_photo(source)
    try:
        with say(f"Reading {source.name}"):
            read = read_photo(photo, request)
    except PhotoError as error:
        if refusal_folder is not None:
            _save_refusal(refusal_folder, photo, error)
        raise
    return Marks(
        read.layout, read.reading, read.straight, {}, SeenMarks(read.crossed_out, read.maybe), read.notes
    )


def plan_marks(marks: Marks, settings: Settings, options: PlanOptions, source: Path, say: Say) -> PlannedCard:
    """Plan marks afresh, with where they are from. Raises PencilampError."""
    from circuit.plan_card import plan_card

    build = build_from(options, settings, tuple(light.label for light in marks.layout.lights))
    with say(f"Laying the traces of {source.name}"):
        planned = plan_card(marks.layout, settings, build, marks.reading)
    plan = replace(
        planned.plan,
        seen=marks.seen,
        source=Source(source.name, file_sha256(source), asked_to_dict(options)),
    )
    return replace(planned, plan=plan)


def files_of(
    planned: PlannedCard, marks: Marks, settings: Settings, options: PlanOptions, name: str, say: Say
) -> dict[str, bytes]:
    """All files of a plan's folder by name, the plan.json last."""
    from vision.drawing.overlay import draw_overlay

    with say(f"Drawing {name}"):
        overlay = draw_overlay(marks.straight, planned.plan, settings)
        files = {OVERLAY_NAME: png_bytes(overlay)}
        if planned.corrected is not None:
            corrected = draw_overlay(marks.straight, planned.corrected, settings)
            files[CORRECTED_NAME] = png_bytes(corrected)
        if options.spacing:
            files[SPACING_NAME] = _spacing_file(planned, marks, settings)
        if options.glow:
            files.update(_glow_file(planned, marks.layout, settings))
    if options.pages:
        with say(f"Making the pages of {name}"):
            files.update(_pages(planned.plan, settings, options))
    # Last, since the others hang on it: a folder with a plan.json holds a whole plan.
    files[PLAN_NAME] = with_record(plan_to_dict(planned.plan), files)
    return files


def _pages(plan: Plan, settings: Settings, options: PlanOptions) -> dict[str, bytes]:
    from cli.pages import build_pages, sheet_pages
    from cli.pages.paper import paper_named

    paper = None if options.paper is None else paper_named(options.paper)
    return {
        SHEET_NAME: sheet_pages(plan, settings, paper),
        BUILD_NAME: build_pages(plan, settings, paper),
    }


def _glow_file(planned: PlannedCard, layout: Layout, settings: Settings) -> dict[str, bytes]:
    from circuit.glow import glow_field, glow_note
    from vision.drawing.glow_picture import draw_glow

    if planned.electrics is None or planned.plan.stack is None:
        return {}
    foam_mm = planned.plan.stack.foam_mm
    told = glow_field(layout, planned.electrics, foam_mm)
    # Finer than the grid that the figures are from, so that spots are drawn round.
    fine = glow_field(layout, planned.electrics, foam_mm, step_mm=_GLOW_STEP_MM)
    if told is None or fine is None:
        return {}
    return {GLOW_NAME: png_bytes(draw_glow(fine, glow_note(told, settings)))}


def _spacing_file(planned: PlannedCard, marks: Marks, settings: Settings) -> bytes:
    from circuit.spacing import nearest_distances
    from vision.drawing.overlay.spacing import Measure, draw_spacing

    found = nearest_distances(marks.layout, planned.plan.traces, settings)
    measures = [Measure(one.from_mm, one.to_mm, abs(one.measured_mm), one.kept) for one in found]
    return png_bytes(draw_spacing(marks.straight, marks.layout, planned.plan.traces, measures, settings))


def _asked_for(planned: PlannedCard, settings: Settings, options: PlanOptions) -> tuple[str, ...]:
    lines: tuple[str, ...] = ()
    layout = planned.plan.layout
    if options.spacing:
        from circuit.spacing import nearest_distances, spacing_lines

        lines += spacing_lines(nearest_distances(layout, planned.plan.traces, settings), settings.units)
    if options.battery_place:
        lines += (_battery_place_line(layout, settings),)
    if options.glow and planned.electrics is not None and planned.plan.stack is not None:
        from circuit.glow import glow_lines

        foams = tuple(options.parts.foams.values())
        lines += glow_lines(layout, planned.electrics, settings, planned.plan.stack.foam_mm, foams)
    return lines


def _battery_place_line(layout: Layout, settings: Settings) -> str:
    from circuit.lengths import format_length
    from circuit.moves import find_battery_place

    place = find_battery_place(layout, settings)
    if place is None:
        return f"There is no place on this card for a {settings.cell.name} clear of lights, window and edges."
    x, y = (format_length(value, settings.units) for value in place)
    return f"The best place for the cell's middle is {x} from the left edge and {y} from the top."


def _kept(source: Path, made: Made, options: PlanOptions, say: Say) -> _Kept:
    """Keep the design where that was asked for. The plan is saved by now, so trouble here is told beside it."""
    if options.keep is None:
        return _Kept()
    from cli.archive.incoming import keep_made

    try:
        with say(f"Keeping {source.name}"):
            return _Kept((keep_made(source, made, options.keep),))
    except PencilampError as error:
        return _Kept(trouble=f"Not kept in the archive: {error}", code=error.exit_code)


def _save_refusal(folder: Path, photo: Photo, error: PhotoError) -> None:
    """A picture of what was seen; the refusal itself matters more, so trouble here is passed over."""
    from vision.drawing.refusal_picture import draw_refusal

    picture = draw_refusal(photo.pixels, error, error.where_px)
    with contextlib.suppress(PencilampError):
        path = save_refusal(folder, png_bytes(picture))
        if path is not None:
            error.add_note(str(path))


def _one_line(source: Path, error: PencilampError) -> str:
    """One sentence that names the file; a picture of a refusal is pointed at."""
    text = str(error)
    if source.name not in text:
        text = f"{source}: {text}"
    pictures = getattr(error, "__notes__", [])
    return text + (f" (What I saw: {pictures[0]})" if pictures else "")


def _in_reading_order(files: Mapping[str, bytes]) -> list[str]:
    first = [OVERLAY_NAME, CORRECTED_NAME]
    return [name for name in first if name in files] + [name for name in files if name not in first]


def png_bytes(picture: Image.Image) -> bytes:
    """A picture as a PNG file's content; what `info` tells of it as text goes along."""
    from PIL.PngImagePlugin import PngInfo

    texts = PngInfo()
    for name, text in picture.info.items():
        if isinstance(name, str) and isinstance(text, str):
            texts.add_text(name, text)
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", compress_level=4, pnginfo=texts)
    return buffer.getvalue()
