"""The one place of the phone page that reads photos and makes plans; it runs in a worker process.

In:    a job as plain JSON values: {"do": "read" | "change" | "pages" ..., ...}.
Out:   {"ok": values} or {"refused": a sentence}, with "disk": true where the computer's disk is the trouble.
Fails: never; what goes wrong is a sentence in the answer.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from circuit.errors import PencilampError
from circuit.plan_json import plan_from_dict, plan_to_dict
from cli.archive.archive_folder import archive_folder
from cli.file_trouble import FileTroubleError
from cli.files import write_files
from cli.phone import kept
from cli.phone.dark import dark
from cli.phone.drawer import REFUSAL_NAME, SMALL_NAME, STRAIGHT_NAME
from cli.phone.wishes import options_of, wishes_from
from cli.progress import silent
from cli.unexpected import unexpected_error_sentence

if TYPE_CHECKING:
    from circuit.plan import Plan
    from circuit.plan_card import PlannedCard
    from circuit.settings import Settings
    from vision.straight_card import StraightCard

# Chosen: phones' largest sensors but one kind have 108; what is larger says so before any of it is decoded.
MOST_PIXELS = 110_000_000
_KINDS = frozenset(("JPEG", "MPO", "PNG", "HEIF", "AVIF", "WEBP", "TIFF", "GIF", "BMP"))
_STRAIGHT_QUALITY = 82  # chosen by eye: pencil shows no blocks, and a card has some 150 kB
_SMALL_PX = 160  # chosen: sharp in a list on a phone; some 4 kB


def run_job(job: Mapping[str, Any]) -> dict[str, Any]:
    """Do one job. What a person should know of a failure is in the answer."""
    try:
        return {"ok": _JOBS[str(job["do"])](job)}
    except FileTroubleError as error:
        return {"refused": _without_paths(str(error), job), "disk": True}
    except PencilampError as error:
        return {"refused": _without_paths(str(error), job)}
    except MemoryError:
        return {"refused": "This photo needs more memory than one card may have; take a smaller one."}
    except Exception as error:  # one card's mishap must not stop the others
        return {"refused": unexpected_error_sentence(error, "at this card")}


def _read(job: Mapping[str, Any]) -> dict[str, Any]:
    """Read a photo once: the straightened card goes into the card's folder, marks and plan into the answer; the plan
    is a draft where moves may mend it."""
    from circuit.remarks import remark_words
    from cli.card_marks import read_marks
    from cli.make_plan import plan_marks
    from cli.plan_options import settings_from

    folder, wishes = Path(job["folder"]), wishes_from(job["wishes"])
    photo = folder / job["photo"]
    _require_a_photo(photo)
    options = options_of(wishes)
    marks = read_marks(photo, options.asked, silent, folder)
    assert marks.straight is not None
    settings = settings_from(options, {})
    planned = plan_marks(marks, settings, options, photo, silent, moves=False)
    write_files(
        {folder / STRAIGHT_NAME: _jpeg(marks.straight), folder / SMALL_NAME: _jpeg(marks.straight, _SMALL_PX)}
    )
    (folder / REFUSAL_NAME).unlink(missing_ok=True)
    height, width = marks.straight.pixels.shape[:2]
    frame = {
        "margin_mm": marks.straight.margin_mm,
        "width_mm": width / marks.straight.px_per_mm,
        "height_mm": height / marks.straight.px_per_mm,
    }
    answer = _answer(planned, settings, planned.plan, frame, draft=bool(planned.plan.must_fix))
    answer["view"]["frame"] = frame
    answer["view"]["reading_notes"] = [
        remark_words(note, marks.layout.card, settings.units) for note in marks.notes
    ]
    return {**answer, "read": answer["plan"]}


def _change(job: Mapping[str, Any]) -> dict[str, Any]:
    """Make one change to a card's marks, or plan it for other parts; the photo is not read again.

    Moves are looked for only where the job asks for them, since that takes its time; a plan that could do with
    some is a draft until then.
    """
    from circuit.plan_card import plan_again
    from cli.phone.changes import changed
    from cli.plan_options import choices_from, settings_from

    plan, read = plan_from_dict(job["plan"]), plan_from_dict(job["read"])
    options = options_of(wishes_from(job["wishes"]))
    said = ""
    if job.get("change"):
        done = changed(plan, job["change"])
        plan, said = done.plan, done.said
    settings = settings_from(options, {})
    choices = choices_from(options, settings, tuple(light.label for light in plan.layout.lights))
    planned = plan_again(plan, plan.layout, settings, choices, moves=bool(job.get("moves")))
    draft = bool(planned.plan.must_fix) and not job.get("moves")
    return {**_answer(planned, settings, read, job["frame"], draft=draft), "said": said}


def _answer(
    planned: PlannedCard, settings: Settings, read: Plan, frame: Mapping[str, float], *, draft: bool
) -> dict[str, Any]:
    from cli.phone.showing import view_of
    from cli.phone.tagged import with_tags

    view = {**with_tags(view_of(planned, settings, read), planned.plan, settings, frame), "draft": draft}
    return {"plan": plan_to_dict(planned.plan), "view": view}


def _pages(job: Mapping[str, Any]) -> dict[str, Any]:
    """One of the pages to print, of one card; base64 of a PDF."""
    return {"pdf": base64.b64encode(_page(job["page"], job)).decode()}


def _class_sheets(job: Mapping[str, Any]) -> dict[str, Any]:
    """The sheets of many cards as one PDF, each with its maker's name."""
    from pypdf import PdfReader, PdfWriter

    together = PdfWriter()
    for card in job["cards"]:
        together.append(PdfReader(io.BytesIO(_page("sheet", card))))
    together.compress_identical_objects()  # the typeface once, not once a card
    out = io.BytesIO()
    together.write(out)
    return {"pdf": base64.b64encode(out.getvalue()).decode()}


def _page(page: str, card: Mapping[str, Any]) -> bytes:
    from cli.pages import build_pages, sheet_pages
    from cli.pages.paper import paper_named
    from cli.plan_options import settings_from

    plan, options = plan_from_dict(card["plan"]), options_of(wishes_from(card["wishes"]))
    settings = settings_from(options, plan.settings)
    paper = None if options.paper is None else paper_named(options.paper)
    return (build_pages if page == "build" else sheet_pages)(plan, settings, paper, name=card["name"])


def _jpeg(straight: StraightCard, longest_px: int | None = None) -> bytes:
    from PIL import Image

    buffer = io.BytesIO()
    picture = Image.fromarray(straight.pixels)
    if longest_px is not None:
        picture.thumbnail((longest_px, longest_px))
    picture.save(buffer, "JPEG", quality=_STRAIGHT_QUALITY, optimize=True)
    return buffer.getvalue()


def _require_a_photo(photo: Path) -> None:
    """Refuse a photo of too many pixels before any of them is decoded, and kinds that no camera writes: some of their
    readers start other programs."""
    from PIL import Image

    from vision.reading.photo import PhotoFileError

    Image.MAX_IMAGE_PIXELS = None  # our own limit stands in for it
    try:
        with Image.open(photo) as picture:
            pixels, kind = picture.width * picture.height, picture.format
    except Exception:
        return  # what it is instead is told, in a better sentence, by whoever opens it
    if kind not in _KINDS:
        raise PhotoFileError(
            "This is no photo as a phone takes it; send a JPEG, PNG, HEIC, WebP or TIFF picture."
        )
    if pixels > MOST_PIXELS:
        raise PhotoFileError(
            f"This photo has {pixels / 1e6:.0f} megapixels, more than the {MOST_PIXELS // 1_000_000} that are taken "
            "here; take it with the camera's usual settings."
        )


def _without_paths(text: str, job: Mapping[str, Any]) -> str:
    """Where drawer and archive lie on the computer is nobody's business on a phone."""
    folder = job.get("folder")
    if folder:
        text = text.replace(f"{Path(folder) / str(job.get('photo', ''))}: ", "")
        text = text.replace(str(folder), "the drawer")
    return text.replace(str(archive_folder(None)), "the archive")


_JOBS: Mapping[str, Callable[[Mapping[str, Any]], dict[str, Any]]] = {
    "read": _read,
    "change": _change,
    "pages": _pages,
    "dark": dark,
    "class-sheets": _class_sheets,
    **{
        f"kept-{what.__name__}": what
        for what in (kept.keep, kept.find, kept.show, kept.overlay, kept.compare)
    },
}
