"""`pencilamp plan PHOTO...`: the whole job for one card or many."""

from __future__ import annotations

import sys
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from circuit.asked import LEAST_PRESS_S, MOST_PRESS_S, PLAIN_SIDE_MM, PRESS_S
from cli.commands.lengths import LENGTH, units_option
from cli.parts_option import parts_option, read_parts
from cli.progress import silent
from cli.screen import columns, in_lines, print_lines

if TYPE_CHECKING:
    from cli.plan_options import PlanOptions


@click.command(short_help="Plan a card, or many, from photos.")
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for the results.  [default: beside the photo]"
)
@click.option(
    "--card",
    metavar="SIZE",
    help="The card's size, like 4.25x5.5in, or its name, like A6 or quarter-letter.  [default: found from the photo]",
)
@click.option(
    "--square",
    "square_mm",
    type=LENGTH,
    metavar="LENGTH",
    help=f"Side of a plain dark reference square.  [default: {PLAIN_SIDE_MM:g}mm]",
)
@click.option(
    "--printed",
    "printed_mm",
    type=LENGTH,
    metavar="LENGTH",
    help="Side of your coded square as measured, if printed off-scale.",
)
@click.option(
    "--turn",
    type=click.Choice(["0", "90", "180", "270"]),
    default="0",
    help="Turn the card clockwise, when its top is not at the picture's top.",
)
@click.option("--light", metavar="NAME", help="The lights, by size code.  [default: 5050]")
@click.option(
    "--colour",
    "--color",
    "colours",
    multiple=True,
    metavar="COLOUR",
    help="The lights' colour, or one light's: L3=red. May be given again.  [default: white]",
)
@click.option("--cell", metavar="NAME", help="The coin cell.  [default: CR2032]")
@click.option(
    "--tape",
    metavar="LENGTH|NAME",
    help="Width of one trace, or a tape of the parts list, to be split in two.  [default: 2.5mm]",
)
@click.option(
    "--corners",
    type=click.Choice(["folded", "lapped"]),
    help="How you turn the tape's corners: folded in one piece, or cut and lapped.  [default: folded]",
)
@click.option(
    "--gap",
    "gap_mm",
    type=LENGTH,
    metavar="LENGTH",
    help="Gap between the traces.  [default: what suits the lights, 2.5mm for a 5050]",
)
@click.option(
    "--foam", metavar="LAYERS", help="The foam you use, like 3.2mm + 0.8mm.  [default: what would do]"
)
@units_option("Units to show lengths in, and of lengths typed without one.  [default: mm]")
@click.option(
    "--limit",
    "limits",
    multiple=True,
    metavar="RULE=LENGTH",
    help="A limit of your own, like traces-too-close=2mm.",
)
@click.option(
    "--effort",
    type=click.IntRange(1, 10),
    metavar="NUMBER",
    default=1,
    show_default=True,
    help="How long to look for traces; from 2 on for side branches, too, where small moves mend the card.",
)
@click.option(
    "--window-paper",
    type=click.Choice(["one", "two", "plain"]),
    help="What stands in the window: one or two sheets of translucent paper, or one with plain white paper.  "
    "[default: one]",
)
@click.option(
    "--press",
    "press_s",
    type=click.FloatRange(LEAST_PRESS_S, MOST_PRESS_S),
    metavar="SECONDS",
    default=PRESS_S,
    show_default=True,
    help="How long one press lasts, to tell how many a cell gives.",
)
@click.option("--apply-moves", "apply_moves", is_flag=True, help="Make the moves that a plan suggests.")
@click.option(
    "--move",
    "moves",
    multiple=True,
    metavar="MOVE",
    help="Move a mark, like 'L3 2mm left' or 'battery 5mm up'.",
)
@click.option("--drop", multiple=True, metavar="LIGHT", help="Leave out a light, like L4.")
@click.option(
    "--add",
    multiple=True,
    metavar="X,Y",
    help="Add a light so far from the left edge and from the top, like 30,42.",
)
@parts_option
@click.option(
    "--paper", type=click.Choice(["letter", "a4"]), help="Paper of the pages.  [default: by the card]"
)
@click.option("--no-pages", is_flag=True, help="Leave out the PDF pages.")
@click.option("--spacing", is_flag=True, help="List and draw the nearest distances of every mark.")
@click.option("--glow", is_flag=True, help="Also draw how the window will look lit.")
@click.option(
    "--find-battery-place", "battery_place", is_flag=True, help="Suggest the best place for the cell."
)
@click.option("--more", is_flag=True, help="Say all that is known of the card, not only what you need first.")
@click.option("--keep", metavar="TITLE", help="Keep the design in the archive under this title.")
@click.pass_context
def plan(
    ctx: click.Context,
    /,
    photos: tuple[Path, ...],
    *,
    card: str | None,
    turn: str,
    tape: str | None,
    apply_moves: bool,
    moves: tuple[str, ...],
    drop: tuple[str, ...],
    add: tuple[str, ...],
    parts_file: Path | None,
    no_pages: bool,
    **said: Any,
) -> None:
    """Read the pencilled card in each PHOTO, lay its two traces and measure everything.

    A folder stands for the photos in it; a layout file or an older plan.json may stand in place of a photo.

    \b
    Example:
      pencilamp plan harbour.jpg --units in
    """
    # `said`: the options that are called as the fields of `PlanAsked` and `PlanOptions` are.
    from circuit.asked import TURNS, PlanAsked
    from cli.commands.inputs import files_to_plan, passed_over
    from cli.plan_options import PlanOptions, card_from, changes_from, tape_from

    if said["keep"] is not None:
        from cli.archive.kept_design import tidy_title

        tidy_title(said["keep"])  # before the work, not after it
    card_mm, card_name = card_from(card, said["units"])
    parts = read_parts(parts_file)
    tape_width_mm, tape_name = tape_from(tape, parts, said["units"])
    asked = {one.name: said.pop(one.name) for one in fields(PlanAsked) if one.name in said}
    options = PlanOptions(
        asked=PlanAsked(card_mm=card_mm, card_name=card_name, turn_deg=TURNS[turn], **asked),
        tape_width_mm=tape_width_mm,
        tape_name=tape_name,
        changes=changes_from(apply_moves, moves, drop, add, said["units"]),
        parts=parts,
        pages=not no_pages,
        **said,
    )
    files = files_to_plan(photos)
    ctx.exit(_plan_all(files, options, passed_over(photos, files)))


def _plan_all(photos: tuple[Path, ...], options: PlanOptions, passed: tuple[Path, ...]) -> int:
    from circuit.telling import listed
    from cli.commands.batch import batch_line, needed_line
    from cli.commands.plan_to_folder import NOTHING_TO_FIX, SOMETHING_TO_FIX, plan_to_folder
    from cli.commands.summary import cautions
    from cli.output_names import output_folders

    width = columns()
    jobs = list(zip(photos, output_folders(photos, options.out)))
    if len(jobs) == 1:
        outcomes = [plan_to_folder(*jobs[0], options, width)]
    else:
        with click.progressbar(
            jobs,
            label="Planning",
            item_show_func=lambda job: job[0].name if job else "",
            file=sys.stderr,
        ) as bar:
            outcomes = [
                plan_to_folder(photo, folder, _titled(options, photo), width, silent) for photo, folder in bar
            ]
    for outcome in outcomes:
        print_lines(outcome.text, err=outcome.trouble)
        if outcome is not outcomes[-1]:
            print_lines(err=outcome.trouble)
    if any(outcome.code in (NOTHING_TO_FIX, SOMETHING_TO_FIX) for outcome in outcomes):
        print_lines(cautions(width))
    if passed:
        named = (
            f"Not planned: the photos in {listed(map(str, passed))}. Name such folders, too, to plan them."
        )
        print_lines("\n".join(["", *in_lines(named, width)]))
    if len(outcomes) > 1:
        needed = needed_line([one.needed for one in outcomes if one.needed], options.units or "mm")
        if needed:
            print_lines("\n".join(["", *in_lines(needed, width)]))
        print_lines(batch_line((outcome.code, outcome.look_again) for outcome in outcomes))
    return max(outcome.code for outcome in outcomes)


def _titled(options: PlanOptions, photo: Path) -> PlanOptions:
    """Several cards kept at once: each gets its photo's name behind the title, to be told apart."""
    return options if options.keep is None else replace(options, keep=f"{options.keep} {photo.stem}")
