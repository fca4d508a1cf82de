"""The phone page's dealings with the archive; these too are jobs that a worker does.

In:    a job as plain JSON values.
Out:   plain JSON values.
Fails: `PencilampError` with one sentence.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from circuit.errors import UsageError
from circuit.plan_json import plan_from_dict
from cli.archive.archive_folder import archive_folder
from cli.phone.drawer import STRAIGHT_NAME
from cli.phone.wishes import options_of, wishes_from
from cli.progress import silent

if TYPE_CHECKING:
    from circuit.layout import Card
    from circuit.plan import Plan
    from cli.archive.kept_design import Design
    from cli.archive.store import Archive
    from vision.straight_card import StraightCard

SHOWN_AT_ONCE = 60  # chosen: what one still scrolls through on a phone


def keep(job: Mapping[str, Any]) -> dict[str, Any]:
    """Keep a card with its photo and all its pages, under a title."""
    from circuit.plan_card import plan_again
    from cli.archive.kept_design import tidy_title
    from cli.archive.new_design import keep_design
    from cli.card_marks import CardMarks
    from cli.make_plan import Made, files_of
    from cli.plan_options import choices_from, settings_from

    title = tidy_title(job["title"])
    plan = plan_from_dict(job["plan"])
    folder, options = Path(job["folder"]), options_of(wishes_from(job["wishes"]))
    settings = settings_from(options, plan.settings)
    choices = choices_from(options, settings, tuple(light.label for light in plan.layout.lights))
    planned = plan_again(plan, plan.layout, settings, choices)
    straight = _straight(folder / STRAIGHT_NAME, job["frame"], plan.layout.card)
    marks = CardMarks(plan.layout, reading=plan.reading, straight=straight, seen=plan.seen)
    files = files_of(planned, marks, settings, options, job["photo"], silent)
    kept = keep_design(folder / job["photo"], Made(marks, planned, settings, files), title)
    return {"number": kept.number, "title": kept.title}


def _straight(path: Path, frame: Mapping[str, float], card: Card) -> StraightCard:
    import numpy as np
    from PIL import Image

    from vision.straight_card import StraightCard

    with Image.open(path) as picture:
        pixels = np.asarray(picture.convert("RGB"))
    return StraightCard(pixels, pixels.shape[1] / frame["width_mm"], card, frame["margin_mm"])


def find(job: Mapping[str, Any]) -> dict[str, Any]:
    """The kept designs whose title, tags or note have all the words, the newest first."""
    from cli.archive.questions import Wanted
    from cli.archive.store import Archive

    folder = archive_folder(None)
    if not folder.is_dir():
        return {"designs": [], "more": 0}
    wanted = Wanted(words=tuple(str(job.get("words", "")).split()))
    with Archive(folder, writing=False) as opened:
        found, total = opened.newest(wanted, SHOWN_AT_ONCE)
        return {"designs": [_line(design) for design in found], "more": max(0, total - SHOWN_AT_ONCE)}


def show(job: Mapping[str, Any]) -> dict[str, Any]:
    """One design."""
    from cli.archive.store import Archive, kept_plan

    with Archive(archive_folder(None), writing=False) as opened:
        design = _picked(opened, job["number"])
        plan = kept_plan(opened, design)
        problems = [{"level": one.level, "text": one.advice} for one in plan.problems]
        return {**_line(design), "problems": problems, "note": design.note}


def _picked(opened: Archive, number: int) -> Design:
    found = opened.by_number(number)
    if found is None or found.removed is not None:
        raise UsageError(f"There is no kept design {number} any more.")
    return found


def overlay(job: Mapping[str, Any]) -> dict[str, Any]:
    """A kept design's overlay, base64 of a PNG."""
    from cli.archive.store import Archive

    with Archive(archive_folder(None), writing=False) as opened:
        design = _picked(opened, job["number"])
        file = design.file("overlay")
        return {"png": None if file is None else base64.b64encode(opened.read_file(design, file)).decode()}


def compare(job: Mapping[str, Any]) -> dict[str, Any]:
    """What differs between a kept design and another, or a card in the drawer; `picture` asks for both drawn."""
    from circuit.difference import differences
    from cli.archive.store import Archive, kept_plan

    with Archive(archive_folder(None), writing=False) as opened:
        first, one = _titled_plan(opened, int(job["number"]), kept_plan)
        if job.get("plan") is not None:
            second, other = str(job["title"]), plan_from_dict(job["plan"])
        else:
            second, other = _titled_plan(opened, int(job["with"]), kept_plan)
    if first == second:
        second += " (now)"
    found = differences(one, other, "in" if job.get("units") == "in" else "mm")
    answer: dict[str, Any] = {"first": first, "second": second, "differences": list(found)}
    if job.get("picture"):
        answer["png"] = _drawn((first, one), (second, other), found)
    return answer


def _titled_plan(opened: Archive, number: int, plan_of: Any) -> tuple[str, Plan]:
    design = _picked(opened, number)
    return design.title, plan_of(opened, design)


def _drawn(first: tuple[str, Plan], second: tuple[str, Plan], found: tuple[str, ...]) -> str:
    from circuit.same_lights import same_lights
    from cli.png import png_bytes
    from vision.drawing.comparison import ARROW_FROM_MM, Shown, draw_comparison

    moved = [
        (a.centre, b.centre)
        for a, b in same_lights(first[1], second[1]).pairs
        if math.dist(a.centre, b.centre) >= ARROW_FROM_MM
    ]
    return base64.b64encode(png_bytes(draw_comparison(Shown(*first), Shown(*second), moved, found))).decode()


def _line(design: Design) -> dict[str, Any]:
    from cli.archive.printed import card_words, day, state_words

    facts = design.facts
    lights = "1 light" if facts.lights == 1 else f"{facts.lights} lights"
    parts = [lights, facts.cell or "no cell", card_words(facts), state_words(facts)]
    return {
        "number": design.number,
        "title": design.title,
        "tags": list(design.tags),
        "about": " · ".join(parts),
        "kept": day(design.kept),
    }
