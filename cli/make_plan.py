"""From a photo, a layout file or an older plan to a plan with its files, none of them saved yet.

In:    a path and the options; `say` announces slow steps.
Out:   `CardMarks` (what is on the card, with the card as seen from above), then a `Made`.
Fails: `PencilampError`.

Looking for moves can take seconds. Who wants to show the card before gets it `as_drawn`, with its overlay and without
pages, as soon as it is planned.

The steps can be had one by one: `cli.card_marks` alone looks at the photo, and `circuit.plan_card.plan_again`
plans a card whose marks have changed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from circuit.errors import LayoutFileError
from circuit.layout import Card, Layout
from circuit.plan import Plan, Source
from circuit.plan_json import plan_to_dict
from circuit.plan_limits import MOST_LIGHTS
from circuit.remarks import remark_words
from circuit.settings import Settings
from cli.card_marks import CardMarks, marks_of
from cli.files import file_sha256
from cli.output_names import (
    BUILD_NAME,
    CORRECTED_NAME,
    GLOW_NAME,
    OVERLAY_NAME,
    PLAN_NAME,
    SHEET_NAME,
    SPACING_NAME,
)
from cli.plan_options import PlanOptions, choices_from, settings_from
from cli.plan_record import with_record
from cli.png import png_bytes
from cli.progress import Say

if TYPE_CHECKING:
    from PIL.Image import Image

    from circuit.plan_card import PlannedCard

_GLOW_STEP_MM = 0.5  # chosen: spots are drawn round
_GLOW_POINTS_ACROSS = 600  # chosen: so many on a card of 300 mm; a larger one would take gigabytes


@dataclass(frozen=True, slots=True)
class Made:
    """A plan and its files by name, the plan.json last."""

    marks: CardMarks
    planned: PlannedCard
    settings: Settings
    files: dict[str, bytes]

    @property
    def notes(self) -> tuple[str, ...]:
        """What the reading has to say besides its doubts, as sentences."""
        card, units = self.marks.layout.card, self.settings.units
        return tuple(remark_words(note, card, units) for note in self.marks.notes)


def make_plan(
    source: Path,
    options: PlanOptions,
    say: Say,
    refusal_folder: Path | None = None,
    kept: Mapping[str, Any] = MappingProxyType({}),
    as_drawn: Callable[[Made], str] | None = None,
) -> Made:
    """Plan one photo or layout file; a picture of what was seen in a photo that can't be read goes to
    `refusal_folder`. `kept`: settings of an earlier plan of it, which hold where nothing else is said. `as_drawn` is
    given a card that needs moves before they are looked for, and says where it is shown by now."""
    marks = marks_of(source, options.asked, options.changes, say, refusal_folder)
    options = replace(options, asked=marks.asked)
    settings = settings_from(options, marks.settings or kept)
    if options.pages:
        _require_printable(marks.layout.card, settings, options)

    def show(planned: PlannedCard) -> str:
        assert as_drawn is not None
        plain = replace(options, pages=False, spacing=False, glow=False)
        files = files_of(planned, marks, settings, plain, source.name, say)
        return as_drawn(Made(marks, planned, settings, files))

    planned = plan_marks(marks, settings, options, source, say, show if as_drawn else None)
    return Made(marks, planned, settings, files_of(planned, marks, settings, options, source.name, say))


def plan_marks(
    marks: CardMarks,
    settings: Settings,
    options: PlanOptions,
    source: Path,
    say: Say,
    show: Callable[[PlannedCard], str] | None = None,
    *,
    moves: bool = True,
) -> PlannedCard:
    """Lay, check and mend the card, and note from which file it was made. `show` is given the card before moves are
    looked for, where it needs any, and says where it is shown. Without `moves` none are looked for.

    Raises LayoutFileError for more lights than a card takes.
    """
    from circuit.plan_card import plan_as_drawn, with_moves

    many = len(marks.layout.lights)
    if many > MOST_LIGHTS:
        raise LayoutFileError(
            f"{source}: this card has {many} lights, and {MOST_LIGHTS} is the most that one takes; plan a part of it."
        )
    choices = choices_from(options, settings, tuple(light.label for light in marks.layout.lights))
    with say(f"Laying the traces of {source.name}"):
        drawn = plan_as_drawn(marks.layout, settings, choices, marks.reading)
    made_from = replace(
        marks.source or Source(source.name, file_sha256(source)),
        asked=options.asked,
    )

    def sourced(planned: PlannedCard) -> PlannedCard:
        return replace(planned, plan=replace(planned.plan, seen=marks.seen, source=made_from))

    if not moves or not drawn.asks_for_moves:
        return sourced(drawn.planned)
    shown = "" if show is None else f"{show(sourced(drawn.planned))} shows the card as drawn. "

    def looking_for(mend: Literal["moves", "branches"]) -> AbstractContextManager[None]:
        if mend == "moves":
            return say(f"{shown}Looking for the smallest moves that mend {source.name}")
        return say(f"Looking for side branches for lights of {source.name} that no single lane passes")

    return sourced(with_moves(drawn, looking_for))


def files_of(
    planned: PlannedCard, marks: CardMarks, settings: Settings, options: PlanOptions, name: str, say: Say
) -> dict[str, bytes]:
    """All files of a plan's folder by name, the plan.json last."""
    # A picture is packed by OpenCV, which leaves Python to the next picture and the pages.
    with ThreadPoolExecutor(max_workers=1) as packer:
        with say(f"Drawing {name}"):
            pictures = {
                called: packer.submit(png_bytes, picture)
                for called, picture in _pictures(planned, marks, settings, options)
            }
        pages = {}
        if options.pages:
            with say(f"Making the pages of {name}"):
                pages = _pages(planned.plan, settings, options)
    files = {called: packed.result() for called, packed in pictures.items()} | pages
    # Last, since the others hang on it: a folder with a plan.json holds a whole plan.
    files[PLAN_NAME] = with_record(plan_to_dict(planned.plan), files)
    return files


def _pictures(
    planned: PlannedCard, marks: CardMarks, settings: Settings, options: PlanOptions
) -> Iterator[tuple[str, Image]]:
    """The pictures that were asked for, each as soon as it is drawn."""
    from vision.drawing.overlay import draw_overlay

    yield OVERLAY_NAME, draw_overlay(marks.straight, planned.plan, settings)
    if planned.corrected is not None:
        yield CORRECTED_NAME, draw_overlay(marks.straight, planned.corrected, settings)
    if options.spacing:
        yield SPACING_NAME, _spacing_picture(planned, marks, settings)
    glow = _glow_picture(planned, marks.layout, settings) if options.glow else None
    if glow is not None:
        yield GLOW_NAME, glow


def _require_printable(card: Card, settings: Settings, options: PlanOptions) -> None:
    """Raises UsageError for a card that takes too many pages, before the work of planning it."""
    from cli.pages.paper import paper_for, paper_named
    from cli.pages.tiles import tiling_of

    tiling_of(card, paper_for(card, settings) if options.paper is None else paper_named(options.paper))


def _pages(plan: Plan, settings: Settings, options: PlanOptions) -> dict[str, bytes]:
    from cli.pages import build_pages, sheet_pages
    from cli.pages.paper import paper_named

    paper = None if options.paper is None else paper_named(options.paper)
    return {
        SHEET_NAME: sheet_pages(plan, settings, paper),
        BUILD_NAME: build_pages(plan, settings, paper),
    }


def _glow_picture(planned: PlannedCard, layout: Layout, settings: Settings) -> Image | None:
    from circuit.glow import glow_field, glow_note, glow_settings
    from vision.drawing.glow_picture import draw_glow

    glow = planned.plan.glow
    if glow is None or planned.electrics is None:
        return None
    # Finer than the grid that the figures are from, so that spots are drawn round.
    papers = glow_settings(settings.window_paper)
    step_mm = max(_GLOW_STEP_MM, max(layout.card.width_mm, layout.card.height_mm) / _GLOW_POINTS_ACROSS)
    fine = glow_field(layout, planned.electrics, glow.foam_mm, papers, step_mm=step_mm)
    if fine is None:
        return None
    note = glow_note(glow, settings, has_window=layout.window is not None)
    return draw_glow(fine, note)


def _spacing_picture(planned: PlannedCard, marks: CardMarks, settings: Settings) -> Image:
    from circuit.spacing import nearest_distances
    from vision.drawing.spacing_picture import Measure, draw_spacing

    found = nearest_distances(marks.layout, planned.plan.traces, settings)
    measures = [Measure(one.from_mm, one.to_mm, abs(one.measured_mm), one.kept) for one in found]
    return draw_spacing(marks.straight, marks.layout, planned.plan.traces, measures, settings)
