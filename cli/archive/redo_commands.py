"""`pencilamp archive redo` and `compare`: what comes out differently."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path

import click

from circuit.errors import UsageError
from circuit.plan import Plan
from circuit.settings import Units
from cli.archive.archive_folder import archive_folder
from cli.archive.kept_design import Design, facts_of
from cli.archive.options import FILE, at_option, each, say, units_option
from cli.archive.printed import one_line, state_words
from cli.archive.questions import Wanted
from cli.archive.store import Archive, kept_plan
from cli.files import write_whole
from cli.output_names import with_ending
from cli.parts_option import parts_option, read_parts
from cli.progress import step
from cli.screen import print_lines


@click.command(short_help="Read kept photos again and tell what changed.")
@click.argument("designs", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Every design outside the bin.")
@click.option("--keep", "keep_new", is_flag=True, help="Keep what comes out as a design of its own.")
@parts_option
@units_option
@at_option
@click.pass_context
def redo(
    ctx: click.Context,
    designs: tuple[str, ...],
    everything: bool,
    keep_new: bool,
    parts_file: Path | None,
    units: Units | None,
    at: Path | None,
) -> None:
    """Read the kept photos of DESIGNS again with today's program and tell what changed.

    What is kept stays as it is.

    \b
    Example:
      pencilamp archive redo 12
    """
    from cli.archive.redo import design_of
    from cli.archive.redo import redo as read_again
    from cli.plan_options import PlanOptions

    if bool(designs) == everything:
        raise UsageError("Name the designs to redo, or say --all.")
    options = PlanOptions(parts=read_parts(parts_file), units=units, pages=keep_new)
    with Archive(archive_folder(at), writing=keep_new) as opened:

        def redo_one(design: Design) -> None:
            redone = read_again(opened, design, options, step)
            now = state_words(facts_of(redone.made.planned.plan))
            source = "" if redone.from_photo else " (no photo was kept: planned afresh from the marks)"
            outcome = (
                f"{now}, was {state_words(design.facts)}"
                if redone.differences
                else f"comes out the same, {now}"
            )
            say(f"{design.number}  {design.title}: {outcome}{source}.", "", "  ")
            _listed(redone.differences)
            if keep_new:
                say(f"Kept as {one_line(opened.keep(design_of(opened, design, redone)))}.", "  ")

        chosen = opened.find(Wanted()) if everything else (opened.pick(text) for text in designs)
        ctx.exit(each(chosen, lambda design: f"{design.number}  {design.title}", redo_one))


@click.command(short_help="Lay two designs over each other.")
@click.argument("first")
@click.argument("second")
@click.option(
    "--picture",
    type=FILE,
    default="compared.png",
    show_default=True,
    metavar="FILE",
    help="The picture of both, one over the other.",
)
@click.option("--force", is_flag=True, help="Write over a picture that is already there.")
@units_option
@at_option
def compare(
    first: str, second: str, picture: Path, force: bool, units: Units | None, at: Path | None
) -> None:
    """Lay the designs FIRST and SECOND over each other in one picture, and list what differs.

    \b
    Example:
      pencilamp archive compare 12 15 --picture harbours.png
    """
    from circuit.difference import differences

    with Archive(archive_folder(at), writing=False) as opened:
        one, other = opened.pick(first), opened.pick(second)
        plans = kept_plan(opened, one), kept_plan(opened, other)
    shown: Units = units or ("in" if plans[1].settings.get("units") == "in" else "mm")
    found = differences(*plans, shown)
    picture = with_ending(picture, ".png")
    _draw(one, other, plans, found, picture, force)
    say(f"{other.title} (number {other.number}) against {one.title} (number {one.number}):", "", "")
    _listed(found or ("Nothing differs.",))
    print_lines(f"Look at {picture}")


def _draw(
    one: Design, other: Design, plans: tuple[Plan, Plan], found: tuple[str, ...], picture: Path, force: bool
) -> None:
    from circuit.same_lights import same_lights
    from cli.opencv import require_opencv

    require_opencv()
    from cli.png import png_bytes
    from vision.drawing.comparison import ARROW_FROM_MM, Shown, draw_comparison

    moved = [
        (a.centre, b.centre)
        for a, b in same_lights(*plans).pairs
        if math.dist(a.centre, b.centre) >= ARROW_FROM_MM
    ]
    titles = [design.title for design in (one, other)]
    if titles[0] == titles[1]:
        titles = [f"{design.title} ({design.number})" for design in (one, other)]
    drawn = draw_comparison(Shown(titles[0], plans[0]), Shown(titles[1], plans[1]), moved, found)
    write_whole(picture, png_bytes(drawn), replace=force)


def _listed(sentences: Iterable[str]) -> None:
    for sentence in sentences:
        say(sentence, "  - ", "    ")
