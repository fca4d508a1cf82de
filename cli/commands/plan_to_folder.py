"""From one photo or layout file to a folder with its plan: make it, save it, say what it comes to.

In:    a path and the options.
Out:   a `RunResult`: the exit code, and the text to print.
Fails: never with a `PencilampError`; those become the outcome's code and text. Nothing is written
       unless everything could be made; a card that needs moves is written as drawn first, whole, and again
       with them.
"""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from circuit import telling
from circuit.asked import Asked
from circuit.errors import PencilampError, UsageError
from circuit.layout import Layout
from circuit.settings import Settings, Units
from cli.commands.batch import Needed, needed_for
from cli.commands.summary import plan_summary
from cli.make_plan import Made, make_plan
from cli.output_names import CORRECTED_NAME, OVERLAY_NAME, PLAN_NAME
from cli.plan_folder import require_ours, save_plan
from cli.plan_options import PlanOptions
from cli.progress import Say, step
from cli.unexpected import UNEXPECTED_EXIT_CODE, unexpected_error_sentence

if TYPE_CHECKING:
    from circuit.plan_card import PlannedCard

NOTHING_TO_FIX, SOMETHING_TO_FIX = 0, 1


@dataclass(frozen=True, slots=True)
class RunResult:
    """What came of one input. `trouble` is True when `text` belongs on standard error; `look_again` when the plan is
    not plainly ready; `needed` is what its card takes."""

    code: int
    text: str
    trouble: bool = False
    look_again: bool = False
    needed: Needed | None = None


def plan_to_folder(
    source: Path, folder: Path, options: PlanOptions, width: int, say: Say = step
) -> RunResult:
    """Plan one photo or layout file and write it to `folder`; `say` announces slow steps."""
    try:
        return _planned_into(source, folder, options, width, say)
    except PencilampError as error:
        return RunResult(error.exit_code, _one_line(source, error, options.units or "mm"), trouble=True)
    except Exception as error:  # one photo's mishap must not stop the others
        return RunResult(
            UNEXPECTED_EXIT_CODE, unexpected_error_sentence(error, f"planning {source}"), trouble=True
        )


def _planned_into(source: Path, folder: Path, options: PlanOptions, width: int, say: Say) -> RunResult:
    _require_a_photo(source, options.asked)
    again = source.name == PLAN_NAME and folder.absolute() == source.absolute().parent
    if not again:
        require_ours(folder, source)
    saves = _Saves(folder, source, again)
    made = make_plan(source, options, say, folder, as_drawn=saves.save)
    with say(f"Saving {folder}"):
        saves.save(made)
    planned, settings = made.planned, made.settings
    kept = _kept(source, made, options, say)
    text = plan_summary(
        planned.plan,
        settings,
        saves.made_from(made).name,
        (
            *_asked_for(planned, settings, options),
            *saves.notes,
            *([kept.text] if kept.text and not kept.trouble else []),
            *made.notes,
            *planned.notes,
            *(planned.details if options.more else ()),
        ),
        [folder / name for name in _in_reading_order(made.files)],
        width,
    )
    text += f"\n\n{kept.text}" if kept.trouble else ""
    code = max(kept.code, SOMETHING_TO_FIX if planned.plan.must_fix else NOTHING_TO_FIX)
    return RunResult(
        code,
        text,
        look_again=telling.verdict(planned.plan) != telling.READY,
        needed=needed_for(planned.plan, settings),
    )


def _require_a_photo(source: Path, asked: Asked) -> None:
    """What is said of a photo's reading does nothing to marks that were read before. Raises UsageError."""
    said = (
        ("--card", asked.card_mm or asked.card_name),
        ("--square", asked.square_mm),
        ("--printed", asked.printed_mm),
        ("--turn", asked.turn_deg),
    )
    named = [option for option, value in said if value]
    if source.suffix.lower() == ".json" and named:
        raise UsageError(
            f"{' and '.join(named)} {'goes' if len(named) == 1 else 'go'} with a photo; the marks in {source.name} are "
            "read already, so name the photo instead."
        )


@dataclass
class _Saves:
    """The saves of one plan into its folder: as drawn where moves are still looked for, and whole.

    again : the folder's own plan is planned anew; it is kept beside, once.
    notes : sentences about what was found in the folder.
    """

    folder: Path
    source: Path
    again: bool
    notes: tuple[str, ...] = ()
    saved: bool = False

    def made_from(self, made: Made) -> Path:
        """What the folder's plan counts as made from: planned anew, the folder's own plan stays the photo's."""
        named = made.planned.plan.source
        return Path(named.name) if self.again and named else self.source

    def save(self, made: Made) -> str:
        """Save what was made; gives where the card can be looked at."""
        keep_before = self.again and not self.saved
        self.notes += save_plan(self.folder, made.files, self.made_from(made), keep_before=keep_before)
        self.saved = True
        return str(self.folder / OVERLAY_NAME)


def _asked_for(planned: PlannedCard, settings: Settings, options: PlanOptions) -> tuple[str, ...]:
    lines: tuple[str, ...] = ()
    layout = planned.plan.layout
    if options.tape_width_mm is not None:
        lines += _whole_tape_line(options.tape_width_mm, options, settings.units)
    if options.spacing:
        from circuit.spacing import nearest_distances, spacing_lines

        lines += spacing_lines(nearest_distances(layout, planned.plan.traces, settings), settings.units)
    if options.battery_place:
        lines += (_battery_place_line(layout, settings),)
    if options.glow and planned.plan.glow is not None:
        from circuit.glow import glow_lines

        lines += glow_lines(planned.plan.glow, settings, has_window=layout.window is not None)
    return lines


def _whole_tape_line(width_mm: float, options: PlanOptions, units: Units) -> tuple[str, ...]:
    tape = options.parts.tape_of_width(width_mm)
    if tape is None:
        return ()
    return (f"{telling.strip_words(width_mm, units)}, say --tape {shlex.quote(tape.name)}.",)


def _battery_place_line(layout: Layout, settings: Settings) -> str:
    from circuit.moves import find_battery_place
    from circuit.whereabouts import from_top_left

    place = find_battery_place(layout, settings)
    if place is None:
        return f"There is no place on this card for a {settings.cell.name} clear of lights, window and edges."
    return f"The best place for the cell's middle is {from_top_left(place, settings.units)}."


def _kept(source: Path, made: Made, options: PlanOptions, say: Say) -> RunResult:
    """What came of --keep; no text where it was not asked for. The plan is saved by now, so trouble here is told beside
    it."""
    if options.keep is None:
        return RunResult(NOTHING_TO_FIX, "")
    from cli.archive.new_design import keep_made

    try:
        with say(f"Keeping {source.name}"):
            return RunResult(NOTHING_TO_FIX, keep_made(source, made, options.keep))
    except PencilampError as error:
        return RunResult(error.exit_code, f"Not kept in the archive: {error}", trouble=True)


def _one_line(source: Path, error: PencilampError, units: Units) -> str:
    """One sentence that names the file; a picture of a refusal is pointed at."""
    text = error.sentence(units)
    if source.name not in text:
        text = f"{source}: {text}"
    pictures = getattr(error, "__notes__", [])
    return text + (f" (What I saw: {pictures[0]})" if pictures else "")


def _in_reading_order(files: Mapping[str, bytes]) -> list[str]:
    first = [OVERLAY_NAME, CORRECTED_NAME]
    return [name for name in first if name in files] + [name for name in files if name not in first]
