"""What is on one card: read from its photo, from a layout file, or taken from an older plan and changed.

In:    a path, what was said of it, the changes a maker asks for; `say` announces slow steps.
Out:   `CardMarks`.
Fails: `PencilampError`.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from circuit.asked import TURNS, PlanAsked, said_since
from circuit.card_sizes import larger_alike
from circuit.errors import PencilampError, UsageError
from circuit.layout import Card, Layout, Reading, Remark, Saying, as_said
from circuit.mark_changes import Changes, changed
from circuit.plan import Plan, SeenMarks, Source
from circuit.visible import visible
from cli.files import file_sha256
from cli.opencv import require_opencv
from cli.plan_file import read_plan_whole
from cli.plan_folder import save_refusal
from cli.png import png_bytes
from cli.progress import Say

if TYPE_CHECKING:
    from vision.errors import PhotoError
    from vision.reading.photo import Photo
    from vision.straight_card import StraightCard

# Chosen: what scissors leave; a picture of a card of another size would not fit the marks.
_SAME_CARD_MM = 0.5
_MOST_NAMES, _LONGEST_NAME = 6, 40  # chosen: what of an unread file is named


@dataclass(frozen=True, slots=True)
class CardMarks:
    """What is on one card, from wherever.

    asked : what was said of it, now or when an older plan was made. straight : the card from above, None without a
    photo. settings, source : an older plan's own. notes : what the reading has to say besides its doubts.
    """

    layout: Layout
    asked: PlanAsked = field(default_factory=PlanAsked)
    reading: Reading | None = None
    straight: StraightCard | None = None
    settings: Mapping[str, Any] = field(default_factory=dict)
    seen: SeenMarks = field(default_factory=SeenMarks)
    source: Source | None = None
    notes: tuple[Remark, ...] = ()


def marks_of(
    source: Path, asked: PlanAsked, changes: Changes, say: Say, refusal_folder: Path | None = None
) -> CardMarks:
    """The marks in a photo, a layout file or an older plan, with what the maker wants changed.

    Raises UsageError for a change that can't be made, as suggested moves of a photo.
    """
    if source.suffix.lower() == ".json":
        return _older_marks(source, asked, changes, say)
    if changes.suggested:  # told before the photo is read: it suggests nothing by itself
        raise UsageError(
            "A photo suggests no moves yet; plan it first, then say --apply-moves with the folder of its plan, like "
            f"`pencilamp plan {source.stem}-plan --apply-moves`."
        )
    marks = read_marks(source, asked, say, refusal_folder)
    return marks if not changes else replace(marks, layout=changed(marks.layout, (), changes))


def read_marks(source: Path, asked: PlanAsked, say: Say, refusal_folder: Path | None = None) -> CardMarks:
    """The marks in a photo; a picture of what was seen in one that can't be read goes to `refusal_folder`."""
    from vision.errors import PhotoError
    from vision.reading.photo import open_photo

    with say(f"Opening {source.name}"):
        try:
            photo = open_photo(source)  # first: the largest leave no room for what reading them takes
        except ImportError:
            require_opencv()
            raise
    require_opencv()
    from vision.reading.read import read_photo

    try:
        with say(f"Reading {source.name}"):
            read = read_photo(photo, asked)
    except PhotoError as error:
        if refusal_folder is not None:
            _save_refusal(refusal_folder, photo, error)
        raise
    return CardMarks(
        layout=read.layout,
        asked=asked,
        reading=read.reading,
        straight=read.straight,
        seen=SeenMarks(read.crossed_out, read.maybe),
        notes=(*read.notes, *_square_beside(read.layout.card, read.straight, asked)),
    )


def _square_beside(card: Card, straight: StraightCard, asked: PlanAsked) -> tuple[Remark, ...]:
    """A note for a card whose size was found by a square beside it, where a square lying higher than the card would
    make this size of a larger one: the photo can't tell, the maker can."""
    other = None if card.size is None else larger_alike(card.size)
    if asked.card_mm is not None or other is None or straight.square_mm is None:
        return ()
    on_card = all(0 <= x <= card.width_mm and 0 <= y <= card.height_mm for x, y in straight.square_mm)
    if on_card:
        return ()
    width_mm, height_mm = other.lying(wide=card.width_mm > card.height_mm)
    figures: dict[str, float | str] = {
        "name": card.size or "",
        "other": other.name,
        "width_mm": width_mm,
        "height_mm": height_mm,
    }
    return (Remark("card", None, Saying("square-beside", figures)),)


def _older_marks(source: Path, asked: PlanAsked, changes: Changes, say: Say) -> CardMarks:
    plan, unread = read_plan_whole(source)
    layout = changed(plan.layout, plan.moves, changes) if changes else plan.layout
    before = plan.source.asked if plan.source else None
    straight, notes = _picture_again(plan, source, say)
    return CardMarks(
        layout=layout,
        asked=asked
        if before is None
        else said_since(before, asked, [light.label for light in layout.lights]),
        reading=None if plan.reading is None else _without_doubts_of(plan.reading, plan.layout, layout),
        straight=straight,
        settings=plan.settings,
        seen=plan.seen,
        source=plan.source,
        notes=(*notes, *_unread_note(unread)),
    )


def _unread_note(unread: tuple[str, ...]) -> tuple[Remark, ...]:
    """What was written into a layout by hand in the belief that it counts."""
    if not unread:
        return ()
    some = ", ".join(visible(name)[:_LONGEST_NAME] for name in unread[:_MOST_NAMES])
    more = " and more" * (len(unread) > _MOST_NAMES)
    return (
        as_said(f"Not read from this file: {some}{more}. Parts are said with --light, --colour and --cell."),
    )


def _without_doubts_of(reading: Reading, before: Layout, after: Layout) -> Reading:
    """The reading without what it doubts of lights that were left out."""
    gone = {light.label for light in before.lights} - {light.label for light in after.lights}
    return replace(reading, doubts=tuple(doubt for doubt in reading.doubts if doubt.about not in gone))


def _picture_again(plan: Plan, source: Path, say: Say) -> tuple[StraightCard | None, tuple[Remark, ...]]:
    """The card as its photo shows it, where the photo still lies by the plan; nothing else is taken from it."""
    if plan.source is None or plan.reading is None:
        return None, ()
    photo = _lying_by(plan.source, source.absolute().parent)
    if photo is None:
        words = f"{plan.source.name} is not by this plan any more, so the card is drawn without it."
        return None, (as_said(words),)
    asked = plan.source.asked or PlanAsked(turn_deg=TURNS.get(str(plan.reading.turn_deg), 0))
    try:
        straight = read_marks(photo, asked, say).straight
    except PencilampError:  # read by another version, or with a card's size that only the plan knows
        return None, ()
    card = plan.layout.card
    same = straight is not None and math.isclose(card.width_mm, straight.card.width_mm, abs_tol=_SAME_CARD_MM)
    return (straight if same else None), ()


def _lying_by(made_from: Source, folder: Path) -> Path | None:
    """The very file that a plan was made from, in its folder or beside it; a stranger's plan leads nowhere else."""
    if made_from.sha256 is None or Path(made_from.name).name != made_from.name:
        return None
    for path in (folder.parent / made_from.name, folder / made_from.name):
        with contextlib.suppress(PencilampError):
            if path.is_file() and file_sha256(path) == made_from.sha256:
                return path
    return None


def _save_refusal(folder: Path, photo: Photo, error: PhotoError) -> None:
    """A picture of what was seen; the refusal itself matters more, so trouble here is passed over."""
    from vision.drawing.refusal_picture import draw_refusal

    picture = draw_refusal(photo.pixels, error, error.where_px)
    with contextlib.suppress(PencilampError):
        path = save_refusal(folder, png_bytes(picture))
        if path is not None:
            error.add_note(str(path))
